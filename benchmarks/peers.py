"""Ours beside the peers': which benchmarks belong together, and what their ratio shows.

`conftest.py` prints these lines after a run, `results.py` writes them into RESULTS.md.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One peer: pairs (size, name of ours, name of the peer's) and what they do and do not show."""

    peer: str
    shows: str
    hides: str
    pairs: tuple[tuple[str, str, str], ...]


def _pairs(ours: str, theirs: str, sizes: Mapping[str, str]) -> tuple[tuple[str, str, str], ...]:
    return tuple((text, f"{ours}[{key}]", f"{theirs}[{key}]") for key, text in sizes.items())


ELEMENTS = {str(count): f"{count} elements a limb" for count in (10, 20, 40)}
SHOTS = {str(count): f"{count} elements a limb" for count in (12, 24, 48)}
UNKNOWNS = {name: f"{name.removesuffix('k')},000 unknowns" for name in ("10k", "20k", "100k")}
COMPARISONS = (
    Comparison(
        peer="sectionproperties: one longbow section, outline to bending and torsion stiffness",
        shows="both from outline to stiffness, mesh included, at errors that stand in the table: "
        "ours is the more exact at every size and has the smaller mesh, since its elements are "
        "of higher order and follow the outline",
        hides="the peer meshes any outline; ours knows the outlines of limbs. Ours gives all 36 "
        "entries of the 6x6 for any anisotropic wood, the peer's isotropic warping gives areas, "
        "centroids, shear and torsion constants",
        pairs=(
            ("coarse", "test_one_section[0.5]", "test_one_section_by_sectionproperties[40-6.0]"),
            ("middle", "test_one_section[1.0]", "test_one_section_by_sectionproperties[90-1.4]"),
            ("fine", "test_one_section[2.0]", "test_one_section_by_sectionproperties[160-0.24]"),
        ),
    ),
    Comparison(
        peer="OpenSeesPy, three-dimensional: brace and 30 steps of the draw",
        shows="the same bow, elements, integration points and steps, two limbs each; the forces' "
        "errors stand in the table",
        hides="the peer is a general program driven from Python call by call, with steps chosen "
        "by hand; ours knows only bows, finds the string's length and judges stability besides",
        pairs=_pairs("test_brace_and_thirty_steps", "test_peer_in_space", ELEMENTS),
    ),
    Comparison(
        peer="OpenSeesPy in the plane: half of the symmetric bow, let go with an arrow",
        shows="the same elements, string bars and steps, the peer 1.2e-3, 3e-4 and 5e-5 off our "
        "speed, which hardly changes from 12 elements on: what ours takes for three dimensions "
        "and both limbs beside the peer's half in its plane",
        hides="the peer also finds the drawn state (a seventh of its steps), has consistent "
        "masses, and its rule keeps no energy in large turns",
        pairs=_pairs("test_shot", "test_peer_shot", SHOTS),
    ),
    Comparison(
        peer="OpenSeesPy in the plane: half of the symmetric bow",
        shows="what ours pays for three dimensions and two limbs: the peer does half of the bow "
        "with half of the unknowns a node, its string's length given",
        hides="a bow that is not symmetric, leans or twists cannot be halved, and then the line "
        "above counts",
        pairs=_pairs("test_brace_and_thirty_steps", "test_peer_in_its_plane", ELEMENTS),
    ),
    Comparison(
        peer="scikit-fem: plate of wood with turning grain, assembly and solution",
        shows="same mesh, quadrature and solution to 1e-8; the peer as its documentation shows "
        "it, with SciPy's default direct solver",
        hides="most of the gain is the ordering of the unknowns, which the peer's user could "
        "choose too; ours has this one element and this one equation",
        pairs=_pairs("test_plate", "test_plate_scikit_fem", UNKNOWNS),
    ),
    Comparison(
        peer="felupe: the same plate",
        shows="same mesh, quadrature and solution to 1e-8; SciPy's default direct solver, the "
        "anisotropic field as a weak form of its user",
        hides="as above; the peer is made for large strains, of which this plate has none",
        pairs=_pairs("test_plate", "test_plate_felupe", UNKNOWNS),
    ),
)


def comparison_lines(benches: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Yield every ratio of a run with its spread and what it shows, as lines of Markdown.

    Parameters
    ----------
    benches : sequence of mapping
        With ``name``, ``stats`` (``median``, ``q1``, ``q3``) and ``extra_info``.

    Notes
    -----
    The spread runs from the least to the largest quotient of quartiles.
    """
    found = {bench["name"]: bench for bench in benches}
    for comparison in COMPARISONS:
        lines = [
            f"- {size}: {_ratio(found[ours], found[peer])}"
            for size, ours, peer in comparison.pairs
            if ours in found and peer in found
        ]
        if not lines and not any(ours in found for _, ours, _ in comparison.pairs):
            continue
        yield f"### {comparison.peer}\n"
        yield from lines or ["- not run here: the peer did not import"]
        yield f"\nShows: {comparison.shows}.\n"
        yield f"Does not show: {comparison.hides}.\n"


def _ratio(ours: Mapping[str, Any], peer: Mapping[str, Any]) -> str:
    a, b = ours["stats"], peer["stats"]
    low, high = b["q1"] / a["q3"], b["q3"] / a["q1"]
    text = f"**{b['median'] / a['median']:.2g}** ({low:.2g} to {high:.2g}) times our time"
    memory = [one["extra_info"].get("memory_MB") for one in (ours, peer)]
    if None not in memory:
        text += f", {memory[1] / memory[0]:.2g} times our memory"
    return text
