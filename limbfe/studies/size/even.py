"""Thickness at every station such that clear wood works equally hard all along the limbs."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.frames import Array
from limbfe.stave.stave import Stave
from limbfe.studies.size.blank import blank_of, levers
from limbfe.studies.size.even_search import MOST_ROUNDS, EvenSearch, Round, worth_of
from limbfe.studies.size.out_of_reach import breaks_first, not_enough_wood
from limbfe.studies.size.recut import recut
from limbfe.studies.size.sized import Sized, sized
from limbfe.studies.size.start import find_start
from limbfe.studies.size.trial import unheard
from limbfe.studies.size.wanted import Wanted
from limbfe.studies.thickness_factor import CUBE
from limbfe.units import Words

ROUGH = 0.8
"""A case this much too thick is a rough blank: its tips are not yet what they are to become."""
SLENDER = 0.65
"""Of the thickness that one factor on the blank would leave its tips: slender ones."""
CLOSE = 5e-4
"""Share of the thickness within which a bow is as thick as its blank."""


def size_evenly(
    case: Case,
    wanted: Wanted,
    *,
    keep: Array | None = None,
    guess: Array | None = None,
    tell: Callable[[Words], None] = unheard,
) -> Sized:
    """Return the bow that has a weight and works its clear wood equally hard at every station.

    Parameters
    ----------
    case : Case
    wanted : Wanted
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
        If a bow on the way has no equilibrium, or no evenly worked bow is reached.

    Notes
    -----
    Stations in the stiff grip keep their thickness.  So do recurves and stiff tips, but those of a
    rough blank, which are made thinner by the factor that the whole limb would need.  Stations at
    the least thickness (near the tips) work less than the others and are not counted in the
    spread.  Even at the stations is not even between them: the limb's thickness runs smoothly from
    one to the next.
    """
    weight, draw_length = wanted.weight, wanted.draw_length
    setup = build_setup(recut(case, {}, draw_length))
    allowance, tip = wanted.allowance, wanted.tip
    room = blank_of(setup.stave, allowance=allowance, keep=keep)
    start = find_start(case, room, weight, draw_length, tell)
    rough = tip is None and start.factor < ROUGH
    if rough:
        keep = _lever_scaled(setup.stave, start.factor, keep)
        # beside a lever the string's pull needs thickness enough; only bending tips get a least
        if np.isnan(keep[[0, -1]]).any():
            tip = SLENDER * start.factor * float(min(room.present[0], room.present[-1]))
    blank = blank_of(setup.stave, allowance=allowance, tip=tip, tips_stay=not rough, keep=keep)
    search = EvenSearch(case=case, blank=blank, draw_length=draw_length, tell=tell)
    if guess is None:
        guess = blank.present * start.factor
    first = np.where(blank.free, np.maximum(guess, blank.least), blank.start)
    near = search.find(first, weight, coarse=True)
    reached = search.find(near.thickness, weight, coarse=False)
    if float(blank.lacking(reached.thickness).max()) > 1e-5:
        raise not_enough_wood(weight, blank, reached.thickness, _most_wood(search, reached, weight))
    if float(reached.trial.breaking.max()) >= 1.0:
        raise breaks_first(weight, reached.trial, _strongest(search, reached, weight))
    return sized(
        blank,
        method="even",
        source=case,
        case=recut(case, {"thickness": reached.thickness}, draw_length),
        wanted=wanted,
        level=reached.level,
        before=start.present,
        after=reached.trial,
        factor=None,
        worth=worth_of(search, reached),
        rounds=search.rounds,
    )


def _lever_scaled(stave: Stave, factor: float, keep: Array | None) -> Array:
    """Return what is settled, recurves and stiff tips of a rough blank with it, shape (n,), m.

    They are as stiff beside their limb as the blank has them: they bend little, since the string
    lies on them and its lever is short, so that even strain would leave them nearly nothing, and a
    recurve that is thin falls over sideways, straightens out and has no wood for the nock.
    """
    settled = np.full(stave.x.shape, np.nan) if keep is None else keep
    scaled = np.where(levers(stave), factor * stave.thickness, np.nan)
    return np.where(np.isnan(settled), scaled, settled)


def _most_wood(search: EvenSearch, reached: Round, weight: float) -> float:
    """Return a weight (N) just below that of the heaviest evenly worked bow there is wood for."""
    blank, now = search.blank, reached
    for _ in range(MOST_ROUNDS):
        room = float((blank.most / now.thickness)[blank.free & (blank.most > blank.least)].min())
        weight *= (room * (1.0 - CLOSE)) ** CUBE
        if abs(room - 1.0) < CLOSE:
            break
        now = search.find(now.thickness * room, weight, coarse=True)
    return weight


def _strongest(search: EvenSearch, reached: Round, weight: float) -> float:
    """Return the weight (N) of the evenly worked bow that is just about to break."""
    now = reached
    for _ in range(MOST_ROUNDS):
        worst = float(now.trial.breaking.max())
        if 0.99 < worst < 0.9995:
            break
        weight *= (0.997 / worst) ** CUBE
        now = search.find(now.thickness, weight, coarse=True)
    return weight
