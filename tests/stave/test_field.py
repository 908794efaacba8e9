"""The wood at points."""

from dataclasses import replace

import numpy as np
import pytest

from limbfe.errors import GeometryError
from limbfe.frames import rotate_stiffness
from limbfe.stave import (
    Filler,
    backing_z,
    belly_z,
    grain_axes,
    sapwood_z,
    shape_at,
    stiffness_at,
    strength_at,
    wood_at,
    zone_at,
)
from limbfe.stave.knot_wood import (
    FILLER_DENSITY,
    KNOT_MODULUS_HIGH,
    KNOT_MODULUS_LOW,
    KNOT_MODULUS_TYPICAL,
    VOID_MODULUS,
)
from limbfe.wood import hankinson, stiffness
from limbfe.wood.elasticity import scale_elasticity

from ..marked import marked_knot

WAVE = 0.06 * np.sin(np.linspace(-2.0, 4.0, 13))


def grid(stave, stations=9, m=7, q=5, seed=2):
    """Return points inside the limb, x of shape (S, 1, 1), y and z of shape (S, m, q)."""
    rng = np.random.default_rng(seed)
    x = np.linspace(-0.83, 0.81, stations)
    shapes = shape_at(stave, x)
    y = rng.uniform(-0.49, 0.49, (stations, m, q)) * shapes.width[:, None, None]
    low = belly_z(shapes, y)
    z = low + rng.uniform(0.02, 0.9, y.shape) * (0.45 * shapes.thickness[:, None, None] - low)
    return x[:, None, None], y, z


def put_knot(stave, make_stave, **changes):
    mark = {"name": "A", "limb": "upper", "at": 0.31, "face": "back", "across": -0.003}
    mark |= {"diameter": 0.009, "state": "live"}
    return make_stave(knots=(marked_knot(stave, **mark | changes),))


def young(C):
    """Return Young's moduli along x, y, z of a stiffness."""
    return 1.0 / np.diagonal(np.linalg.inv(C), axis1=-2, axis2=-1)[..., :3]


def test_straight_grain_puts_each_modulus_on_its_axis(make_plain, woods):
    C = stiffness_at(make_plain(), 0.2, 0.004, -0.003)
    e = woods["heartwood"].elasticity
    np.testing.assert_allclose(young(C), [e.E_L, e.E_T, e.E_R])
    np.testing.assert_allclose(np.diag(C)[3:], [e.G_RT, e.G_LR, e.G_LT])


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"spiral": 0.0},
        {"ring_radius": np.inf},
        {"ring_radius": np.inf, "lean": np.zeros(13)},
        {"ring_radius": 0.02, "spiral": 0.4, "run_out": -0.5},
        {
            "ring_radius": WAVE + 0.08,
            "spiral": WAVE,
            "run_out": -WAVE,
            "sideways_grain": WAVE[::-1],
        },
        {"ring_radius": np.inf, "lean": np.zeros(13), "run_out": WAVE},
    ],
    ids=["all", "no spiral", "no rings", "constant", "steep", "varying", "run-out varies"],
)
def test_stiffness_is_that_of_each_wood_turned_by_its_own_grain(make_stave, changes):
    stave = make_stave(**changes)
    x, y, z = grid(stave)
    axes, zones = grain_axes(stave, x, y, z), zone_at(stave, x, y, z)
    local = np.stack(
        [stiffness(stave.heartwood.elasticity), stiffness(stave.sapwood_wood.elasticity)]
    )
    expected = rotate_stiffness(local[zones.wood], axes)
    C = stiffness_at(stave, x, y, z)
    assert 0 < np.count_nonzero(zones.wood) < zones.wood.size
    np.testing.assert_allclose(C, expected, rtol=0, atol=1e-12 * expected.max())


def test_rescaled_moduli_rescale_the_stiffness(make_stave, woods):
    """Pascals to megapascals: every entry by the same factor."""
    stave = make_stave()
    small = {
        name: replace(wood, elasticity=scale_elasticity(wood.elasticity, E=1e-6, G=1e-6))
        for name, wood in woods.items()
        if wood is not None
    }
    x, y, z = grid(stave)
    C, c = stiffness_at(stave, x, y, z), stiffness_at(make_stave(**small), x, y, z)
    np.testing.assert_allclose(c * 1e6, C, rtol=1e-9, atol=1.0)


def test_every_way_to_broadcast_gives_the_same(make_stave):
    stave = put_knot(make_stave(), make_stave)
    x, y, z = grid(stave)
    full = np.broadcast_to(x, y.shape)
    C = stiffness_at(stave, x, y, z)
    np.testing.assert_array_equal(stiffness_at(stave, full, y, z), C)
    np.testing.assert_allclose(
        stiffness_at(stave, full.ravel(), y.ravel(), z.ravel()).reshape(C.shape), C, atol=1e-2
    )
    s, i, j = 4, 2, 3
    one = stiffness_at(stave, float(x[s, 0, 0]), float(y[s, i, j]), float(z[s, i, j]))
    np.testing.assert_allclose(one, C[s, i, j], atol=1e-2)
    row = stiffness_at(stave, 0.3, np.linspace(-0.01, 0.01, 4)[:, None], np.zeros(3))
    assert row.shape == (4, 3, 6, 6)
    assert row.dtype == np.float64
    assert wood_at(stave, 0.3, np.zeros(2), 0.0)[1].shape == (2,)


def test_zones_follow_the_boundaries(make_stave, woods):
    stave = make_stave(backing=np.full(13, 0.0015), backing_wood=woods["sapwood_wood"])
    x = np.array([-0.5, 0.3])
    shapes = shape_at(stave, x)
    y = np.array([[-0.006, 0.0, 0.009]] * 2)
    for boundary, below, above in ((backing_z, 1, 2), (sapwood_z, 0, 1)):
        z = boundary(shapes, y)
        assert np.all(zone_at(stave, x[:, None], y, z - 1e-7).wood == below)
        assert np.all(zone_at(stave, x[:, None], y, z + 1e-7).wood == above)
    assert np.all(zone_at(stave, x[:, None], y, 0.0).knot == -1)


def test_density_of_each_zone(make_stave, woods):
    stave = make_stave()
    x, y, z = grid(stave)
    wood = zone_at(stave, x, y, z).wood
    expected = np.where(wood == 1, 610.0, woods["heartwood"].density)
    np.testing.assert_array_equal(wood_at(stave, x, y, z)[1], expected)


@pytest.mark.parametrize("modulus", [KNOT_MODULUS_LOW, KNOT_MODULUS_TYPICAL, KNOT_MODULUS_HIGH])
def test_a_live_knot_is_soft_along_the_limb_and_stiff_along_itself(make_plain, woods, modulus):
    stave = put_knot(make_plain(), make_plain)
    C = stiffness_at(stave, 0.31, -0.003, 0.002, knot_modulus=modulus)
    e = woods["heartwood"].elasticity
    np.testing.assert_allclose(young(C), [modulus, modulus, e.E_L])
    np.testing.assert_allclose(
        np.linalg.inv(C)[5, 5], 2 * 1.3 / modulus, err_msg="isotropic in the face"
    )
    beside = stiffness_at(stave, 0.31, 0.004, 0.002)
    np.testing.assert_allclose(young(beside)[0], e.E_L)


def test_a_tilted_knot_is_stiff_along_its_own_axis(make_stave, woods):
    stave = put_knot(make_stave(ring_radius=0.03), make_stave, across=0.009)
    knot = stave.knots[0]
    p = knot.entry + 0.3 * knot.length * knot.direction
    S = np.linalg.inv(stiffness_at(stave, *p))
    d = knot.direction
    stress = np.array([d[0] ** 2, d[1] ** 2, d[2] ** 2, d[1] * d[2], d[0] * d[2], d[0] * d[1]])
    assert 1.0 / (stress @ S @ stress) == pytest.approx(woods["heartwood"].elasticity.E_L)


def test_states_of_a_knot(make_plain):
    """A hole carries nothing; a dead knot only presses, so only on the belly's side."""
    z = np.array([0.004, -0.004])
    kept = {}
    for state in ("live", "dead", "missing", "drilled", "filled"):
        filler = Filler(E=2.5e9, tension=40e6, shear=20e6) if state == "filled" else None
        stave = put_knot(make_plain(), make_plain, state=state, filler=filler)
        kept[state] = young(stiffness_at(stave, 0.31, -0.003, z))[:, 0]
        strength = strength_at(stave, 0.31, -0.003, z)
        assert np.all(strength.in_knot)
        if state == "filled":
            np.testing.assert_allclose(strength.tension, 40e6)
            np.testing.assert_allclose(strength.shear, 20e6)
            np.testing.assert_allclose(wood_at(stave, 0.31, -0.003, z)[1], FILLER_DENSITY)
        if state in ("missing", "drilled"):
            assert np.all(np.isinf(strength.tension))
            assert np.all(wood_at(stave, 0.31, -0.003, z)[1] == 0.0)
        if state == "dead":
            assert np.isinf(strength.tension[0])
            assert np.isfinite(strength.compression[1])
    np.testing.assert_allclose(kept["live"], KNOT_MODULUS_TYPICAL)
    np.testing.assert_allclose(kept["dead"], [VOID_MODULUS, KNOT_MODULUS_TYPICAL])
    np.testing.assert_allclose(kept["missing"], VOID_MODULUS)
    np.testing.assert_allclose(kept["drilled"], VOID_MODULUS)
    np.testing.assert_allclose(kept["filled"], 2.5e9)


def test_strength_in_a_live_knot_is_across_its_grain(make_plain, woods):
    stave = put_knot(make_plain(), make_plain)
    s = woods["heartwood"].strength
    field = strength_at(stave, 0.31, -0.003, 0.0)
    assert float(field.tension) == pytest.approx(s.tension_across)
    assert float(field.compression) == pytest.approx(
        float(hankinson(s.compression, s.compression_across, np.pi / 2, 2.5))
    )


def test_a_zone_without_size_changes_nothing(make_stave):
    """A knot carved away, or far from the points, leaves the field as it was."""
    stave = make_stave()
    x, y, z = grid(stave)
    away = put_knot(stave, make_stave, across=0.04)
    np.testing.assert_array_equal(stiffness_at(away, x, y, z), stiffness_at(stave, x, y, z))


def test_every_stiffness_is_positive_definite(make_stave):
    stave = put_knot(make_stave(), make_stave, state="dead", diameter=0.02)
    _, y, z = grid(stave)
    C = stiffness_at(stave, 0.31, y, z)
    np.testing.assert_allclose(C, np.swapaxes(C, -1, -2), rtol=0, atol=1e-12 * C.max())
    assert 0 < np.count_nonzero(zone_at(stave, 0.31, y, z).knot == 0) < y.size
    assert np.all(np.linalg.eigvalsh(C) > 0.0)


def test_points_beyond_the_tip_are_refused(make_stave):
    for ask in (stiffness_at, wood_at, strength_at, zone_at, grain_axes):
        with pytest.raises(GeometryError, match="outside the stave"):
            ask(make_stave(), 1.0, 0.0, 0.0)
