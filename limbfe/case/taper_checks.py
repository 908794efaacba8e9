"""Whether a ``[taper]`` table describes a limb, and the stations it stands for."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from limbfe.case.messages import Problem, first_found
from limbfe.case.schema import CaseFile, LimbsTable, LimbTable
from limbfe.case.taper_tables import TaperTable
from limbfe.frames import Array
from limbfe.stave.columns import NAMED
from limbfe.stave.taper import (
    Taper,
    lawful_thickness,
    taper_stations,
    thickness_at,
    tip_reflex,
    width_at,
)
from limbfe.units import METRIC, both_lengths

HANDLE = ("grip_width", "grip_thickness", "fade")
SIZES = {
    "length": (0.15, 2.0),
    "width": (0.003, 0.15),
    "tip_width": (0.003, 0.15),
    "grip_width": (0.003, 0.15),
    "thickness": (0.002, 0.1),
    "tip_thickness": (0.002, 0.1),
    "grip_thickness": (0.002, 0.1),
}
"""What the columns of a limb allow, m."""
NEAREST, FURTHEST = 0.1, 1.5
"""Draw lengths over limb length no bow has; later checks refuse them in words of their own."""


def taper_problems(file: CaseFile) -> Iterator[Problem]:
    """Yield what is wrong with the strategy, the most basic first; nothing without a taper."""
    taper = file.taper
    if taper is not None:
        yield from first_found(
            (Problem(("taper", *place), reason) for place, reason in check(file, taper))
            for check in _CHECKS
        )


def with_stations(file: CaseFile) -> CaseFile:
    """Return the file with the stations its sound taper stands for, as ``[limb.both]``."""
    if file.taper is None:
        return file
    table, taper = file.taper, make_taper(file, file.taper)
    x = taper_stations(taper)
    columns: dict[str, Array] = {
        "station": x,
        "width": width_at(taper, x),
        "thickness": thickness_at(taper, x),
    }
    for name in ("sapwood", "lean", "backing"):
        value = getattr(table, name)
        if value is not None:
            columns[name] = np.full_like(x, value)
    if table.reflex is not None:
        columns["reflex"] = tip_reflex(taper, x, table.reflex)
    table_of_both: dict[str, Any] = {
        name: tuple(float(value) for value in values) for name, values in columns.items()
    }
    limb = LimbTable.model_construct(**table_of_both)
    return file.model_copy(update={"limb": LimbsTable.model_construct(both=limb)})


def taper_words(problem: Problem, file: CaseFile) -> Problem:
    """Return a problem of generated stations in terms of the taper that made them."""
    reason = problem.reason.replace("[limb.both]", "[taper]")
    if problem.loc[0] != "limb" or file.limb.both is None:
        return Problem(problem.loc, reason)
    name = str(problem.loc[2])
    key = "length" if name == "station" else name
    if len(problem.loc) < 4 or NAMED[name].kind == "angle":
        return Problem(("taper", key), reason)
    k = int(problem.loc[3])
    value = both_lengths(getattr(file.limb.both, name)[k])
    at = both_lengths(file.limb.both.station[k])
    return Problem(("taper", key), f"makes a {name} of {value} at station {at}, which {reason}")


def make_taper(file: CaseFile, table: TaperTable) -> Taper:
    """Return the strategy of a table that has passed the checks."""
    half_grip, string = file.grip.half, file.string
    half = 0.5 * (table.grip_thickness or table.thickness)
    return Taper(
        length=table.length,
        half_grip=half_grip,
        fade=table.fade or 0.0,
        grip_width=table.grip_width or table.width,
        grip_thickness=table.grip_thickness or table.thickness,
        width=table.width,
        tip_width=table.tip_width,
        outline=table.outline,
        parallel_to=table.parallel_to or 0.0,
        thickness=table.thickness,
        tip_thickness=table.tip_thickness or table.thickness,
        law=table.thickness_law,
        ellipse_ratio=table.ellipse_ratio or 1.0,
        tips=table.tips,
        tip_length=table.tip_length or 0.0,
        brace=None if string.brace_height is None else string.brace_height + half,
        string=None if string.brace_height is not None else 0.5 * (string.length or 0.0),
        draw=min(max(file.draw.length - half, NEAREST * table.length), FURTHEST * table.length),
    )


Found = Iterator[tuple[tuple[str, ...], str]]


def _alone(file: CaseFile, table: TaperTable) -> Found:
    for name in ("both", "upper", "lower"):
        if getattr(file.limb, name) is not None:
            yield (
                (),
                f"stands beside [limb.{name}]; keep one: [limb] for measured stations, [taper] to "
                "have them made",
            )


def _sizes(file: CaseFile, table: TaperTable) -> Found:
    for name, (low, high) in SIZES.items():
        value = getattr(table, name)
        if value is not None and not low <= value <= high:
            yield (
                (name,),
                f"must lie between {both_lengths(low)} and {both_lengths(high)}; check the "
                "number and its unit",
            )


def _handle(file: CaseFile, table: TaperTable) -> Found:
    stiff = file.grip.stiff_length
    for name in HANDLE:
        given = getattr(table, name) is not None
        if given and stiff == 0.0:
            yield (
                (name,),
                "says nothing of a bow that bends through the grip; drop it, or give [grip] "
                "stiff_length the length of the handle",
            )
        if not given and stiff > 0.0:
            yield (
                (),
                f"needs a {name}, because [grip] stiff_length makes the handle stiff; give "
                f"{', '.join(HANDLE)}, or write stiff_length = 0 for a bow that bends through the "
                "grip",
            )
            return


def _handle_size(file: CaseFile, table: TaperTable) -> Found:
    start = file.grip.half + (table.fade or 0.0)
    if start > 0.8 * table.length:
        key = "fade" if table.fade is not None else "length"
        yield (
            (key,),
            f"leaves hardly any limb to bend: half of [grip] stiff_length and the fade reach "
            f"{both_lengths(start)} of {both_lengths(table.length)}; shorten the fade or handle",
        )
    if table.grip_thickness is not None and table.grip_thickness < table.thickness:
        yield (
            ("grip_thickness",),
            f"is less than the limb's thickness, {both_lengths(table.thickness)}; a stiff handle "
            "is thicker: correct one of them",
        )
    if table.fade is not None and table.fade < 0.005:
        yield ("fade",), "must be at least 5 mm: the handle cannot end in a step"


def _outline(file: CaseFile, table: TaperTable) -> Found:
    start = file.grip.half + (table.fade or 0.0)
    if table.tip_width > table.width:
        yield (
            ("tip_width",),
            f"is more than the limb's width, {both_lengths(table.width)}; give at most that",
        )
    if table.outline != "parallel":
        if table.parallel_to is not None:
            yield (
                ("parallel_to",),
                f'says nothing of a {table.outline} outline; drop it or write outline = "parallel"',
            )
    elif table.parallel_to is None:
        yield (
            ("outline",),
            "needs the station up to which the limb keeps its width; add for instance "
            f'parallel_to = "{METRIC.length(0.5 * table.length)}"',
        )
    elif not start < table.parallel_to < table.length - 0.01:
        yield (
            ("parallel_to",),
            f"must lie on the limb, beyond {both_lengths(start)} and at least 10 mm "
            f"(0.39 in) before the nock at {both_lengths(table.length)}",
        )


def _law(file: CaseFile, table: TaperTable) -> Found:
    elliptical = table.thickness_law == "elliptical bend"
    if elliptical and table.ellipse_ratio is None:
        yield ("thickness_law",), "needs the shape of the ellipse; add ellipse_ratio = 0.7"
    if not elliptical and table.ellipse_ratio is not None:
        yield (
            ("ellipse_ratio",),
            'says nothing without an elliptical bend; drop it or write thickness_law = "elliptical '
            'bend"',
        )
    plain = table.tips == "plain"
    if table.tip_thickness is None and not (plain and table.thickness_law == "constant"):
        yield (), 'needs the thickness at the nock; add for instance tip_thickness = "9 mm"'
    elif table.tip_thickness is not None and plain and table.thickness_law == "constant":
        yield (
            ("tip_thickness",),
            'says nothing beside a constant thickness; drop it, or write tips = "whip" or "stiff"',
        )
    elif table.tip_thickness is not None and plain and table.tip_thickness > table.thickness:
        yield (
            ("tip_thickness",),
            f"is more than the limb's thickness, {both_lengths(table.thickness)}; give at most "
            'that, or write tips = "stiff"',
        )
    if plain and table.tip_length is not None:
        yield (
            ("tip_length",),
            'says nothing of plain tips; drop it or write tips = "whip" or "stiff"',
        )
    if not plain and table.tip_length is None:
        yield ("tips",), 'needs the length of the tips; add for instance tip_length = "150 mm"'


def _tips(file: CaseFile, table: TaperTable) -> Found:
    if table.tips == "plain" or table.tip_length is None or table.tip_thickness is None:
        return
    taper = make_taper(file, table)
    begin = taper.length - taper.tip_length
    if not begin > taper.start or taper.tip_length < 0.01:
        yield (
            ("tip_length",),
            "must be at least 10 mm and leave some limb: less than "
            f"{both_lengths(taper.length - taper.start)}",
        )
        return
    there = float(lawful_thickness(taper, begin))
    wrong = table.tip_thickness >= there if table.tips == "whip" else table.tip_thickness <= there
    if wrong:
        sense = "thinner" if table.tips == "whip" else "thicker"
        yield (
            ("tip_thickness",),
            f"is no {table.tips} tip: the law gives {both_lengths(there)} where the tip begins, "
            f"and it must end {sense}; change it, or tip_length, or tips",
        )


_CHECKS: tuple[Callable[[CaseFile, TaperTable], Found], ...] = (
    _alone,
    _sizes,
    _handle,
    _handle_size,
    _outline,
    _law,
    _tips,
)
