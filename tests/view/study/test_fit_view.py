"""The picture of a fit: what is read off it lies clear of its key."""

from __future__ import annotations

import numpy as np

from limbfe.view.study.fit import FitPicture, fit_picture


def test_the_key_of_the_stations_covers_no_bar():
    """The longest bar stands where the key lies, at the left end."""
    x = np.linspace(-0.8, 0.8, 9)
    ratio = np.linspace(1.05, 0.95, 9)
    wide = np.linspace(0.30, 0.05, 9)
    draw = np.linspace(0.2, 0.7, 6)
    fit = FitPicture(
        title="a bow",
        moduli=(("whole", 12e9, 11e9, 13e9),),
        curve=np.stack([draw, 300.0 * (draw - 0.2), np.full(6, 2.0)], axis=1),
        forces=np.stack([draw, 301.0 * (draw - 0.2), np.full(6, 2.0), np.zeros(6)], axis=1),
        stations=np.stack([x, ratio, ratio - wide, ratio + wide], axis=1),
        findings=("stiffer", "softer", *("as measured",) * 3, *("not known",) * 4),
        grip=0.08,
        lower=-0.8,
        upper=0.8,
    )
    figure = fit_picture(fit)
    figure.canvas.draw()
    axes = figure.axes[1]
    key = axes.get_legend().get_window_extent()
    tops = axes.transData.transform(np.stack([x, ratio + wide], axis=1))
    assert key.x0 < tops[0, 0] < key.x1  # else it would test nothing
    assert tops[:, 1].max() < key.y0 - 4.0
