"""How a braced bow rings, drawn: its string begins where it leaves the limbs."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import limbfe
from limbfe.view.bow.modes import SHOWN, modes_picture

CASES = Path(__file__).parents[3] / "cases"


@pytest.fixture(scope="module", params=["ash_recurve", "ash_flatbow"])
def shots(request, tmp_path_factory):
    text = (CASES / f"{request.param}.toml").read_text("utf-8").replace("steps = 30", "steps = 8")
    path = tmp_path_factory.mktemp("modes") / "bow.toml"
    path.write_text(text, encoding="utf-8")
    return limbfe.shoot(path, "30 g")


def test_the_braced_string_is_a_straight_line_that_leaves_the_limbs_where_it_lies(shots):
    """Statics: between where it leaves the limbs nothing but its ends pulls at it."""
    string, braced = shots.modes.string, shots.solved.braced
    chord = string[-1] - string[0]
    far = np.linalg.norm(np.cross(string - string[0], chord), axis=1) / np.linalg.norm(chord)
    assert far.max() < 1e-3 * np.linalg.norm(chord)
    lying = float(np.sum(braced.string_lies))
    # the string is stretched by half a per cent to two
    stretched = (np.linalg.norm(chord) + lying) / braced.string_lengths.sum()
    assert 1.003 < stretched < 1.02
    recurved = "recurve" in shots.solved.model.setup.title.lower()
    assert (lying > 0.05) == recurved


def test_it_swings_without_a_kink_at_its_ends(shots):
    """Ringing slowly the string hardly bows: as straight at its ends as in between."""
    modes = shots.modes
    for k in np.flatnonzero(modes.frequency < 40.0):
        moved = np.concatenate([modes.ends[k, :1], modes.points[k], modes.ends[k, 1:]])
        along = np.linalg.norm(np.diff(modes.string, axis=0), axis=1)
        bend = np.diff(np.diff(moved, axis=0) / along[:, None], axis=0)
        bend = np.linalg.norm(bend, axis=1) * along[1:]
        # where it slides over a limb's side, or the tip turns, it bends by more than in its middle
        assert max(bend[0], bend[-1]) < 0.1


def test_every_view_shows_bow_and_string_at_rest_and_at_both_ends_of_its_swing(shots):
    figure = modes_picture(shots)
    assert len(figure.axes) == SHOWN
    nodes = len(shots.solved.braced.positions)
    for axes in figure.axes:
        counts = sorted(len(line.get_xdata()) for line in axes.lines)
        assert counts == sorted([nodes] * 3 + [len(shots.modes.string)] * 3)
