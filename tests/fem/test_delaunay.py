"""Graded triangulation and rasterisation."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.errors import GeometryError
from limbfe.fem.delaunay import missing_segments, parts, triangulate
from limbfe.fem.element import triangle6
from limbfe.fem.mesh import second_order
from limbfe.fem.raster import Grid, grid_points, rasterise

N = 24


def circle_in_square():
    """A square of side 2 with a circle of radius 0.4 as an interface."""
    s = np.linspace(-1, 1, N + 1)[:-1]
    one = np.ones(N)
    square = np.vstack(
        [
            np.column_stack([s, -one]),
            np.column_stack([one, s]),
            np.column_stack([-s, one]),
            np.column_stack([-one, -s]),
        ]
    )
    t = np.linspace(0, 2 * np.pi, N + 1)[:-1]
    circle = 0.4 * np.column_stack([np.cos(t), np.sin(t)])
    loop = np.arange(4 * N)
    ring = 4 * N + np.arange(N)
    segments = np.vstack(
        [np.column_stack([loop, np.roll(loop, -1)]), np.column_stack([ring, np.roll(ring, -1)])]
    )
    return np.vstack([square, circle]), segments


def size(points):
    return 0.1 + 0.05 * np.abs(np.linalg.norm(points, axis=1) - 0.4)


def inside(points):
    return (np.abs(points) < 1.0).all(axis=1)


@pytest.fixture(scope="module")
def made():
    boundary, segments = circle_in_square()
    return (*triangulate(boundary, segments, size, inside, 5), boundary, segments)


def test_boundary_is_kept(made):
    points, triangles, boundary, segments = made
    assert np.array_equal(points[: len(boundary)], boundary)
    assert not missing_segments(points, triangles, segments).any()


def test_quality_and_size(made):
    points, triangles, *_ = made
    corner = points[triangles]
    side = np.linalg.norm(corner - corner[:, [1, 2, 0]], axis=2)
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = 0.5 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    assert area.min() > 0.0
    assert area.sum() == pytest.approx(4.0)
    # 4 sqrt(3) A / sum of squares is 1 for the equilateral triangle.
    shape = 4.0 * np.sqrt(3.0) * area / (side**2).sum(axis=1)
    assert shape.min() > 0.5
    assert np.median(shape) > 0.9
    want = size(corner.mean(axis=1))
    assert (side.max(axis=1) / want).max() < 1.7


def test_parts_are_told_apart(made):
    points, triangles, _, segments = made
    count, part = parts(triangles, segments, len(points))
    assert count == 2
    corner = points[triangles]
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = np.bincount(part, weights=0.5 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]))
    polygon = 0.5 * N * 0.4**2 * np.sin(2 * np.pi / N)
    assert sorted(area) == pytest.approx([polygon, 4.0 - polygon])


def test_far_too_fine_a_mesh_is_refused():
    boundary, segments = circle_in_square()
    with pytest.raises(GeometryError, match="larger elements"):
        triangulate(boundary, segments, lambda p: np.full(len(p), 1e-3), inside, 5)


@pytest.mark.parametrize("bend", [0.0, 0.006])
def test_raster_finds_the_element_and_place(made, bend):
    """Mapping the reference coordinates back gives the grid points; uncovered ones are outside."""
    points, triangles, *_ = made
    mesh = second_order(points, triangles, np.zeros(len(triangles), dtype=int))
    nodes = mesh.nodes.copy()
    middle = slice(len(points), None)
    inner = (np.abs(nodes[middle]) < 0.95).all(axis=1)
    wave = np.sin(40 * nodes[middle][:, ::-1])
    nodes[middle] += bend * inner[:, None] * wave
    mesh = replace(mesh, nodes=nodes)
    grid = Grid(origin=np.array([-1.2, -1.1]), step=0.037, shape=(64, 61))
    element, reference = rasterise(mesh, grid)
    wanted = grid_points(grid)
    inner = (np.abs(wanted) < 1.0 - 1e-9).all(axis=1)
    assert np.array_equal(element >= 0, inner)
    values, _ = triangle6(reference[inner])
    back = np.einsum("pk,pkd->pd", values, nodes[mesh.elements[element[inner]]])
    assert back == pytest.approx(wanted[inner], abs=1e-9)
