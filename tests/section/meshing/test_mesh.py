"""Meshes of limb outlines: areas, fitted layers and lines, and refusals that name the station."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from limbfe.errors import GeometryError
from limbfe.section import (
    integration_points,
    mapped_mesh,
    mesh_from_arrays,
    section_mesh,
    section_stiffness,
)
from limbfe.stave.outline import back_z, backing_z, belly_z, inside_outline, sapwood_z
from limbfe.stave.profile import SectionShapes


def shapes(belly="round", crown=0.06, corner=0.0, **columns):
    values = {
        "x": np.array([-0.5, 0.2, 0.61]),
        "width": np.array([0.022, 0.035, 0.016]),
        "thickness": np.array([0.017, 0.024, 0.012]),
        "sapwood": np.array([0.004, 0.006, 0.0025]),
        "lean": np.array([0.05, -0.1, 0.02]),
        "backing": np.zeros(3),
    }
    values.update({name: np.asarray(value, dtype=float) for name, value in columns.items()})
    return SectionShapes(**values, crown=crown, belly=belly, belly_corner=corner)


def segment_area(crown, width):
    """Area between a crowned back's arc and the chord of its edges."""
    angle = np.arcsin(width / 2 / crown)
    return crown**2 * (angle - np.sin(angle) * np.cos(angle))


@pytest.mark.parametrize(
    ("belly", "corner"), [("flat", 0.0), ("round", 0.0), ("corner", 0.003), ("corner", 0.0079)]
)
@pytest.mark.parametrize("crown", [np.inf, 0.06])
def test_area_of_the_outline(belly, corner, crown):
    """Closed forms: rectangle, half ellipse, quarter circles and a circular segment."""
    given_shapes = shapes(belly, crown, corner)
    w, t = given_shapes.width, given_shapes.thickness
    segment = segment_area(crown, w) if np.isfinite(crown) else 0.0
    sagitta = crown - np.sqrt(crown**2 - w**2 / 4) if np.isfinite(crown) else 0.0
    edge = t - sagitta
    area = {
        "flat": w * edge,
        "round": np.pi * w / 4 * edge,
        "corner": w * edge - (2 - np.pi / 2) * corner**2,
    }[belly]
    _, weights = integration_points(section_mesh(given_shapes))
    # an arc that ends inside an element costs the big corner most
    assert weights.sum(axis=(1, 2)) == pytest.approx(area + segment, rel=1e-4)


@pytest.mark.parametrize(("belly", "corner"), [("flat", 0.0), ("round", 0.0), ("corner", 0.004)])
def test_rows_lie_on_the_layers(belly, corner):
    given_shapes = shapes(belly, 0.05, corner, backing=[0.001, 0.002, 0.0012])
    mesh = section_mesh(given_shapes)
    points, _ = integration_points(mesh)
    y, z = points[..., 0], points[..., 1]
    layer = np.where(
        z > backing_z(given_shapes, y), 2, np.where(z > sapwood_z(given_shapes, y), 1, 0)
    )
    assert (layer == mesh.layer[:, None]).all()
    assert inside_outline(given_shapes, y, z).all()


def test_outline_runs_anticlockwise_on_back_and_belly():
    given_shapes = shapes()
    mesh = section_mesh(given_shapes)
    loop = mesh.nodes[:, mesh.outline]
    following = np.roll(loop, -1, axis=1)
    area = (loop[..., 0] * following[..., 1] - loop[..., 1] * following[..., 0]).sum(axis=1) / 2
    assert (area > 0).all()
    y, z = loop[..., 0], loop[..., 1]
    on_back = np.abs(z - back_z(given_shapes, y)) < 1e-9
    # sqrt at the very edge of a half ellipse turns rounding into 1e-8 of its depth
    on_belly = np.abs(z - belly_z(given_shapes, y)) < 1e-7
    assert (on_back | on_belly).all()


def test_columns_follow_given_lines():
    given_shapes = shapes("flat", np.inf)
    nan = np.nan
    breaks = np.array(
        [
            [[-0.0031, -0.0012], [0.0022, 0.0035]],
            [[nan, nan], [nan, nan]],
            [[0.0012, 0.0021], [0.0049, 0.0052]],
        ]
    )
    mesh = section_mesh(given_shapes, y_breaks=breaks)
    corners = mesh.elements[:, :4]
    for s in (0, 2):
        half = given_shapes.thickness[s] / 2
        for belly, back in breaks[s]:
            y, z = mesh.nodes[s][corners].T
            side = y - (belly + (back - belly) * (z.T + half).T / (2 * half))
            across = (side.min(axis=0) < -1e-12) & (side.max(axis=0) > 1e-12)
            assert not across.any()
    plain = section_mesh(given_shapes)
    assert (mesh.nodes[1] == plain.nodes[1]).all()


def test_lines_that_cross_or_leave_the_belly_are_left_out():
    given_shapes = shapes("round", np.inf)
    half = given_shapes.width[:, None, None] / 2
    one = half * np.array([[-0.2, 0.1]])
    crossing = half * np.array([[0.1, -0.1]])
    beyond = half * np.array([[0.8, 0.8]])
    breaks = np.concatenate([one, crossing, beyond, one + 1e-6], axis=1)
    only = one
    with_all = section_mesh(given_shapes, y_breaks=breaks)
    assert (with_all.nodes == section_mesh(given_shapes, y_breaks=only).nodes).all()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"width": [0.02, 0.0, 0.02]}, r"x = 200 mm.*width.*positive"),
        ({"thickness": [0.02, 0.02, -0.01]}, r"x = 610 mm.*thickness.*positive"),
        ({"thickness": [np.nan, 0.02, 0.01]}, r"x = -500 mm.*thickness"),
        ({"width": [0.02, 0.02, 0.13]}, r"x = 610 mm.*radius is below half the width"),
        ({"width": [0.1, 0.02, 0.02], "thickness": [0.02] * 3}, r"x = -500 mm.*crowned"),
    ],
)
def test_collapsed_outline_is_refused_with_its_station(change, message):
    with pytest.raises(GeometryError, match=message):
        section_mesh(shapes(crown=0.06, **change))


def test_belly_corner_too_big_is_refused():
    with pytest.raises(GeometryError, match=r"x = 610 mm.*belly corner.*9 mm"):
        section_mesh(shapes("corner", np.inf, 0.009))


def test_arrays_that_do_not_make_a_mesh_are_refused():
    good = mapped_mesh(lambda y, z: (y, z), np.linspace(0, 1, 3), np.linspace(0, 1, 3))
    nodes, elements = good.nodes[0], good.elements
    with pytest.raises(GeometryError, match="folds over"):
        mesh_from_arrays(nodes * [-1.0, 1.0], elements)
    with pytest.raises(GeometryError, match=r"\(4, 4\)"):
        mesh_from_arrays(nodes, elements[:, :4])
    with pytest.raises(GeometryError, match="name nodes"):
        mesh_from_arrays(nodes[:-1], elements)


def test_parts_that_do_not_touch_are_refused():
    part = mapped_mesh(lambda y, z: (y, z), np.linspace(0, 1, 3), np.linspace(0, 1, 3))
    n = part.nodes.shape[1]
    nodes = np.concatenate([part.nodes[0], part.nodes[0] + [1.5, 0.2]])
    mesh = mesh_from_arrays(nodes, np.concatenate([part.elements, part.elements + n]))
    with pytest.raises(GeometryError, match=r"x = 0 mm.*do not hold together"):
        section_stiffness(mesh, np.diag([10.0, 1, 1, 0.2, 0.7, 0.8]), np.ones(1))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    width=st.floats(0.006, 0.07),
    aspect=st.floats(0.12, 1.8),
    crown=st.one_of(st.just(np.inf), st.floats(0.01, 0.2)),
    sapwood=st.floats(0.0, 1.4),
    lean=st.floats(-0.9, 0.9),
    backing=st.one_of(st.just(0.0), st.floats(0.01, 0.5)),
    belly=st.sampled_from(["flat", "round", "corner"]),
    corner=st.floats(0.0, 0.5),
)
def test_every_outline_that_exists_gives_a_sound_section(
    width, aspect, crown, sapwood, lean, backing, belly, corner
):
    """Sapwood deeper than the limb at one edge or everywhere, steep lean, thin or full crowns."""
    thickness = width * aspect
    given_shapes = SectionShapes(
        x=np.zeros(1),
        width=np.array([width]),
        thickness=np.array([thickness]),
        sapwood=np.array([sapwood * thickness]),
        lean=np.array([lean]),
        backing=np.array([backing * thickness]),
        crown=crown,
        belly=belly,
        belly_corner=corner * min(width, thickness),
    )
    assume(width < 1.99 * crown)
    sagitta = width**2 / 8 / crown if crown > 10 else crown - np.sqrt(crown**2 - width**2 / 4)
    edge = thickness - sagitta
    assume(edge > 0.01 * thickness)
    assume(belly != "corner" or given_shapes.belly_corner < min(width / 2, edge))
    mesh = section_mesh(given_shapes, fineness=0.6)
    points, weights = integration_points(mesh)
    sap = points[..., 1] > sapwood_z(given_shapes, points[..., 0])
    wood = np.diag([12e9, 1e9, 0.8e9, 0.2e9, 0.7e9, 0.9e9])
    C = np.where(sap[..., None, None], 0.8 * wood, wood)
    solution = section_stiffness(mesh, C, np.ones(1))
    assert np.linalg.eigvalsh(solution.K)[0, 0] > 0
    EA = (weights * C[..., 0, 0]).sum()
    assert solution.K[0, 0, 0] == pytest.approx(EA, rel=1e-6)
