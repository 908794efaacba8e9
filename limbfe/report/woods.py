"""The built-in woods as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.wood.source import origin
from limbfe.wood.species import find_species, species_names
from limbfe.wood.table import Figure

if TYPE_CHECKING:
    from limbfe.studies.bending_test import BendingCheck
    from limbfe.units import UnitSystem

SHOWN = {
    "density": "",
    "bending_modulus": "bending E, ",
    "bending_strength": "bending strength, ",
    "compression_strength": "crushing, ",
}
"""Columns of the list, their units to follow."""


def species_table(units: UnitSystem) -> RenderableType:
    """Return one line for every built-in wood."""
    table = Table(title="Built-in woods, dry", title_justify="left")
    table.add_column("species")
    table.add_column("also called")
    for key, words in SHOWN.items():
        table.add_column(f"{words}{units.scale(_kind(key))[1]}", justify="right")
    for name in species_names():
        row = find_species(name)
        cells = [_cell(row.dry.get(key), key, units) for key in SHOWN]
        table.add_row(row.name, ", ".join(row.aliases), *cells)
    return Group(table, Text("`limbfe woods NAME` shows every figure of one wood with its source."))


def wood_table(name: str, units: UnitSystem) -> RenderableType:
    """Return every figure of one wood with its source.

    Raises
    ------
    MaterialError
        If no wood is called so; names the nearest spellings.
    """
    row = find_species(name)
    table = Table(title=f"{row.name} ({row.latin}), {row.kind}", title_justify="left")
    for heading in ("state", "property", "value", "source"):
        table.add_column(heading)
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
            table.add_row(state, key, shown, origin(figure.source))
    return Group(table, *(Text(f"note: {note}") for note in row.notes))


def bending_table(checks: tuple[BendingCheck, ...], law: str, units: UnitSystem) -> RenderableType:
    """Return bending strengths simulated and published."""
    bar = "2 x 2 in over 28 in" if units.name == "imperial" else "50 x 50 mm over 710 mm"
    sign = units.scale("stress")[1]
    title = f"Bar of {bar}, loaded in the middle ({law} crushing), {sign}"
    table = Table(title=title, title_justify="left")
    table.add_column("species")
    for heading in ("crushing", "tension", "bending published", "simulated", "ratio"):
        table.add_column(heading, justify="right")
    for heading in ("tension published", "simulated with it", "ratio"):
        table.add_column(heading, justify="right")
    for check in checks:
        other = ("-", "-", "-")
        if check.published_tension is not None and check.from_published_tension is not None:
            ratio = check.from_published_tension / check.published
            other = (
                _bare(check.published_tension, units),
                _bare(check.from_published_tension, units),
                f"{ratio:.2f}",
            )
        table.add_row(
            check.species,
            _bare(check.compression, units),
            _bare(check.tension, units),
            _bare(check.published, units),
            _bare(check.simulated, units),
            f"{check.simulated / check.published:.2f}",
            *other,
        )
    words = (
        "Tension is the package's own, for nearly every wood computed from bending and crushing "
        "strength of an ideally plastic bar, so the first ratio shows what the crushing law alone "
        "changes.  The last is the independent check, with a tension strength others measured; "
        "where grain ran across their specimens it comes out low.  Nothing is fitted."
    )
    return Group(table, Text(words))


def bending_dict(checks: tuple[BendingCheck, ...], law: str) -> dict[str, Any]:
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
    return {"compression_law": law, "woods": rows}


def _cell(figure: Figure | None, key: str, units: UnitSystem) -> str:
    return "-" if figure is None else units.show(_kind(key), figure.value).split()[0]


def _bare(stress: float, units: UnitSystem) -> str:
    """Return a stress without its unit, which stands in the heading."""
    return units.stress(stress).split()[0]


def _kind(key: str) -> str:
    """Return the kind of quantity that a property of the table is."""
    if key == "density":
        return "density"
    return "modulus" if key.endswith("modulus") else "stress"


def _value(figure: Figure, key: str, units: UnitSystem) -> str:
    """Return a figure as published, to four figures."""
    factor, unit = units.scale(_kind(key))
    return f"{float(f'{figure.value / factor:.4g}'):.10g} {unit}"
