"""Bring a case to a draw weight, and leave the wood its knots and patches need."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.frames import Array
from limbfe.stave.profile import shape_at
from limbfe.studies.size.by_factor import size_by_factor
from limbfe.studies.size.even import size_evenly
from limbfe.studies.size.mend import mend_zones
from limbfe.studies.size.recut import check_draw
from limbfe.studies.size.sized import Method, Sized
from limbfe.studies.size.trial import judge_zones, unheard
from limbfe.studies.size.wanted import Wanted
from limbfe.units import Words


def size_bow(
    case: Case,
    wanted: Wanted,
    *,
    method: Method = "scale",
    mend: bool = False,
    tell: Callable[[Words], None] = unheard,
) -> Sized:
    """Return the bow that draws a weight, with a verdict on its knots and patches.

    Parameters
    ----------
    case : Case
    wanted : Wanted
    method : {"scale", "even"}
        One factor on every thickness, or strength used alike at every station.
    mend : bool
        Leave the limb thicker at every knot and patch until it is sound.
    tell : callable
        Told in words what is being solved.

    Raises
    ------
    CaseError
        If the weight cannot be had; says what forbids it and, where there is one, the nearest
        weight that can.
    ConvergenceError
        If a bow on the way has no equilibrium, or no design is found.
    """
    check_draw(case, wanted.draw_length)

    def sizing(one: Case, keep: Array | None, guess: Array | None) -> Sized:
        if method == "even":
            return size_evenly(one, wanted, keep=keep, guess=guess, tell=tell)
        return size_by_factor(one, wanted, keep=keep, tell=tell)

    def blank(x: Array) -> Array:
        return shape_at(stave, x).thickness + wanted.allowance

    sized = sizing(case, None, None)
    if mend:
        stave = build_setup(case).stave
        sized = mend_zones(case, sized, sizing, blank)
    tell("judging knots and decay")
    return replace(sized, zones=judge_zones(sized.after))
