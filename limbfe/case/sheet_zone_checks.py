"""Whether the knots and patches of a stave sheet lie in the stave."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np

from limbfe.case.messages import Loc, Problem
from limbfe.case.sheet_schema import SheetDecayTable, SheetFile, SheetKnotTable
from limbfe.case.zone_checks import MOST_LEAN, filler_problems, severity_problems
from limbfe.units import both_lengths


def sheet_zone_problems(file: SheetFile) -> Iterator[Problem]:
    """Yield what is wrong with the knots and patches of a sheet whose columns are sound."""
    yield from _names(file)
    for k, knot in enumerate(file.knot):
        loc = ("knot", k)
        yield from filler_problems(knot, loc)
        if not abs(knot.lean) <= MOST_LEAN:
            yield Problem(
                (*loc, "lean"),
                "must lie between -60 and 60 degrees; it is measured from square to the stave, "
                "positive for a branch that leans towards the top",
            )
        yield from _place(file, knot, loc, 0.5 * knot.diameter)
    for k, decay in enumerate(file.decay):
        loc = ("decay", k)
        yield from severity_problems(decay, loc)
        yield from _place(file, decay, loc, 0.5 * decay.width)
    for (_, one), (k, two) in itertools.combinations(enumerate(file.knot), 2):
        apart = math.hypot(one.at - two.at, one.across - two.across)
        if one.face == two.face and apart < 0.5 * (one.diameter + two.diameter):
            yield Problem(
                ("knot", k, "at"),
                f'overlaps knot "{one.name}", whose middle is {both_lengths(apart)} away; '
                "describe both as one knot that covers them",
            )


def _names(file: SheetFile) -> Iterator[Problem]:
    seen: set[str] = set()
    named = [(("knot", k), zone.name) for k, zone in enumerate(file.knot)]
    named += [(("decay", k), zone.name) for k, zone in enumerate(file.decay)]
    for loc, name in named:
        if name in seen:
            yield Problem(
                (*loc, "name"), "is the name of another knot or patch too; give each its own"
            )
        seen.add(name)


def _place(
    file: SheetFile, zone: SheetKnotTable | SheetDecayTable, loc: Loc, reach: float
) -> Iterator[Problem]:
    """Yield why a mark of half width `reach` cannot be on the face it is said to be on."""
    stave = file.stave
    end = stave.station[-1]
    if not 0.0 <= zone.at <= end:
        yield Problem(
            (*loc, "at"),
            f"lies off the stave, which is {both_lengths(end)} long; measure from the butt end",
        )
        return
    left, right, depth = (
        float(np.interp(zone.at, stave.station, getattr(stave, name)))
        for name in ("left", "right", "depth")
    )
    if zone.face in ("left", "right"):
        if not 0.0 <= zone.across <= depth:
            yield Problem(
                (*loc, "across"),
                f"on a side face it counts from the back down, and the stave is "
                f"{both_lengths(depth)} deep there; give at most that",
            )
        return
    if not -left - reach <= zone.across <= right + reach:
        yield Problem(
            (*loc, "across"),
            f"lies outside the stave, whose sound wood reaches {both_lengths(left)} to the left "
            f"and {both_lengths(right)} to the right of the line there; negative is to the left",
        )
    elif 2.0 * reach >= left + right:
        key = "diameter" if isinstance(zone, SheetKnotTable) else "width"
        yield Problem(
            (*loc, key),
            f"the stave is only {both_lengths(left + right)} wide there; correct it or its place",
        )
