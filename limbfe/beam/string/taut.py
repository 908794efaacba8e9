"""Where a taut string touches the limbs: the shortest path from nock to nocking point.

Seen along the belly's rulings (`limbfe.beam.string.seen`) the string may not pass behind the line
of `limbfe.beam.string.bed`.  The path is the hull of that line between nock and nocking point,
found among samples of it; then every end of a stretch that touches is moved to where the line's
tangent meets the next point of the path.

The length of the shortest path is a smooth function of the shape: moving such an end along the line
changes it only by the third power of the movement, so its gradient and Hessian are those of a path
whose ends stay where they are in their elements.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from limbfe.beam.model import POINT, Ground, Path
from limbfe.beam.string.bed import element_at, place_on_bed, sample_element
from limbfe.beam.string.seen import seen_path
from limbfe.compiled import compiled_inside
from limbfe.frames import Array

MOST = 16
"""Separate stretches of one part of the string that may touch its limb."""
_SAMPLES = 4
"""Of the line in one element; what rises between two of them is looked for by its tangent."""
_SWEEPS = 60
_CLOSE = 1e-14


class Laid(NamedTuple):
    """Where both parts of the string touch their limbs, in elements from the tip.

    `number` (2,) of stretches, `span` (2, k, 2) where each begins and ends, from the tip inwards.
    The first begins at the nock; one of no length is a point.  `number` is 0 for a part that could
    not be laid.
    """

    number: NDArray[np.int64]
    span: Array


@compiled_inside
def lay(model: Ground, path: Path) -> Laid:
    """Lay both parts of the string; one that is slack hangs free of the limb."""
    laid = new_laid()
    if model.bed.lies == 0:
        return laid
    for part in range(2):
        if path.slack[part] == 0:
            lay_part(model, path, part, laid)
    return laid


@compiled_inside
def new_laid() -> Laid:
    """Return a string that touches nothing."""
    return Laid(np.ones(2, dtype=np.int64), np.zeros((2, MOST, 2)))


@compiled_inside
def lay_part(model: Ground, path: Path, part: int, laid: Laid) -> None:
    """Lay one part of the string from its nock to the nocking point."""
    laid.number[part] = 1
    laid.span[part, 0, :] = 0.0
    seen = seen_path(path, part)
    deep = _may_touch(model, seen, part)
    if deep > 0:
        laid.number[part] = _lay_part(model, seen, part, deep, laid.span[part])


@compiled_inside
def elements_of(model: Ground, part: int) -> int:
    """Return how many elements a limb has between nock and grip."""
    return model.lower if part == 0 else len(model.length) - model.upper


@compiled_inside
def rise_over(part: int, a: Array, b: Array, c: Array) -> float:
    """Return how far b stands out of the line from a to c towards the archer, times its length."""
    value: float = (b[0] - a[0]) * (c[2] - a[2]) - (b[2] - a[2]) * (c[0] - a[0])
    return value if part == 0 else -value


@compiled_inside
def _may_touch(model: Ground, path: Path, part: int) -> int:
    """Return down to which element, counted from the tip, the line could stand out of the straight
    line from nock to nocking point; 0 for none.

    Between two nodes the line turns from one tangent to the other, and rises over the higher of
    them only if one climbs and the other falls; then by less than a quarter of its length times the
    turn.
    """
    n, bed, point = len(path.positions), model.bed, path.border
    nock, place, tangent = np.empty(3), np.empty(3), np.empty(3)
    before, climb, angle, deep = 0.0, 0.0, 0.0, 0
    last = np.empty(3)
    for depth in range(elements_of(model, part) + 1):
        node = depth if part == 0 else n - 1 - depth
        for i in range(3):
            place[i], tangent[i] = path.positions[node, i], path.rotations[node, i, 0]
            for k in range(3):
                place[i] += path.rotations[node, i, k] * bed.arm[node, k]
                if k > 0:
                    tangent[i] += path.rotations[node, i, k] * bed.slope[node, k - 1]
            if part == 1:
                tangent[i] = -tangent[i]
        if depth == 0:
            nock[:] = place
        along = np.hypot(point[0] - nock[0], point[2] - nock[2])
        height = rise_over(part, nock, place, point[POINT : POINT + 3]) / along
        rising = tangent[0] * (point[2] - nock[2]) - tangent[2] * (point[0] - nock[0])
        rising = (rising if part == 0 else -rising) / along
        turned = np.arctan2(tangent[0], tangent[2] if part == 0 else -tangent[2])
        if depth == 0:
            if rising > 0.0:
                deep = 1
        else:
            most = max(before, height) if depth > 1 else height
            if climb > 0.0 and rising < 0.0:
                step = np.hypot(place[0] - last[0], place[2] - last[2])
                most = max(before, height) + 0.25 * step * abs(turned - angle)
            if most > 0.0:
                deep = depth
        before, climb, angle = height, rising, turned
        last[:] = place
    return deep


@compiled_inside
def _lay_part(model: Ground, path: Path, part: int, deep: int, span: Array) -> int:
    """Write the stretches of one part (k, 2); return their number, 0 where there are too many."""
    point = path.border[POINT : POINT + 3].copy()
    corners = _hull(model, path, part, deep, point)
    # corners next to one another are joined by the line itself
    stretches = 1
    span[0, 0], span[0, 1] = 0.0, 0.0
    for at in corners:
        if at - span[stretches - 1, 1] <= 1.0 / _SAMPLES + 1e-9:
            span[stretches - 1, 1] = at
        elif stretches == MOST:
            return 0
        else:
            span[stretches, 0], span[stretches, 1] = at, at
            stretches += 1
    other = np.empty((2, 3))
    for _ in range(_SWEEPS):
        moved = 0.0
        for k in range(stretches):
            if k > 0:
                place_on_bed(model, path, part, span[k - 1, 1], other)
                at = _tangent(
                    model, path, part, other[0], span[k, 0], (span[k - 1, 1], span[k, 1]), -1.0
                )
                moved = max(moved, abs(at - span[k, 0]))
                span[k, 0] = at
            most = float(elements_of(model, part))
            if k + 1 < stretches:
                most = span[k + 1, 0]
                place_on_bed(model, path, part, most, other)
            else:
                other[0, :] = point
            at = _tangent(model, path, part, other[0], span[k, 1], (span[k, 0], most), 1.0)
            moved = max(moved, abs(at - span[k, 1]))
            span[k, 1] = at
        # where one stretch ends hangs on nothing but the nocking point
        if stretches == 1 or moved <= _CLOSE * elements_of(model, part):
            break
    # stretches that have met are one
    kept = 1
    for k in range(1, stretches):
        if span[k, 0] <= span[kept - 1, 1]:
            span[kept - 1, 1] = max(span[kept - 1, 1], span[k, 1])
        else:
            span[kept, 0], span[kept, 1] = span[k, 0], span[k, 1]
            kept += 1
    return kept


@compiled_inside
def _hull(model: Ground, path: Path, part: int, deep: int, point: Array) -> Array:
    """Return the samples of the line that the taut path bends on, from the nock inwards.

    It is sampled down to the element after the last that could stand out of the straight line.
    What lies behind the point it ends at, seen from the nock, is not in its way: a string in a shot
    ends at a point beside the limb.
    """
    elements = min(deep + 1, elements_of(model, part))
    count = _SAMPLES * elements + 1
    most = count + 4 * MOST
    at, places = np.empty(most), np.empty((most, 3))
    here = np.empty((2, 3))
    for element in range(elements):
        first = _SAMPLES * element
        sample_element(model, path, part, element, places[first : first + _SAMPLES + 1])
    for k in range(count):
        at[k] = k / _SAMPLES
        if k > 0 and _behind(places[0], places[k], point):
            count = k
            break
    stack = np.empty(most, dtype=np.int64)
    high = 0
    for _ in range(4 * MOST):
        high = 0
        for k in range(count + 1):
            new = places[k] if k < count else point
            while high > 1 and not (
                rise_over(part, places[stack[high - 2]], places[stack[high - 1]], new) > 0.0
            ):
                high -= 1
            if k < count:
                stack[high] = k
                high += 1
        more = _hidden(model, path, part, point, at[:count], places, stack[:high])
        if more < 0.0:
            break
        # a place that rises between two samples joins them
        k = count
        while at[k - 1] > more:
            at[k] = at[k - 1]
            places[k, :] = places[k - 1]
            k -= 1
        place_on_bed(model, path, part, more, here)
        at[k] = more
        places[k, :] = here[0]
        count += 1
    corners = np.empty(high - 1)
    for k in range(1, high):
        corners[k - 1] = at[stack[k]]
    return corners


@compiled_inside
def _behind(nock: Array, place: Array, point: Array) -> bool:
    """Whether a place lies farther from the nock than a point does, along the way to it."""
    ahead = 0.0
    for i in range(3):
        ahead += (place[i] - point[i]) * (point[i] - nock[i])
    return ahead >= 0.0


@compiled_inside
def _hidden(
    model: Ground,
    path: Path,
    part: int,
    point: Array,
    at: Array,
    places: Array,
    stack: NDArray[np.int64],
) -> float:
    """Return a place between samples that stands out of a free stretch, -1 for none."""
    here = np.empty((2, 3))
    for s in range(len(stack)):
        first = stack[s]
        last = stack[s + 1] if s + 1 < len(stack) else len(at) - 1
        end = places[stack[s + 1]] if s + 1 < len(stack) else point
        best, high = -1, -np.inf
        for k in range(first + 2, last - 1):
            height = rise_over(part, places[first], places[k], end)
            if height > high:
                best, high = k, height
        if best < 0:
            continue
        low = rise_over(part, places[first], places[best - 1], end)
        far = rise_over(part, places[first], places[best + 1], end)
        # a parabola rises over its highest sample by a quarter of the fall to the next
        if high + 0.5 * max(high - low, high - far) < 0.0:
            continue
        low_at, high_at = at[best - 1], at[best + 1]
        for _ in range(50):
            middle = 0.5 * (low_at + high_at)
            place_on_bed(model, path, part, middle, here)
            climb = here[1, 0] * (end[2] - places[first, 2])
            climb -= here[1, 2] * (end[0] - places[first, 0])
            if (climb if part == 0 else -climb) > 0.0:
                low_at = middle
            else:
                high_at = middle
        place_on_bed(model, path, part, low_at, here)
        size = np.hypot(end[0] - places[first, 0], end[2] - places[first, 2])
        if rise_over(part, places[first], here[0], end) > 1e-14 * size * model.size:
            return float(low_at)
    return -1.0


@compiled_inside
def _tangent(
    model: Ground,
    path: Path,
    part: int,
    point: Array,
    start: float,
    within: tuple[float, float],
    end: float,
) -> float:
    """Return where the line's tangent meets a point.

    That is the `end` of a stretch (1.0) or where it begins (-1.0).  The search goes out from
    `start` and stays `within`; at its border the string is held by what is there: the nock, the
    grip, the stretch next to it.
    """
    here = np.empty((2, 3))
    at = min(max(start, within[0]), within[1])
    value = _side(model, path, part, at, point, here) * end
    up = value < 0.0
    other, beyond = at, value
    while (beyond < 0.0) == up and beyond != 0.0:
        at, value = other, beyond
        if at == (within[1] if up else within[0]):
            return at
        step = 1.0 / _SAMPLES if up else -1.0 / _SAMPLES
        other = min(max(at + step, within[0]), within[1])
        beyond = _side(model, path, part, other, point, here) * end
    for _ in range(80):
        if beyond == 0.0 or abs(other - at) < 1e-15 * (1.0 + abs(at)):
            break
        # false position, the end that stays weighing half as much each time (Illinois)
        middle = other - beyond * (other - at) / (beyond - value)
        if not min(at, other) <= middle <= max(at, other):
            middle = 0.5 * (at + other)
        new = _side(model, path, part, middle, point, here) * end
        if (new < 0.0) != (beyond < 0.0):
            at, value = other, beyond
        else:
            value *= 0.5
        if abs(middle - other) < 1e-15 * (1.0 + abs(at)):
            other = middle
            break
        other, beyond = middle, new
    return other


@compiled_inside
def _side(model: Ground, path: Path, part: int, at: float, point: Array, here: Array) -> float:
    """Return on which side of the line's tangent a point lies: below 0 where the line goes on."""
    place_on_bed(model, path, part, at, here)
    x, z = point[0] - here[0, 0], point[2] - here[0, 2]
    value: float = x * here[1, 2] - z * here[1, 0]
    return value if part == 0 else -value


@compiled_inside
def nodes_met(model: Ground, laid: Laid) -> int:
    """Return on how many nodes of a limb the string acts; more than there are where it cannot be
    laid.
    """
    return max(nodes_met_by(model, laid, 0), nodes_met_by(model, laid, 1))


@compiled_inside
def nodes_met_by(model: Ground, laid: Laid, part: int) -> int:
    """Return the same of one part of the string and its limb."""
    count = laid.number[part]
    if count == 0:
        return len(model.length) + 2
    if count == 1 and laid.span[part, 0, 1] == 0.0:
        return 1
    element, _ = element_at(model, part, laid.span[part, count - 1, 1])
    depth = element + 2 if part == 0 else len(model.length) - element + 1
    # the node next to the grip's is the last that is free
    return min(depth, elements_of(model, part))
