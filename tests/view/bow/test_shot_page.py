"""The string of a shot as the page that turns it draws it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import limbfe
from limbfe.view.bow.shot_page import alike

CASES = Path(__file__).parents[3] / "cases"


def test_a_string_that_lies_now_more_and_now_less_on_a_limb_keeps_its_places():
    """Corners where it is held, off the line of the nocks; the first half has points to spare."""
    drawn = np.array([[0.0, 0.0, -0.7], [0.5, 0.0, 0.1], [0.0, 0.0, 0.8]])
    lying = np.concatenate([np.linspace(drawn[0], drawn[1], 7), drawn[2:]])
    braced = np.array([[0.0, 0.0, -0.9], [0.1, 0.0, 0.1], [0.0, 0.0, 0.9]])
    same = alike([lying, drawn, braced])
    assert same.shape[0] == 3
    assert same[0] == pytest.approx(same[1], abs=1e-12)
    assert same[:, [0, -1]] == pytest.approx(
        np.stack([one[[0, -1]] for one in (drawn, drawn, braced)])
    )
    # the place at which it is held, in every frame
    held = int(np.argmax(same[0, :, 0]))
    assert same[0, held] == pytest.approx(drawn[1], abs=1e-12)
    assert np.linalg.norm(np.diff(same, axis=1), axis=2).min() > 0.0


def test_strings_with_as_many_points_stay_as_they_are():
    strings = [np.arange(12.0).reshape(4, 3), np.arange(12.0, 24.0).reshape(4, 3)]
    assert alike(strings) == pytest.approx(np.stack(strings))


@pytest.mark.parametrize(
    "case", ["ash_recurve", pytest.param("yew_reflex", marks=pytest.mark.slow)]
)
def test_the_shot_of_a_bow_on_which_the_string_lies_turns(case: str, tmp_path: Path):
    from limbfe.units import METRIC
    from limbfe.view.bow.shot_film import instants
    from limbfe.view.bow.shot_page import shot_scene, write_shot_page

    path = tmp_path / f"{case}.toml"
    text = (CASES / f"{case}.toml").read_text().replace("steps = 30", "steps = 8")
    path.write_text(
        text.partition("[analysis]")[0] + "\n[analysis]\nelements_per_limb = 8\nfineness = 0.5\n"
    )
    shots = limbfe.shoot(path, "30 g")
    one = shots.shots[0]
    moments, scene = instants(shots, one), shot_scene(shots, one)
    # it does lie there, not alike at all times
    assert len({len(moment.pose.string) for moment in moments}) > 1
    string = scene.bodies[1].points
    ends = np.stack([moment.pose.string[[0, -1]] for moment in moments])
    assert string[:, -2:] == pytest.approx(ends, abs=1e-12)
    assert np.isfinite(string).all()
    assert write_shot_page(shots, tmp_path / "shot.html", METRIC).stat().st_size > 10_000
