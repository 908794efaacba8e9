"""Mesh of the strip: shapes it must cope with, fit to the curves, quality, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import trapezoid

from limbfe.defect.mesh import settle, strip_mesh
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip, edge, elliptic_radius
from limbfe.errors import GeometryError
from limbfe.fem.mesh import quadrature
from limbfe.fem.quadrature import triangle_rule

MM = 1e-3
FINE = Fineness(near=0.5 * MM)


def strip(width=30.0, reach=80.0, taper=0.02):
    x = np.linspace(-reach, reach, 9)
    right, left = -0.5 * width + taper * x, 0.5 * width - 0.7 * taper * x
    return Strip(x=x * MM, right=right * MM, left=left * MM)


def ellipse(x, y, a, b, angle=0.0):
    return Ellipse(x=x * MM, y=y * MM, a=a * MM, b=b * MM, angle=angle)


CASES = {
    "middle": (40.0, [ellipse(1, -2, 6, 6)], [1]),
    "pin": (30.0, [ellipse(0, 3, 0.5, 0.3)], [1]),
    "nearly as wide": (20.0, [ellipse(0, 0, 12, 9)], [1]),
    "crossing the edge": (30.0, [ellipse(0, 12, 5, 6, 0.3)], [1]),
    "centred on the edge": (30.0, [ellipse(0, 15, 5, 6)], [1]),
    "outside the edge": (30.0, [ellipse(0, 22, 5, 6)], [0]),
    "touching the edge": (30.0, [ellipse(0, 9, 5, 6)], [1]),
    "two close by": (40.0, [ellipse(0, 0, 4, 4), ellipse(3, 8.7, 5, 4, -0.2)], [1, 1]),
    "one in another": (25.0, [ellipse(0, 2, 25, 4), ellipse(1, 2, 2, 2)], [1, 1]),
}


def smallest_angle(mesh):
    corner = mesh.nodes[mesh.elements[:, :3]]
    angles = []
    for k in range(3):
        u = corner[:, (k + 1) % 3] - corner[:, k]
        v = corner[:, (k + 2) % 3] - corner[:, k]
        cosine = (u * v).sum(axis=1) / np.linalg.norm(u, axis=1) / np.linalg.norm(v, axis=1)
        angles.append(np.arccos(np.clip(cosine, -1.0, 1.0)))
    return np.degrees(np.min(angles))


def area(mesh):
    return quadrature(mesh, *triangle_rule(4)).weights.sum()


def strip_area(shape):
    x = np.linspace(shape.x[0], shape.x[-1], 20001)
    return trapezoid(edge(shape, "left", x) - edge(shape, "right", x), x)


@pytest.mark.parametrize("name", CASES)
def test_every_case_meshes_well(name):
    width, ellipses, present = CASES[name]
    shape = strip(width, taper=0.015)
    made = strip_mesh(shape, tuple(ellipses), FINE)
    assert smallest_angle(made.mesh) > 15.0
    assert area(made.mesh) == pytest.approx(strip_area(shape), rel=1e-6)
    assert [int(len(r) > 0) for r in made.rims] == present
    for number, (fitted, sides) in enumerate(zip(made.fitted, made.rims, strict=True)):
        if fitted is None:
            continue
        rho = elliptic_radius(fitted, made.mesh.nodes[sides])
        assert np.abs(rho - 1.0).max() < 1e-9
        inner = made.mesh.nodes[made.mesh.elements[made.mesh.region == number + 1]]
        assert elliptic_radius(fitted, inner).max() < 1.0 + 1e-9
        outer = made.mesh.nodes[made.mesh.elements[made.mesh.region == 0]]
        assert elliptic_radius(fitted, outer).min() > 1.0 - 1e-9


@pytest.mark.parametrize("seed", [2, 3, 8, 13, 20, 299])
def test_a_straight_edge_leaves_no_sliver(seed):
    """Its points lie within rounding of a line: triangles to the hull have no area."""
    rng = np.random.default_rng(seed)
    length, start = rng.uniform(0.04, 0.08), rng.uniform(0.1, 0.8)
    x = np.linspace(start, start + length, 25).round(10)
    half = np.linspace(rng.uniform(0.006, 0.014), rng.uniform(0.006, 0.014), 25).round(10)
    radius = rng.uniform(1.0, 3.0) * MM
    pin = Ellipse(x=x[12], y=rng.uniform(-0.3, 0.3) * half[12], a=radius, b=radius)
    shape = Strip(x=x, right=-half, left=half)
    coarse = Fineness(near=3 * MM, growth=0.6, across=4.0, around=18.0, smoothing=3)
    made = strip_mesh(shape, (pin,), coarse, refine=((pin, 3 * MM),))
    assert smallest_angle(made.mesh) > 15.0
    assert area(made.mesh) == pytest.approx(strip_area(shape), rel=1e-6)


def test_edge_nodes_lie_on_the_edges():
    shape = strip()
    made = strip_mesh(shape, (ellipse(0, 12, 5, 6, 0.3),), FINE)
    nodes = made.mesh.nodes[made.edges.ravel()]
    off = np.minimum(
        np.abs(nodes[:, 1] - edge(shape, "left", nodes[:, 0])),
        np.abs(nodes[:, 1] - edge(shape, "right", nodes[:, 0])),
    )
    assert off.max() < 1e-12


def test_hole_is_left_out():
    shape, hole = strip(), ellipse(2, 1, 5, 4, 0.2)
    made = strip_mesh(shape, (hole,), FINE, hollow=(True,))
    assert area(made.mesh) == pytest.approx(strip_area(shape) - np.pi * 20 * MM**2, rel=1e-6)
    assert set(np.unique(made.mesh.region)) == {0}


def test_size_follows_the_fineness():
    """Sides on the rim are near the size asked for; far ones are several times longer."""
    made = strip_mesh(strip(40.0), (ellipse(0, 0, 6, 6),), FINE)
    ends = made.mesh.nodes[made.rims[0][:, [0, 2]]]
    side = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    assert side.max() < 0.52 * MM
    assert side.min() > 0.4 * MM
    assert len(made.mesh.nodes) < 6000


def test_same_input_same_mesh():
    first, second = (strip_mesh(strip(), (ellipse(0, 3, 4, 4),), FINE).mesh for _ in range(2))
    assert np.array_equal(first.nodes, second.nodes)
    assert np.array_equal(first.elements, second.elements)


def test_scale_does_not_matter():
    """The same drawing in metres instead of millimetres gives the same topology."""
    small = strip_mesh(strip(), (ellipse(0, 3, 4, 4),), FINE).mesh
    x = np.linspace(-80, 80, 9)
    shape = Strip(x=x, right=-15 + 0.02 * x, left=15 - 0.014 * x)
    big = strip_mesh(shape, (Ellipse(x=0, y=3, a=4, b=4),), Fineness(near=0.5)).mesh
    assert len(big.nodes) == pytest.approx(len(small.nodes), rel=0.01)
    assert big.nodes.max(axis=0) == pytest.approx(small.nodes.max(axis=0) / MM)


def test_thin_bridges_are_closed():
    """0.1 mm of wood beside a 12 mm knot: the knot is moved out until it cuts the edge."""
    moved = settle(strip(taper=0.0), ellipse(0, 8.9, 5, 6))
    assert moved is not None
    assert moved.y + moved.b == pytest.approx((15.0 + 0.04 * 6.0) * MM)
    kept = settle(strip(taper=0.0), ellipse(0, 8.0, 5, 6))
    assert kept is not None
    assert kept.y == 8.0 * MM


@pytest.mark.parametrize(
    ("zones", "match"),
    [
        ([ellipse(0, 0, 4, 16)], "as wide as the limb"),
        ([ellipse(0, 0, 4, 4), ellipse(5, 3, 4, 4)], "overlap or touch"),
        ([ellipse(78, 0, 4, 4)], "longer strip"),
    ],
)
def test_refusals(zones, match):
    with pytest.raises(GeometryError, match=match):
        strip_mesh(strip(), tuple(zones), FINE)


@pytest.mark.parametrize(
    ("x", "right", "left", "match"),
    [
        ([0.0, 0.0], [0, 0], [1, 1], "increasing"),
        ([0.0, 1.0], [0, 1], [1, 1], "edges meet"),
        ([0.0, 1.0], [0, 0, 0], [1, 1], "edge values"),
    ],
)
def test_impossible_strips(x, right, left, match):
    with pytest.raises(GeometryError, match=match):
        Strip(x=x, right=right, left=left)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
@given(
    width=st.floats(10, 45),
    share=st.floats(0.02, 0.9),
    y=st.floats(-0.6, 0.6),
    aspect=st.floats(0.6, 3.0),
    angle=st.floats(-0.5, 0.5),
    taper=st.floats(-0.05, 0.05),
    hollow=st.booleans(),
)
def test_any_single_zone(width, share, y, aspect, angle, taper, hollow):
    """Anything that is not refused for its width meshes without flat or folded elements."""
    shape = strip(width, 3.0 * width, taper)
    b = 0.5 * share * width
    zone = ellipse(0.0, y * width, aspect * b, b, angle)
    try:
        made = strip_mesh(shape, (zone,), FINE, hollow=(hollow,))
    except GeometryError as error:
        assume("as wide as the limb" not in str(error))
        raise
    assert smallest_angle(made.mesh) > 5.0
    assert area(made.mesh) > 0.0
