"""Leave more wood at knots and patches until every one of them is sound.

At given moment the strain in a limb falls with the square of its thickness (beam theory), so a
zone that would be sound at a share f of its load gets 1 / sqrt(f) of the thickness around it.  The
bow is then sized again, drawn, and the zone judged anew by its own model, until it is sound.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.wood.limb_load import limb_load
from limbfe.analysis.zones.verdicts import SEED, local_problem
from limbfe.case.schema import Case
from limbfe.errors import CaseError
from limbfe.failure.local import judge_zone
from limbfe.failure.verdict import sound_factor
from limbfe.frames import Array
from limbfe.stave.columns import column_curve
from limbfe.stave.named_zones import Zone, zones_of
from limbfe.studies.size.recut import CLOSEST, columns_of, with_stations
from limbfe.studies.size.sized import Sized
from limbfe.studies.size.trial import Trial
from limbfe.units import both_lengths

BEFORE_AND_AFTER = 0.025
"""m of full thickness left beyond each end of a zone, from where its model takes its load."""
FADE = 0.04
"""m over which the extra thickness runs out."""
SNAP = 0.03
"""m within which a station of the case takes the place of a fade's end."""
MARGIN = 0.02
"""Extra thickness asked for beyond what the last verdict says, so that the next one is reached."""
MOST_ROUNDS = 7

SizeAgain = Callable[[Case, Array, Array], Sized]
"""From a case, the thickness to keep (nan where it is sought) and a guess at it to the bow."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Bump:
    """Where a zone wants more wood, and how many times the thickness."""

    label: str
    x: float
    flat: float
    ends: tuple[float, float]
    factor: float

    @property
    def stations(self) -> Array:
        """Both ends of the fade and of the full thickness, and the zone's middle."""
        low, high = self.ends
        return np.array([low, self.x - self.flat, self.x, self.x + self.flat, high])

    def at(self, x: Array) -> Array:
        """Return the factor at stations."""
        factors = [1.0, self.factor, self.factor, 1.0]
        return np.interp(x, np.delete(self.stations, 2), factors)

    def holds(self, x: Array) -> NDArray[np.bool_]:
        """Return which stations lie inside the ends, where the thickness is settled by the zone."""
        low, high = self.ends
        inside: NDArray[np.bool_] = (x > low + CLOSEST) & (x < high - CLOSEST)
        return inside


def bearable_share(trial: Trial, zone: Zone) -> float:
    """Return the share of its load at which a zone is sound, infinite when it is already.

    Parameters
    ----------
    trial : Trial
        Of a bow with that zone.
    zone : Knot or Decay
    """
    model, solved = trial.solved.model, trial.solved
    x, reach = zone.extent
    if abs(x) + reach <= model.setup.stave.half_grip:
        return math.inf  # the sizing leaves the grip as it is
    problem, _ = local_problem(model, limb_load(solved), zone)
    if problem is None:
        return math.inf
    share = sound_factor(judge_zone(problem, np.random.default_rng(SEED)))
    return math.inf if share > 1.0 else share


def mend_zones(
    case: Case, sized: Sized, size_again: SizeAgain, blank: Callable[[Array], Array]
) -> Sized:
    """Return the sized bow with wood left at every zone until all are sound.

    Parameters
    ----------
    case : Case
        As it was given.
    sized : Sized
        Without regard to its zones.
    size_again : callable
    blank : callable
        Thickness of the blank (m) at stations (m).

    Raises
    ------
    CaseError
        If the blank is not thick enough at a zone, or no thickness makes it sound.
    """
    bumps: dict[str, _Bump] = {}
    for left in reversed(range(MOST_ROUNDS)):
        wanting = _wanting(sized)
        if not wanting:
            return sized
        if not left:
            break
        for zone, share in wanting:
            bumps[zone.name] = _grown(bumps.get(zone.name), zone, share, columns_of(case))
        sized = _left_thicker(case, sized, tuple(bumps.values()), size_again, blank)
    zone, share = min(wanting, key=lambda one: one[1])
    raise CaseError(
        f'--mend: "{zone.name}": left {bumps[zone.name].factor:.2f} times as thick it is still '
        f"sound only at {share:.0%} of its load; draw less, or size for a lower draw weight"
    )


def _wanting(sized: Sized) -> list[tuple[Zone, float]]:
    stave = sized.after.solved.model.setup.stave
    shares = [(zone, bearable_share(sized.after, zone)) for zone in zones_of(stave)]
    return [(zone, share) for zone, share in shares if share < math.inf]


def _grown(bump: _Bump | None, zone: Zone, share: float, columns: Mapping[str, Array]) -> _Bump:
    factor = (1.0 + MARGIN) / math.sqrt(share)
    if bump is not None:
        return replace(bump, factor=bump.factor * factor)
    x, reach = zone.extent
    flat = reach + BEFORE_AND_AFTER
    ends = (_fade_end(columns, x, -flat), _fade_end(columns, x, flat))
    return _Bump(label=f"{zone.kind} {zone.name}", x=x, flat=flat, ends=ends, factor=factor)


def _fade_end(columns: Mapping[str, Array], x: float, flat: float) -> float:
    """Return where the extra thickness has run out: at a station of the case if one is near."""
    stations = columns["station"]
    end = x + flat + math.copysign(FADE, flat)
    near = stations[np.abs(stations - end) < SNAP]
    if near.size:
        end = float(near[np.abs(near - end).argmin()])
    return end


def _left_thicker(
    case: Case,
    sized: Sized,
    bumps: tuple[_Bump, ...],
    size_again: SizeAgain,
    blank: Callable[[Array], Array],
) -> Sized:
    """Return the bow sized anew with the wood that bumps ask for."""
    wide = with_stations(case, np.concatenate([bump.stations for bump in bumps]))
    x = columns_of(wide)["station"]
    smooth = sized.thickness[_plain(sized)]
    base = column_curve(sized.x[_plain(sized)], smooth, size=True)(x)
    factors = np.array([bump.at(x) for bump in bumps])
    outside = np.abs(x) > case.file.grip.half
    within = np.array([bump.holds(x) & outside for bump in bumps])
    keep = np.where(within.any(axis=0), base * factors.max(axis=0), np.nan)
    lacking = np.nan_to_num(keep - blank(x), nan=-1.0)
    if lacking.max() > 1e-5:
        worst = int(lacking.argmax())
        label = bumps[int(factors[:, worst].argmax())].label
        raise CaseError(
            f"--mend: {label} needs the limb {both_lengths(float(keep[worst]))} thick, "
            f"{both_lengths(float(lacking[worst]))} more than the blank has there; size for a "
            "lower draw weight, draw less, or give --blank-allowance if the blank is thicker than "
            "the case says"
        )
    again = size_again(wide, keep, base)
    names = [
        " and ".join(bump.label for bump, here in zip(bumps, column, strict=True) if here)
        for column in within.T
    ]
    return replace(again, source=case, left_for=tuple(names))


def _plain(sized: Sized) -> NDArray[np.bool_]:
    """Return which stations carry no extra wood, shape (n,)."""
    return np.array([not name for name in sized.left_for])
