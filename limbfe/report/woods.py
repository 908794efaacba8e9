"""The built-in woods as tables."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.wood.species import find_species, species_names
from limbfe.wood.table import Figure

SHOWN = ("density", "bending_modulus", "bending_strength", "compression_strength")


def species_table() -> RenderableType:
    """Return one line for every built-in wood."""
    table = Table(title="Built-in woods, dry", title_justify="left")
    table.add_column("species")
    table.add_column("also called")
    for heading in ("kg/m3", "bending E, GPa", "bending strength, MPa", "crushing, MPa"):
        table.add_column(heading, justify="right")
    for name in species_names():
        row = find_species(name)
        cells = [_cell(row.dry.get(key), key) for key in SHOWN]
        table.add_row(row.name, ", ".join(row.aliases), *cells)
    return Group(table, Text("`limbfe woods NAME` shows every figure of one wood with its source."))


def wood_table(name: str) -> RenderableType:
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
    for state, figures in (("dry", row.dry), ("green", row.green), ("ratio to E_L", row.elastic)):
        for key, figure in figures.items():
            source = f"{figure.source.text} ({figure.source.flag})"
            table.add_row(state, key, _value(figure, key), source)
    return Group(table, *(Text(f"note: {note}") for note in row.notes))


def _cell(figure: Figure | None, key: str) -> str:
    return "-" if figure is None else _value(figure, key).split()[0]


def _value(figure: Figure, key: str) -> str:
    value = figure.value
    if key == "density":
        return f"{value:.0f} kg/m3"
    if value > 1e9:
        return f"{value / 1e9:.2f} GPa"
    return f"{value / 1e6:.1f} MPa" if value > 1e4 else f"{value:.3g}"
