"""One knot or patch in numbers."""

from __future__ import annotations

import math

from rich.console import Group, RenderableType
from rich.text import Text

from limbfe.analysis.zones.verdicts import JudgedZone
from limbfe.failure.problem import LocalOutcome
from limbfe.failure.verdict import MODE_NAMES
from limbfe.report.tables import add_number, defect_table, plain_table
from limbfe.units import UnitSystem, say

SHOWN = ("fibre", "opening", "sliding", "yield")


def defect_tables(zone: JudgedZone, units: UnitSystem, braced: float) -> RenderableType:
    """Return ways of failing, strength used by depth, the verdict; `braced` is a draw length, m."""
    assert zone.local is not None
    result, outcome = zone.result, zone.local.outcome
    ways = plain_table("Ways of failing at full draw")
    ways.add_column("how")
    add_number(ways, "low", "typical", "high", "window", "across", "height in the limb")
    for mode in SHOWN:
        one = outcome.modes[mode]
        ways.add_row(
            MODE_NAMES[mode],
            *(f"{value:.0%}" for value in (one.low, one.typical, one.high)),
            *(_known(value, units) for value in (one.length, one.y, one.z)),
        )
    ways.caption = _of_splits(outcome)
    depths = plain_table("By depth, back first")
    for heading in ("height in the limb", *(MODE_NAMES[mode] for mode in SHOWN)):
        add_number(depths, heading)
    for field in outcome.fields:
        cells = (f"{field.used[mode]:.0%}" for mode in SHOWN)
        depths.add_row(units.length(field.z), *cells)
    if (
        max(field.used["fibre"] for field in outcome.fields)
        > 1.005 * outcome.modes["fibre"].typical
    ):
        depths.caption = (
            "fibres: of what a test piece bears; above it counts how little wood is worked so "
            "hard, which bears more"
        )
    return Group(
        ways,
        depths,
        defect_table((result,), units, braced),
        Text(say(result.advice, units)),
    )


def _of_splits(outcome: LocalOutcome) -> str | None:
    """Return why a verdict on splits is another figure than those of the windows."""
    if outcome.grain_split is None:
        return None
    return (
        "splits: from 100% on one may begin; followed on, it has "
        f"{outcome.modes['split'].typical:.0%} of what makes it run, and the verdict goes by that"
    )


def _known(value: float, units: UnitSystem) -> str:
    """Return a length; a dash where the whole section decides, which has no window."""
    return "-" if math.isnan(value) else units.length(value)
