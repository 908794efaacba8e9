"""Tables of what a shaving changes, station by station."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.analysis.shave import ShaveMap, Shaving
from limbfe.units import UnitSystem

HOW = (
    "Each row is one shaving that fades out towards the stations beside it, so a station with far "
    "neighbours loses more wood. Changes are in proportion for small shavings; the brace height is "
    "set again (the string's length stays where the case gives that). Strength used is that of the "
    "hardest worked clear wood of both limbs after the shaving; knots and decay are not looked at."
)


def shave_tables(found: ShaveMap, units: UnitSystem) -> RenderableType:
    """Return one table for shavings off the belly and one for shavings off both sides."""
    worst = found.worst
    now = (
        f"Draws {units.force(found.draw_weight)} at {units.length(found.draw_length)}; clear wood "
        f"is worked hardest {units.length(worst.at)} up the {worst.limb} limb, {worst.face}: "
        f"{worst.how_hard}."
    )
    return Group(
        Text(found.title, style="bold"),
        Text(""),
        Text(now),
        Text(""),
        _table(found, found.belly, "off the belly", units),
        Text(""),
        _table(found, found.sides, "off the width, half on each side", units),
        Text(""),
        Text(HOW),
    )


def _table(found: ShaveMap, shaving: Shaving, where: str, units: UnitSystem) -> Table:
    belly = shaving is found.belly
    title = f"Taking {units.length(shaving.amount)} {where}"
    table = Table(title=title, title_justify="left")
    size = "thickness now" if belly else "width now"
    headings = ["limb", "station", size, "draw weight", "work put in", "strength used"]
    for heading in (*headings, "hardest at", "tiller at brace"):
        table.add_column(heading, justify="right")
    column = found.thickness if belly else found.width
    for k in reversed(range(len(found.x))):
        x, at = float(found.x[k]), float(shaving.worst_at[k])
        table.add_row(
            limb_name(x),
            units.length(abs(x)),
            units.length(float(column[k])),
            _change(float(shaving.draw_weight[k]), "force", units),
            _change(float(shaving.energy[k]), "energy", units),
            f"{shaving.worst[k]:.1%}",
            f"{limb_name(at)}, {units.length(abs(at))}",
            _change(float(shaving.tiller_braced[k]), "length", units),
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
    return f"{text if float(text) != 0.0 else text[1:]} {unit}"
