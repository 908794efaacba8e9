"""Bring a case to a draw weight, and leave the wood its knots and patches need."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.frames import Array
from limbfe.stave.profile import shape_at
from limbfe.studies.even import size_evenly
from limbfe.studies.mend import mend_zones
from limbfe.studies.recut import check_draw
from limbfe.studies.scale import scale_to_weight
from limbfe.studies.sized import Method, Sized
from limbfe.studies.trial import judge_zones, unheard


def size_bow(
    case: Case,
    weight: float,
    draw_length: float | None = None,
    *,
    method: Method = "scale",
    allowance: float = 0.0,
    tip: float | None = None,
    mend: bool = False,
    tell: Callable[[str], None] = unheard,
) -> Sized:
    """Return the bow that draws a weight, with a verdict on its knots and patches.

    Parameters
    ----------
    case : Case
    weight : float, N
    draw_length : float, m, optional
        The case's own when left out.
    method : {"scale", "even"}
        One factor on every thickness, or strength used alike at every station.
    allowance : float, m
        How much thicker the blank still is than the case says.
    tip : float, m, optional
        For "even": no station becomes thinner; the case's tips when left out.
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
    length = case.file.draw.length if draw_length is None else draw_length
    check_draw(case, length)

    def resize(wanted: Case, keep: Array | None, guess: Array | None) -> Sized:
        if method == "even":
            settled = {"keep": keep, "guess": guess}
            return size_evenly(
                wanted, weight, length, allowance=allowance, tip=tip, **settled, tell=tell
            )
        return scale_to_weight(wanted, weight, length, allowance=allowance, keep=keep, tell=tell)

    def blank(x: Array) -> Array:
        return shape_at(stave, x).thickness + allowance

    sized = resize(case, None, None)
    if mend:
        stave = build_setup(case).stave
        sized = mend_zones(case, sized, resize, blank)
    tell("judging knots and decay")
    return replace(sized, zones=judge_zones(sized.after))
