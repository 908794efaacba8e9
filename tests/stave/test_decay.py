"""Patches of rot."""

import numpy as np
import pytest

from limbfe.errors import GeometryError
from limbfe.stave import (
    Filler,
    inside_decay,
    shape_at,
    stiffness_at,
    strength_at,
    wood_at,
    zone_at,
)
from limbfe.wood import DecayEffect

from ..marked import marked_decay, marked_knot

EFFECT = DecayEffect(
    E=0.8, G=0.7, density=0.95, tension=0.5, compression=0.6, shear=0.4, across=0.3, toughness=0.1
)

KNOT = {"name": "A", "limb": "upper", "at": 0.31, "face": "back", "across": -0.003}
KNOT |= {"diameter": 0.009}
ENDS = ((0.0199, 0, 0), (-0.0199, 0, 0), (0, 0.0029, 0), (0, -0.0029, 0), (0, 0, 0.0029))


def young(C):
    """Return Young's moduli along x, y, z of a stiffness."""
    return 1.0 / np.diagonal(np.linalg.inv(C), axis1=-2, axis2=-1)[..., :3]


def patch_on(stave, **changes):
    mark = {"name": "B", "limb": "lower", "at": 0.5, "face": "belly", "across": 0.004}
    mark |= {"length": 0.045, "width": 0.009, "depth": 0.005}
    return marked_decay(stave, **mark | changes, effect=EFFECT, stage="given", rot="brown")


def test_decay_acts_on_stiffness_strength_and_density(make_plain, woods):
    stave = make_plain()
    patch = patch_on(stave)
    rotten = make_plain(decays=(patch,))
    x, y = -0.5, 0.004
    bottom = -0.5 * float(shape_at(stave, [x]).thickness[0])
    z = bottom + np.array([0.0045, 0.0055])
    e, s = woods["heartwood"].elasticity, woods["heartwood"].strength
    C = stiffness_at(rotten, x, y, z)
    np.testing.assert_allclose(young(C)[:, 0], [0.8 * e.E_L, e.E_L])
    np.testing.assert_allclose(C[:, 4, 4], [0.7 * e.G_LR, e.G_LR])
    field = strength_at(rotten, x, y, z)
    for name, factor in (
        ("tension", 0.5),
        ("compression", 0.6),
        ("compression_proportional_limit", 0.6),
        ("compression_plateau", 0.6),
        ("shear", 0.4),
        ("tension_across", 0.3),
        ("compression_across", 0.3),
    ):
        clear = getattr(s, name)
        np.testing.assert_allclose(getattr(field, name), [factor * clear, clear])
    rho = woods["heartwood"].density
    np.testing.assert_allclose(wood_at(rotten, x, y, z)[1], [0.95 * rho, rho])


def test_rot_softens_a_knot_but_not_its_filler(make_plain):
    filler = Filler(E=2.5e9, tension=40e6, shear=20e6)
    stave = make_plain()
    patch = patch_on(
        stave, limb="upper", at=0.31, face="back", across=-0.003, width=0.02, depth=0.01
    )
    for state, fill, expected in (("live", None, 0.8 * 2e9), ("filled", filler, 2.5e9)):
        knots = (marked_knot(stave, **KNOT | {"state": state, "filler": fill}),)
        both = make_plain(knots=knots, decays=(patch,))
        E = young(stiffness_at(both, 0.31, -0.003, 0.005))[0]
        assert pytest.approx(expected) == E
        tension = float(strength_at(both, 0.31, -0.003, 0.005).tension)
        alone = float(strength_at(make_plain(knots=knots), 0.31, -0.003, 0.005).tension)
        assert tension == pytest.approx(alone * (1.0 if fill else 0.5))


@pytest.mark.parametrize("face", ["back", "belly", "left", "right"])
def test_a_patch_has_the_size_measured_on_its_face(make_stave, face):
    stave = make_stave()
    size = {"length": 0.04, "width": 0.006, "depth": 0.003}
    patch = patch_on(stave, limb="upper", at=0.3, face=face, across=0.002, **size)
    rotten = make_stave(decays=(patch,))
    inward = {"back": (0, -1), "belly": (0, 1), "left": (1, 0), "right": (-1, 0)}[face]
    across = (1, 0) if face in ("back", "belly") else (0, 1)

    def hit(along, side, deep):
        y = patch.center[1] + side * across[0] + deep * inward[0]
        z = patch.center[2] + side * across[1] + deep * inward[1]
        return int(zone_at(rotten, 0.3 + along, y, z).decay) == 0

    for a, s, d in (
        (0.0199, 0, 0),
        (-0.0199, 0, 0),
        (0, 0.0029, 0),
        (0, -0.0029, 0),
        (0, 0, 0.0029),
    ):
        assert hit(a, s, d)
        assert not hit(1.02 * a, 1.06 * s, 1.06 * d)


def test_volume_of_the_patch(make_stave):
    """Half an ellipsoid in the limb: 2 pi / 3 of the half length, half width and depth."""
    stave = make_stave()
    patch = patch_on(stave)
    unit = (np.arange(100) + 0.5) / 50 - 1
    lines = [patch.center[i] + patch.semi_axes[i] * unit for i in range(3)]
    inside = inside_decay(patch, *np.meshgrid(*lines, indexing="ij"))
    share = inside.sum() / inside.size
    assert share == pytest.approx(np.pi / 6, rel=0.005)
    assert np.prod(2 * patch.semi_axes) == pytest.approx(0.045 * 0.009 * 0.010)


def test_messages(make_stave):
    with pytest.raises(GeometryError, match='decay "B": half sizes'):
        patch_on(make_stave(), depth=0.0)
    with pytest.raises(GeometryError, match="outside the stave"):
        patch_on(make_stave(), at=0.9)
