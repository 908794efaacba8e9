"""What knots of several sizes and places would do to the wanted bow, by local models.

The clear bow is drawn once.  For a first answer a knot is judged by the width that is left; for the
real one, trial knots are put into the bow and judged as any knot of a case is, and what they use of
their strength is held against that of the clear limb at their station.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from limbfe.analysis.assess import look_at_zone
from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.wood.limb_field import limb_field
from limbfe.case.build import bare_stave, build_setup
from limbfe.case.limb_checks import limb_tables
from limbfe.case.schema import Case
from limbfe.case.zone_tables import KnotTable
from limbfe.errors import LimbfeError
from limbfe.frames import Array
from limbfe.log.layout.strength import ZoneStrength, width_left
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave
from limbfe.studies.tasks.run import TaskFailure, Tell, run_tasks

SIZES = (0.25,)
"""Of trial knots, over the limb's width."""
PLACES = (0.0, 0.6)
"""Of trial knots, from the middle over half the width: none is cut by the edge.  Nearer to the edge
the table goes on straight."""
STRETCH = (0.3, 0.62)
"""Shares of a limb within which trial knots lie: where it is worked."""
CURVE = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.65, 0.8])
ROW = np.array([0.0, 0.25, 0.5, 0.75, 1.0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClearBow:
    """The wanted bow without a knot, drawn.

    Attributes
    ----------
    case : Case
    stave : Stave
    s, used : ndarray, shape (n,)
        Stations (m from the grip, up positive) and strength used by clear wood.
    draw_weight : float, N
    """

    case: Case
    stave: Stave
    s: Array
    used: Array
    draw_weight: float


def draw_clear(case: Case) -> ClearBow:
    """Draw the wanted bow.

    Raises
    ------
    ConvergenceError
        If it cannot be drawn.
    """
    solved = exercised_bow(build_setup(case), beyond=False)
    field = limb_field(solved)
    return ClearBow(
        case=case,
        stave=bare_stave(case),
        s=field.x,
        used=field.strength_used,
        draw_weight=float(solved.states[-1].draw_force),
    )


def first_strength(clear: ClearBow) -> ZoneStrength:
    """Return a table by the width that is left, for a first look."""
    return ZoneStrength(
        s=clear.s,
        clear=clear.used,
        sizes=CURVE,
        places=ROW,
        factors={"dead": width_left(CURVE, ROW)},
        tabulated=False,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """A trial knot: its state, share of the width and place over half the width."""

    state: str
    size: float
    place: float

    @property
    def label(self) -> str:
        """What names it."""
        return f"{self.state} {self.size:g} at {self.place:g}"


def tabulate(
    clear: ClearBow,
    states: tuple[str, ...],
    *,
    sizes: tuple[float, ...] = SIZES,
    places: tuple[float, ...] = PLACES,
    workers: int | None = None,
    tell: Tell | None = None,
) -> ZoneStrength:
    """Return the table of this bow from local models of trial knots.

    Parameters
    ----------
    clear : ClearBow
    states : tuple of str
        Of knots: "live", "dead", "missing", "drilled"; a filled one counts as dead.
    sizes, places : tuple of float
        Of the trial knots.
    workers, tell
        See `limbfe.studies.tasks.run.run_tasks`.

    Raises
    ------
    LimbfeError
        If a trial knot cannot be judged.

    Notes
    -----
    Below the smallest trial knot the factor falls straight to 1 for none; above the largest it
    grows as the width that is left shrinks.
    """
    trials = [
        Trial(state=a, size=b, place=c) for a, b, c in itertools.product(states, sizes, places)
    ]
    batches = [tuple(trials[k::2]) for k in range(2)]
    items = {
        f"batch {k}": (_with_trials(clear, batch), tuple(one.label for one in batch))
        for k, batch in enumerate(batches)
        if batch
    }
    found = run_tasks(
        judge_trials, items, study=f"lay {clear.case.digest}", workers=workers, tell=tell
    )
    ratios: dict[str, float] = {}
    notes: list[str] = []
    for name, result in found.items():
        if isinstance(result, TaskFailure):
            raise LimbfeError(f"trial knots, {name}: {result.message}")
        ratios.update(result["ratios"])
        notes += [
            f"trial knot {label} could not be judged ({why}); it counts by the width it leaves"
            for label, why in result["failures"].items()
        ]
    factors = {}
    for state in states:
        table = np.array(
            [[ratios[Trial(state=state, size=a, place=b).label] for b in places] for a in sizes]
        )
        factors[state] = rising(table)
    larger = np.array([size for size in CURVE if size > sizes[-1]])
    grown = width_left(larger, np.array(places)) / width_left(
        np.array(sizes[-1:]), np.array(places)
    )
    return ZoneStrength(
        s=clear.s,
        clear=clear.used,
        sizes=np.array([0.0, *sizes, *larger]),
        places=np.array(places),
        factors={
            state: np.concatenate([np.ones((1, len(places))), table, table[-1:] * grown])
            for state, table in factors.items()
        },
        tabulated=True,
        notes=tuple(notes),
    )


def rising(table: Array) -> Array:
    """Return a table whose rows never fall: a larger knot in the same place is no milder.

    What a local model finds of a small knot may lie a little above a large one's, by its windows.
    """
    risen: Array = np.maximum.accumulate(np.maximum(table, 1.0), axis=0)
    return risen


def _with_trials(clear: ClearBow, batch: tuple[Trial, ...]) -> Case:
    """Return the clear bow with a batch of trial knots, spread over both limbs."""
    file, half = clear.case.file, (len(batch) + 1) // 2
    tables = {limb: table for limb, (_, table) in limb_tables(file).items()}
    knots = []
    for k, trial in enumerate(batch):
        limb = "upper" if k < half else "lower"
        tip = tables[limb].station[-1]
        share = (k if k < half else k - half) / max(half - 1, 1)
        at = tip * (STRETCH[0] + share * (STRETCH[1] - STRETCH[0]))
        s = at if limb == "upper" else -at
        width = float(shape_at(clear.stave, np.array([s])).width[0])
        fields: dict[str, Any] = {
            "name": trial.label,
            "limb": limb,
            "at": at,
            "face": "back",
            "across": 0.5 * trial.place * width,
            "diameter": trial.size * width,
            "state": trial.state,
        }
        knots.append(KnotTable.model_construct(**fields))
    return replace(clear.case, file=file.model_copy(update={"knot": tuple(knots)}))


def judge_trials(item: tuple[Case, tuple[str, ...]]) -> dict[str, Any]:
    """Judge the trial knots of a case: what each uses over what clear wood uses there.

    One that cannot be judged is named with the reason.
    """
    case, names = item
    solved = exercised_bow(build_setup(case))
    field = limb_field(solved)
    ratios: dict[str, float] = {}
    failures: dict[str, str] = {}
    for name in names:
        try:
            verdict = look_at_zone(solved, name).result
        except LimbfeError as error:
            failures[name] = str(error)
            continue
        s = verdict.at if verdict.limb == "upper" else -verdict.at
        clear = float(np.interp(s, field.x, field.strength_used))
        ratios[name] = verdict.strength_used / clear
    return {"ratios": ratios, "failures": failures}
