"""The wood left at a zone: full thickness over it, faired out to both ends; geometry."""

import numpy as np
import pytest

from limbfe.studies.size.mend import _Bump

BUMP = _Bump(label="knot A", x=0.30, flat=0.01, ends=(0.26, 0.35), factor=1.2)


def test_it_settles_what_lies_inside_its_ends_and_nothing_else():
    x = np.array([-0.30, 0.0, 0.20, 0.26, 0.28, 0.30, 0.34, 0.35, 0.40, 0.80])
    assert BUMP.holds(x).tolist() == [False] * 4 + [True] * 3 + [False] * 3


def test_it_is_full_over_the_zone_and_gone_at_its_ends():
    x = np.array([0.1, 0.26, 0.275, 0.29, 0.30, 0.31, 0.33, 0.35, 0.5])
    assert BUMP.at(x) == pytest.approx([1.0, 1.0, 1.1, 1.2, 1.2, 1.2, 1.1, 1.0, 1.0])
