"""Named properties against their definitions, on sections turned and moved off the origin."""

import numpy as np
import pytest

from limbfe.section import (
    axial_stiffness,
    bending_stiffness,
    integration_points,
    mapped_mesh,
    neutral_axis,
    principal_axes,
    section_stiffness,
    shear_centre,
    tension_centre,
    torsion_stiffness,
)

from ..section_fields import recover

WIDTH, THICKNESS, TURN, MOVED = 0.03, 0.012, np.deg2rad(32.0), np.array([0.007, -0.004])
C = np.diag([11e9, 1.2e9, 0.9e9, 0.3e9, 0.8e9, 0.8e9])


@pytest.fixture(scope="module")
def turned():
    """A rectangle turned by 32 degrees and moved; transversely isotropic along x."""
    c, s = np.cos(TURN), np.sin(TURN)

    def place(u, v):
        return c * u - s * v + MOVED[0], s * u + c * v + MOVED[1]

    mesh = mapped_mesh(
        place,
        WIDTH * np.linspace(-0.5, 0.5, 19),
        THICKNESS * np.linspace(-0.5, 0.5, 11),
    )
    return section_stiffness(mesh, C, np.ones(1))


def test_centres_of_a_symmetric_section_are_its_middle(turned):
    assert tension_centre(turned)[0] == pytest.approx(MOVED, abs=1e-12)
    assert shear_centre(turned)[0] == pytest.approx(MOVED, abs=1e-9)


def test_weak_axis_of_an_upright_rectangle():
    """Deeper than wide it bends about z, at +90 degrees whichever way rounding turns it."""
    for shift in (0.0, 1e-4, -3e-3):
        upright = mapped_mesh(
            lambda u, v, y=shift: (0.010 * u + y, 0.015 * v),
            np.linspace(-1, 1, 7),
            np.linspace(-1, 1, 5),
        )
        solution = section_stiffness(upright, C, np.ones(1))
        assert principal_axes(solution).angle[0] == pytest.approx(np.pi / 2)
        assert principal_axes(solution).angle[0] <= np.pi / 2


def test_principal_axes_of_a_turned_rectangle(turned):
    """Weak axis along the long side: E b t^3 / 12 about it, E t b^3 / 12 across."""
    principal = principal_axes(turned)
    weak = 11e9 * WIDTH * THICKNESS**3 / 12
    strong = 11e9 * THICKNESS * WIDTH**3 / 12
    assert principal.stiffness[0] == pytest.approx([weak, strong], rel=1e-9)
    assert principal.angle[0] == pytest.approx(TURN, rel=1e-9)


def test_bending_stiffness_turns_as_a_tensor(turned):
    c, s = np.cos(TURN), np.sin(TURN)
    turn = np.array([[c, -s], [s, c]])
    principal = np.diag(principal_axes(turned).stiffness[0])
    expected = turn @ principal @ turn.T
    assert bending_stiffness(turned)[0] == pytest.approx(expected, rel=1e-9)
    assert axial_stiffness(turned)[0] == pytest.approx(11e9 * WIDTH * THICKNESS, rel=1e-9)


def test_torsion_does_not_depend_on_the_reference_point(turned):
    """J of a 2.5 : 1 rectangle, Saint-Venant series: 0.2493650747 a b^3."""
    expected = 0.2493650747 * WIDTH * THICKNESS**3
    assert torsion_stiffness(turned)[0] / 0.8e9 == pytest.approx(expected, rel=3e-5)
    assert torsion_stiffness(turned)[0] == pytest.approx(0.8e9 * expected, rel=3e-5)


def test_axial_force_at_the_tension_centre_bends_nothing(turned):
    y, z = tension_centre(turned)[0]
    force = np.array([500.0, 0, 0, 0, 500.0 * z, -500.0 * y])
    strain = recover(turned, force).strain[..., 0]
    assert strain == pytest.approx(np.full(strain.shape, strain.mean()), rel=1e-8)


def test_neutral_axis_is_where_the_recovered_stress_changes_sign(turned):
    loads = np.array([-900.0, 0, 0, 0, 14.0, 9.0])
    point, direction = neutral_axis(turned, loads)
    across = np.array([-direction[0, 1], direction[0, 0]])
    field = recover(turned, loads)
    points, _ = integration_points(turned.mesh)
    distance = (points[0] - point[0]) @ across
    ratio = field.stress[0, ..., 0] / distance
    assert ratio == pytest.approx(np.full(ratio.shape, ratio.mean()), rel=1e-7)
    assert direction[0] @ point[0] == pytest.approx(0.0, abs=1e-15)


def test_neutral_axis_without_bending_does_not_exist(turned):
    y, z = MOVED
    point, direction = neutral_axis(turned, np.zeros(6))
    assert np.isnan(point).all()
    assert np.isnan(direction).all()
    far, _ = neutral_axis(turned, np.array([1.0, 0, 0, 0, z + 1e-6, -y]))
    assert np.linalg.norm(far) > 1.0
