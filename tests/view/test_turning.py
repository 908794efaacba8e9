"""The page that turns: what is in it, read back as a browser reads it."""

import base64
import json
import re

import numpy as np
import pytest

from limbfe.view.turning import Body, Motion, Name, Scene, chain, swept, tube, turning_page


def volume(points, triangles):
    """Volume within a closed surface, by the divergence theorem; its sign tells the turning."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return float(np.sum(a * np.cross(b, c)) / 6.0)


def test_swept_rings_close_to_a_body():
    angle = np.linspace(0.0, 2.0 * np.pi, 64, endpoint=False)
    ring = 0.02 * np.stack([np.zeros(64), np.cos(angle), np.sin(angle)], axis=1)
    rings = np.stack([ring + np.array([x, 0.0, 0.0]) for x in (0.0, 0.1, 0.3)])
    points, triangles = swept(rings)
    # a prism over the regular polygon: n/2 r^2 sin(2 pi/n) h
    area = 32 * 0.02**2 * np.sin(2.0 * np.pi / 64)
    assert abs(volume(points, triangles)) == pytest.approx(0.3 * area, rel=1e-12)


def test_a_tube_keeps_its_radius_round_a_bent_line():
    t = np.linspace(0.0, 1.0, 200)
    line = np.stack([np.sin(t), np.zeros(200), np.cos(t)], axis=1)
    rings = tube(line, 0.01)
    out = rings - line[:, None]
    assert np.linalg.norm(out, axis=-1) == pytest.approx(0.01, rel=1e-9)
    along = np.gradient(line, axis=0)
    assert np.abs(np.einsum("nki,ni->nk", out, along)).max() < 1e-9
    moving = np.stack([line, line + np.array([0.1, 0.0, 0.0])])
    assert tube(moving, 0.01)[1] == pytest.approx(rings + np.array([0.1, 0.0, 0.0]))


def test_the_page_holds_the_scene_and_nothing_from_elsewhere():
    points = np.array([[0.0, 0.0, 0.0], [1.0, 0.2, 0.0], [0.5, 0.1, 0.7]])
    frames = np.stack([points, points + 0.25])
    scene = Scene(
        bodies=(
            Body(points=frames, cells=np.array([[0, 1, 2]]), colour="#102030"),
            Body(points=points, cells=chain(3, closed=True), colour="#ff8000", alpha=0.5),
        ),
        names=(Name(text="</script><b>k1</b>", at=points[0], colour="#000000"),),
        turn=0.1,
        tilt=0.2,
        motion=Motion(between=5e-4, slow=0.08, clock="% ms"),
    )
    page = turning_page("Ash & <elm>", ["a < b"], scene)
    assert "<title>Ash &amp; &lt;elm&gt;</title>" in page
    assert "http" not in page
    assert page.count("</script>") == 2, "a name cannot end the scene"
    told = json.loads(re.search(r'id="scene">(.*?)</script>', page, re.S)[1])
    one, two = told["bodies"]
    assert (one["frames"], one["count"], one["length"], one["lines"]) == (2, 3, 3, False)
    assert (two["frames"], two["length"], two["lines"], two["alpha"]) == (1, 6, True, 0.5)
    places = np.frombuffer(base64.b64decode(one["places"]), "<i2").reshape(2, 3, 3)
    # to a thirty-thousandth of the largest distance from the origin
    assert places * one["unit"] == pytest.approx(frames, abs=1.25 / 32767)
    assert np.frombuffer(base64.b64decode(two["cells"]), "<u2").tolist() == [0, 1, 1, 2, 2, 0]
    assert told["frames"] == 2
    assert told["names"][0]["text"] == "</script><b>k1</b>"
