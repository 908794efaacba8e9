"""Where a bow lies in its stave, in the words of the tables of `lay`, for the page."""

from __future__ import annotations

from typing import Any

import numpy as np

from limbfe.frames import Array
from limbfe.report.lay import PLACES, ruled, sided
from limbfe.studies.lay.lines import rough_lines, ruler_stations
from limbfe.studies.lay.results import LaidOut, Layout
from limbfe.units import UnitSystem, say


def laid_answer(found: LaidOut, units: UnitSystem) -> dict[str, Any]:
    """Return every layout, the best first, with the lines to draw.

    Returns
    -------
    dict
        ``"layouts"``: words, places in mm, the knots by name, and the case; ``"cautions"`` and
        ``"assumed"``, sentences; ``"assessed"``, whether it is more than a first look.
    """
    return {
        "layouts": [
            _layout(found, one, place, units)
            for one, place in zip(found.layouts, PLACES, strict=False)
        ],
        "cautions": [say(line, units) for line in found.cautions],
        "assumed": [say(line, units) for line in found.assumptions],
        "assessed": found.best.assessed,
    }


def _layout(found: LaidOut, one: Layout, place: str, units: UnitSystem) -> dict[str, Any]:
    rows, length = rough_lines(found, one), found.log.length
    butt, top = one.line.nocks
    weight = "" if one.draw_weight is None else f", draws {units.force(one.draw_weight)}"
    return {
        "title": f"{place.capitalize()}: {one.line.upper_end} end up",
        "words": f"grip {units.length(one.line.grip)} from the butt; {units.length(butt)} off the "
        f"butt, {units.length(length - top)} off the top{weight}",
        "used": f"{one.worst_used:.0%}",
        "assessed": one.assessed,
        "problem": one.problem,
        "reasons": [say(reason, units) for reason in one.reasons],
        "upper_end": one.line.upper_end,
        "nocks": [_mm(butt), _mm(top)],
        "grip": _mm(one.line.grip),
        "x": _all_mm(rows["station"]),
        "line": _all_mm(rows["centre line"]),
        "edges": [
            {
                "name": name,
                "left": _all_mm(rows[f"{name} left"]),
                "right": _all_mm(rows[f"{name} right"]),
                "thick": _all_mm(rows[f"{name} thickness"]),
            }
            for name in ("finished", *(stage.name for stage in found.stages))
        ],
        "knots": [
            {
                "name": knot.name,
                "fate": knot.fate,
                "gone_at": knot.gone_at,
                "used": None if knot.name not in one.used else f"{one.used[knot.name]:.0%}",
                "verdict": one.verdicts.get(knot.name),
            }
            for knot in one.knots
        ],
        "table": _table(found, one, rows, units),
        "case_text": one.case_text,
    }


def _table(
    found: LaidOut, one: Layout, rows: dict[str, Array], units: UnitSystem
) -> dict[str, list[Any]]:
    """Return the lines to draw at round stations, as a rule shows them."""
    names = [stage.name for stage in found.stages] + ["finished"]
    cells = []
    for x in ruler_stations(found, one, units.name):
        line = float(one.line.offset_at(x))
        row = [ruled(float(x), units), sided(line, units)]
        for name in names:
            left, right, thick = (
                float(np.interp(x, rows["station"], rows[f"{name} {part}"]))
                for part in ("left", "right", "thickness")
            )
            row.append(f"{sided(left, units)} {sided(right, units)} / {ruled(thick, units)}")
        cells.append(row)
    unit = units.scale("length")[1]
    return {"heads": [f"from the butt, {unit}", "centre line", *names], "rows": cells}


def _mm(length: float) -> float:
    return round(1e3 * float(length), 2)


def _all_mm(values: Array) -> list[float]:
    return [_mm(value) for value in values]
