"""What every result must be read with."""

from __future__ import annotations

from typing import TYPE_CHECKING

from limbfe.stave.knot_wood import EPOXY_SOURCE, KNOT_POISSON_SOURCE
from limbfe.units import both_lengths
from limbfe.wood.source import origin

if TYPE_CHECKING:
    from limbfe.analysis.results import AfterDraw, HotSpot
    from limbfe.stave.stave import Stave

STANDING_CAUTIONS = (
    "Every verdict is an estimate from typical strengths of clear wood; your wood may be weaker. "
    "Where local rules or an experienced bowyer say otherwise, follow them.",
    "Wear eye protection whenever the bow is bent, and keep everyone, yourself included, out of "
    "line with the limbs.",
    "Never draw further than the bow has already been exercised to, and go up in small steps.",
    "Never let go of a drawn string without an arrow on it.",
    "The dust of some woods, yew and black locust among them, is toxic: wear a mask.",
)


LARGE_SET = 0.05
"""String follow (m) from which a belly counts as overworked: two inches, common practice."""


def set_warning(after: AfterDraw) -> tuple[str, ...]:
    """Return what a large set means, if the bow keeps one."""
    mean = float(after.set_at_tips.mean())
    if mean < LARGE_SET:
        return ()
    return (
        f"the limbs keep a set of {both_lengths(mean)}; common practice takes more than "
        f"50 mm (2 in) for a belly worked too hard: draw less, or make the limbs "
        "wider and thinner, or longer",
    )


def wood_warnings(hot_spots: tuple[HotSpot, ...]) -> tuple[str, ...]:
    """Return what clear wood past its strength means, the worst place of every mode."""
    words = {
        "tension": "clear wood on the {face} is expected to break in tension before full draw",
        "compression": "the {face} is pressed past its crushing strain: expect a large set and "
        "frets (compression cracks across the grain)",
        "shear": "clear wood is expected to shear along the grain before full draw",
        "across": "clear wood is expected to split across the grain before full draw",
    }
    warnings = []
    for mode, text in words.items():
        spot = next((s for s in hot_spots if s.mode == mode and s.strength_used >= 1.0), None)
        if spot is not None:
            place = f"{both_lengths(spot.at)} up the {spot.limb} limb"
            warnings.append(f"{place}: {text.format(face=spot.face)}")
    return tuple(warnings)


def model_assumptions(stave: Stave) -> tuple[str, ...]:
    """Return what the models take for granted of every stave, with where it comes from."""
    taken = [
        "belly: crushing strain = 1.0 %: middle of the 0.8 to 1.2 % of Joint Committee on "
        "Structural Safety, Probabilistic Model Code, part 3.5 (2006) (read)"
    ]
    if stave.knots:
        taken += [
            "knots: bulge of the rings over a knot = 0.2 radii: low end of 0.2 to 0.5 "
            "(from memory)",
            f"knots: {origin(KNOT_POISSON_SOURCE)}",
        ]
    if any(knot.filler is not None for knot in stave.knots):
        taken.append("fillers: bond averaged over 2 mm (0.08 in) of the rim (assumed)")
    if any(knot.state in ("missing", "dead") for knot in stave.knots):
        taken.append(
            f"filling that is tried: {origin(EPOXY_SOURCE)}; bond averaged over 2 mm (0.08 in) of "
            "the rim (assumed)"
        )
    if stave.knots or stave.decays:
        taken += [
            "windows: for splits 0.7 to 1.4 of the length that follows from toughness and "
            "strength by the average stress criterion; for fibres that length kept between 2 and "
            "4 mm (0.08 and 0.16 in), which is the lower bound for 20 of the 23 complete woods of "
            "the table (assumed)",
            "chance of failure: model scatter 10 %, 0.6 of the variance within a piece, "
            "correlation of tension across the grain with tension along it and with shear: Joint "
            "Committee on Structural Safety, Probabilistic Model Code, part 3.5 (2006) (read)",
            "chance of failure: the four other correlations, same code, and stressed volumes of "
            "2.9 and 32 ml behind strengths along and across the grain, ASTM D143 (from memory)",
        ]
    if stave.decays:
        taken.append("decay: loss grows over half the patch's radius: a gradual rim (assumed)")
    return tuple(taken)
