"""Which zones take up the same wood: solid geometry, no outside source.

Two equal ellipsoids moved apart along one of their axes meet until they are a whole axis apart; a
cone and an ellipsoid meet where a point of the one lies in the other.
"""

import numpy as np
import pytest

from limbfe.analysis.zones.left_in_limb import sharing
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Knot
from limbfe.stave.stave import Grain, Outline, Stave
from limbfe.wood import DecayEffect, make_wood

HALF = np.array([15e-3, 5e-3, 4e-3])
MIDDLE = np.array([0.3, 2e-3, 3e-3])
SOFT = DecayEffect(
    E=0.8, G=0.7, density=0.95, tension=0.5, compression=0.6, shear=0.4, across=0.3, toughness=0.1
)


def patch(name, center, half=HALF):
    return Decay(
        name=name, limb="upper", face="back", center=center, semi_axes=half, effect=SOFT,
        stage="given", rot="brown",
    )  # fmt: skip


def knot(entry, direction=(0.0, 0.0, -1.0), length=20e-3, radius=3e-3):
    entry = np.asarray(entry)
    return Knot(
        name="K", limb="upper", x=float(entry[0]), face="back", entry=entry, state="live",
        direction=np.asarray(direction) / np.linalg.norm(direction), length=length, radius=radius,
        far_radius=radius,
    )  # fmt: skip


@pytest.fixture(scope="module")
def limb():
    """Return a maker of square straight limbs of 30 mm with zones in them."""
    zero = np.zeros(3)
    given = dict.fromkeys(("sapwood", "lean", "backing", "reflex", "sideways", "twist"), zero)
    wood = make_wood(name="heartwood", species="rock elm", moisture=0.09, given={}, cov={})

    def make(*zones):
        return Stave(
            x=np.array([-0.8, 0.0, 0.8]), width=np.full(3, 0.03), thickness=np.full(3, 0.03),
            outline=Outline(crown=np.inf, belly="flat", belly_corner=0.0),
            grain=Grain(ring_radius=np.inf, run_out=0.0, sideways_grain=0.0, spiral=0.0),
            heartwood=wood, sapwood_wood=None, backing_wood=None, stiff_length=0.1, **given,
            knots=tuple(zone for zone in zones if isinstance(zone, Knot)),
            decays=tuple(zone for zone in zones if isinstance(zone, Decay)),
        )  # fmt: skip

    return make


def meet(limb, one, two):
    """Whether they do, asked from either side."""
    stave = limb(one, two)
    first, second = (len(sharing(stave, zone)) == 2 for zone in (one, two))
    assert first == second
    return first


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("way", [-1.0, 1.0])
def test_two_patches_meet_until_they_are_a_whole_axis_apart(limb, axis, way):
    for apart, together in ((0.4, True), (0.9, True), (1.01, False), (1.5, False)):
        aside = np.zeros(3)
        aside[axis] = way * 2.0 * apart * HALF[axis]
        there = meet(limb, patch("P", MIDDLE), patch("Q", MIDDLE + aside))
        assert there == together, (axis, apart)


def test_a_patch_inside_another_meets_it(limb):
    """Even one so small that it slips between points of the large one."""
    for at in ([0.0, 0.0, 0.0], [0.11, 0.09, -0.12], [-0.51, 0.31, 0.29]):
        small = patch("Q", MIDDLE + np.array(at) * HALF, 0.01 * HALF)
        assert meet(limb, patch("P", MIDDLE), small)


@pytest.mark.parametrize("direction", [(0, 0, -1), (0.4, 0, -1), (0.3, -0.5, -1), (-0.5, 0.4, -1)])
def test_a_thin_knot_meets_a_patch_it_runs_through_and_not_one_beside_it(limb, direction):
    """A knot of 0.4 mm that enters 8 mm in front of a place between points of the patch."""
    ahead = 0.1 * HALF - 8e-3 * np.array(direction) / np.linalg.norm(direction)
    aimed = knot(MIDDLE + ahead, direction, radius=0.2e-3)
    past = knot(MIDDLE + ahead + [1.6 * HALF[0], 0.0, 0.0], direction, radius=0.2e-3)
    assert meet(limb, aimed, patch("P", MIDDLE))
    assert not meet(limb, past, patch("P", MIDDLE))


def test_a_patch_in_the_wood_of_a_knot_meets_it(limb):
    """Between axis and rim of a knot of 12 mm, where no point of the knot's own lies."""
    thick = knot([0.3, 0.0, 0.015], radius=6e-3)
    small = np.array([0.2e-3, 0.2e-3, 0.2e-3])
    assert meet(limb, thick, patch("P", np.array([0.3 + 4.4e-3, 0.7e-3, 4e-3]), small))
    assert not meet(limb, thick, patch("P", np.array([0.3 + 6.3e-3, 0.0, 4e-3]), small))


def test_wood_that_is_gone_is_not_shared(limb):
    """Two patches that meet only outside the limb's side."""
    one, two = (np.array([0.3 + way * 14e-3, 0.0195, 0.0]) for way in (-1.0, 1.0))
    inside = [np.array([at[0], 0.0125, 0.0]) for at in (one, two)]
    assert not meet(limb, patch("P", one), patch("Q", two))
    assert meet(limb, patch("P", inside[0]), patch("Q", inside[1]))


def test_nor_is_wood_beyond_the_tip(limb):
    """One patch ends 5 mm beyond it, the other begins 2 mm beyond."""
    for way in (-1.0, 1.0):
        one, two = (np.array([way * (0.8 + off), 0.0, 0.0]) for off in (-10e-3, 17e-3))
        assert not meet(limb, patch("P", one), patch("Q", two))
        assert meet(limb, patch("P", one), patch("Q", one + np.array([way * 12e-3, 0, 0])))


def test_zones_are_shared_in_a_chain(limb):
    """The first meets the third by way of the second alone."""
    row = [
        patch(name, MIDDLE + np.array([k * 1.8 * HALF[0], 0, 0])) for k, name in enumerate("PQR")
    ]
    stave = limb(*row)
    for zone in row:
        assert [one.name for one in sharing(stave, zone)] == ["P", "Q", "R"]
    assert not meet(limb, row[0], row[2])
