"""Thickness at every station such that clear wood works equally hard all along the limbs."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.frames import Array
from limbfe.studies.blank import blank_of
from limbfe.studies.evening import MOST_ROUNDS, Evening, Round, worth_of
from limbfe.studies.limits import breaks_first, check_reach, not_enough_wood
from limbfe.studies.recut import columns_of, recut
from limbfe.studies.scale import CUBE
from limbfe.studies.sized import Sized
from limbfe.studies.trial import draw_trial, unheard

CLOSE = 5e-4
"""Share of the thickness within which a bow is as thick as its blank."""


def size_evenly(
    case: Case,
    weight: float,
    draw_length: float,
    *,
    allowance: float = 0.0,
    tip: float | None = None,
    keep: Array | None = None,
    guess: Array | None = None,
    tell: Callable[[str], None] = unheard,
) -> Sized:
    """Return the bow that has a weight and works its clear wood equally hard at every station.

    Parameters
    ----------
    case : Case
    weight : float, N
        Wanted at `draw_length`.
    draw_length : float, m
    allowance : float, m
        How much thicker the blank still is than the case says.
    tip : float, optional
        m; no station becomes thinner.  When left out, the tips keep the thickness they have, and
        no station becomes thinner than the thinnest is; stiff tips, thicker than the limb, are
        left alone.
    keep : ndarray, shape (n,), m, optional
        Thickness of stations that are settled already; nan at the others.
    guess : ndarray, shape (n,), m, optional
        Thickness from which the search starts; when left out the case's own, scaled to the weight
        by the cube law.
    tell : callable
        Told in words what was solved.

    Raises
    ------
    CaseError
        If the blank or the wood's strength forbids it; names the place and the nearest weight
        that is possible.
    ConvergenceError
        If a bow on the way has no equilibrium, or no evenly worked bow is found.

    Notes
    -----
    Stations in the stiff grip keep their thickness.  Stations at the least thickness (near the
    tips) work less than the others and are not counted in the spread.  Even at the stations is
    not even between them: the limb's thickness runs smoothly from one to the next.
    """
    now = recut(case, {}, draw_length)
    setup = build_setup(now)
    x, present = setup.stave.x, setup.stave.thickness
    blank = blank_of(setup.stave, allowance=allowance, tip=tip, tips_stay=True, keep=keep)
    evening = Evening(
        case=case,
        blank=blank,
        draw_length=draw_length,
        tell=tell,
    )
    before = draw_trial(setup, coarse=False)
    check_reach(weight, before.force)
    if guess is None:
        guess = present * (weight / before.force) ** (1.0 / CUBE)
    first = np.where(blank.free, np.maximum(guess, blank.least), blank.start)
    near = evening.search(first, weight, coarse=True)
    found = evening.search(near.thickness, weight, coarse=False)
    if float(blank.lacking(found.thickness).max()) > 1e-5:
        raise not_enough_wood(weight, blank, found.thickness, _most_wood(evening, found, weight))
    if float(found.trial.breaking.max()) >= 1.0:
        raise breaks_first(weight, found.trial, _strongest(evening, found, weight))
    columns = columns_of(case)
    return Sized(
        method="even",
        source=case,
        case=recut(case, {"thickness": found.thickness}, draw_length),
        draw_length=draw_length,
        weight=weight,
        x=x,
        width_now=columns["width"],
        width=columns["width"],
        thickness_now=present,
        allowance=allowance,
        thickness=found.thickness,
        free=blank.free,
        left_for=("",) * len(blank.x),
        level=found.level,
        before=before,
        after=found.trial,
        factor=None,
        worth=worth_of(evening, found),
        rounds=evening.rounds,
        zones=(),
    )


def _most_wood(evening: Evening, found: Round, weight: float) -> float:
    """Return a weight (N) just below that of the heaviest evenly worked bow there is wood for."""
    blank, now = evening.blank, found
    for _ in range(MOST_ROUNDS):
        room = float((blank.most / now.thickness)[blank.free & (blank.most > blank.least)].min())
        weight *= (room * (1.0 - CLOSE)) ** CUBE
        if abs(room - 1.0) < CLOSE:
            break
        now = evening.search(now.thickness * room, weight, coarse=True)
    return weight


def _strongest(evening: Evening, found: Round, weight: float) -> float:
    """Return the weight (N) of the evenly worked bow that is just about to break."""
    now = found
    for _ in range(MOST_ROUNDS):
        worst = float(now.trial.breaking.max())
        if 0.99 < worst < 0.9995:
            break
        weight *= (0.997 / worst) ** CUBE
        now = evening.search(now.thickness, weight, coarse=True)
    return weight
