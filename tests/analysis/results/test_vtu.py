"""VTU files read back with meshio."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import meshio
import numpy as np
import pytest

from limbfe.analysis.results.skin import spread, sweep_skin
from limbfe.analysis.results.vtu import write_series, write_vtu
from limbfe.errors import LimbfeError


def written(assessment, path, pose):
    return write_vtu(path, assessment.surface, assessment.drawn.poses[0], pose)


def test_reads_back_what_was_written(assessment, tmp_path):
    surface, drawn = assessment.surface, assessment.drawn.poses[2]
    path = written(assessment, tmp_path / "limb.vtu", drawn)
    mesh = meshio.read(path)
    skin = sweep_skin(drawn, surface.x, surface.ring)
    np.testing.assert_allclose(mesh.points, skin.points, atol=1e-15)
    np.testing.assert_array_equal(mesh.cells_dict["quad"], skin.quads)
    np.testing.assert_array_equal(mesh.cells_dict["triangle"], skin.triangles)
    for name, values in (
        ("axial_stress_Pa", surface.axial_stress),
        ("axial_strain", surface.axial_strain),
        ("strength_used", surface.strength_used),
    ):
        np.testing.assert_allclose(mesh.point_data[name], spread(values))
    assert set(np.unique(mesh.point_data["layer"])) == {0.0, 1.0}
    assert list(tmp_path.iterdir()) == [path], "nothing but the file is left"


def test_displacement_leads_back_to_the_unstrung_shape(assessment, tmp_path):
    rest, drawn = assessment.drawn.poses[0], assessment.drawn.poses[2]
    bent = meshio.read(written(assessment, tmp_path / "a.vtu", drawn))
    flat = meshio.read(written(assessment, tmp_path / "b.vtu", rest))
    np.testing.assert_allclose(
        bent.points - bent.point_data["displacement_m"], flat.points, atol=1e-12
    )
    np.testing.assert_allclose(flat.point_data["displacement_m"], 0.0)


def test_fields_of_full_draw_say_so_on_another_pose(assessment, tmp_path):
    mesh = meshio.read(written(assessment, tmp_path / "a.vtu", assessment.drawn.poses[1]))
    assert "strength_used_at_full_draw" in mesh.point_data
    assert "strength_used" not in mesh.point_data


def test_series_lists_every_state(assessment, tmp_path):
    first = replace(assessment.surface, axial_stress=0.4 * assessment.surface.axial_stress)
    steps = [(assessment.drawn.poses[1], first), (assessment.drawn.poses[2], assessment.surface)]
    path = write_series(tmp_path / "draw.pvd", assessment.drawn.poses[0], steps)
    sets = ElementTree.parse(path).getroot().findall("Collection/DataSet")
    assert [float(s.get("timestep", "")) for s in sets] == [p.draw_length for p, _ in steps]
    for (pose, surface), entry in zip(steps, sets, strict=True):
        state = meshio.read(tmp_path / str(entry.get("file")))
        skin = sweep_skin(pose, surface.x, surface.ring)
        np.testing.assert_allclose(state.points, skin.points, atol=1e-15)
        np.testing.assert_allclose(
            state.point_data["axial_stress_Pa"], spread(surface.axial_stress)
        )


def test_a_folder_that_is_not_there(assessment, tmp_path):
    with pytest.raises(LimbfeError, match=r"nowhere.*choose a folder"):
        written(assessment, tmp_path / "nowhere" / "limb.vtu", assessment.drawn.poses[2])


def test_a_failed_write_leaves_the_old_file(assessment, tmp_path, monkeypatch):
    path = written(assessment, tmp_path / "limb.vtu", assessment.drawn.poses[2])
    before = path.read_bytes()

    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("disk full")

    monkeypatch.setattr(meshio.Mesh, "write", fail)
    with pytest.raises(RuntimeError, match="disk full"):
        written(assessment, path, assessment.drawn.poses[2])
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]
