"""Which ways of failing a close-up shows, and where it draws their windows: geometry."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from limbfe.analysis.zones import close_up as drawn
from limbfe.analysis.zones.close_up import WINDOW_SIDE

from ...failure.outcomes import mode, outcome


def shown(monkeypatch, judged):
    monkeypatch.setattr(drawn, "_panel", lambda local, mode: mode)
    monkeypatch.setattr(drawn, "_bent", lambda local: None)
    result = SimpleNamespace(kind="knot", name="A", state="live", verdict="sound")
    local = SimpleNamespace(outcome=judged, plane="flat")
    return set(drawn.close_up(result, local).panels)


@pytest.mark.parametrize(("mix", "way"), [(1.2, "sliding"), (0.2, "opening")])
def test_a_split_that_was_followed_has_the_panel_of_the_way_it_goes(monkeypatch, mix, way):
    judged = outcome(fibre=0.7, split=0.9, crush=0.6, starts=0.5)
    modes = judged.modes | {"split": replace(judged.modes["split"], mix=mix)}
    modes["sliding"] = replace(modes["sliding"], typical=0.9)
    assert shown(monkeypatch, replace(judged, modes=modes)) == {"fibre", way, "yield"}
    assert {"opening", "sliding"} <= shown(
        monkeypatch, replace(judged, modes=modes, grain_split=None)
    )


@pytest.mark.parametrize("name", ["fibre", "opening", "sliding", "yield"])
def test_a_window_is_a_rectangle_round_its_place_along_or_across_the_fibre(name):
    """Splits are averaged along the fibre, what breaks or crushes fibres across it."""
    angle = 0.3
    one = replace(mode(name, 0.8), angle=angle, length=3e-3)
    corners = drawn._window(one).corners
    sides = np.roll(corners, -1, axis=0) - corners
    assert corners.mean(axis=0) == pytest.approx([one.x, one.y])
    assert sides[0] == pytest.approx(-sides[2])
    assert sides[1] == pytest.approx(-sides[3])
    assert sides[0] @ sides[1] == pytest.approx(0.0, abs=1e-12)
    fibre = np.array([np.cos(angle), np.sin(angle)])
    splits = name in ("opening", "sliding")
    along = np.array([np.abs(sides[k] @ fibre) for k in (0, 1)])
    assert sorted(along) == pytest.approx([0.0, 3e-3 if splits else WINDOW_SIDE], abs=1e-12)
    area = abs(sides[0, 0] * sides[1, 1] - sides[0, 1] * sides[1, 0])
    assert area == pytest.approx(3e-3 * WINDOW_SIDE)
