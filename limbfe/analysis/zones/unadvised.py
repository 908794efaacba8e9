"""Verdicts of zones without advice, for studies that judge many."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbfe.analysis.bow.model import LimbModel
from limbfe.analysis.wood.limb_load import LimbLoad
from limbfe.analysis.zones.left_in_limb import sharing
from limbfe.analysis.zones.verdicts import GRAVITY, SEED, local_problem
from limbfe.defect.plate.body import Member
from limbfe.failure.local import judge_zone
from limbfe.failure.problem import LocalOutcome
from limbfe.failure.verdict import verdict_numbers
from limbfe.stave.named_zones import Zone, zones_of
from limbfe.stave.zone_label import ZoneLabel


def zone_outcome(
    model: LimbModel,
    load: LimbLoad,
    zone: Zone,
    member: Member = "full",
    *,
    banded: bool = True,
) -> LocalOutcome | None:
    """Return what is found of a zone; None where nothing of it is left in the limb.

    Parameters
    ----------
    model : LimbModel
    load : LimbLoad
    zone : Knot or Decay
    member : {"full", "quick"}
        Of its plate; the quick one takes a third of the time and says the same of fibres and of a
        split that is followed.  Of one that is judged by windows it is up to a tenth off.
    banded : bool
        Whether band and chance are found; the typical strength used is the same without, in half
        the time.

    Raises
    ------
    GeometryError
        If the wood round the zone cannot be meshed.
    ConvergenceError
        If a layer cannot be solved.
    """
    problem, _ = local_problem(model, load, zone)
    if problem is None:
        return None
    problem = replace(problem, member=member, banded=banded)
    return judge_zone(problem, np.random.default_rng(SEED) if banded else None)


def zones_used(
    model: LimbModel, load: LimbLoad, part: int = 0, parts: int = 1
) -> dict[str, tuple[str, float]]:
    """Return verdict and strength used of every zone by name, as `judge_zones` has them.

    Parameters
    ----------
    model : LimbModel
    load : LimbLoad
    part, parts : int
        Which share of the zones is judged, and of how many; those in the same wood stay together.

    Raises
    ------
    GeometryError, ConvergenceError
        As `zone_outcome`.
    """
    stave, groups = model.setup.stave, dict[ZoneLabel, tuple[Zone, ...]]()
    for zone in zones_of(stave):
        groups.setdefault(sharing(stave, zone)[0].label, sharing(stave, zone))
    used: dict[str, tuple[str, float]] = {}
    for group in list(groups.values())[part::parts]:
        alone = [_used(zone_outcome(model, load, zone)) for zone in group]
        worst = max(alone, key=lambda found: (GRAVITY.index(found[0]), found[1]))
        used |= {zone.name: worst for zone in group}
    return used


def _used(outcome: LocalOutcome | None) -> tuple[str, float]:
    if outcome is None:
        return "sound", 0.0
    numbers = verdict_numbers(outcome)
    return str(numbers["verdict"]), float(numbers["strength_used"])
