"""Lay a bow in a stave: first look, table of strengths, search, full assessment of the best."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from limbfe.analysis.zones.verdicts import GRAVITY
from limbfe.case.sheet_build import build_log, build_rules, build_stages
from limbfe.case.sheet_schema import Sheet
from limbfe.errors import CaseError, GeometryError
from limbfe.frames import Array
from limbfe.log.fate import knot_fate
from limbfe.log.laid import lay_limb, limb_volume, stave_between, with_stave_back
from limbfe.log.layout.costs import ZONES, Task, share_of_width, zone_marks, zone_used
from limbfe.log.layout.search import Found, positions, search, worst_zone
from limbfe.stave.recurve import recurved
from limbfe.studies.lay.assessed import assess_texts
from limbfe.studies.lay.laid_case import laid_document
from limbfe.studies.lay.patches import laid_patch
from limbfe.studies.lay.reasons import layout_reasons, strength_told
from limbfe.studies.lay.remarks import assumptions, cautions
from limbfe.studies.lay.results import LaidOut, Layout
from limbfe.studies.size.size import size_bow
from limbfe.studies.size.wanted import Wanted
from limbfe.studies.tasks.run import TaskFailure, map_over, worker_pool
from limbfe.studies.trial_knots.table import (
    ClearBow,
    draw_clear,
    first_strength,
    tabulate,
)
from limbfe.units import Words

BLANK = 0.04
"""Wood (m) there is over the wanted bow's thickness in a stave; the search finds out what fits."""
TRIAL_SIZES = (0.06, 0.5)
"""Least and largest trial knot over the limb's width."""
UNLIKE = 1.25
"""Ratio of the largest knot of a state to the least from which another size is tried."""
WORKED = 0.5
"""Share of the largest strain of the back from which a knot in the edge is held against a layout:
towards tips and grip bowyers let it be (common practice)."""
WATCH = GRAVITY.index("watch")
Tell = Callable[[Words], None]
Seen = Callable[[LaidOut], None]


def lay_bow(
    sheet: Sheet,
    *,
    quick: bool = False,
    drawn: tuple[Array, Array] | None = None,
    workers: int | None = None,
    executor: Executor | None = None,
    tell: Tell = lambda words: None,
    seen: Seen = lambda first: None,
) -> LaidOut:
    """Return the three best layouts of the wanted bow in a stave.

    Parameters
    ----------
    sheet : Sheet
    quick : bool
        Stop at the first look: knots by the width they leave, nothing assessed.
    drawn : (x, offset), optional
        A line that is on the stave already, m; a new one leaves it as little as it must.
    workers, executor
        See `limbfe.studies.tasks.run.run_tasks`.
    tell : callable
        Told in words what is being done.
    seen : callable
        Given the first look as soon as there is one.

    Raises
    ------
    CaseError
        If no line fits; says where and by how much.
    ConvergenceError
        If the wanted bow cannot be drawn.
    """
    with worker_pool(1 if quick else workers, executor, ready=_ready) as pool:
        clear, task = _wanted_bow(sheet, drawn, tell)
        tell("first look")
        first = _laid_out(sheet, clear, task, _search(sheet, task, pool))
        if quick:
            return first
        seen(first)
        sizes = _sizes(task)
        if sizes:
            tell("judging trial knots in this bow")
            strength = tabulate(
                clear,
                sizes,
                leans=_leans(task),
                workers=workers,
                executor=pool,
                tell=lambda done, count: tell(f"judging trial knots: {done} of {count} parts"),
            )
            task = replace(task, strength=strength)
            tell("searching the line again")
            first = _laid_out(sheet, clear, task, _search(sheet, task, pool))
        tell("assessing the best layouts")
        judged = assess_texts(
            [one.case_text for one in first.layouts],
            f"lay {sheet.digest}",
            workers,
            pool,
            lambda done, count: tell(f"assessing the best layouts: {done} of {count} parts"),
        )
        return _ranked(first, judged, task.alike)


def _ready() -> None:
    """Let a process load this module before it is needed."""


def _wanted_bow(
    sheet: Sheet, drawn: tuple[Array, Array] | None, tell: Tell
) -> tuple[ClearBow, Task]:
    """Return the wanted bow, sized and drawn, and the search for its line."""
    bow = sheet.bow
    if sheet.file.bow.draw_weight is not None:
        tell("sizing the wanted bow")
        wanted = Wanted(
            weight=sheet.file.bow.draw_weight,
            draw_length=bow.file.draw.length,
            allowance=BLANK,
        )
        try:
            bow = size_bow(bow, wanted).case
        except CaseError as error:
            # it speaks of the option of `size`; here the weight stands in the sheet
            said = str(error).replace("--draw-weight ", "[bow] draw_weight = ")
            raise CaseError(f"{sheet.path}: {said}") from None
    tell("drawing the wanted bow")
    clear = draw_clear(bow)
    task = Task(
        log=build_log(sheet.file),
        wanted=clear.stave,
        rules=replace(build_rules(sheet), drawn=drawn),
        strength=first_strength(clear),
    )
    return clear, task


def _state(state: str) -> str:
    return "dead" if state == "filled" else state


def _sizes(task: Task) -> dict[str, tuple[float, ...]]:
    """Return the sizes of trial knots of every state that can meet the bow, over its width.

    Of each state the largest, and one between that and the least in proportion.  What lies below is
    taken on a straight line from clear wood, which is careful: figures grow faster than the size.
    """
    found: dict[str, list[float]] = {}
    for mark in zone_marks(task.log):
        for end in task.ends:
            places = positions(task, end)
            grip = float(places[len(places) // 2])
            share = share_of_width(task, mark, end, grip)
            if share > 0.0:
                share = float(np.clip(share, *TRIAL_SIZES))
                found.setdefault(_state(mark.state), []).append(share)
    sizes: dict[str, tuple[float, ...]] = {}
    for state, shares in found.items():
        least, most = min(shares), max(shares)
        tried = (np.sqrt(least * most), most) if most > UNLIKE * least else (most,)
        sizes[state] = tuple(float(np.ceil(100.0 * size) / 100.0) for size in tried)
    return sizes


def _leans(task: Task) -> dict[str, float]:
    """Return the least lean of the knots of every state, which takes most of a section."""
    leans: dict[str, float] = {}
    for mark in zone_marks(task.log):
        state = _state(mark.state)
        leans[state] = min(abs(mark.lean), leans.get(state, np.inf))
    return leans


def _search(sheet: Sheet, task: Task, pool: Executor | None) -> tuple[Found, ...]:
    try:
        return search(task, each=partial(map_over, pool))
    except GeometryError as error:
        raise CaseError(f"{sheet.path}: {error}") from error


def _laid_out(sheet: Sheet, clear: ClearBow, task: Task, found: tuple[Found, ...]) -> LaidOut:
    layouts = tuple(_layout(sheet, clear, task, one) for one in found)
    return LaidOut(
        sheet=sheet,
        log=task.log,
        bow=clear.case,
        wanted=clear.stave,
        stages=build_stages(sheet.file),
        layouts=layouts,
        assumptions=assumptions(sheet, task.log, task.strength.tabulated),
        cautions=(*cautions(sheet, task.log, layouts[0]), *task.strength.notes),
        notes=task.strength.notes,
    )


def _layout(sheet: Sheet, clear: ClearBow, task: Task, found: Found) -> Layout:
    log, line = task.log, found.line
    wanted = with_stave_back(log, line, clear.stave)
    laid = lay_limb(log, line, wanted)
    stages = build_stages(sheet.file)
    knots = tuple(knot_fate(log, mark, line, wanted, stages) for mark in log.marks)
    patches = tuple(
        one for patch in log.patches if (one := laid_patch(log, patch, line, wanted)) is not None
    )
    there = {knot.name for knot in knots if knot.words is not None}
    there |= {patch.name for patch in patches}
    used = {
        mark.name: float(zone_used(task, mark, line.upper_end, line.grip, line.offset_at(mark.x)))
        for mark in zone_marks(log)
        if mark.name in there
    }
    recurve = "  The recurve wanted is bent in." if np.any(recurved(wanted)) else ""
    heading = (
        f"Laid out in the stave of {sheet.path.name} by limbfe lay: {line.upper_end} end up,",
        f"{line.nocks[0] * 1e3:.0f} mm cut off at the butt.  Sizes are those wanted;",
        f"reflex, sideways, twist, rings, grain, knots and rot are the stave's.{recurve}",
    )
    return Layout(
        line=line,
        cost=found.cost,
        laid=laid,
        bow=wanted,
        knots=knots,
        patches=patches,
        in_edge=tuple(
            knot.name
            for knot in knots
            if knot.fate == "edge" and task.strength.strained(float(line.along(knot.x))) >= WORKED
        ),
        used=used,
        verdicts={},
        gravity=0,
        worst_used=max([worst_zone(task, line), float(clear.used.max())]),
        assessed=False,
        draw_weight=None,
        case_text=laid_document(sheet, clear.case, laid, knots, patches, heading),
        problem="",
        reasons=layout_reasons(
            log, line, laid, knots, patches, strength_told(used, {}), task.alike
        ),
        waste=stave_between(log, *line.nocks) - limb_volume(wanted),
    )


def _ranked(
    first: LaidOut, found: tuple[dict[str, Any] | TaskFailure, ...], alike: bool
) -> LaidOut:
    """Return the layouts with the verdicts that were found, the best first."""
    judged = (
        _judged(first, one, result, alike) for one, result in zip(first.layouts, found, strict=True)
    )
    order = sorted(judged, key=_rank)
    problems = tuple(
        f"layout {k + 1} could not be assessed: {one.problem}"
        for k, one in enumerate(order)
        if one.problem
    )
    told = cautions(first.sheet, first.log, order[0])
    return replace(first, layouts=tuple(order), cautions=(*told, *first.notes, *problems))


def _rank(one: Layout) -> tuple[bool, int, float]:
    """Return what layouts are put in order by: verdict, then what the search weighs."""
    return not one.assessed, one.gravity, one.cost


def _judged(
    first: LaidOut, one: Layout, result: dict[str, Any] | TaskFailure, alike: bool
) -> Layout:
    if isinstance(result, TaskFailure):
        return replace(one, problem=result.message)
    used = {name: float(zone[1]) for name, zone in result["zones"].items()}
    tabled = sum(one.used.get(name, 0.0) ** 4 for name in used)
    found = sum(share**4 for share in used.values()) + result["clear"] ** 4
    verdicts = {name: str(zone[0]) for name, zone in result["zones"].items()}
    return replace(
        one,
        cost=one.cost + ZONES * (found - tabled),
        used=used,
        verdicts=verdicts,
        gravity=max([WATCH if one.in_edge else 0, *map(GRAVITY.index, verdicts.values())]),
        worst_used=max([result["clear"], *used.values()]),
        assessed=True,
        draw_weight=result["draw_weight"],
        reasons=layout_reasons(
            first.log,
            one.line,
            one.laid,
            one.knots,
            one.patches,
            strength_told(used, verdicts),
            alike,
        ),
    )
