"""Tables of a bow laid out in a stave, for the bench."""

from __future__ import annotations

import numpy as np
from rich.console import Group
from rich.padding import Padding
from rich.table import Table

from limbfe.report.tables import add_number, plain_table
from limbfe.studies.lay.lines import STEPS, in_steps, rough_lines, ruler_stations
from limbfe.studies.lay.results import LaidOut, Layout
from limbfe.units import UnitSystem, ruler_inches, say

PLACES = ("best", "second", "third")


def lay_tables(found: LaidOut, units: UnitSystem) -> Group:
    """Return lines and knots of the best layout, then the layouts with reasons, the best last."""
    parts: list[object] = ["", _lines(found, units), "", _roughing(found, units)]
    if found.best.knots:
        parts += ["", _knots(found, units)]
    for title, lines in (("Caution", found.cautions), ("Assumed", found.assumptions)):
        if lines:
            parts += ["", title, *(_point(say(line, units)) for line in lines)]
    for k in reversed(range(len(found.layouts))):
        parts += _head(found, found.layouts[k], PLACES[k], units)
    return Group(*parts)  # type: ignore[arg-type]


def _point(text: str) -> Padding:
    return Padding(f"- {text}", (0, 0, 0, 2))


def _head(found: LaidOut, one: Layout, place: str, units: UnitSystem) -> list[object]:
    judged = "assessed" if one.assessed else "first look, not assessed"
    weight = "" if one.draw_weight is None else f", draws {units.force(one.draw_weight)}"
    title = (
        f"{place.capitalize()} layout: {one.line.upper_end} end up, grip "
        f"{units.length(one.line.grip)} from the butt, strength used at most "
        f"{one.worst_used:.0%} ({judged}{weight})"
    )
    return ["", title, *(_point(say(reason, units)) for reason in one.reasons)]


def _lines(found: LaidOut, units: UnitSystem) -> Table:
    """Return the centre line at round stations, and what is spare there."""
    best, laid = found.best, found.best.laid
    order = np.argsort(laid.x)
    at = ruler_stations(found, best, units.name)
    _, unit = units.scale("length")
    table = plain_table(f"Best layout, {unit}: stations from the butt, line from the snapped line")
    add_number(table, "station", "line", "width", "spare left", "", "right", "", "depth", "")
    columns = {
        name: np.interp(at, laid.x[order], getattr(laid, name)[order])
        for name in ("left", "right", "depth", "width", "thickness")
    }
    for k, x in enumerate(at):
        offset = float(best.line.offset_at(x))
        side = "" if abs(offset) < 0.5 * STEPS[units.name] else (" R" if offset > 0 else " L")
        spare = []
        for name, own in (("left", "width"), ("right", "width"), ("depth", "thickness")):
            share = columns[name][k] / columns[own][k]
            spare += [ruled(float(columns[name][k]), units), f"{100.0 * share:.0f}%"]
        table.add_row(
            ruled(float(x), units),
            ruled(abs(offset), units) + side,
            ruled(float(columns["width"][k]), units),
            *spare,
        )
    table.caption = "per cent: of the finished width, of the thickness for the depth"
    return table


def _roughing(found: LaidOut, units: UnitSystem) -> Table:
    """Return edges and thickness to draw for every stage."""
    rows = rough_lines(found)
    at = ruler_stations(found, found.best, units.name)
    stages = [stage.name for stage in found.stages] + ["finished"]
    table = plain_table("Lines to draw: left and right edge from the snapped line, thickness")
    add_number(table, "station", *stages)
    # fractions are wide: of three stages and more the thickness goes below the edges
    below = "\n" if units.name == "imperial" and len(stages) > 2 else " "
    for x in at:
        cells = []
        for name in stages:
            left, right, thick = (
                float(np.interp(x, rows["station"], rows[f"{name} {part}"]))
                for part in ("left", "right", "thickness")
            )
            cells.append(
                f"{sided(left, units)} {sided(right, units)}{below}/ {ruled(thick, units)}"
            )
        table.add_row(ruled(float(x), units), *cells)
    return table


def _knots(found: LaidOut, units: UnitSystem) -> Table:
    """Return where every knot shows at every stage, how wide, and how hard it is worked."""
    table = plain_table("Knots: where each shows after every cut, and how wide")
    table.add_column("")
    for name in (*(stage.name for stage in found.stages), "finished"):
        table.add_column(name)
    add_number(table, "strength used")
    for knot in found.best.knots:
        cells = [_shown(at.fate, at.diameter, units) for at in knot.shown]
        cells += ["gone"] * (len(found.stages) - len(cells))
        used = found.best.used.get(knot.name)
        table.add_row(
            knot.name,
            *cells,
            "gone, its swirl stays" if knot.swirl else _shown(knot.fate, knot.diameter, units),
            "" if used is None else f"{used:.0%}",
        )
    return table


def _shown(fate: str, diameter: float | None, units: UnitSystem) -> str:
    return fate if diameter is None else f"{fate}, {ruled(diameter, units)}"


def sided(offset: float, units: UnitSystem) -> str:
    """Return an offset with the side of the line it lies on: L or R."""
    return f"{ruled(abs(offset), units)}{'L' if offset < 0 else 'R'}"


def ruled(length: float, units: UnitSystem) -> str:
    """Return a length as a rule shows it: to half a millimetre, or in 32nds of an inch.

    Examples
    --------
    >>> from limbfe.units import IMPERIAL, METRIC
    >>> ruled(0.0123, METRIC), ruled(0.0254 * 1.28, IMPERIAL)
    ('12.5', '1 9/32')
    """
    stepped = in_steps(length, units.name)
    if units.name == "imperial":
        return ruler_inches(stepped, 32)
    return f"{1e3 * stepped:.1f}".removesuffix(".0")
