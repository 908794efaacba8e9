"""What knots of several sizes and places would do to a bow, by local models of trial knots.

The clear bow is drawn once.  For a first answer a knot is judged by the width that is left; for the
real one, trial knots are put into the bow where it is worked hardest and judged as any knot of a
case is, by the plate's quick member.  What they use is held against the limb's strain.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

import numpy as np

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.wood.limb_field import LimbField, limb_field
from limbfe.analysis.wood.limb_load import limb_load
from limbfe.analysis.zones.unadvised import zone_outcome
from limbfe.case.build import bare_stave, build_setup
from limbfe.case.limb_checks import limb_tables
from limbfe.case.schema import Case
from limbfe.case.zone_tables import KnotTable
from limbfe.errors import LimbfeError
from limbfe.failure.splits.sliver import SLENDER
from limbfe.failure.verdict import breaking_used, sound_limits
from limbfe.frames import Array
from limbfe.log.layout.strength import SWIRL, StateTable, ZoneStrength, width_table
from limbfe.stave.named_zones import find_zone
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave
from limbfe.studies.tasks.run import TaskFailure, Tell, run_tasks

STRETCH = (0.25, 0.7)
"""Shares of a limb within which trial knots lie."""
APART = 0.11
"""Of a limb: how far trial knots of one limb lie from each other."""
ON_A_BOW = 6
"""Trial knots on a bow at the most, three a limb."""
CURVE = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.65, 0.8])
ROW = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
MIDWAY, INSIDE, OUTSIDE = 0.6, 0.05, 0.6
"""Columns of the table: the part of the way from the middle to where the rim meets the edge; how
far (half widths) from there; the radii by which a knot cut by the edge lies out of it."""
WINDOWS_OFF = 1.1
"""Splits judged by windows are charged with what the quick member may leave out: it says 0.91 to
1.05 of the full one's, on trial knots of a quarter and a third of an elm bow's width."""
KINDS = {"breaking": "clear", "crushing": "clear_crushing", "unsound": "clear"}
"""What is told of a trial knot, and of the clear wood where it lies; the last only where asked."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClearBow:
    """The wanted bow without a knot, drawn.

    Attributes
    ----------
    case : Case
    stave : Stave
    s, used, back, belly : ndarray, shape (n,)
        Stations (m from the grip, up positive), strength used by clear wood, strain of the back and
        shortening of the belly.
    draw_weight : float, N
    """

    case: Case
    stave: Stave
    s: Array
    used: Array
    back: Array
    belly: Array
    draw_weight: float


def draw_clear(case: Case) -> ClearBow:
    """Draw the wanted bow without its knots and patches.

    Raises
    ------
    ConvergenceError
        If it cannot be drawn.
    """
    bare = replace(case, file=case.file.model_copy(update={"knot": (), "decay": ()}))
    solved = exercised_bow(build_setup(bare), beyond=False)
    field = limb_field(solved)
    return ClearBow(
        case=bare,
        stave=bare_stave(bare),
        s=field.x,
        used=field.strength_used,
        back=np.maximum(field.back_strain, 0.0),
        belly=np.maximum(-field.belly_strain, 0.0),
        draw_weight=float(solved.states[-1].draw_force),
    )


def first_strength(clear: ClearBow) -> ZoneStrength:
    """Return a table by the width that is left, for a first look."""
    return ZoneStrength(
        s=clear.s,
        back=clear.used,
        belly=clear.used,
        tables={"dead": width_table(CURVE, ROW)},
        tabulated=False,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """A trial knot: its state, share of the width, column of the table, and lean (rad)."""

    state: str
    size: float
    column: int
    lean: float = 0.0

    @property
    def place(self) -> float:
        """Distance from the middle over half the width."""
        return columns(self.size)[self.column]

    @property
    def label(self) -> str:
        """What names it."""
        return f"{self.state} {self.size:g} at {self.place:.2f}"


def columns(size: float) -> tuple[float, ...]:
    """Return the places at which a knot of a size is tried: middle, midway, rim at edge, cut."""
    rim = 1.0 - size
    return 0.0, MIDWAY * rim, rim - INSIDE, 1.0, 1.0 + OUTSIDE * size


def tabulate(
    clear: ClearBow,
    sizes: Mapping[str, tuple[float, ...]],
    *,
    leans: Mapping[str, float] = MappingProxyType({}),
    soundness: bool = False,
    workers: int | None = None,
    executor: Executor | None = None,
    tell: Tell | None = None,
) -> ZoneStrength:
    """Return the table of this bow from local models of trial knots.

    Parameters
    ----------
    clear : ClearBow
    sizes : mapping of state to tuple of float
        Of knots "live", "dead", "missing", "drilled": diameters over width, growing.
    leans : mapping of state to float, rad
        How far the branch leans along the limb, square to it where it is not said: one that leans
        takes less of any one section.
    soundness : bool
        Whether it is also found up to which load each is sound, which takes as long again.
    workers, executor, tell
        See `limbfe.studies.tasks.run.run_tasks`.

    Raises
    ------
    LimbfeError
        If no trial knot of a size and state can be judged.

    Notes
    -----
    Below the smallest trial knot figures fall straight to those of clear wood; above the largest
    they go on as straight.
    """
    trials = [
        Trial(state=state, size=size, column=k, lean=leans.get(state, 0.0))
        for state, own in sizes.items()
        for size, k in itertools.product(own, range(len(columns(0.1))))
    ]
    items = {
        f"bow {k}": (_with_trials(clear, batch), _labels(batch), soundness)
        for k, batch in _batches(trials)
    }
    found = run_tasks(
        judge_trials,
        items,
        study=f"lay {clear.case.digest} {soundness} {dict(leans)}",
        workers=workers,
        executor=executor,
        tell=tell,
    )
    used: dict[str, dict[str, float]] = {}
    notes: list[str] = []
    for name, result in found.items():
        if isinstance(result, TaskFailure):
            raise LimbfeError(f"trial knots, {name}: {result.message}")
        used.update(result["used"])
        notes += [
            f"trial knot {label} could not be judged ({why}); it counts as the worst of its size"
            for label, why in result["failures"].items()
        ]
    if not used:
        raise LimbfeError("no trial knot could be judged: " + "; ".join(notes))
    clear_wood = {
        kind: max(one[own] for one in used.values())
        for kind, own in KINDS.items()
        if soundness or kind != "unsound"
    }
    return ZoneStrength(
        s=clear.s,
        back=clear.back,
        belly=clear.belly,
        tables={state: _state_table(state, own, used, clear_wood) for state, own in sizes.items()},
        tabulated=True,
        notes=tuple(notes),
    )


def _labels(batch: tuple[Trial, ...]) -> tuple[str, ...]:
    return tuple(one.label for one in batch)


def _batches(trials: list[Trial]) -> Iterator[tuple[int, tuple[Trial, ...]]]:
    """Yield trials in bows of few knots, of unlike places, an even number of bows."""
    count = -(-len(trials) // ON_A_BOW)
    count += count % 2 if len(trials) > 1 else 0
    for k in range(count):
        yield k, tuple(trials[k::count])


def _state_table(
    state: str,
    sizes: tuple[float, ...],
    used: dict[str, dict[str, float]],
    clear: dict[str, float],
) -> StateTable:
    every = np.array([0.0, *sizes])
    places = np.array([_places(size) for size in every])
    found: dict[str, Array | None] = {"unsound": None}
    for kind, at_rest in clear.items():
        rows = [np.full(places.shape[1], at_rest)]
        for size in sizes:
            row = [
                used.get(Trial(state=state, size=size, column=k).label, {}).get(kind, np.nan)
                for k in range(len(columns(size)))
            ]
            if np.all(np.isnan(row)):
                raise LimbfeError(f"no {state} trial knot of {size:.0%} of the width can be judged")
            worst = float(np.nanmax(row))
            own = np.array([worst if np.isnan(v) else v for v in row])
            rows.append(np.array([*own[:3], own[2:4].max(), *own[3:], at_rest]))
        found[kind] = rising(np.array(rows))
    return StateTable(sizes=every, places=places, **found)  # type: ignore[arg-type]


def _places(size: float) -> tuple[float, ...]:
    """Return the columns of a size with two that need no trial: the strip, and the swirl's end.

    A strip of wood beside a knot splits off as long as there is one (`at_the_edge`): what the knot
    whose rim is at the edge uses is held up to there, and falls past it.
    """
    middle, midway, inside, half, outside = columns(size)
    strip, swirl = 1.0 - SLENDER * size, 1.0 + SWIRL * max(size, 1e-6)
    return middle, midway, inside, strip, half, outside, swirl


def rising(table: Array) -> Array:
    """Return a table whose rows never fall: a larger knot in the same column is no milder.

    What a local model finds of a small knot may lie a little above a large one's, by its windows.
    """
    risen: Array = np.maximum.accumulate(table, axis=0)
    return risen


def _with_trials(clear: ClearBow, batch: tuple[Trial, ...]) -> Case:
    """Return the clear bow with a batch of trial knots, spread over both limbs."""
    file, half = clear.case.file, (len(batch) + 1) // 2
    knots = []
    for k, trial in enumerate(batch):
        limb = "upper" if k < half else "lower"
        at = _stations(clear, limb, half if k < half else len(batch) - half)[k % half]
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
            "lean": trial.lean,
        }
        knots.append(KnotTable.model_construct(**fields))
    return replace(clear.case, file=file.model_copy(update={"knot": tuple(knots)}))


def _stations(clear: ClearBow, limb: str, count: int) -> Array:
    """Return stations of trial knots, m from the grip: round the place that is worked hardest."""
    tip = float(limb_tables(clear.case.file)[limb][1].station[-1])
    at = np.linspace(*STRETCH, 91) * tip
    used = np.interp(at if limb == "upper" else -at, clear.s, clear.used)
    reach = 0.5 * APART * (count - 1)
    middle = float(np.clip(at[int(np.argmax(used))] / tip, STRETCH[0] + reach, STRETCH[1] - reach))
    stations: Array = tip * (middle + np.linspace(-reach, reach, count))
    return stations


def judge_trials(item: tuple[Case, tuple[str, ...], bool]) -> dict[str, Any]:
    """Judge the trial knots of a case: what each uses over the strain at its station.

    One that cannot be judged is named with the reason.
    """
    case, names, soundness = item
    solved = exercised_bow(build_setup(case), beyond=False)
    field, load = limb_field(solved), limb_load(solved)
    used: dict[str, dict[str, float]] = {}
    failures: dict[str, str] = {}
    for name in names:
        zone = find_zone(solved.model.setup.stave, name)
        try:
            outcome = zone_outcome(solved.model, load, zone, "quick", banded=soundness)
        except LimbfeError as error:
            failures[name] = str(error)
            continue
        if outcome is None:
            failures[name] = "nothing of it is left in the limb"
            continue
        back, belly = _strains(field, zone.extent[0])
        careful = 1.0 if outcome.grain_split is not None else WINDOWS_OFF
        used[name] = {
            "breaking": careful * breaking_used(outcome)[1] / back,
            "crushing": outcome.modes["yield"].typical / belly,
            "clear": outcome.clear["fibre"] / back,
            "clear_crushing": outcome.clear["yield"] / belly,
        }
        if soundness:
            limits = [one.factor for one in sound_limits(outcome) if one.mark != "crushing"]
            used[name]["unsound"] = careful / min(limits) / back
    return {"used": used, "failures": failures}


def _strains(field: LimbField, s: float) -> tuple[float, float]:
    back = float(np.interp(s, field.x, field.back_strain))
    belly = -float(np.interp(s, field.x, field.belly_strain))
    return max(back, 1e-9), max(belly, 1e-9)
