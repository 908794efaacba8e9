"""Sides of a knot as lines for columns: closed forms of a cone cut across the limb."""

import numpy as np
import pytest
from scipy.integrate import trapezoid

from limbfe.section import (
    integration_points,
    section_mesh,
    section_stiffness,
    zone_lines,
)
from limbfe.stave.profile import SectionShapes

SHAPES = SectionShapes(
    x=np.array([0.3, 0.3015, 0.3041, 0.32]),
    width=np.array([0.031, 0.0305, 0.03, 0.029]),
    thickness=np.array([0.021, 0.0205, 0.02, 0.019]),
    sapwood=np.array([0.005] * 4),
    lean=np.array([0.04] * 4),
    backing=np.zeros(4),
    crown=np.inf,
    belly="flat",
    belly_corner=0.0,
)
AT, RADIUS, SPREAD = 0.3, 0.0042, 0.12


def cone(x, y, z):
    """Upright, its axis at y = 3 mm, wider towards the back."""
    radius = RADIUS + SPREAD * z
    return (x - AT) ** 2 + (y - 0.003) ** 2 < radius**2


def test_sides_of_a_cone():
    """y = y0 -+ sqrt(r(z)^2 - (x - x0)^2) on both faces, nan where the plane misses one."""
    lines = zone_lines(SHAPES, cone)
    for s, (x, thickness) in enumerate(zip(SHAPES.x, SHAPES.thickness, strict=True)):
        half = [(RADIUS + SPREAD * z) ** 2 - (x - AT) ** 2 for z in (-thickness / 2, thickness / 2)]
        if min(half) <= 0.0:
            assert np.isnan(lines[s]).all()
            continue
        reach = np.sqrt(half)
        expected = 0.003 + np.stack([-reach, reach])
        assert lines[s] == pytest.approx(expected, abs=1e-9)
    assert np.isfinite(lines[:2]).all()
    assert np.isnan(lines[2:]).all()


def test_side_cut_off_by_the_edge_is_no_line():
    lines = zone_lines(SHAPES, lambda x, y, z: y > 0.004 + 0.1 * z)
    assert np.isnan(lines[:, 1]).all()
    expected = 0.004 + 0.1 * np.array([-1.0, 1.0]) * SHAPES.thickness[:, None] / 2
    assert lines[:, 0] == pytest.approx(expected, abs=1e-9)


def test_zone_inside_the_limb_gives_no_lines():
    assert np.isnan(zone_lines(SHAPES, lambda x, y, z: y**2 + z**2 < 0.003**2)).all()


def test_axial_stiffness_with_a_knot_is_that_of_the_areas():
    """Two Young's moduli, equal Poisson ratios, the knot's area from its cut.

    Through the axis the sides are straight; beside it they are hyperbolae and a column is not.
    """
    lines = zone_lines(SHAPES, cone)
    mesh = section_mesh(SHAPES, y_breaks=lines)
    points, _ = integration_points(mesh)
    knot = cone(SHAPES.x[:, None, None], points[..., 0], points[..., 1])
    wood = np.linalg.inv((np.eye(3) * 1.3 - 0.3) / 11e9)
    C = np.zeros((6, 6))
    C[:3, :3] = wood
    C[3, 3] = C[4, 4] = C[5, 5] = 0.8e9
    C = C * np.where(knot, 0.2, 1.0)[..., None, None]
    solution = section_stiffness(mesh, C, np.ones(1))
    for s in (0, 1):
        half = SHAPES.thickness[s] / 2
        z = np.linspace(-half, half, 2001)
        cut = 2 * np.sqrt((RADIUS + SPREAD * z) ** 2 - (SHAPES.x[s] - AT) ** 2)
        area = SHAPES.width[s] * 2 * half - 0.8 * trapezoid(cut, z)
        rel = 1e-6 if s == 0 else 2e-3
        assert solution.K[s, 0, 0] == pytest.approx(11e9 * area, rel=rel)
