"""Every knot and patch: local model, verdict, the draw length it holds to, and advice."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.analysis.advice import advise
from limbfe.analysis.limb_load import LimbLoad
from limbfe.analysis.model import LimbModel
from limbfe.analysis.results import DefectResult
from limbfe.analysis.stress import zone_extent
from limbfe.analysis.surroundings import Surroundings, surroundings
from limbfe.analysis.traces import (
    Plane,
    plane_of,
    zone_label,
    zone_slices,
)
from limbfe.errors import CaseError
from limbfe.failure.local import judge_zone
from limbfe.failure.problem import Band, LocalOutcome, LocalProblem
from limbfe.failure.verdict import MODE_NAMES, verdict_numbers
from limbfe.frames import Array
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Knot

SEED = 20261125


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LocalModel:
    """The plane models behind one verdict, as they are drawn in close-ups.

    Attributes
    ----------
    problem : LocalProblem
    outcome : LocalOutcome
    plane : {"flat", "side"}
        Slices parallel to the back, or upright between back and belly.
    """

    problem: LocalProblem
    outcome: LocalOutcome
    plane: Plane


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JudgedZone:
    """A knot or patch, and the local model of it; None where nothing loads the zone."""

    result: DefectResult
    local: LocalModel | None


def judge_defects(
    model: LimbModel,
    load: LimbLoad,
    loading: Array,
    lengths: Array,
    forces: Array,
) -> tuple[DefectResult, ...]:
    """Return the verdicts of `judge_zones` alone."""
    zones = judge_zones(model, load, loading, lengths, forces)
    return tuple(zone.result for zone in zones)


def judge_zones(
    model: LimbModel,
    load: LimbLoad,
    loading: Array,
    lengths: Array,
    forces: Array,
) -> tuple[JudgedZone, ...]:
    """Judge every knot and patch of a drawn bow.

    Parameters
    ----------
    model : LimbModel
    load : LimbLoad
        At full draw.
    loading : ndarray, shape (k, S, 6)
        Beam strains of every state known, from brace on and beyond full draw.
    lengths : ndarray, shape (k,), m
        Their draw lengths, increasing.
    forces : ndarray, shape (k,), N
        Their draw weights.
    """
    stave = model.setup.stave
    zones: tuple[Knot | Decay, ...] = (*stave.knots, *stave.decays)
    return tuple(judge_one(model, load, loading, lengths, forces, zone) for zone in zones)


def find_zone(model: LimbModel, name: str) -> Knot | Decay:
    """Return the knot or patch of a name.

    Raises
    ------
    CaseError
        If there is none; names those there are.
    """
    stave = model.setup.stave
    zones: tuple[Knot | Decay, ...] = (*stave.knots, *stave.decays)
    for zone in zones:
        if zone.name == name:
            return zone
    known = ", ".join(zone.name for zone in zones) or "none"
    raise CaseError(f'"{name}": no knot or decay of that name in this case; it has: {known}')


def local_problem(
    model: LimbModel,
    load: LimbLoad,
    zone: Knot | Decay,
    clear_of: Knot | Decay | None = None,
) -> tuple[LocalProblem | None, Surroundings]:
    """Return what the plane models need of a zone; None where no slice meets it.

    Parameters
    ----------
    model : LimbModel
    load : LimbLoad
    zone : Knot or Decay
    clear_of : Knot or Decay, optional
        The zone that stood in the same place when the bow was drawn, if it was another.
    """
    x, reach = zone_extent(zone)
    if clear_of is not None:
        reach = max(reach, zone_extent(clear_of)[1])
    around = surroundings(model, load, x, reach)
    slices = zone_slices(model, load.inside, around, zone)
    if not slices:
        return None, around
    problem = LocalProblem(
        zone=zone_label(zone),
        slices=slices,
        band=Band(),
    )
    return problem, around


def judge_one(
    model: LimbModel,
    load: LimbLoad,
    loading: Array,
    lengths: Array,
    forces: Array,
    zone: Knot | Decay,
) -> JudgedZone:
    """Judge one knot or patch; see `judge_zones`."""
    x, _ = zone_extent(zone)
    problem, around = local_problem(model, load, zone)
    if problem is None:
        return _unloaded(zone, "nothing of it is left in the limb; leave it")
    outcome = judge_zone(problem, np.random.default_rng(SEED))
    plane = plane_of(zone)
    strained_at = {
        one.z: one.z if one.strained_at is None else one.strained_at for one in problem.slices
    }

    def reach(factor: float, place: tuple[float, float]) -> tuple[float, float] | None:
        y, z = place
        share = _share_of_load(around, loading, (y, strained_at.get(z, z)), plane)
        if factor > share[-1]:
            return None
        return float(np.interp(factor, share, lengths)), float(np.interp(factor, share, forces))

    fibre, split = outcome.modes["fibre"], outcome.modes["split"]
    result = DefectResult(
        name=zone.name,
        kind="knot" if isinstance(zone, Knot) else "decay",
        limb=zone.limb,
        at=abs(x),
        draw_length_at_split=_length(reach(outcome.split[1], (split.y, split.z))),
        draw_length_at_rupture=_length(reach(outcome.rupture[1], (fibre.y, fibre.z))),
        advice=advise(problem, outcome, reach, float(lengths[0]), movable=plane == "flat"),
        **verdict_numbers(outcome),
    )
    local = LocalModel(problem=problem, outcome=outcome, plane=plane)
    return JudgedZone(result=result, local=local)


def _length(reached: tuple[float, float] | None) -> float | None:
    return None if reached is None else reached[0]


def _share_of_load(
    around: Surroundings, loading: Array, place: tuple[float, float], plane: Plane
) -> Array:
    """Return the strain at a place of the slices (y, z) in every state over that of the judged one.

    Returns
    -------
    ndarray, shape (k,)
        Never falling, so that a load factor has one draw length.
    """
    y, z = place if plane == "flat" else place[::-1]
    across = np.array([1.0, 0.0, 0.0, 0.0, z, -y])
    strain = (loading[:, around.index] @ across).mean(axis=1)
    share: Array = np.maximum.accumulate(strain / float((around.beside @ across).mean()))
    return share


def _unloaded(zone: Knot | Decay, advice: str) -> JudgedZone:
    result = DefectResult(
        name=zone.name,
        kind="knot" if isinstance(zone, Knot) else "decay",
        limb=zone.limb,
        at=abs(zone_extent(zone)[0]),
        verdict="sound",
        mode=MODE_NAMES["none"],
        strength_used=0.0,
        strength_used_low=0.0,
        strength_used_high=0.0,
        draw_length_at_split=None,
        draw_length_at_rupture=None,
        strength_ratio=1.0,
        failure_probability=0.0,
        advice=advice,
    )
    return JudgedZone(result=result, local=None)
