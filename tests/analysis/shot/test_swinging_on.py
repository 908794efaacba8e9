"""What a shot strains farther than the draw is told, by how much."""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.analysis.shot.strains import LimbStrains
from limbfe.analysis.shot.swinging_on import swinging_on
from limbfe.units import METRIC, say


def strains() -> LimbStrains:
    shape = np.zeros((1, 2))
    return LimbStrains(
        x=np.array([0.3, 0.5]), back=shape, belly=shape, back_drawn=np.array([8e-3, 7e-3]),
        belly_drawn=np.array([-9e-3, -1e-2]), belly_unstrung=np.zeros(2),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("back", "belly", "told"),
    [(8.3e-3, 1.04e-2, []), (9e-3, 1.0e-2, ["stretched by 0.90 %"]),
     (9e-3, 1.5e-2, ["stretched by 0.90 %", "shortened by 1.50 %, at full draw by 1.00 %"])],
)  # fmt: skip
def test_only_what_is_strained_farther_than_at_full_draw_is_told(back, belly, told):
    found = {"back_strain_max_after": back, "belly_strain_max_after": belly}
    words = [say(one, METRIC) for one in swinging_on(0.03, found, strains())]
    assert len(words) == len(told)
    for one, part in zip(words, told, strict=True):
        assert part in one
        assert "30.0 g" in one
