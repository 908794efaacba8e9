"""One knot or patch in numbers."""

from __future__ import annotations

from typing import Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.analysis.contract import defect_to_dict
from limbfe.analysis.results import DefectResult
from limbfe.failure.problem import LocalOutcome
from limbfe.failure.verdict import MODE_NAMES
from limbfe.report.tables import defect_table
from limbfe.units import UnitSystem, reader_units

SHOWN = ("fibre", "opening", "sliding", "yield")


def defect_tables(result: DefectResult, outcome: LocalOutcome, units: UnitSystem) -> RenderableType:
    """Return verdict, ways of failing, and strength used by depth."""
    ways = Table(title="Ways of failing at full draw", title_justify="left")
    for heading in ("how", "low", "typical", "high", "window", "across", "height in the limb"):
        ways.add_column(heading, justify="left" if heading == "how" else "right")
    for mode in SHOWN:
        one = outcome.modes[mode]
        ways.add_row(
            MODE_NAMES[mode],
            *(f"{value:.0%}" for value in (one.low, one.typical, one.high)),
            units.length(one.length),
            units.length(one.y),
            units.length(one.z),
        )
    depths = Table(title="By depth, back first", title_justify="left")
    for heading in ("height in the limb", *(MODE_NAMES[mode] for mode in SHOWN)):
        depths.add_column(heading, justify="right")
    for field in outcome.fields:
        cells = (f"{field.used[mode]:.0%}" for mode in SHOWN)
        depths.add_row(units.length(field.z), *cells)
    return Group(
        defect_table((result,), units),
        Text(reader_units(result.advice, units)),
        Text(""),
        ways,
        depths,
    )


def defect_dict(result: DefectResult, outcome: LocalOutcome) -> dict[str, Any]:
    """Return the verdict with its modes and depths, units in the keys."""
    modes = {
        mode: {
            "strength_used_low": one.low,
            "strength_used": one.typical,
            "strength_used_high": one.high,
            "window_mm": one.length * 1e3,
            "x_mm": one.x * 1e3,
            "across_mm": one.y * 1e3,
            "height_mm": one.z * 1e3,
        }
        for mode, one in outcome.modes.items()
    }
    depths = [{"height_mm": f.z * 1e3, "strength_used": dict(f.used)} for f in outcome.fields]
    return {**defect_to_dict(result), "modes": modes, "depths": depths}
