"""Pictures without words against small baselines; the arrays behind them are tested first.

To renew a baseline after looking at the new picture: ``LIMBFE_NEW_IMAGES=1 pytest tests/images``.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import numpy as np
import pytest

pytestmark = [
    pytest.mark.render,
    pytest.mark.skipif(sys.platform != "linux", reason="baselines were drawn on Linux"),
]
HERE = Path(__file__).parent


@pytest.fixture(autouse=True)
def drawing():
    from limbfe.view.probe import probe_rendering

    outcome = probe_rendering()
    if not outcome.available:
        pytest.skip(outcome.reason)


def compare(image: np.ndarray, name: str) -> None:
    """Compare with a baseline, blind to the rasteriser's choice at edges one pixel wide."""
    from PIL import Image
    from scipy.ndimage import uniform_filter

    path = HERE / f"{name}.png"
    if os.environ.get("LIMBFE_NEW_IMAGES"):
        Image.fromarray(image).save(path)
    with Image.open(path) as stored:
        expected = np.asarray(stored.convert("RGB"), dtype=float)
    assert expected.shape == image.shape
    blurred = [uniform_filter(a, (3, 3, 0)) for a in (expected, image.astype(float))]
    difference = np.abs(blurred[0] - blurred[1]).max(axis=-1)
    assert np.mean(difference > 24) < 0.002
    assert difference.mean() < 0.5


@pytest.mark.parametrize("result", ["strength_used", "wood"])
def test_side_view(assessment, result):
    from limbfe.view.bow.limb import render_side, side_frame
    from limbfe.view.bow.scene import fill_frame

    frame = fill_frame(side_frame(assessment), 0.6)
    compare(render_side(assessment, result, frame, (180, 300)), f"side_{result}")


def test_belly_close_by(assessment):
    """The patch of decay and the far end of a knot stand out of the lower limb's belly."""
    import pyvista as pv

    from limbfe.analysis.results.skin import place
    from limbfe.view.bow.scene import add_bow

    plotter = pv.Plotter(off_screen=True, window_size=[260, 200])
    plotter.set_background("white")
    pose = assessment.drawn.poses[0]
    add_bow(plotter, assessment, pose, "wood")
    target = place(pose, [[-0.64, 0.0, 0.0]])[0]
    plotter.camera.focal_point = target
    plotter.camera.position = target + np.array([0.12, -0.06, 0.06])
    plotter.camera.up = (0.0, 0.0, 1.0)
    plotter.renderer.reset_camera_clipping_range()
    plotter.render()
    image = np.array(plotter.screenshot(return_img=True))
    plotter.close()
    compare(image, "belly_patch")
