"""Where the string lies on the limbs, how hard it presses, and when it lifts off."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.analysis.bow.model import LimbModel
from limbfe.beam import BowState, line_below
from limbfe.frames import Array
from limbfe.stave.profile import shape_at
from limbfe.units import Sentence, Words

LIMBS = ("lower", "upper")
_NEAR_THE_EDGE = 0.5
"""Share of the angle at which the string slides off the belly from which a caution is given."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LyingString:
    """The string on one limb.

    Attributes
    ----------
    at_brace : float, m
        How much of it lies on the braced limb.
    leaves_at : float, m
        How far from the middle of the grip, along the limb, it leaves it when braced.
    lift_off : float or None, m
        Draw length from which it touches the limb no more; None where it still lies on it at full
        draw.
    pressure : float, N/m
        The hardest the braced string presses: tension times the curvature of the line it lies on.
    aside : float, rad
        How far the free string points to one side of the limb's middle line where it leaves it,
        braced; with what a twisted belly, or a middle line that is not straight, adds to it.
    slips_at : float, rad
        At how much it would lie over the belly's edge, sliding free from the nock (`slip_angle`).
    """

    at_brace: float
    leaves_at: float
    lift_off: float | None
    pressure: float
    aside: float
    slips_at: float

    def to_dict(self) -> dict[str, float | None]:
        """Return plain numbers with the unit in every key."""
        return {
            "brace_mm": 1e3 * self.at_brace,
            "leaves_at_mm": 1e3 * self.leaves_at,
            "lift_off_draw_mm": None if self.lift_off is None else 1e3 * self.lift_off,
            "pressure_N_per_mm": 1e-3 * self.pressure,
            "aside_deg": math.degrees(self.aside),
            "slips_off_at_deg": math.degrees(self.slips_at),
        }


def lying_string(
    model: LimbModel, braced: BowState, drawn: Sequence[BowState]
) -> tuple[LyingString | None, LyingString | None]:
    """Return where the string lies on the lower and the upper limb; None where it never does.

    Parameters
    ----------
    model : LimbModel
    braced : BowState
    drawn : sequence of BowState
        From brace to full draw.
    """
    lower, upper = (_one(model, braced, drawn, limb) for limb in range(2))
    return lower, upper


def free_length(states: Sequence[BowState]) -> Array:
    """Return how much of the string touches nothing, both sides together, shape (k,), m."""
    return np.array(
        [np.linalg.norm(np.diff(state.free_string, axis=0), axis=1).sum() for state in states]
    )


def _one(
    model: LimbModel, braced: BowState, drawn: Sequence[BowState], limb: int
) -> LyingString | None:
    if not braced.string_lies[limb] > 0.0:
        return None
    lying = line_below(model.bow, braced, limb)
    leaf = lying[-1]
    tangent = lying[-1] - lying[-2]
    node = int(np.argmin(np.linalg.norm(braced.positions - leaf, axis=1)))
    free = braced.nocking_point - leaf
    side = braced.rotations[node][:, 1]
    aside = _towards(free, side) - _towards(tangent, side)
    places = np.array([_place(model, braced, point) for point in lying])
    place = float(places[-1])
    along = np.concatenate([[0.0], np.linalg.norm(np.diff(lying, axis=0), axis=1).cumsum()])
    half = 0.5 * shape_at(model.setup.stave, places).width
    at_brace = float(braced.string_lies[limb])
    length = float(np.linalg.norm(free))
    slips_at = slip_angle(along, half, length)
    sides = np.stack([np.interp(places, model.node_x, braced.rotations[:, k, 1]) for k in range(3)])
    way = flattened(lying, sides.T)
    nearest = float((np.abs(off_the_middle(way, length, aside))[1:] / half[1:]).max())
    return LyingString(
        at_brace=at_brace,
        leaves_at=abs(place),
        lift_off=_lift_off((braced, *drawn), limb),
        pressure=float(braced.string_tension[limb]) * _sharpest(lying),
        aside=math.atan(nearest * math.tan(slips_at)),
        slips_at=slips_at,
    )


def slip_angle(along: Array, half: Array, free: float) -> float:
    """Return the angle (rad) to the side at which a string slides off a belly it lies on.

    Parameters
    ----------
    along, half : ndarray, shape (k,), m
        Places of the touching string, from the nock on, and half the width of the belly there.
    free : float, m
        Length of the free string beyond them.

    Notes
    -----
    Without friction a taut string is straight on the belly laid flat with the free string beyond
    it: a nocking point that lies y to the side takes it ``y s/(l + f)`` aside at a distance s from
    the nock, l the touching and f the free length.  Where the middle line is
    left it points to it by ``tan = y/f``.  The edge is met first where s over half the width is
    most.
    """
    most = float((along[1:] / half[1:]).max())
    touching = float(along[-1])
    return math.atan((touching + free) / (free * most))


def flattened(line: Array, sides: Array) -> Array:
    """Return a line on a belly as it runs on the belly laid flat.

    Parameters
    ----------
    line, sides : ndarray, shape (k, 3)
        Points from the nock on, and the section's own direction to the side at each.

    Returns
    -------
    ndarray, shape (k, 2), m
        Along and to the side; the last point is the origin, where the line runs straight along.

    Notes
    -----
    Laid flat, a line bends by its geodesic curvature: the part of its curvature that lies in the
    surface.  A twisted belly tilts its normal away from the plane in which the string bends.
    """
    step = np.diff(line, axis=0)
    length = np.linalg.norm(step, axis=1)
    unit = step / np.maximum(length, 1e-12)[:, None]
    turned = np.einsum("ki,ki->k", np.diff(unit, axis=0), sides[1:-1])
    angle = np.append(-np.cumsum(turned[::-1])[::-1], 0.0)
    flat = length[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    whole = np.concatenate([np.zeros((1, 2)), flat.cumsum(axis=0)])
    return np.asarray(whole - whole[-1])


def off_the_middle(way: Array, free: float, aside: float) -> Array:
    """Return how far from the middle line (m, (k,)) a string lies that slides free from the nock.

    Parameters
    ----------
    way : ndarray, shape (k, 2), m
        The middle line, `flattened`.
    free : float, m
        Length of the string beyond it, and how far (rad) that points aside.
    """
    end = free * np.array([math.cos(aside), math.sin(aside)])
    share = (way[:, 0] - way[0, 0]) / (end[0] - way[0, 0])
    return np.asarray(way[0, 1] + share * (end[1] - way[0, 1]) - way[:, 1])


def _towards(line: Array, side: Array) -> float:
    """Return the angle (rad) by which a line points to a side."""
    return math.asin(float(np.clip(line @ side / np.linalg.norm(line), -1.0, 1.0)))


def _place(model: LimbModel, state: BowState, point: Array) -> float:
    """Return where along the bow a point lies beside the axis, m."""
    ends = state.positions
    step = np.diff(ends, axis=0)
    share = ((point - ends[:-1]) * step).sum(axis=1) / (step * step).sum(axis=1)
    share = np.clip(share, 0.0, 1.0)
    away = np.linalg.norm(ends[:-1] + share[:, None] * step - point, axis=1)
    k = int(np.argmin(away))
    x = model.node_x
    return float(x[k] + share[k] * (x[k + 1] - x[k]))


def _sharpest(line: Array) -> float:
    """Return the sharpest curvature of a line of points, 1/m."""
    step = np.diff(line, axis=0)
    length = np.linalg.norm(step, axis=1)
    step, length = step[length > 1e-9], length[length > 1e-9]
    if len(length) < 2:
        return 0.0
    unit = step / length[:, None]
    turn = np.linalg.norm(np.diff(unit, axis=0), axis=1)
    return float((turn / (0.5 * (length[1:] + length[:-1]))).max())


def _lift_off(states: Sequence[BowState], limb: int) -> float | None:
    """Return the draw length at which the touching length has come down to nothing.

    It falls steadily and ends at an angle, so the parabola through the last three states before
    says where.
    """
    lies = np.array([state.string_lies[limb] for state in states])
    length = np.array([state.draw_length for state in states])
    touching = np.flatnonzero(lies > 0.0)
    last = int(touching[-1])
    if last + 1 == len(states):
        return None
    known = touching[-3:]
    if len(known) < 2:
        return float(0.5 * (length[last] + length[last + 1]))
    falling = np.argsort(lies[known])
    through = np.polyfit(lies[known][falling], length[known][falling], len(known) - 1)
    return float(np.clip(through[-1], length[last], length[last + 1]))


def slip_words(lying: Sequence[LyingString | None]) -> tuple[Words, ...]:
    """Return a caution for a string that may slide off the side of a limb it lies on."""
    words: list[Words] = []
    for name, one in zip(LIMBS, lying, strict=True):
        if one is None or one.aside < _NEAR_THE_EDGE * one.slips_at:
            continue
        found, limit = math.degrees(one.aside), math.degrees(one.slips_at)
        verdict = (
            "slips off the side"
            if one.aside >= one.slips_at
            else "comes near slipping off the side"
        )
        words.append(
            Sentence(
                f"braced, the string {verdict} of the {name} limb: it is led to the side as by "
                "{:.1f} degrees where it leaves the belly, and slides over the edge at {:.1f}; set "
                "the tip true, make it wider, or cut a deeper groove",
                found,
                limit,
            )
        )
    return tuple(words)


def told(lying: Sequence[LyingString | None]) -> dict[str, Any]:
    """Return the contract's `string_lies`."""
    lower, upper = (None if one is None else one.to_dict() for one in lying)
    return {"upper": upper, "lower": lower}
