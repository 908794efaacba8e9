"""One line for every value a case does not give, with where it came from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from limbfe.case.limb_checks import each_table
from limbfe.case.schema import CaseFile
from limbfe.case.taper_tables import TaperTable
from limbfe.case.wood_tables import WoodTable
from limbfe.case.zone_checks import zone_cautions
from limbfe.stave.decay import Decay
from limbfe.stave.knot_wood import FILLER_SOURCE, KNOT_DENSITY_SOURCE, KNOT_MODULUS_SOURCE
from limbfe.stave.stave import Stave
from limbfe.units import both, both_lengths
from limbfe.wood.duration import load_duration_factor
from limbfe.wood.source import Source, origin
from limbfe.wood.strings import string_material
from limbfe.wood.wood import PROPERTIES, SCATTERED, Wood


def list_assumptions(file: CaseFile, stave: Stave) -> tuple[str, ...]:
    """Return the lines, woods first.

    Parameters
    ----------
    file : CaseFile
    stave : Stave
        As built from it.
    """
    return (
        *_woods(file, stave),
        *_shape(file),
        *_grip(file),
        *_string(file),
        *_zones(file, stave),
        *_durations(file),
        *_numerics(file),
    )


def _woods(file: CaseFile, stave: Stave) -> Iterator[str]:
    """Yield the woods' lines; what two woods have in common stands in one line."""
    main = stave.heartwood
    said: dict[str, list[str]] = {}
    for table, wood in _layers(file, stave):
        label = wood.name if wood.species is None else f"{wood.name} ({wood.species})"
        if wood is not main and table.moisture is None and "moisture" not in wood.sources:
            said.setdefault(f"moisture not given; as in the {main.name}", []).append(label)
        for line in _wood(wood):
            said.setdefault(line, []).append(label)
    for line, labels in said.items():
        yield f"{' and '.join(labels)}: {line}"
    if stave.sapwood_wood is not None and file.wood.sapwood is None:
        yield f"sapwood: not described; taken as the same wood as the {main.name}"


def _layers(file: CaseFile, stave: Stave) -> Iterator[tuple[WoodTable, Wood]]:
    """Yield every wood the case describes with its table."""
    woods = (stave.heartwood, stave.heartwood, stave.sapwood_wood, stave.backing_wood)
    tables = (file.wood.whole, file.wood.heartwood, file.wood.sapwood, file.wood.backing)
    for table, wood in zip(tables, woods, strict=True):
        if table is not None and wood is not None:
            yield table, wood


def _wood(wood: Wood) -> Iterator[str]:
    """Yield what came from the species row, values of one origin in one line."""
    if wood.moisture is None:
        yield "moisture not given; the given properties are used as they stand"
    elif "moisture" in wood.sources:
        yield f"moisture {origin(wood.sources['moisture'])}"
    values = {
        name: f"{name} = {shown_property(name, property_value(wood, name))}" for name in PROPERTIES
    }
    yield from _by_source(values, wood.sources)
    scatter = {name: f"{name} {wood.strength.cov[name]:g}" for name in SCATTERED}
    for line in _by_source(scatter, wood.cov_sources):
        yield f"coefficients of variation: {line}"
    yield from wood.notes


def property_value(wood: Wood, name: str) -> float:
    """Return a property by the name it has in a case file, SI."""
    if name == "density":
        return wood.density
    if name.startswith(("E_", "G_", "nu_")):
        return float(getattr(wood.elasticity, name))
    return float(getattr(wood.strength, name.replace("_strength", "")))


def _by_source(values: Mapping[str, str], sources: Mapping[str, Source]) -> Iterator[str]:
    groups: dict[str, list[str]] = {}
    for name, text in values.items():
        if sources[name].flag != "given":
            groups.setdefault(origin(sources[name]), []).append(text)
    for whence, members in groups.items():
        yield f"{', '.join(members)}: {whence}"


def shown_property(name: str, value: float) -> str:
    """Return a property of a wood in metric units and inch-pound units."""
    if name.startswith("nu"):
        return f"{value:.3g}"
    if name.startswith(("E_", "G_")):
        return both("modulus", value, figures=3)
    if name == "density":
        return both("density", value, figures=3)
    return both("toughness" if name.startswith("toughness") else "stress", value, figures=3)


def _shape(file: CaseFile) -> Iterator[str]:
    if file.grain.ring_radius is None:
        yield "[grain] ring_radius: not given; the rings are taken flat, parallel to the back"
    for name, words in (
        ("run_out", "no run-out between back and belly"),
        ("sideways", "no slope of the grain in the face"),
        ("spiral", "no spiral grain"),
    ):
        if name not in file.grain.model_fields_set:
            yield f"[grain] {name}: not given; {words}"
    if file.taper is not None:
        yield from _taper(file.taper)
    for side, table in each_table(file):
        place = f"[limb.{side}]" if file.taper is None else "[taper]"
        for name, words in (
            ("lean", "the rings are taken level across the limb"),
            ("reflex", "the unstrung back is taken straight seen from the side"),
            ("sideways", "the limb is taken straight seen from the back"),
        ):
            if getattr(table, name) is None and (file.taper is None or name != "sideways"):
                yield f"{place} {name}: not given; {words}"


def _taper(taper: TaperTable) -> Iterator[str]:
    if "tips" not in taper.model_fields_set:
        yield "[taper] tips: not given; plain"
    if taper.thickness_law not in ("constant", "linear"):
        yield (
            f"[taper] thickness_law: {taper.thickness_law} by statics of the bent limb, without "
            "shear, reflex or yielding; the drawn bow shows what is left of it"
        )


def _grip(file: CaseFile) -> Iterator[str]:
    grip, given = file.grip, file.grip.model_fields_set
    if "hold" not in given:
        yield "[grip] hold: not given; held by hand"
    if "hand_at" not in given and grip.hold == "hand":
        yield "[grip] hand_at: not given; the hand presses at the middle of the grip"
    if "arrow_at" not in given and grip.hold != "tiller":
        yield "[grip] arrow_at: not given; the arrow passes at the middle of the grip"


def _string(file: CaseFile) -> Iterator[str]:
    string = file.string
    if string.material is not None and string.strands is not None:
        material = string_material(string.material)
        yield (
            f"[string] stiffness: {string.strands} strands of {material.name}, "
            f"{origin(material.source)}"
        )
        if string.mass is None:
            yield "[string] mass: from the strands, as long as the string or else the bow"
    elif string.mass is None:
        yield "[string] mass: not given; the string is taken as weightless"
    if "nock_offset" not in string.model_fields_set:
        yield "[string] nock_offset: not given; the string acts at mid-thickness of the tips"


def _zones(file: CaseFile, stave: Stave) -> Iterator[str]:
    for table, knot in zip(file.knot, stave.knots, strict=True):
        if table.far_diameter is None:
            course = (
                "a cone from the pith"
                if file.grain.ring_radius is not None
                else "the same all the way through"
            )
            yield (
                f'knot "{knot.name}": far_diameter: not given; {course}, '
                f"{both_lengths(2.0 * knot.far_radius)} at its far end"
            )
    if any(knot.state in ("live", "dead") for knot in stave.knots):
        yield f"knots: {origin(KNOT_MODULUS_SOURCE)}"
        yield f"knots: {origin(KNOT_DENSITY_SOURCE)}"
    if any(knot.filler is not None for knot in stave.knots):
        yield f"fillers: {origin(FILLER_SOURCE)}"
    for given, decay in zip(file.decay, stave.decays, strict=True):
        if given.stage is not None and given.rot is None:
            yield (
                f'decay "{decay.name}": rot: not given; {decay.rot} rot, the kind that leaves less '
                "strength"
            )
        yield from _decay(decay)
    yield from zone_cautions(file)


def _decay(decay: Decay) -> Iterator[str]:
    effect = decay.effect
    values = {name: f"{name} x {getattr(effect, name):.2g}" for name in effect.sources}
    for line in _by_source(values, effect.sources):
        yield f'decay "{decay.name}": {line}'


MADISON = (
    "Madison curve, L. W. Wood, FPL Report 1916 (1951), as quoted in Forests 12(9) (2021) "
    "1148 (read)"
)


def _durations(file: CaseFile) -> Iterator[str]:
    held, strung = file.draw.held, file.string.strung
    if held is None:
        yield (
            "[draw] held: not given; strengths of tests that take some minutes, on the safe side "
            "for a draw held for seconds"
        )
    else:
        factor = float(load_duration_factor(held))
        yield f"strengths under full draw: given and table values x {factor:.2f}: {MADISON}"
    if strung is not None:
        factor = float(load_duration_factor(strung))
        yield f"strengths at brace: given and table values x {factor:.2f}: {MADISON}"


def _numerics(file: CaseFile) -> Iterator[str]:
    if "steps" not in file.draw.model_fields_set:
        yield f"[draw] steps: not given; {file.draw.steps}"
    for name in ("elements_per_limb", "fineness"):
        if name not in file.analysis.model_fields_set:
            yield f"[analysis] {name}: not given; {getattr(file.analysis, name):g}"
    if "compression_law" not in file.analysis.model_fields_set:
        yield "[analysis] compression_law: not given; bilinear"
