"""Brace a bow: to a height, or with a string of given length."""

from __future__ import annotations

import math

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.equilibrium.sections import SectionLaw, element_resultants
from limbfe.beam.equilibrium.state import BowState, make_states
from limbfe.beam.equilibrium.way import Way, way_on
from limbfe.beam.model import (
    HEIGHT,
    LENGTH,
    POINT,
    PULL,
    TENSION,
    Bed,
    Equilibrium,
    Model,
    Path,
    new_path,
    new_work,
)
from limbfe.beam.string.course import nocks, part_lengths, string_height, unstretched_lengths
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array
from limbfe.units import both_lengths

_SHORT_STEPS = 12
_BISECTIONS = 16
"""Of the height at which a string slips on: 2 % of the bow's length to a thousandth of a mm."""
_HEIGHTS = (0.1, 0.15, 0.2, 0.07, 0.05)
"""Shares of the bow's length tried as a first height when the string's length is given."""


def brace(bow: Bow, *, height: float | None = None, length: float | None = None) -> BowState:
    """Return the braced bow.

    Parameters
    ----------
    bow : Bow
    height : float, optional
        Brace height, m: from the belly at the middle of the grip to the string, along X.
    length : float, optional
        Unstretched length of the string between the nocks, m.  Give one of the two.

    Returns
    -------
    BowState
        In the bow's own frame.  With a string too long to touch tension the bow is at rest and
        ``state.slack`` is true; where no stable braced state was found ``state.stable`` is
        false, and `limbfe.beam.strung.drawing.draw` will refuse it.

    Raises
    ------
    GeometryError
        If neither or both are given, or the value is impossible.
    ConvergenceError
        If there is no braced equilibrium.

    Notes
    -----
    Two dead pulls towards the archer bend the limbs to the height; then the pulls are turned
    into the string's direction while the height is kept, so the shape hardly changes on the way
    and a straight limb never meets its buckling point.
    """
    if (height is None) == (length is None):
        raise GeometryError("brace: give either the brace height or the string length")
    if height is not None:
        return _brace_to_height(bow, height)
    assert length is not None
    if not (math.isfinite(length) and length > 0.0):
        raise GeometryError(f"brace: a string of length {length} m is impossible")
    return _brace_to_length(bow, length)


def rest_path(bow: Bow) -> Path:
    """Return the bow at rest with a string laid straight between its nocks."""
    path = new_path(len(bow.chain.positions))
    path.rotations[:], path.positions[:] = bow.chain.rotations, bow.chain.positions
    low, high = nocks(bow.model, path)
    path.border[POINT:TENSION] = low + _share(bow, low, high) * (high - low)
    path.border[TENSION:PULL] = 0.1 * bow.model.force
    return path


def _share(bow: Bow, low: Array, high: Array) -> float:
    """Return where the nocking point divides the string: level with the arrow, or the middle."""
    if bow.hold.kind == "tiller":
        return 0.5
    share = float((bow.arrow_z - low[2]) / (high[2] - low[2]))
    if not 0.0 < share < 1.0:
        raise GeometryError(
            f"bow: arrow_z = {both_lengths(bow.arrow_z)} is not between the nocks "
            f"({both_lengths(low[2])} and {both_lengths(high[2])})"
        )
    return share


def bend(way: Way, bed: Bed, height: float, steps: int = 1) -> Equilibrium | None:
    """Bend a bow at rest to a string at `height`, each of the two stages in `steps` parts.

    In the second one the string lies on its bed, and the height is that of its free part.
    """
    rest, point = way.at, None
    for part in np.linspace(0.0, 1.0, steps + 1)[1:]:
        point = way.lead(HEIGHT, float(rest + part * (height - rest)), closing=0.0)
        if point is None:
            return None
    way.lie_down(bed)
    bent = string_height(way.model, way.path)
    if abs(bent - height) > 1e-9 * way.model.size:
        way.start_anew(bent)
    else:
        bent = height
    for part in np.linspace(0.0, 1.0, steps + 1)[1:]:
        at = height + (1.0 - float(part)) * (bent - height)
        point = way.lead(HEIGHT, at, closing=float(part))
        if point is None:
            return None
    return point


def force_to_string(bow: Bow, length: float) -> float | None:
    """Return the pull (N) on each tip, along the bow's own X, that lets a string slip on.

    Both tips are pulled alike, as by a stringer or over a knee, until the way from nock to nock
    along the limbs where it must lie on them is no longer than the string; the wood counts as
    elastic.  None where it cannot be found, 0 for a string that is long enough for the bow at rest.

    Parameters
    ----------
    bow : Bow
    length : float, m
        Unstretched, between the nocks.
    """
    bed = bow.model.bed

    def missing(way: Way) -> float:
        path = way.path.copy()
        low, high = nocks(bow.model, path)
        path.border[POINT:TENSION] = low + _share(bow, low, high) * (high - low)
        path.border[POINT] = max(path.border[POINT], float(bow.model.belly[0]))
        return float(part_lengths(bow.model._replace(bed=bed), path).sum()) - length

    way = way_from_rest(bow, bow.model)
    if missing(way) <= 0.0:
        return 0.0
    low, high = way.at, way.at
    step = 0.02 * bow.model.size
    while missing(way) > 0.0:
        low, high = high, high + step
        if high > bow.model.size or way.lead(HEIGHT, high, closing=0.0) is None:
            return None
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        if way.lead(HEIGHT, middle, closing=0.0) is None:
            return None
        low, high = (middle, high) if missing(way) > 0.0 else (low, middle)
    return float(way.path.border[TENSION:PULL].mean())


def way_from_rest(bow: Bow, model: Model) -> Way:
    """Return the way of a bow at rest, its string neither closed nor lying on the limbs yet.

    Unstrung, the line between the nocks may run behind the limbs.
    """
    path = rest_path(bow)
    model = model._replace(bed=model.bed._replace(lies=0))
    return Way(model, path, string_height(model, path), closing=0.0)


def _brace_to_height(bow: Bow, height: float) -> BowState:
    way = way_from_rest(bow, bow.model)
    if not math.isfinite(height) or height <= way.at:
        raise GeometryError(
            f"brace height {both_lengths(height, 4)}: the unstrung bow's nocks already lie "
            f"{both_lengths(way.at, 4)} from the belly of the grip; give more than that"
        )
    point = bend(way, bow.model.bed, height)
    state = None if point is None else _braced(bow, point)
    if state is not None and state.stable:
        return state
    # a long step may have jumped off the stable path: go again in short ones
    again = way_from_rest(bow, bow.model)
    point = bend(again, bow.model.bed, height, _SHORT_STEPS)
    if point is not None:
        return _braced(bow, point)
    if state is not None:
        return state
    raise _failure(bow, f"a brace height of {both_lengths(height, 4)}", again)


def _brace_to_length(bow: Bow, length: float) -> BowState:
    model, at_rest = bow.model, rest_path(bow)
    for share in _HEIGHTS:
        way = way_from_rest(bow, model)
        point = bend(way, model.bed, share * model.size)
        if point is None:
            continue
        way.start_anew(float(unstretched_lengths(model, point.path).sum()))
        point = way.lead(LENGTH, length)
        # without tension the string may hang anywhere: that is a slack string, not a braced bow
        if point is not None and point.path.border[TENSION] > 1e-6 * model.force:
            return _braced(bow, point)
        break
    low, high = nocks(model, at_rest)
    if length >= float(np.linalg.norm(high - low)):
        return _slack(bow, at_rest, length)
    raise _failure(bow, f"a string of {both_lengths(length, 4)}", way)


def _failure(bow: Bow, wanted: str, way: Way) -> ConvergenceError:
    reached = string_height(way.model, way.path)
    how = (
        "bent by pulls on both nocks"
        if way.closing == 0.0
        else "by turning pulls on both nocks into it"
    )
    return ConvergenceError(
        f"bracing to {wanted}: no equilibrium found ({how}, the last one reached had the nocks "
        f"{both_lengths(reached, 4)} from the belly of the grip); a string cannot hold the limbs "
        "there when it lies too near to or behind them (reflex against brace height); "
        "change the brace height or the string length",
        iteration=len(way.residuals),
        residuals=way.residuals,
    )


def _braced(bow: Bow, point: Equilibrium) -> BowState:
    point.path.string[:] = unstretched_lengths(bow.model, point.path)
    height = string_height(bow.model, point.path)
    return make_states(bow, [point], control=HEIGHT, brace_height=height)[0]


def _slack(bow: Bow, path: Path, length: float) -> BowState:
    """Return the bow at rest under a string that carries nothing."""
    share = _share(bow, *nocks(bow.model, path))
    path.string[:] = length * share, length * (1.0 - share)
    path.border[TENSION:PULL] = 0.0
    twist, _ = element_resultants(bow.model, path)
    nothing = np.eye(len(new_work(bow.model).residual))
    point = Equilibrium(0.0, path, twist, None, None, (), 0, nothing, nothing)
    return make_states(bow, [point], control=LENGTH, brace_height=math.nan)[0]


def brace_on(
    bow: Bow,
    state: BowState,
    law: SectionLaw | None = None,
    *,
    height: float | None = None,
    length: float | None = None,
) -> BowState:
    """Lead a braced state on to a height or a string length, its sections following `law`.

    Parameters
    ----------
    bow, law
        As in `limbfe.beam.strung.drawing.follow`.
    state : BowState
        Braced, or let down.
    height, length : float, optional
        As in `brace`; neither keeps the string.

    Raises
    ------
    ConvergenceError
        If Newton's method fails, in however many parts the way is gone.
    """
    start = float(state.string_lengths.sum())
    control, target = LENGTH, start if length is None else length
    if height is not None:
        start, control, target = state.brace_height, HEIGHT, height
    way = way_on(bow, state, law=law)
    way.start_anew(start)
    way.path.border[PULL] = 0.0
    point = way.lead(control, target)
    if point is None:
        raise ConvergenceError(
            "bracing: with a belly that yields no equilibrium was found at this brace height or "
            "string length; brace lower, or make the limbs thicker or wider",
            iteration=len(way.residuals),
            residuals=way.residuals,
            last_state=state,
        )
    return _braced(bow, point)
