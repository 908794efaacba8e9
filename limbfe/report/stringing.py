"""Words and tables of how a bow is strung."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.report.tables import add_number, listing, plain_table
from limbfe.units import say

if TYPE_CHECKING:
    from limbfe.analysis.wood.stringing import StringingOn, Strung
    from limbfe.units import UnitSystem

LEAST = 1e-3
"""A string no farther than this (m) from the belly of the grip lies on it."""


def stringing_tables(strung: StringingOn, units: UnitSystem) -> RenderableType:
    """Return the heights a bow can be strung to, what that takes, and the answer last."""
    parts: list[RenderableType] = [_heights(strung, units)]
    for what, words in (("Lower", strung.too_low), ("Higher", strung.too_high)):
        if words is not None:
            # it is told of a height nobody asked for
            why = say(words, units).removeprefix("Do not string this bow: ").rstrip(".")
            parts.append(Text(f"{what}: {why}."))
    parts += listing("Cautions", strung.cautions, units)
    return Group(*parts, Text(""), Text(_answer(strung, units), style="bold"))


def _heights(strung: StringingOn, units: UnitSystem) -> Table:
    table = plain_table("How low and high it can be strung")
    for heading in ("brace height", "string", "tension", "on each tip", "lies, upper", "lower"):
        add_number(table, heading)
    for one in strung.heights:
        table.add_row(
            units.length(one.brace_height),
            units.length(one.string_length),
            units.force(one.tension),
            _force(one, units),
            *(units.length(lies) if lies > 0.0 else "-" for lies in reversed(one.lies)),
        )
    table.caption = "on each tip: the pull that lets the string slip on; lies: on the limb"
    return table


def _force(one: Strung, units: UnitSystem) -> str:
    if one.force is None:
        return "not found"
    return units.force(one.force) if one.force > 0.0 else "none"


def _answer(strung: StringingOn, units: UnitSystem) -> str:
    wanted, (low, high) = strung.wanted, strung.span
    words = (
        f"Braced {units.length(wanted.brace_height)} high for the first time it takes a string of "
        f"{units.length(wanted.string_length)}"
    )
    if wanted.force is None:
        words += "; the pull to slip it on was not found."
    elif wanted.force > 0.0:
        words += (
            f" and {units.force(wanted.force)} on each tip to slip it on: so much by hand and as "
            f"much held, stepping through; {units.force(2.0 * wanted.force)} on the grip with a "
            "stringer at the tips."
        )
    else:
        words += ", which reaches from nock to nock of the unstrung bow."
    lowest = units.length(low) if low > LEAST else "the string on the belly of the grip"
    if strung.too_high is None:
        return f"{words} It can be strung from {lowest} to {units.length(high)}."
    return (
        f"{words} It stands from {lowest} up; at {units.length(high)} it is at its limit: stay "
        "well below."
    )
