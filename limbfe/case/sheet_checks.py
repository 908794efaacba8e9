"""Whether the numbers of a stave sheet describe a stave."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator

import numpy as np

from limbfe.case.messages import Problem, first_found
from limbfe.case.sheet_schema import SheetFile
from limbfe.units import both_lengths

COLUMNS = (
    "left",
    "right",
    "depth",
    "left_below",
    "right_below",
    "rise",
    "fibre",
    "fibre_depth",
    "twist",
    "sapwood",
    "pith",
    "pith_across",
)
"""Columns of the stave besides its stations."""
WITH_TAPER = ("section", "grip", "string", "draw")
_SCALES = {
    "left": (-0.3, 0.6),
    "right": (-0.3, 0.6),
    "left_below": (-0.3, 0.6),
    "right_below": (-0.3, 0.6),
    "depth": (0.008, 0.6),
    "rise": (-0.5, 0.5),
    "fibre": (-0.3, 0.3),
    "fibre_depth": (-0.2, 0.2),
    "sapwood": (0.0, 0.2),
    "pith": (0.005, 2.0),
    "pith_across": (-0.3, 0.3),
}
"""What a stave may measure, m."""
SHORTEST, LONGEST = 0.5, 5.0
MOST_TWIST = math.radians(60.0)
STEEPEST = 0.6
"""Slope of a back or a fibre past which a number is a slip of the pen."""


def sheet_problems(file: SheetFile) -> Iterator[Problem]:
    """Yield what is impossible or contradictory, the most basic first."""
    return first_found(check(file) for check in _CHECKS)


def _stations(file: SheetFile) -> Iterator[Problem]:
    stave, loc = file.stave, ("stave", "station")
    x = stave.station
    if len(x) < 2:
        yield Problem(loc, "needs at least two stations: 0 at the butt end and one at the top end")
        return
    if x[0] != 0.0:
        yield Problem((*loc, 0), "the first station must be 0, the butt end; measure from there")
    for k, (low, high) in enumerate(itertools.pairwise(x)):
        if not high > low:
            yield Problem(
                (*loc, k + 1),
                f"stations must increase and the one before is {both_lengths(low)}; sort the rows "
                "or remove the double one",
            )
            return
    if not SHORTEST <= x[-1] <= LONGEST:
        yield Problem(
            (*loc, len(x) - 1),
            f"makes a stave {both_lengths(x[-1])} long, and between {both_lengths(SHORTEST)} and "
            f"{both_lengths(LONGEST)} is allowed; check the number and its unit",
        )
    for name in COLUMNS:
        values = getattr(stave, name)
        if values is not None and len(values) != len(x):
            yield Problem(
                ("stave", name),
                f"has {len(values)} values for {len(x)} stations; give one for each",
            )


def _columns(file: SheetFile) -> Iterator[Problem]:
    stave = file.stave
    for name, (low, high) in _SCALES.items():
        for k, value in enumerate(getattr(stave, name) or ()):
            if not low <= value <= high:
                yield Problem(
                    ("stave", name, k),
                    f"must lie between {both_lengths(low)} and {both_lengths(high)}; check the "
                    "number and its unit",
                )
    for k, value in enumerate(stave.twist or ()):
        if not abs(value) <= MOST_TWIST:
            yield Problem(("stave", "twist", k), "must lie between -60 and 60 degrees")
    for name, word in (
        ("rise", "the straight edge lies on that end"),
        ("fibre", "the fibre is followed from there"),
        ("fibre_depth", "the fibre is followed from there"),
        ("twist", "it is measured against the butt"),
    ):
        values = getattr(stave, name) or (0.0,)
        if values[0] != 0.0:
            yield Problem(("stave", name, 0), f"must be 0 at the butt: {word}")
    if stave.rise is not None and stave.rise[-1] != 0.0:
        last = len(stave.rise) - 1
        yield Problem(
            ("stave", "rise", last), "must be 0 at the top end: the straight edge lies on it"
        )
    if stave.pith is not None and stave.pith_ends is not None:
        yield Problem(("stave", "pith_ends"), "stands beside pith; keep one")
    for k, value in enumerate(stave.pith_ends or ()):
        if not 0.005 <= value <= 2.0:
            yield Problem(("stave", "pith_ends", k), "must lie between 5 mm and 2 m")
    if stave.pith_across is not None and stave.pith is None and stave.pith_ends is None:
        yield Problem(("stave", "pith_across"), "says nothing without pith or pith_ends; add one")
    if stave.bark is not None and stave.bark > 0.1:
        yield Problem(("stave", "bark"), "must be at most 100 mm; check the number and its unit")
    if stave.over_bark:
        yield from _over_bark(file)


def _edges(file: SheetFile) -> Iterator[Problem]:
    stave = file.stave
    for left, right in (("left", "right"), ("left_below", "right_below")):
        lefts = getattr(stave, left) or stave.left
        rights = getattr(stave, right) or stave.right
        for k, (one, two) in enumerate(zip(lefts, rights, strict=True)):
            if not one + two > 0.0:
                name = left if getattr(stave, left) is not None else right
                yield Problem(
                    ("stave", name, k),
                    f"puts the left edge {both_lengths(-one - two)} to the right of the right "
                    f"edge, station {both_lengths(stave.station[k])}; a side is negative only "
                    "where the line has left the wood, and the other is then the larger",
                )
                return
    for k, (sapwood, depth) in enumerate(zip(stave.sapwood or (), stave.depth, strict=False)):
        if sapwood > depth:
            yield Problem(
                ("stave", "sapwood", k),
                f"is more than the depth of the stave there, {both_lengths(depth)}; give at most "
                "that",
            )
    for name in ("rise", "fibre", "fibre_depth"):
        values = getattr(stave, name)
        if values is None:
            continue
        slope = np.abs(np.diff(values) / np.diff(stave.station))
        if np.any(slope > STEEPEST):
            k = int(np.argmax(slope))
            yield Problem(
                ("stave", name, k + 1),
                f"changes by {both_lengths(abs(values[k + 1] - values[k]))} within "
                f"{both_lengths(stave.station[k + 1] - stave.station[k])} of stave; check the "
                "number and its unit",
            )


def _wanted(file: SheetFile) -> Iterator[Problem]:
    given = [name for name in ("taper", *WITH_TAPER) if getattr(file, name) is not None]
    if file.bow.case is not None and given:
        yield Problem((given[0],), "stands beside [bow] case, which says it already; keep one")
    elif file.bow.case is None:
        if file.taper is None:
            yield Problem(
                ("bow",),
                'needs the wanted bow; add case = "flatbow.toml", or a [taper] with [section], '
                "[grip], [string] and [draw]",
            )
            return
        for name in WITH_TAPER:
            if getattr(file, name) is None:
                yield Problem(
                    ("taper",), f"needs a [{name}] table beside it, as in a case; add that"
                )
        if file.wood is None:
            yield Problem(("taper",), "needs the woods of the stave; add [wood.whole]")


def _spare(file: SheetFile) -> Iterator[Problem]:
    for name, most in (("edge", 0.1), ("end", 0.5), ("straightness", 0.2)):
        if getattr(file.spare, name) > most:
            yield Problem(
                ("spare", name),
                f"must be at most {both_lengths(most)}; check the number and its unit",
            )
    names = [cut.name for cut in file.cut]
    for k, cut in enumerate(file.cut):
        if names.index(cut.name) != k:
            yield Problem(("cut", k, "name"), "is the name of another cut too; give each its own")
        for key in ("side", "belly"):
            if getattr(cut, key) > 0.2:
                yield Problem(
                    ("cut", k, key), "must be at most 200 mm; check the number and its unit"
                )
            elif k and getattr(cut, key) > getattr(file.cut[k - 1], key):
                yield Problem(
                    ("cut", k, key),
                    f'leaves more than the cut before it, "{file.cut[k - 1].name}"; list the '
                    "stages in the order of work",
                )


def _checks_and_fixes(file: SheetFile) -> Iterator[Problem]:
    end = file.stave.station[-1]
    for k, check in enumerate(file.check):
        if check.from_ < 0.0:
            yield Problem(("check", k, "from"), "cannot be negative; the butt end is 0")
        elif check.to > end:
            yield Problem(
                ("check", k, "to"),
                f"lies past the top end of the stave, which is {both_lengths(end)} long; give at "
                "most that",
            )
        elif not check.to > check.from_:
            yield Problem(
                ("check", k, "to"),
                f"must be more than from = {both_lengths(check.from_)}; for a check at the top "
                "end give where it begins and the end of the stave",
            )
        else:
            ends = (("across", check.from_, check.across), ("across_to", check.to, check.across_to))
            for key, at, across in ends:
                if across is not None and (outside := _off_the_wood(file, at, across)):
                    yield Problem(("check", k, key), outside)
            deepest = max(file.stave.depth)
            if check.depth > deepest:
                yield Problem(
                    ("check", k, "depth"),
                    f"is deeper than the stave, {both_lengths(deepest)} at the most; give that for "
                    "a check all the way through",
                )
    fix = file.fix
    for key in ("cut_butt", "cut_top"):
        value = getattr(fix, key)
        if value is not None and value >= end:
            yield Problem(("fix", key), "leaves no stave; give the length that is sawn off")
    if fix.cut_butt is not None and fix.cut_top is not None:
        yield Problem(
            ("fix", "cut_top"),
            "stands beside cut_butt; keep one, the other follows from the length of the bow",
        )
    for k, point in enumerate(fix.through):
        if not 0.0 <= point.at <= end:
            yield Problem(
                ("fix", "through", k, "at"),
                f"lies off the stave, which is {both_lengths(end)} long; measure from the butt",
            )
        elif outside := _off_the_wood(file, point.at, point.across):
            yield Problem(("fix", "through", k, "across"), outside)


def _off_the_wood(file: SheetFile, at: float, across: float) -> str:
    """Return that a point of the back lies beside the stave; empty where it does not."""
    stave = file.stave
    left, right = (float(np.interp(at, stave.station, side)) for side in (stave.left, stave.right))
    if -left <= across <= right:
        return ""
    return (
        f"lies beside the stave, whose sound wood reaches {both_lengths(left)} to the left and "
        f"{both_lengths(right)} to the right of the line there; negative is to the left"
    )


def _over_bark(file: SheetFile) -> Iterator[Problem]:
    """Yield what was measured over bark and does not reach through it."""
    stave, loc = file.stave, ("stave", "bark")
    if stave.bark is None:
        yield Problem(
            ("stave", "over_bark"), "needs the bark's thickness; give bark, or leave this out"
        )
        return
    for name in ("depth", "pith", "pith_ends"):
        values = getattr(stave, name)
        if values is not None and min(values) <= stave.bark:
            yield Problem(
                loc,
                f"is thicker than the least {name}, {both_lengths(min(values))}, which was "
                "measured over it; correct one of them",
            )
    marks = [(("knot", k), one.face, one.across) for k, one in enumerate(file.knot)]
    marks += [(("decay", k), one.face, one.across) for k, one in enumerate(file.decay)]
    for place, face, across in marks:
        if face in ("left", "right") and across < stave.bark:
            yield Problem(
                (*place, "across"),
                f"lies in the bark, which is {both_lengths(stave.bark)} thick; over_bark counts "
                "from its outside",
            )


_CHECKS: tuple[Callable[[SheetFile], Iterator[Problem]], ...] = (
    _stations,
    _columns,
    _edges,
    _wanted,
    _spare,
    _checks_and_fixes,
)
