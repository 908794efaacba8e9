"""The picture of what a shaving changes: every number of the map is on it."""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.analysis.rates.shave import ShaveMap, Shaving
from limbfe.analysis.wood.hot_spots import HotSpot
from limbfe.view.study.shave import draw_shave, write_shave


@pytest.fixture(scope="module")
def found() -> ShaveMap:
    x = np.array([-0.8, -0.4, 0.0, 0.45, 0.85])

    def shaving(amount: float) -> Shaving:
        return Shaving(
            amount=amount,
            draw_weight=-amount * np.array([50.0, 2000.0, 10.0, 2500.0, 40.0]),
            energy=-amount * np.array([20.0, 600.0, 5.0, 700.0, 15.0]),
            worst=0.9 + amount * np.array([0.0, 40.0, -1.0, 70.0, -3.0]),
            worst_at=np.array([0.45, -0.41, 0.45, 0.46, 0.45]),
            tiller_braced=amount * np.array([1.0, -5.0, 0.0, 6.0, -1.0]),
            tiller_drawn=amount * np.array([1.0, -9.0, 0.0, 11.0, -1.0]),
        )

    return ShaveMap(
        title="Test bow",
        x=x,
        width=np.full(5, 0.03),
        thickness=np.array([0.01, 0.015, 0.025, 0.016, 0.01]),
        stiff_length=0.1,
        draw_length=0.7,
        draw_weight=200.0,
        energy=60.0,
        worst=HotSpot(
            limb="upper",
            at=0.45,
            across=0.0,
            depth=0.016,
            face="belly",
            stress=-5e7,
            strain=-0.009,
            mode="compression",
            strength_used=0.9,
        ),
        belly=shaving(5e-4),
        sides=shaving(1e-3),
        warnings=(),
    )


def test_bars_stand_at_the_stations_with_the_map_s_values(found):
    _, weight, used, tiller = draw_shave(found, units="imperial").axes
    heights = [bar.get_height() for bar in weight.patches[:10]]
    assert heights[:5] == pytest.approx(-found.belly.draw_weight / 4.4482216152605)
    assert heights[5:] == pytest.approx(-found.sides.draw_weight / 4.4482216152605)
    middles = [bar.get_x() + 0.5 * bar.get_width() for bar in weight.patches[:10]]
    pairs = 0.5 * (np.array(middles[:5]) + middles[5:])
    assert pairs == pytest.approx(found.x / 0.0254)
    assert used.patches[3].get_height() == pytest.approx(3.5)
    assert tiller.patches[1].get_height() == pytest.approx(-0.0025 / 0.0254)


def test_it_is_written(found, tmp_path):
    assert write_shave(found, tmp_path / "shave.png").stat().st_size > 20_000
