"""Every value a case does not give, with where it came from."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from limbfe.case.limb_checks import each_table
from limbfe.case.schema import CaseFile
from limbfe.case.taper_tables import TaperTable
from limbfe.case.wood_tables import WoodTable
from limbfe.case.zone_checks import zone_cautions
from limbfe.case.zone_tables import NamedFiller
from limbfe.stave.columns import TABLE
from limbfe.stave.decay import Decay
from limbfe.stave.knot_wood import FILLERS_ASSUMED, KNOTS_ASSUMED
from limbfe.stave.stave import Stave
from limbfe.units import Force, Length, Quantity, Sentence, Words, join
from limbfe.wood.creep import STRUNG
from limbfe.wood.duration import HELD, gain_in_tension, load_duration_factor
from limbfe.wood.fillers import find_filler
from limbfe.wood.source import Assumption, Flag, Source
from limbfe.wood.strings import string_material, string_stiffness
from limbfe.wood.wood import PROPERTIES, SCATTERED, Wood


def list_assumptions(file: CaseFile, stave: Stave) -> tuple[Assumption, ...]:
    """Return what was assumed, woods first.

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


def _woods(file: CaseFile, stave: Stave) -> Iterator[Assumption]:
    """Yield what was assumed of the woods; what two woods have in common stands in one line."""
    main = stave.heartwood
    said: dict[tuple[Words, Source | None], list[str]] = {}
    for table, wood in _layers(file, stave):
        label = wood.name if wood.species is None else f"{wood.name} ({wood.species})"
        if wood is not main and table.moisture is None and "moisture" not in wood.sources:
            said.setdefault((f"moisture as in the {main.name}", None), []).append(label)
        for line in _wood(wood):
            said.setdefault(line, []).append(label)
    for (value, source), labels in said.items():
        yield Assumption(" and ".join(labels), value, source)
    if stave.sapwood_wood is not None and file.wood.sapwood is None:
        yield Assumption("sapwood", f"not described; taken as the same wood as the {main.name}")


def _layers(file: CaseFile, stave: Stave) -> Iterator[tuple[WoodTable, Wood]]:
    """Yield every wood the case describes with its table."""
    woods = (stave.heartwood, stave.heartwood, stave.sapwood_wood, stave.backing_wood)
    tables = (file.wood.whole, file.wood.heartwood, file.wood.sapwood, file.wood.backing)
    for table, wood in zip(tables, woods, strict=True):
        if table is not None and wood is not None:
            yield table, wood


def _wood(wood: Wood) -> Iterator[tuple[Words, Source | None]]:
    """Yield what came from the species row, values of one origin in one line."""
    if wood.moisture is None:
        yield "moisture not known; the given properties are used as they stand", None
    elif "moisture" in wood.sources:
        yield f"moisture = {100.0 * wood.moisture:g} %", wood.sources["moisture"]
    values: dict[str, Words] = {
        name: Sentence("{} = {}", name, shown_property(name, property_value(wood, name)))
        for name in PROPERTIES
    }
    yield from _by_source(values, wood.sources)
    scatter: dict[str, Words] = {name: f"{name} {wood.strength.cov[name]:g}" for name in SCATTERED}
    for value, source in _by_source(scatter, wood.cov_sources):
        yield Sentence("coefficients of variation {}", value), source
    yield from ((note, None) for note in wood.notes)


def property_value(wood: Wood, name: str) -> float:
    """Return a property by the name it has in a case file, SI."""
    if name == "density":
        return wood.density
    if name.startswith(("E_", "G_", "nu_")):
        return float(getattr(wood.elasticity, name))
    return float(getattr(wood.strength, name.replace("_strength", "")))


def _by_source(
    values: Mapping[str, Words], sources: Mapping[str, Source]
) -> Iterator[tuple[Words, Source]]:
    groups: dict[Source, list[Words]] = {}
    for name, text in values.items():
        if sources[name].flag is not Flag.GIVEN:
            groups.setdefault(sources[name], []).append(text)
    for source, members in groups.items():
        yield join(", ", members), source


def shown_property(name: str, value: float) -> Quantity | str:
    """Return a property of a wood for a sentence."""
    if name.startswith("nu"):
        return f"{value:.3g}"
    if name.startswith(("E_", "G_")):
        kind = "modulus"
    elif name == "density":
        kind = "density"
    else:
        kind = "toughness" if name.startswith("toughness") else "stress"
    return Quantity(kind, value, figures=3)


def _shape(file: CaseFile) -> Iterator[Assumption]:
    tables = list(each_table(file))
    for column in TABLE:
        at_stations = any(getattr(table, column.name) is not None for _, table in tables)
        if column.part == "grain" and column.whole and not at_stations:
            key = column.whole[1]
            if key not in file.grain.model_fields_set:
                yield Assumption(f"[grain] {key}", column.otherwise)
    if file.taper is not None:
        yield from _taper(file.taper)
    for side, table in tables:
        place = f"[limb.{side}]" if file.taper is None else "[taper]"
        for column in TABLE:
            sayable = file.taper is None or column.name in TaperTable.model_fields
            told = column.part == "stave" and column.otherwise and sayable
            if told and getattr(table, column.name) is None:
                yield Assumption(f"{place} {column.name}", column.otherwise)


def _taper(taper: TaperTable) -> Iterator[Assumption]:
    if "tips" not in taper.model_fields_set:
        yield Assumption("[taper] tips", "plain")
    if taper.thickness_law not in ("constant", "linear"):
        yield Assumption(
            "[taper] thickness_law",
            f"{taper.thickness_law} by statics of the bent limb, without shear, reflex or "
            "yielding; the drawn bow shows what is left of it",
        )


def _grip(file: CaseFile) -> Iterator[Assumption]:
    grip, given = file.grip, file.grip.model_fields_set
    if "hold" not in given:
        yield Assumption("[grip] hold", "held by hand")
    if "hand_at" not in given and grip.hold == "hand":
        yield Assumption("[grip] hand_at", "the hand presses at the middle of the grip")
    if "arrow_at" not in given and grip.hold != "tiller":
        yield Assumption("[grip] arrow_at", "the arrow passes at the middle of the grip")


def _string(file: CaseFile) -> Iterator[Assumption]:
    string = file.string
    if string.material is not None and string.strands is not None:
        material = string_material(string.material)
        value = Sentence(
            "EA {}, {} strands of {}, a strand being {}",
            Force(string_stiffness(material, string.strands)),
            string.strands,
            material.name,
            material.strand,
        )
        yield Assumption("[string] stiffness", value, material.source)
        if string.mass is None:
            words = "from the strands, as long as the string or else the bow"
            yield Assumption("[string] mass", words)
    elif string.mass is None:
        yield Assumption("[string] mass", "the string is taken as weightless")
    if "nock_offset" not in string.model_fields_set:
        yield Assumption("[string] nock_offset", "the string acts at mid-thickness of the tips")


def _zones(file: CaseFile, stave: Stave) -> Iterator[Assumption]:
    for table, knot in zip(file.knot, stave.knots, strict=True):
        if "lean" not in table.model_fields_set:
            yield Assumption(f'knot "{knot.name}": lean', "the branch runs square to the limb")
        if table.far_diameter is None:
            course = (
                "a cone from the pith"
                if math.isfinite(stave.grain.ring_radius[0])
                else "the same all the way through"
            )
            yield Assumption(
                f'knot "{knot.name}": far_diameter',
                Sentence("{}, {} at its far end", course, Length(2.0 * knot.far_radius)),
            )
    if any(knot.state in ("live", "dead") for knot in stave.knots):
        yield from KNOTS_ASSUMED
    if any(knot.filler is not None for knot in stave.knots):
        yield FILLERS_ASSUMED
    yield from _fillers(file)
    for given, decay in zip(file.decay, stave.decays, strict=True):
        if given.stage is not None and given.rot is None:
            words = f"{decay.rot} rot, the kind that leaves less strength"
            yield Assumption(f'decay "{decay.name}": rot', words)
        yield from _decay(decay)
    yield from zone_cautions(file)


def _fillers(file: CaseFile) -> Iterator[Assumption]:
    """Yield the figures of every filler that is given by its name."""
    named = (knot.filler.name for knot in file.knot if isinstance(knot.filler, NamedFiller))
    for row in map(find_filler, dict.fromkeys(named)):
        figures = Sentence(
            "E = {}, it or its bond {} in tension and {} in shear",
            Quantity("modulus", row.E, figures=3),
            Quantity("stress", row.tension, figures=3),
            Quantity("stress", row.shear, figures=3),
        )
        yield Assumption(f'filler "{row.name}"', figures, row.source)


def _decay(decay: Decay) -> Iterator[Assumption]:
    effect = decay.effect
    values: dict[str, Words] = {
        name: f"{name} x {getattr(effect, name):.2g}" for name in effect.sources
    }
    for value, source in _by_source(values, effect.sources):
        yield Assumption(f'decay "{decay.name}"', value, source)


DURATION = Source(
    text="6.3 % a decade of time, L. W. Wood's line of 1947, as quoted in Forests 12(9) (2021) "
    "1148; half of it for what is not crushed (C. C. Gerhards 1977, abstract)",
    flag=Flag.READ,
)


def _durations(file: CaseFile) -> Iterator[Assumption]:
    held, strung = file.draw.held or HELD, file.string.strung
    crushing, other = float(load_duration_factor(held)), gain_in_tension(held)
    if not file.draw.held:
        yield Assumption("[draw] held", f"full draw held for {held:g} s")
    yield Assumption(
        "strengths under full draw",
        f"those of tests of some minutes, given and table values, x {crushing:.2f} in compression "
        f"along the grain and x {other:.2f} otherwise",
        DURATION,
    )
    if strung is None:
        yield Assumption("[string] strung", f"for the set, {STRUNG / 3600.0:g} h")
    else:
        value = f"given and table values x {float(load_duration_factor(strung)):.2f}"
        yield Assumption("strengths at brace", value, DURATION)


def _numerics(file: CaseFile) -> Iterator[Assumption]:
    if "steps" not in file.draw.model_fields_set:
        yield Assumption("[draw] steps", f"{file.draw.steps}")
    for name in ("elements_per_limb", "fineness"):
        if name not in file.analysis.model_fields_set:
            yield Assumption(f"[analysis] {name}", f"{getattr(file.analysis, name):g}")
