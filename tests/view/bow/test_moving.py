"""Window, page and film: what they hold, before how they look."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from limbfe.errors import LimbfeError
from limbfe.view.bow import page
from limbfe.view.bow.draw_curve import stiffness
from limbfe.view.bow.film import film_frame, write_film
from limbfe.view.bow.places import label_places, nearest_place, station_text
from limbfe.view.bow.scene import whole_surface
from limbfe.view.bow.window import known_steps

from ... import invented_bow as given

pytestmark = pytest.mark.filterwarnings("error")


def steps_of(assessment):
    half = replace(assessment.surface, strength_used=0.5 * assessment.surface.strength_used)
    return [(assessment.drawn.poses[1], half), (assessment.drawn.poses[2], assessment.surface)]


def test_numbers_of_the_place_that_was_clicked(assessment):
    drawn = assessment.drawn.poses[2]
    surface = whole_surface(assessment)
    station = int(np.argmin(np.abs(surface.x - 0.4)))
    x = float(surface.x[station])
    frame = given.frames(np.array([x]), "drawn")[0]
    belly = given.arc_position(x, "drawn") - 0.5 * given.shape(x).thickness * frame[:, 2]
    text = station_text(assessment, surface, nearest_place(drawn, surface, belly), "metric")
    around = int(np.argmin(surface.ring[station, :, 1]))
    assert f"upper limb, {1e3 * x:.0f} mm" in text
    assert f"strength used {surface.strength_used[station, around]:.2f}" in text
    assert f"strain {100 * surface.axial_strain[station, around]:+.2f} %" in text


def test_labels_in_space_do_not_meet(assessment):
    points = np.array([[0.1, 0, 0.3], [0.1, 0, 0.3], [0.2, 0, -0.5]])
    places = label_places(points, assessment.drawn.poses[2])
    gaps = np.abs(np.subtract.outer(places[:, 2], places[:, 2])) + np.eye(3)
    assert gaps.min() > 0.03
    assert np.all(places[:, 0] < assessment.drawn.poses[2].positions[:, 0].min())


def test_only_full_draw_has_fields(assessment):
    assert [fields is None for _, fields in known_steps(assessment)] == [True, True, False]


def test_rise_of_the_force_is_its_slope(assessment):
    curve = replace(
        assessment.drawn.curve, force=40.0 + 350.0 * (assessment.drawn.curve.draw_length - 0.2) ** 2
    )
    np.testing.assert_allclose(stiffness(curve), 700.0 * (curve.draw_length - 0.2), rtol=1e-9)


def skin_points(scene):
    mapper = scene.plotter.actors["skin"].mapper
    mapper.Update()
    return np.array(mapper.dataset.points)


@pytest.mark.render
def test_scene_changes_in_place(assessment, small_window):
    from limbfe.view.bow.window import add_controls, make_scene

    scene = make_scene(assessment, steps=steps_of(assessment))
    add_controls(scene)
    scene.plotter.show(auto_close=False)
    drawn, count = skin_points(scene), len(scene.plotter.actors)
    scene.set_step(0)
    assert np.abs(drawn - skin_points(scene)).max() > 0.2
    scene.set_step(1)
    np.testing.assert_array_equal(drawn, skin_points(scene))
    assert len(scene.plotter.actors) == count
    scene.set_result("axial_stress")
    assert scene.plotter.actors["skin"].mapper.scalar_range == (-80.0, 80.0)
    scene.next_result()
    assert scene.result == "wood"
    scene.next_result()
    assert scene.result == "strength_used"
    assert "upper limb" in scene.pick([0.3, 0.0, 0.6])
    scene.plotter.close()


@pytest.fixture
def small_window(monkeypatch):
    """A window that is drawn in a quarter of the time."""
    from limbfe.view.bow import window

    monkeypatch.setattr(window, "SIZE", (650, 475))


def sliders(plotter):
    # PyVista moved the list between 0.45 and 0.49.
    return getattr(plotter, "widgets", plotter).slider_widgets


def words(scene, name):
    corners = scene.plotter.actors[name]
    return next(filter(None, map(corners.GetText, range(8))))


@pytest.mark.render
def test_a_click_shows_numbers_and_section_which_follow_the_draw(assessment, small_window):
    from limbfe.view.bow.window import make_scene

    # States as a solved bow gives them: equal to those of the assessment, but not the same objects.
    steps = [(replace(pose), fields) for pose, fields in steps_of(assessment)]
    scene = make_scene(assessment, steps=steps)
    assert "spots-labels" in scene.plotter.actors, "full draw has its labels"
    before = np.array(scene.plotter.screenshot(return_img=True))
    scene.show_place([0.3, 0.0, 0.6])
    drawn = scene.pick([0.3, 0.0, 0.6])
    assert words(scene, "numbers") == drawn
    corner = np.abs(before.astype(int) - scene.plotter.screenshot(return_img=True))[250:410, 430:]
    assert np.mean(corner.max(axis=-1) > 60) > 0.05, "the section stands in the corner"
    scene.set_step(0)
    assert words(scene, "numbers") != drawn
    assert words(scene, "numbers").splitlines()[:2] == drawn.splitlines()[:2], "the same place"
    assert "spots-labels" not in scene.plotter.actors
    assert not scene.plotter.actors["ghost braced"].GetVisibility()
    scene.show_place([0.3, 0.0, -0.6])
    assert words(scene, "numbers").startswith("lower limb")
    assert len(scene.plotter.renderer._charts) == 1, "one section at a time"
    scene.plotter.close()


@pytest.mark.render
def test_mouse_slider_and_key_reach_the_scene(assessment, small_window):
    from limbfe.view.bow.window import add_controls, make_scene

    scene = make_scene(assessment, steps=steps_of(assessment))
    add_controls(scene)
    plotter = scene.plotter
    plotter.show(auto_close=False)
    hand = plotter.iren.interactor
    drawn = assessment.drawn.poses[2]
    node = 3 * len(drawn.node_x) // 4
    plotter.renderer.SetWorldPoint(*drawn.positions[node], 1.0)
    plotter.renderer.WorldToDisplay()
    x, y, _ = plotter.renderer.GetDisplayPoint()
    hand.SetEventInformation(round(x), round(y))
    for event in ("MouseMoveEvent", "LeftButtonPressEvent", "LeftButtonReleaseEvent"):
        hand.InvokeEvent(event)
    where = re.match(r"upper limb, (\d+) mm", words(scene, "numbers"))
    assert float(where[1]) == pytest.approx(1e3 * drawn.node_x[node], abs=15.0)
    slider = sliders(plotter)[0]
    slider.GetRepresentation().SetValue(0.0)
    for event in ("InteractionEvent", "EndInteractionEvent"):
        slider.InvokeEvent(event)
    assert scene.step == 0
    hand.SetKeyCode("n")
    hand.SetKeySym("n")
    hand.InvokeEvent("KeyPressEvent")
    assert scene.result == "axial_strain"
    plotter.close()


@pytest.mark.render
def test_film_moves_and_lasts(assessment, tmp_path):
    from PIL import Image

    path = write_film(assessment, tmp_path / "draw.gif", steps_of(assessment))
    with Image.open(path) as film:
        assert film.n_frames == 2
        first = np.asarray(film.convert("RGB"), dtype=float)
        film.seek(1)
        assert film.info["duration"] == 1600
        last = np.asarray(film.convert("RGB"), dtype=float)
    assert np.mean(np.abs(first - last)[:, :500].max(axis=2) > 60) > 0.01


@pytest.mark.parametrize(("name", "match"), [("draw.avi", "name it .gif"), ("draw", "name it")])
def test_film_of_another_kind_is_refused(assessment, tmp_path, name, match):
    with pytest.raises(LimbfeError, match=match):
        write_film(assessment, tmp_path / name, steps_of(assessment))


@pytest.mark.render
def test_video_holds_every_state_and_lingers_on_the_last(assessment, tmp_path):
    pytest.importorskip("imageio", reason="imageio is not installed")
    ffmpeg = pytest.importorskip("imageio_ffmpeg", reason="imageio-ffmpeg is not installed")
    path = write_film(assessment, tmp_path / "draw.mp4", steps_of(assessment))
    # Asked directly: the package's own reader leaves its pipes open.
    program = [ffmpeg.get_ffmpeg_exe(), "-loglevel", "error", "-i", str(path)]
    raw = subprocess.run(
        [*program, "-f", "rawvideo", "-pix_fmt", "rgb24", "-"], capture_output=True, check=True
    )
    frames = np.frombuffer(raw.stdout, dtype=np.uint8).reshape(-1, 760, 960, 3)
    assert len(frames) == 2 + 20, "the last stays for 1.6 s of 0.08 s a frame"
    first, last = frames[0].astype(float), frames[-1].astype(float)
    assert np.mean(np.abs(first - last)[:, :500].max(axis=2) > 60) > 0.01


def test_video_says_which_packages_are_missing(assessment, tmp_path, monkeypatch):
    from limbfe.view.bow import film

    monkeypatch.setattr(film, "find_spec", lambda name: None)
    with pytest.raises(LimbfeError, match="pip install imageio imageio-ffmpeg"):
        write_film(assessment, tmp_path / "draw.mp4", steps_of(assessment))
    assert list(tmp_path.iterdir()) == []


def test_film_without_states_is_refused(assessment, tmp_path):
    with pytest.raises(LimbfeError, match="no states"):
        write_film(assessment, tmp_path / "draw.gif", [])


def test_film_frame_holds_the_string(assessment):
    frame = film_frame(known_steps(assessment))
    string = assessment.drawn.poses[2].string
    assert frame.right > string[:, 0].max()
    assert frame.bottom < assessment.drawn.poses[0].positions[:, 2].min()


def test_page_says_which_package_is_missing(assessment, tmp_path, monkeypatch):
    monkeypatch.setattr(page, "find_spec", lambda name: None)
    with pytest.raises(LimbfeError, match="pip install trame-vtk"):
        page.write_page(assessment, tmp_path / "bow.html")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.render
@pytest.mark.skipif(bool(page.page_available()), reason="trame-vtk is not installed")
def test_page_stands_alone(assessment, tmp_path):
    text = page.write_page(assessment, tmp_path / "bow.html").read_text(encoding="utf-8")
    assert len(text) < 3_000_000
    assert "Wych elm longbow, course stave 4" in text
    assert "knot A at 310 mm: 0.93" in text
    assert "kitware.github.io/vtk-js/icon" not in text


def test_nothing_heavy_is_imported_before_it_is_needed():
    code = (
        "import sys, limbfe.view.bow.limb, limbfe.view.bow.page, limbfe.view.bow.film\n"
        "import limbfe.view.bow.window, limbfe.view.section.picture, limbfe.view.zone.picture\n"
        "import limbfe.view.bow.first_strain, limbfe.view.bow.strength\n"
        "print([m for m in ('pyvista', 'matplotlib', 'vtkmodules', 'PIL') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_film_s_scale_and_title_are_not_clipped(assessment):
    from limbfe.view import theme
    from limbfe.view.bow import film

    with theme.typography():
        figure = theme.new_figure(*(side / theme.DOTS_PER_INCH for side in film.CURVE))
        film._add_scale(figure, assessment, "strength_used", "imperial")
        figure.canvas.draw()
        (axes,) = figure.axes
        words = [axes.xaxis.label, *axes.get_xticklabels()]
        boxes = [one.get_window_extent() for one in words if one.get_text()]
        assert "typical strength" in axes.xaxis.label.get_text().replace("\n", " ")
    for box in boxes:
        assert 0.0 <= box.x0 <= box.x1 <= film.CURVE[0]
        # the curve below begins at 0.71 of the height
        assert 0.71 * film.CURVE[1] <= box.y0
