"""Words on the picture of a sweep never lie upon each other, however high its axis reaches."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from limbfe.view.study.sweep import SweepLine, SweepPicture, draw_sweep

VERDICTS = ("sound", "sound", "watch", "watch", "expect a split", *["expect rupture"] * 2)


def picture(heights, family="draw length"):
    x = np.linspace(0.004, 0.016, 7)
    lines = []
    for k, height in enumerate(heights):
        used = np.linspace(0.3, height, 7)
        lines.append(
            SweepLine(
                value=0.55 + 0.05 * k if family else None,
                typical=used,
                low=0.7 * used,
                high=1.3 * used,
                crushing=0.5 * used,
                verdicts=VERDICTS,
            )
        )  # fmt: skip
    return SweepPicture(
        title="A bow with a knot", measure="to break or split", along="diameter", x=x, own=0.008,
        family=family, lines=tuple(lines),
    )  # fmt: skip


@pytest.mark.parametrize("heights", [(0.9,), (1.0, 1.01, 1.02, 1.03), (6.0, 6.0, 6.1), (3.0, 0.4)])
@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_labels_never_overlap(heights, units):
    shown = picture(heights, family="draw length" if len(heights) > 1 else "")
    figure = draw_sweep(shown, units=units)
    figure.canvas.draw()
    page = figure.bbox
    texts = [*figure.texts, *figure.axes[0].texts, *figure.legends[0].get_texts()]
    boxes = [(one.get_text(), one.get_window_extent()) for one in texts if one.get_text()]
    assert any(text == "as in the case" for text, _ in boxes)
    for (one, here), (other, there) in combinations(boxes, 2):
        assert not here.overlaps(there), (one, other)
    for text, box in boxes:
        assert page.x0 <= box.x0 <= box.x1 <= page.x1, text
        assert page.y0 <= box.y0 <= box.y1 <= page.y1, text
