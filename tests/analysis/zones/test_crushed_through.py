"""A zone's sections give way on the scale of the limb's own, so that none is judged milder."""

from types import SimpleNamespace

import numpy as np
import pytest

from limbfe.analysis.zones.own_sections import _through
from limbfe.wood.bar import HOLDS, bent_bar, strength_reached
from limbfe.wood.belly import BellyLaw, crushed_strain

LAW = BellyLaw(
    modulus=np.full(4, 10e9), crushing=np.full(4, 50e6), limit=np.full(4, 35e6),
    plateau=np.full(4, 45e6),
)  # fmt: skip


def test_clear_wood_gives_way_where_a_bar_of_it_breaks():
    """The modulus of rupture is the nominal stress at that shortening: definition of the test.

    Half of it is no more than half; beyond it the limb's own scale goes on.
    """
    bar = bent_bar(LAW, np.full(4, 90e6))
    assert bar.broken[0] < HOLDS * crushed_strain(10e9, 45e6)  # the back breaks first
    pressed = bar.broken * [0.5, 1.0, 1.05, 1.05]
    shortened = pressed / crushed_strain(10e9, 45e6)
    clear = np.array([True, True, True, False])
    used = _through(SimpleNamespace(clear=clear, shortened=shortened, bar=bar), pressed)
    assert used[:3] == pytest.approx([0.5, 1.0, 1.05], rel=1e-12)
    assert used[1:3] == pytest.approx(strength_reached(bar, pressed)[1:3], rel=1e-9)
    # wood that is no bar holds to the end of its plateau
    assert used[3] == pytest.approx(shortened[3] / HOLDS)
    assert used[3] < used[2]
