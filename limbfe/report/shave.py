"""Tables of what a shaving changes, station by station."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.analysis.rates.shave import ShaveMap, Shaving
from limbfe.report.tables import add_number, first_words, plain_table
from limbfe.units import UnitSystem, ruler_inches

HOW = (
    "Each row is one shaving that fades out towards the stations beside it, so a station with far "
    "neighbours loses more wood. Changes are in proportion for small shavings. The bow is "
    "exercised before and after, its string adjusted to the same brace height. Strength used is "
    "that of the hardest worked clear wood of both limbs after the shaving; knots and decay are "
    "not looked at."
)


def shave_tables(shaves: ShaveMap, units: UnitSystem) -> RenderableType:
    """Return one table for shavings off the belly and one for shavings off both sides."""
    worst = shaves.worst
    now = (
        f"Once exercised it draws {units.force(shaves.draw_weight)} at "
        f"{units.length(shaves.draw_length)}; clear wood is worked hardest "
        f"{units.length(worst.at)} up the {worst.limb} limb, {worst.face}: {worst.how_hard}."
    )
    return Group(
        *first_words(shaves.when_braced, units),
        Text(shaves.title, style="bold"),
        Text(""),
        Text(now),
        *(Text(line) for line in shaves.warnings),
        Text(""),
        _table(shaves, shaves.belly, "off the belly", units),
        Text(""),
        _table(shaves, shaves.sides, "off the width, half on each side", units),
        Text(""),
        Text(HOW),
    )


def _table(shaves: ShaveMap, shaving: Shaving, where: str, units: UnitSystem) -> Table:
    belly = shaving is shaves.belly
    _, unit = units.scale("length")
    title = f"Taking {units.shaving(shaving.amount)} {where}: lengths in {unit}"
    table = plain_table(title)
    add_number(table, "station", "thick now" if belly else "width now", "draw weight")
    add_number(table, "strength used", "hardest at", "tiller at brace")
    column = shaves.thickness if belly else shaves.width
    for k in reversed(range(len(shaves.x))):
        x, at = float(shaves.x[k]), float(shaving.worst_at[k])
        table.add_row(
            f"{limb_name(x)} {units.number('length', abs(x))}",
            units.number("length", float(column[k])),
            _change(float(shaving.draw_weight[k]), "force", units),
            f"{shaving.worst[k]:.1%}",
            f"{limb_name(at)} {units.number('length', abs(at))}",
            _change(float(shaving.tiller_braced[k]), "length", units).removesuffix(f" {unit}"),
        )
    table.caption = "tiller: + where the upper limb comes to stand further off the string"
    return table


def limb_name(x: float) -> str:
    """Return which limb a signed station is on."""
    return "upper" if x > 0.0 else "lower" if x < 0.0 else "grip"


def _change(value: float, kind: str, units: UnitSystem) -> str:
    """Return a small change with its sign; none for a zero."""
    factor, unit = units.scale(kind)
    text = f"{value / factor:+.{1 if units.name == 'metric' else 2}f}"
    if kind == "length" and units.name == "imperial":
        text = ("+" if value > 0.0 else "") + ruler_inches(value)
    return f"{text if text.strip('+-0.') else text.lstrip('+-')} {unit}"
