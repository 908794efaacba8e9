"""How the limbs come down as they are pulled harder, beside limbs that bend evenly."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from limbfe.analysis.bow.model import LimbModel
from limbfe.beam import BowState, own_frame
from limbfe.frames import Array, read_only

SHARES = tuple(np.linspace(0.1, 1.0, 10).tolist())
"""Of the force, at which the limbs are looked at."""
LEAST = 0.5
"""Thickness that the tips of an even limb keep, over that of its thickest place: about what tips of
finished bows have (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flex:
    """The limbs at k forces, at the s stations of the stave outside the stiff grip and its middle.

    Attributes
    ----------
    force, draw_length : ndarray, shape (k,), N, m
        The pulls, and how far the string stands from the back at the grip.
    tips : ndarray, shape (k, 2), m
        How far the lower and the upper tip came down: towards the archer, from rest.
    x : ndarray, shape (s,), m
        Lower limb negative.
    down : ndarray, shape (k, s), m
        How far every station came down.
    even_down : ndarray, shape (s,), m
        The same at the last force for limbs of this outline that bend evenly and whose tips come
        down as far.
    even_strain : ndarray, shape (2,)
        Strain of their skin, the same all along the lower and all along the upper limb.
    bending : ndarray, shape (s,)
        Strain of the skin at the last force over that of the even limb there.
    stiffness : ndarray, shape (s,)
        Bending stiffness over that of the other limb as far from the grip; nan where that ends.

    Notes
    -----
    An even limb keeps its widths and the moment at every place, and is as thick as it takes for
    one strain of the skin from grip to tip, which is sqrt(strain / even strain) times what it is,
    since strain goes with moment over thickness squared.  Tips, which would end in an edge, stay as
    thick as `LEAST` of the limb's thickest place, or as its thinnest where that is less.
    """

    force: Array
    draw_length: Array
    tips: Array
    x: Array
    down: Array
    even_down: Array
    even_strain: Array
    bending: Array
    stiffness: Array

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        return {
            "force_N": self.force.tolist(),
            "draw_length_mm": (1e3 * self.draw_length).tolist(),
            "lower_tip_mm": (1e3 * self.tips[:, 0]).tolist(),
            "upper_tip_mm": (1e3 * self.tips[:, 1]).tolist(),
            "at_mm": (1e3 * self.x).tolist(),
            "down_mm": (1e3 * self.down).tolist(),
            "even_down_mm": (1e3 * self.even_down).tolist(),
            "even_strain": {
                "lower": float(self.even_strain[0]),
                "upper": float(self.even_strain[1]),
            },
            "bending_over_even": self.bending.tolist(),
            "stiffness_over_other_limb": [
                None if np.isnan(one) else float(one) for one in self.stiffness
            ],
        }


def find_flex(model: LimbModel, states: tuple[BowState, ...]) -> Flex:
    """Return how the limbs come down from state to state, and beside even limbs at the last."""
    stave = model.setup.stave
    x = stave.x[stave.bends(stave.x) & (stave.x != 0.0)]
    moved = np.stack(
        [own_frame(model.bow, one, one.positions) - model.bow.chain.positions for one in states]
    )
    down = np.stack([np.interp(x, model.node_x, one[:, 0]) for one in moved])
    bent = states[-1].strains.reshape(-1, 6)[:, 4]
    even_down, even, bending = np.empty(len(x)), np.empty(2), np.empty(len(x))
    for k, sign in enumerate((-1.0, 1.0)):
        here, one = sign * x > 0.0, _limb(model, bent, sign)
        even[k] = _even_strain(one)
        thicker = _evened(one, float(even[k]))
        far = np.abs(x[here])
        even_down[here] = np.interp(far, one.node, _comes_down(one, one.curvature / thicker**3))
        bending[here] = np.interp(far, one.at, thicker) ** 2
    return Flex(
        force=read_only([one.draw_force for one in states]),
        draw_length=read_only([one.draw_length for one in states]),
        tips=read_only(moved[:, [0, -1], 0]),
        x=read_only(x),
        down=read_only(down),
        even_down=read_only(even_down),
        even_strain=read_only(even),
        bending=read_only(bending),
        stiffness=read_only(_over_other_limb(model, x)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Limb:
    """One limb from the grip outwards.

    `node`, `places`: distance from the middle of the grip, and rest shape (ahead, outwards) of its
    nodes; `at`, `curvature`, `thickness`, `bends`: of its Gauss stations.
    """

    node: Array
    places: Array
    at: Array
    curvature: Array
    thickness: Array
    bends: NDArray[np.bool_]

    @property
    def strain(self) -> Array:
        """Strain of the skin; never quite nothing, so that it can be divided by."""
        return np.maximum(0.5 * self.thickness * self.curvature, 1e-9)


def _limb(model: LimbModel, bent: Array, sign: float) -> _Limb:
    out = slice(None) if sign > 0.0 else slice(None, None, -1)
    node, at = sign * model.node_x[out], sign * model.stations.x[out]
    nodes, limb = node > -1e-9, at > 0.0
    places = model.bow.chain.positions[out][nodes][:, [0, 2]] * [1.0, sign]
    return _Limb(
        node=node[nodes],
        places=places,
        at=at[limb],
        curvature=bent[out][limb],
        thickness=model.stations.shapes.thickness[out][limb],
        bends=model.stations.bends[out][limb],
    )


def _evened(limb: _Limb, strain: float) -> Array:
    """Return how many times as thick a limb is everywhere whose skin is strained alike."""
    thick = limb.thickness[limb.bends]
    least = min(thick.min(), LEAST * thick.max()) / limb.thickness
    return np.where(limb.bends, np.maximum(np.sqrt(limb.strain / strain), least), 1.0)


def _even_strain(limb: _Limb) -> float:
    """Return the strain at which the tip of the evened limb comes down as far as this one's."""
    tip = _comes_down(limb, limb.curvature)[-1]

    def beyond(log: float) -> float:
        curvature = limb.curvature / _evened(limb, float(np.exp(log))) ** 3
        return float(_comes_down(limb, curvature)[-1] - tip)

    # at its highest strain an evened limb is nowhere thicker, at its lowest nowhere thinner
    bent = limb.strain[limb.bends]
    low, high = np.log(bent.min()) - 1e-6, np.log(bent.max()) + 1e-6
    return float(np.exp(brentq(beyond, low, high, xtol=1e-9)))


def _comes_down(limb: _Limb, curvature: Array) -> Array:
    """Return how far every node of a bent limb comes down, its length and the grip kept."""
    length, steps = np.diff(limb.node), np.diff(limb.places, axis=0)
    turned = np.interp(limb.node[:-1] + 0.5 * length, limb.at, curvature) * length
    turn = np.cumsum(turned) - 0.5 * turned
    # ahead and outwards: towards the archer a limb turns from outwards to ahead
    ahead = np.cos(turn) * steps[:, 0] + np.sin(turn) * steps[:, 1]
    return np.concatenate([[0.0], np.cumsum(ahead - steps[:, 0])])


def _over_other_limb(model: LimbModel, x: Array) -> Array:
    """Return the bending stiffness at stations over that of the other limb as far out."""
    stiffness = 1.0 / model.stations.sections.compliance[:, 4, 4]
    here, there = (np.interp(at, model.stations.x, stiffness) for at in (x, -x))
    inside = (-x >= model.node_x[0] - 1e-9) & (-x <= model.node_x[-1] + 1e-9)
    return np.where(inside, here / there, np.nan)
