"""Wood that answers late: what its arms add up to at a frequency."""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.wood.creep import SHORT, late_share


@pytest.mark.parametrize("loss", [0.005, 0.03])
def test_arms_a_decade_apart_lose_the_same_share_at_every_frequency(loss: float):
    # Maxwell arms side by side (closed): K (1 + sum g i w t / (1 + i w t)); a loss factor that does
    # not change with the frequency is common practice for wood from 1 Hz to some kHz
    turns = 2.0 * np.pi * np.geomspace(1.0, 2000.0, 50)[:, None] * SHORT
    stiffness = 1.0 + late_share(loss) * (1j * turns / (1.0 + 1j * turns)).sum(axis=1)
    assert stiffness.imag == pytest.approx(loss, rel=0.06)
    assert stiffness.imag.mean() == pytest.approx(loss, rel=0.01)
    # the stiffness rises with it, by 1.5 loss factors a decade (Kramers and Kronig)
    assert np.log10(2000.0) * late_share(loss) == pytest.approx(np.ptp(stiffness.real), rel=0.1)
