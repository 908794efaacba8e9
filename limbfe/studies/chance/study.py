"""The study: the bow of the case, a hundred others drawn in full, tens of thousands of quick ones.

Every figure is the same for a seed, however many processes there are: the design of the bows that
are drawn in full is always the same, and quick bows come in batches with a stream of their own.
"""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Executor
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.kept import kept_set
from limbfe.analysis.bow.model import LimbModel, build_model
from limbfe.analysis.shot.speed import arrow_speed, usual_arrow
from limbfe.analysis.wood.limb_load import limb_load
from limbfe.analysis.wood.stretched import link_parts, skin_tension
from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.errors import CaseError, ConvergenceError, LimbfeError
from limbfe.frames import Array, read_only
from limbfe.studies.chance.asked import Asked
from limbfe.studies.chance.bows import BY_STATION, FULL, WAY, Plan, design_setup, drawn_in_full
from limbfe.studies.chance.design import (
    as_change,
    design,
    quick_bow,
    way_lengths,
    worst_of,
)
from limbfe.studies.chance.inputs import STRENGTHS, Inputs, build_inputs
from limbfe.studies.chance.known import fitted, known_from
from limbfe.studies.chance.local import (
    judged_locally,
    local_figures,
    local_plans,
    local_sample,
)
from limbfe.studies.chance.quick import Chances
from limbfe.studies.chance.results import Chance
from limbfe.studies.chance.told import Own, told
from limbfe.studies.chance.zones import ZoneTable, judged_at_size, zone_plans, zone_tables
from limbfe.studies.sweep.moisture import moist_setup
from limbfe.studies.tasks.run import TaskFailure, Tell, run_tasks
from limbfe.units import both_lengths

_MOISTER = 0.01
"""Step (fraction) of the difference quotient by moisture."""


def chance_of(
    case: Case,
    asked: Asked,
    *,
    workers: int | None = None,
    executor: Executor | None = None,
    journal: Path | None = None,
    tell: Tell | None = None,
) -> Chance:
    """Return how likely a bow holds, what it draws, and what to measure next.

    Parameters
    ----------
    case : Case
    asked : Asked
    workers, executor, journal, tell
        See `limbfe.studies.tasks.run.run_tasks`; they do not change the result.

    Raises
    ------
    CaseError
        If a measuring error, the draw it has held or what was read of it do not fit the bow.
    ConvergenceError
        If the bow of the case, or most of those its wood may make, cannot be drawn.
    GeometryError
        If a knot or patch has no local model.
    MaterialError
        If the spreads of the wood contradict each other.
    """
    setup, tiller = build_setup(case), asked.tiller
    read = None if tiller is None else fitted(setup, tiller, asked.spread.calliper)
    own = _own(case)
    start, full = own.solved.first_pull.braced.draw_length, case.file.draw.length
    _check_held(asked.held, start, start + WAY[-1] * (full - start))
    model = build_model(design_setup(case))
    plans = zone_plans(case)
    if asked.local and not plans:
        raise CaseError(
            f"local {asked.local}: this case has no knot or patch to judge; leave it out"
        )
    bows = asked.bows if asked.spread.scatter > 0.0 else 0
    total = len(plans) + bows + 1 + asked.local
    error = asked.spread
    measures = f"{error.calliper} {error.tape} {error.scatter}"
    study = f"chance, whole limbs, shot, {asked.bows} {measures} {case.digest}"

    def run(work: Any, tasks: Mapping[str, Any], before: int) -> dict[str, Any]:
        def say(done: int, _: int) -> None:
            if tell is not None:
                tell(before + done, total)

        return run_tasks(
            work, tasks, study=study, workers=workers, executor=executor, journal=journal,
            tell=say,
        )  # fmt: skip

    judged = {
        name: None if isinstance(one, TaskFailure) else one
        for name, one in (run(judged_at_size, plans, 0) if plans else {}).items()
    }
    tables, words = zone_tables(case, judged, model.stations.x)
    inputs = build_inputs(
        setup,
        asked.spread,
        _moisture_rates(case),
        tuple(table.kind for table in tables),
        np.array([table.demands.beside.extra for table in tables]),
    )
    points, spread = design(inputs, bows)
    rows = [np.zeros(len(spread)), *points]
    sites = tuple(table.site for table in tables)
    tasks = {
        "bow of the case" if k == 0 else f"bow {k}": Plan(
            case=case, change=as_change(row), sites=sites, give=model.zones, arrow=own.arrow
        )
        for k, row in enumerate(rows)
    }
    drawn = run(drawn_in_full, tasks, len(plans))
    chances = _chances(own, inputs, model, tables, points, spread, list(drawn.values()))
    _check_held(asked.held, start, float(chances.lengths[-1]))
    if read is not None:
        chances = replace(chances, known=known_from(setup, inputs, read))
    local = None
    if asked.local and tables:
        u = local_sample(chances, asked)
        judging = local_plans(case, chances, u, model.zones)
        local = local_figures(
            chances, u, list(run(judged_locally, judging, len(plans) + bows + 1).values())
        )
    return told(case.title, asked, own, chances, words, local)


def _own(case: Case) -> Own:
    solved = exercised_bow(build_setup(case), beyond=False)
    parts = link_parts(solved.model.stations, solved.section)
    given = solved.model.setup.shooting.arrow
    arrow = usual_arrow(solved.full_draw.draw_force) if given is None else given
    try:
        speed = arrow_speed(solved, arrow)
    except ConvergenceError:
        speed = None
    return Own(
        solved=solved,
        force=solved.full_draw.draw_force,
        kept=kept_set(solved, bounds=False).mean,
        arrow=arrow,
        speed=speed,
        tension=float(skin_tension(parts, limb_load(solved).skin).max()),
    )


def _check_held(held: float | None, start: float, end: float) -> None:
    """Refuse a draw below the braced string or beyond `end`, as far as the bows were drawn."""
    if held is None:
        return
    if not start < held <= end:
        raise CaseError(
            f"held {both_lengths(held)}: must lie beyond the braced string "
            f"({both_lengths(start)}) and within {both_lengths(end)}, as far as bows are drawn here"
        )


def _moisture_rates(case: Case) -> Array:
    """Return the change of the logarithms of `STRENGTHS` per unit of moisture, shape (5,)."""
    wood = build_setup(case).stave.heartwood
    if wood.species is None or wood.moisture is None:
        return np.zeros(len(STRENGTHS))
    ends = []
    for step in (_MOISTER, -_MOISTER):
        try:
            moved = moist_setup(case, wood.moisture + step).stave.heartwood
        except LimbfeError:
            # at the end of what the table adjusts to the change is taken from the other side
            moved, step = wood, 0.0
        strength = moved.strength
        figures = (moved.elasticity.E_L, strength.tension, strength.compression,
                   strength.tension_across, strength.shear)  # fmt: skip
        ends.append((step, np.log(figures)))
    (up, high), (down, low) = ends
    return np.asarray((high - low) / (up - down)) if up > down else np.zeros(len(STRENGTHS))


def _chances(
    own: Own,
    inputs: Inputs,
    model: LimbModel,
    tables: tuple[ZoneTable, ...],
    points: Array,
    spread: Array,
    drawn: list[Any],
) -> Chances:
    """Return the quick bow with the figures of the case behind it."""
    first, *others = drawn
    if isinstance(first, TaskFailure):
        raise LimbfeError(f"chance: the bow of the case: {first.message}")
    results = [None if isinstance(one, TaskFailure) else one for one in others]
    reasons = [one.message for one in others if isinstance(one, TaskFailure)]
    bow = quick_bow(points, spread, first, results, reasons[0] if reasons else "")
    start, full = own.solved.first_pull.braced.draw_length, model.setup.drawing.length
    force = np.exp(np.array(first["force"][: bow.reached]))
    force[0] = 0.0
    used = {name: np.array(first[name][: bow.reached]) for name in BY_STATION}
    whole = worst_of("links", used["links"].reshape(1, -1), bow.reached)[0, FULL]
    if own.tension > 0.0:
        used["links"] = used["links"] + np.log(own.tension) - whole
    sites = np.array(first["sites"][: bow.reached]).reshape(bow.reached, -1)
    return Chances(
        inputs=inputs,
        bow=bow,
        lengths=read_only(way_lengths(start, full, bow.reached)),
        force=read_only(own.force * (force / force[FULL])),
        kept=own.kept,
        speed=own.speed if "speed" in bow.terms else None,
        used=used,
        x=model.stations.x,
        sites=read_only(sites - sites[FULL]),
        zones=tables,
    )
