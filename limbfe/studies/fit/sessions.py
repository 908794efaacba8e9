"""What changed between the sessions of a tillering log, and where."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from limbfe.errors import LimbfeError
from limbfe.frames import Array
from limbfe.studies.fit.findings import BOUND
from limbfe.studies.fit.log import Session
from limbfe.studies.fit.logged import LoggedSession, SessionLog
from limbfe.studies.fit.readings import Readings, too_few
from limbfe.studies.fit.results import Fit
from limbfe.units import Length, Quantity, Sentence, Words

SET_GROWS = 3e-3
"""m; a set that grows by less is not told from a careless reading (common practice)."""
DRIER = 0.01
"""Change of moisture (a fraction) that is worth a word."""
_LIMBS = ("lower", "upper")


def find_log(sessions: Sequence[Session], fits: Sequence[Fit | None]) -> SessionLog | None:
    """Return what a log of several dated sessions says, None for a single one.

    Parameters
    ----------
    sessions : sequence of Session
    fits : sequence of Fit or None
        One for each, None for a day of too few readings.
    """
    if len(sessions) < 2:
        return None
    common = min(float(fit.curve_length[-1]) for fit in fits if fit is not None)
    told = tuple(_logged(*pair, common) for pair in zip(sessions, fits, strict=True))
    changes = [
        (_day(now), tuple(_changes(before, now)))
        for before, now in pairwise(zip(sessions, fits, strict=True))
    ]
    return SessionLog(common=common, sessions=told, changes=tuple(changes))


_Pair = tuple[Session, Fit | None]


def _day(pair: _Pair) -> datetime.date:
    date = pair[0].date
    assert date is not None
    return date


def _logged(session: Session, fit: Fit | None, common: float) -> LoggedSession:
    weighed = [row for row in session.readings.rows if row.what == "force"]
    last = max(weighed, key=lambda row: row.draw_length or 0.0, default=None)
    return LoggedSession(
        date=_day((session, fit)),
        furthest=None if last is None else last.draw_length,
        force=None if last is None else last.value,
        weight=None if fit is None else _at(fit, fit.curve_force, common),
        weight_scatter=None if fit is None else _at(fit, fit.curve_scatter, common),
        set=session.set,
        moisture=session.moisture,
        stiffness=None if fit is None else _stiffness(fit),
    )


def _at(fit: Fit, values: Array, length: float) -> float:
    return float(np.interp(length, fit.curve_length, values))


def _stiffness(fit: Fit) -> tuple[float, float]:
    lower, upper = (math.exp(float(_limb(fit, name) @ fit.logs)) for name in _LIMBS)
    return lower, upper


def _limb(fit: Fit, limb: str) -> Array:
    """Return the weights, shape (p,), of the parameters in a limb's mean stiffness.

    The first wood's modulus and the second's share alike; the crushing strength is none of it.
    """
    count = len(fit.logs) - len(fit.stations)
    x = np.array([station.x for station in fit.stations])
    side = x < 0.0 if limb == "lower" else x > 0.0
    out = np.zeros(len(fit.logs))
    out[: count - 1] = 1.0 / (count - 1)
    out[count:] = side / side.sum()
    return out


def _station(fit: Fit, k: int, limb: str) -> Array:
    """Return the weights, shape (p,), of a station's stiffness over its limb's mean."""
    count = len(fit.logs) - len(fit.stations)
    out = -_limb(fit, limb)
    out[: count - 1] = 0.0
    out[count + k] += 1.0
    return out


def _changes(before: _Pair, now: _Pair) -> Iterator[Words]:
    """Yield what is different on the later of two days, as far as the readings tell it."""
    yield from _fitted_changes(before[1], now[1])
    earlier, later = before[0], now[0]
    if earlier.set is not None and later.set is not None:
        grown = later.set - earlier.set
        if abs(grown) >= SET_GROWS:
            yield Sentence(
                "the set {} by {}", "grew" if grown > 0.0 else "went back", Length(abs(grown))
            )
    if earlier.moisture is not None and later.moisture is not None:
        drier = earlier.moisture - later.moisture
        if abs(drier) >= DRIER:
            yield (
                f"the wood is {100.0 * abs(drier):.1f} points "
                f"{'drier, which stiffens' if drier > 0.0 else 'damper, which softens'} both limbs "
                "alike: a change of both limbs need not be wood taken off"
            )


def _fitted_changes(before: Fit | None, now: Fit | None) -> Iterator[Words]:
    if before is None or now is None:
        yield "too few readings on one of the two days to say where the limbs changed"
        return
    said = False
    for limb in reversed(_LIMBS):
        change, scatter = _difference(before, now, _limb(now, limb))
        if abs(change) > BOUND * scatter:
            said = True
            yield f"the {limb} limb is {_than(change, scatter)} in all"
    for k, station in enumerate(now.stations):
        limb = "upper" if station.x > 0.0 else "lower"
        change, scatter = _difference(before, now, _station(now, k, limb))
        if abs(change) > BOUND * scatter:
            said = True
            thicker = station.thickness * math.expm1(change / 3.0)
            yield Sentence(
                "{} limb, {}: {} beside the rest of its limb, as if {} {}",
                limb,
                Length(abs(station.x)),
                _than(change, scatter),
                Quantity("fine length", abs(thicker), figures=2),
                "thicker" if thicker > 0.0 else "thinner",
            )
    if not said:
        yield "no change of stiffness that the readings tell from their scatter"


def _difference(before: Fit, now: Fit, weights: Array) -> tuple[float, float]:
    """Return how much a mean of logarithms changed, and its standard deviation.

    Both days' errors count in full, which is careful: what the case has wrong is the same on both.
    """
    change = float(weights @ (now.logs - before.logs))
    variance = weights @ (now.covariance + before.covariance) @ weights
    return change, math.sqrt(float(variance))


def _than(change: float, scatter: float) -> str:
    low, high = sorted(abs(math.expm1(change + sign * BOUND * scatter)) for sign in (-1.0, 1.0))
    word = "stiffer" if change > 0.0 else "softer"
    return f"{abs(math.expm1(change)):.0%} {word} ({low:.0%} to {high:.0%})"


def fit_sessions(sessions: Sequence[Session], fit: Callable[[Readings], Fit]) -> Fit:
    """Return the fit to the last session, with what the earlier ones say beside it.

    Parameters
    ----------
    sessions : sequence of Session
    fit : callable
        From readings to their fit; asked once for every day that holds enough of them.

    Raises
    ------
    CaseError, ConvergenceError
        As the fit of any one day does, naming the day.
    """
    fits: list[Fit | None] = []
    for one in sessions:
        if one is not sessions[-1] and too_few(one.readings):
            fits.append(None)
            continue
        try:
            fits.append(fit(one.readings))
        except LimbfeError as error:
            if len(sessions) > 1:
                error.args = (f"session of {one.date}: {error}", *error.args[1:])
            raise
    last = fits[-1]
    assert last is not None
    return replace(last, log=find_log(sessions, fits))
