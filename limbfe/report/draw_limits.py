"""Table of how far a bow of clear wood can be drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.table import Table

from limbfe.report.tables import add_number, plain_table

if TYPE_CHECKING:
    from limbfe.analysis.wood.draw_limits import BreakingDraw, DrawLimits
    from limbfe.analysis.wood.limit_search import DrawLimit
    from limbfe.units import UnitSystem

EVENTS = {
    "yield": "the belly passes its proportional limit: set begins",
    "tension": "clear wood breaks in tension",
    "compression": "wrinkles (frets) may show on the belly",
    "shear": "clear wood shears along the grain",
    "across": "clear wood splits across the grain",
    "crush": "the belly gives way for good",
}
WITHOUT_FLAW = "Not a length to draw to: without any flaw, wood of typical strength would end so"
_ENDS = {
    "break": "Clear wood is expected to fail for good at {at}: the bow was drawn no further.",
    "stability": "Beyond {at} the bow is not stable: a limb kicks to the side or over.",
    "equilibrium": "Beyond {at} there is no equilibrium: the bow gives way.",
    "string": "Drawn to {at}, string and limbs are nearly in one line: there is no further.",
}


def limits_table(limits: DrawLimits, units: UnitSystem) -> Table:
    """Return what happens first, and next, as the bow is drawn on."""
    table = plain_table("Drawn on: what the clear wood does")
    table.add_column("what happens")
    add_number(table, "draw length")
    add_number(table, "draw weight")
    table.add_column("where")
    events = [] if limits.belly_yields is None else [limits.belly_yields]
    events += [limit for limit in limits.failures if limit.draw_length <= limits.end_at]
    for limit in sorted(events, key=lambda limit: limit.draw_length):
        braced = limit.when_braced
        table.add_row(
            EVENTS[limit.kind],
            f"{units.length(limit.draw_length)}{' (brace)' if braced else ''}",
            "already braced" if braced else units.force(limit.force),
            _where(limit, units),
        )
    if not events:
        table.add_row("nothing yields, nothing breaks", "", "", "")
    table.caption = (
        f"{_ENDS[limits.end].format(at=units.length(limits.end_at))} That is as far as faultless "
        "wood of typical strength would go in one draw: knots and decay are not looked at, and a "
        "real limb breaks sooner."
    )
    return table


def breaking_sentence(clear: BreakingDraw, units: UnitSystem) -> str:
    """Return how far the limb could be drawn if it had no flaw, in one sentence."""
    limit = clear.breaks
    if limit is None:
        return f"{WITHOUT_FLAW}: {_lower(_ENDS[clear.end].format(at=units.length(clear.end_at)))}"
    at = units.length(limit.draw_length)
    return f"{WITHOUT_FLAW}: {EVENTS[limit.kind]} at a draw of {at} ({_where(limit, units)})."


def _lower(sentence: str) -> str:
    return sentence[0].lower() + sentence[1:]


def _where(limit: DrawLimit, units: UnitSystem) -> str:
    spot = limit.spot
    return f"{spot.limb} limb, {units.length(spot.at)}, {spot.face}"
