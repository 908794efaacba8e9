"""The picture of a sized bow: which numbers stand on it, and that it is written."""

import numpy as np

from limbfe.view.study.size import SizeView, spaced, write_size


def test_numbers_keep_their_distance():
    x = np.array([-0.9, -0.5, -0.48, -0.1, 0.1, 0.47, 0.5, 0.53, 0.8])
    wanted = np.array([True] * 3 + [False, True] + [True] * 4)
    kept = spaced(x, wanted, 0.05)
    assert kept == [0, 1, 4, 5, 7, 8]


def test_picture_is_written(tmp_path):
    x = np.array([-0.8, -0.4, -0.06, 0.0, 0.06, 0.45, 0.85])
    now = np.array([10, 13, 20, 28, 20, 12.5, 10]) * 1e-3
    used_x = np.linspace(-0.79, 0.84, 40)
    view = SizeView(
        title="A bow",
        x=x,
        now=now,
        reach=now - np.array([0.0, 1.2, 0.4, 0.0, -0.3, 0.9, 0.0]) * 1e-3,
        free=np.abs(x) > 0.05,
        stiff_length=0.1,
        used_x=used_x,
        used_now=0.9 + 0.1 * np.sin(9 * used_x),
        used_after=np.full_like(used_x, 0.85),
        zones=((0.3, "knot A"),),
    )
    written = write_size(view, tmp_path / "size.png", units="imperial")
    assert written.stat().st_size > 20_000
