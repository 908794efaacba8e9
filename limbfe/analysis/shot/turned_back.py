"""Knots and patches in a shot: where the limbs turn back, and where the back is pulled farther.

An assessment judges the draw.  After the release the limbs run past their unstrung shape, most of
all without an arrow, and a knot on the belly is then pulled as one on the back is in the draw.  It
is judged as there, on its plate, under the resultants of the instant at which the belly is
stretched most.

The crushed belly of an exercised bow is pulled already when nothing bends the limb.  The plate
knows of no such stress; so its resultants are raised until the sound limb is pulled as hard as the
bow's own wood is, which counts for the whole depth and is on the careful side.  So is that the
strength is that of seconds, not of milliseconds.

The limbs swing forth again too, and so does what waves run along them: a back that is stretched
farther than at full draw is judged at that instant.  Its plate is that of a first draw, whose belly
gives way once more where the bow's own has done so before: on the careful side as well.

Every shot starts from full draw: a zone whose verdict is graver there has that one.  None is called
sound by strains that are rough because the string has come down on a limb.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.shot.reversal import FARTHER, PULLED, Reversal
from limbfe.analysis.shot.strains import LimbStrains, reaching, shot_load
from limbfe.analysis.wood.limb_load import LimbLoad, limb_load, resultants_at
from limbfe.beam.shot.shoot import Shot
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.memory import give_back
from limbfe.stave.named_zones import Zone, zones_of

Face = Literal["belly", "back"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned:
    """A shot to look at: the arrow (kg, 0 without), the states, the strains."""

    arrow: float
    shot: Shot
    strains: LimbStrains


def reversals(solved: SolvedBow, turned: Sequence[Turned]) -> tuple[Reversal, ...]:
    """Judge every zone that a shot pulls otherwise than the draw; the worst with and without arrow.

    Parameters
    ----------
    solved : SolvedBow
        Exercised.
    turned : sequence of Turned
    """
    found: list[Reversal] = []
    for zone in zones_of(solved.model.setup.stave):
        pulled: dict[bool, list[tuple[Face, _Most]]] = {}
        for arrows in (True, False):
            those = [one for one in turned if (one.arrow > 0.0) == arrows]
            for face, (most, least) in LOOKED_AT.items():
                worst = max((most(zone, one) for one in those), key=lambda m: m[0], default=None)
                if worst is not None and worst[0] > least:
                    pulled.setdefault(arrows, []).append((face, worst))
        if pulled:
            drawn = _worst(solved, limb_load(solved), zone)
            for faces in pulled.values():
                judged = [_judged(solved, zone, one, drawn, face) for face, one in faces]
                found.append(max(judged, key=_how_grave))
        give_back()
    return tuple(found)


def _how_grave(one: Reversal) -> tuple[int, float]:
    """What cannot be judged is taken for breaking; of like verdicts the harder worked."""
    from limbfe.analysis.zones.verdicts import GRAVITY

    if one.strength_used is None:
        return len(GRAVITY), 0.0
    return GRAVITY.index(one.verdict), one.strength_used


_Most = tuple[float, int, Turned]


def _most(zone: Zone, one: Turned) -> _Most:
    """Return how far a zone's belly is stretched at most, at which step, and the shot."""
    there = reaching(one.strains, zone)
    if not there.any():
        return 0.0, 0, one
    stretched = one.strains.stretched[:, there].max(axis=1)
    step = int(stretched.argmax())
    return float(stretched[step]), step, one


def _farthest(zone: Zone, one: Turned) -> _Most:
    """Return how many times as far as at full draw a zone's back is stretched at most, and when."""
    there = reaching(one.strains, zone)
    if not there.any():
        return 0.0, 0, one
    drawn = float(one.strains.back_drawn[there].max())
    back = one.strains.back[:, there].max(axis=1)
    step = int(back.argmax())
    return (float(back[step]) / drawn if drawn > PULLED else 0.0), step, one


LOOKED_AT: dict[Face, tuple[Callable[[Zone, Turned], _Most], float]] = {
    "belly": (_most, PULLED),
    "back": (_farthest, FARTHER),
}
"""What tells how a face is pulled, and from which figure on it is judged."""


def _judged(
    solved: SolvedBow, zone: Zone, worst: _Most, drawn: dict[str, Any] | str, face: Face
) -> Reversal:
    """Return the verdict in one shot; `drawn` is what `_worst` gives at full draw."""
    stretched, step, one = worst
    load = shot_load(solved, one.shot, step)
    raised = 1.0
    if face == "belly":
        raised = residual_factor(solved, load, zone)
    else:
        there = reaching(one.strains, zone)
        stretched = float(one.strains.back[step, there].max())
    result = Reversal(
        name=zone.name,
        label=str(zone.label),
        arrow=one.arrow,
        time=float(one.shot.time[step]),
        face=face,
        stretched=stretched,
        raised=raised,
        rough=one.shot.comes_down is not None
        and float(one.shot.time[step]) >= one.shot.comes_down[0],
        verdict="not judged",
        mode="",
    )
    load = replace(load, resultants=raised * load.resultants)
    told = _worst(solved, load, zone)
    if isinstance(told, str) or isinstance(drawn, str):
        return replace(result, mode=told if isinstance(told, str) else str(drawn))
    if _gravity(drawn) > _gravity(told):
        return replace(result, at_full_draw=True, **drawn)
    if result.rough and told["verdict"] == "sound":
        told["verdict"] = "watch"
    if face == "belly":  # what is pressed is the back now
        told["mode"] = told["mode"].replace("on the belly", "on the back")
    return replace(result, **told)


def _gravity(told: dict[str, Any]) -> int:
    from limbfe.analysis.zones.verdicts import GRAVITY

    return GRAVITY.index(told["verdict"])


def _worst(solved: SolvedBow, load: LimbLoad, zone: Zone) -> dict[str, Any] | str:
    """Return the verdict on a zone, or why there is none: zones in the same wood have one, the
    worst."""
    # what judges a zone takes a while to load, and most shots pull none
    from limbfe.analysis.zones.left_in_limb import sharing

    group = sharing(solved.model.setup.stave, zone)
    try:
        those = [_verdict(solved, load, other) for other in group]
    except (GeometryError, ConvergenceError) as error:
        return str(error)
    return max(those, key=lambda one: (_gravity(one), one["strength_used"]))


def _verdict(solved: SolvedBow, load: LimbLoad, zone: Zone) -> dict[str, Any]:
    from limbfe.analysis.zones.verdicts import SEED, local_problem
    from limbfe.failure.local import judge_zone
    from limbfe.failure.verdict import verdict_numbers

    problem, _ = local_problem(solved.model, load, zone)
    if problem is None:
        return {"verdict": "sound", "mode": "no wood of it is left", "strength_used": 0.0}
    numbers = verdict_numbers(judge_zone(problem, np.random.default_rng(SEED)))
    names = ("verdict", "mode", "strength_used", "strength_used_low", "strength_used_high",
             "failure_probability")  # fmt: skip
    return {name: numbers[name] for name in names}


def residual_factor(solved: SolvedBow, load: LimbLoad, zone: Zone) -> float:
    """Return how much harder a zone's own wood is pulled than the sound limb's, 1 at least.

    Of the stress along the grain where the belly is pulled most, over that of sections that nothing
    has crushed, under the same resultants.
    """
    from limbfe.analysis.zones.surroundings import sound_strains

    stations = solved.model.stations
    centre, reach = zone.extent
    apart = np.where(stations.bends, np.abs(stations.x - centre), np.inf)
    index = np.flatnonzero(apart <= max(reach, float(apart.min())))
    x = stations.x[index]
    fresh = sound_strains(solved.model.setup, resultants_at(solved.model, load, x), x)
    skin = load.skin
    points, strain = skin.points[index], skin.strain[index, :, 0]
    place = np.stack([np.ones(strain.shape), points[..., 1], -points[..., 0]], axis=-1)
    sound = np.einsum("spk,sk->sp", place, fresh[:, [0, 4, 5]])
    belly = (points[..., 1] < 0.0) & skin.clear[index] & (sound > 0.0)
    if not belly.any():
        return 1.0
    worst = np.where(belly, strain, -np.inf).argmax()
    return max(float(strain.flat[worst] / sound.flat[worst]), 1.0)
