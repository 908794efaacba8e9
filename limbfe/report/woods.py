"""The built-in woods as tables."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rich.box import SIMPLE
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.report.tables import add_number, plain_table
from limbfe.units import say
from limbfe.wood.by_density import TypicalWood, typical_woods
from limbfe.wood.lookup import find_species, species_names
from limbfe.wood.source import origin
from limbfe.wood.table import Figure, SpeciesRow

if TYPE_CHECKING:
    from limbfe.studies.bending_test import BendingCheck
    from limbfe.units import UnitSystem

SHOWN = {
    "density": "density",
    "bending_modulus": "E bent",
    "bending_strength": "breaks",
    "compression_strength": "crushed",
}
"""Columns of the list, their units to follow."""


def species_table(units: UnitSystem) -> RenderableType:
    """Return one line for every built-in wood, then those known by their density only."""
    measured = _wood_list("Built-in woods, dry", SHOWN, units)
    for name in species_names():
        row = find_species(name)
        measured.add_row(_called(row), *(_cell(row.dry[key], key, units) for key in SHOWN))
    title = "Known by density only; the rest is that of an average wood"
    typical = _wood_list(title, {"density": "density"}, units)
    for wood in typical_woods():
        typical.add_row(_called(wood), _cell(wood.density, "density", units))
    return Group(
        measured,
        Text("E bent: stiffness in bending; breaks: in bending; crushed: along the grain."),
        Text(""),
        typical,
        Text('Any other wood: write its name, or "hardwood" or "softwood", and its density.'),
        Text("`limbfe woods NAME` shows every figure of one wood with its source."),
    )


def _wood_list(title: str, columns: Mapping[str, str], units: UnitSystem) -> Table:
    table = Table(title=title, title_justify="left", box=SIMPLE, pad_edge=False)
    table.add_column("species: also called")
    for key, words in columns.items():
        heading = f"{words}\n{units.scale(_kind(key))[1]}"
        table.add_column(heading, justify="right", no_wrap=True)
    return table


def _called(wood: SpeciesRow | TypicalWood) -> str:
    return ": ".join(filter(None, (wood.name, ", ".join(wood.aliases))))


def wood_table(name: str, units: UnitSystem) -> RenderableType:
    """Return every figure of one wood with its source.

    Raises
    ------
    MaterialError
        If no wood is called so; names the nearest spellings.
    """
    row = find_species(name)
    table = Table(title=f"{row.name} ({row.latin}), {row.kind}", title_justify="left", box=SIMPLE)
    for heading in ("state", "property", "value", "source"):
        table.add_column(heading, no_wrap=heading == "value", ratio=1 if heading == "source" else 0)
    compared = {"tension_strength": row.published_tension} if row.published_tension else {}
    groups = (
        ("dry", row.dry, True),
        ("green", row.green, True),
        ("ratio to E_L", row.elastic, False),
        ("scatter", row.cov, False),
        ("to compare", compared, True),
    )
    for state, figures, scaled in groups:
        for key, figure in figures.items():
            shown = _value(figure, key, units) if scaled else f"{figure.value:.3g}"
            words = key.replace("_", " ") if scaled else key
            table.add_row(state, words, shown, say(origin(figure.source), units))
    return Group(table, *(Text(f"note: {say(note, units)}") for note in row.notes))


def bending_table(checks: tuple[BendingCheck, ...], units: UnitSystem) -> RenderableType:
    """Return bending strengths simulated and published."""
    bar = "2 x 2 in over 28 in" if units.name == "imperial" else "50 x 50 mm over 710 mm"
    sign = units.scale("stress")[1]
    title = f"Bar of {bar}, loaded in the middle, {sign}"
    table = plain_table(title)
    table.add_column("species", overflow="fold")
    add_number(table, "crush- ing", "tension", "bending in print", "as simu- lated", "ratio")
    add_number(table, "tension in print", "bending from it", "ratio")
    bare = units.number
    for check in checks:
        other = ("-", "-", "-")
        if check.published_tension is not None and check.from_published_tension is not None:
            ratio = check.from_published_tension / check.published
            other = (
                bare("stress", check.published_tension),
                bare("stress", check.from_published_tension),
                f"{ratio:.2f}",
            )
        table.add_row(
            check.species,
            bare("stress", check.compression),
            bare("stress", check.tension),
            bare("stress", check.published),
            bare("stress", check.simulated),
            f"{check.simulated / check.published:.2f}",
            *other,
        )
    words = (
        "Tension is the package's own, for nearly every wood computed from bending and crushing "
        "strength of such a bar, so the first ratio shows that the two agree.  The last is the "
        "independent check, with a tension strength others measured; where grain ran across their "
        "specimens it comes out low.  Nothing is fitted."
    )
    return Group(table, Text(words))


def bending_dict(checks: tuple[BendingCheck, ...]) -> dict[str, Any]:
    """Return the same for ``--json``, units in the keys."""
    keys = {
        "compression_strength_MPa": "compression",
        "tension_strength_MPa": "tension",
        "bending_strength_published_MPa": "published",
        "bending_strength_simulated_MPa": "simulated",
        "tension_strength_published_MPa": "published_tension",
        "bending_strength_from_published_tension_MPa": "from_published_tension",
    }
    rows = []
    for check in checks:
        values = {key: getattr(check, name) for key, name in keys.items()}
        scaled = {key: None if v is None else v / 1e6 for key, v in values.items()}
        rows.append({"species": check.species, **scaled})
    return {"woods": rows}


def _cell(figure: Figure, key: str, units: UnitSystem) -> str:
    return units.number(_kind(key), figure.value)


def _kind(key: str) -> str:
    """Return the kind of quantity that a property of the table is."""
    if key == "density":
        return "density"
    return "modulus" if key.endswith("modulus") else "stress"


def _value(figure: Figure, key: str, units: UnitSystem) -> str:
    """Return a figure as published, to four figures."""
    factor, unit = units.scale(_kind(key))
    return f"{float(f'{figure.value / factor:.4g}'):.10g} {unit}"
