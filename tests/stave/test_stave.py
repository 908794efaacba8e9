"""Staves that cannot exist are refused, and say why."""

import numpy as np
import pytest

from limbfe.errors import GeometryError, MaterialError

ONES = np.ones(13)
STATIONS = np.linspace(-0.9, 0.85, 13)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"width": np.ones(5)}, "column width has 5 values for 13 stations"),
        ({"x": STATIONS[::-1]}, "stations must increase"),
        ({"x": STATIONS + 1.0}, r"middle of the grip \(0\) must lie"),
        ({"x": STATIONS, "thickness": STATIONS}, r"thickness = -0\.9 m at station -0\.9 m"),
        ({"width": np.nan * ONES}, "column width holds a value that is not a finite number"),
        ({"crown": 0.017}, r"less than half the width at station 0\.11 m"),
        ({"crown": 0.0}, "crown = 0 m"),
        ({"crown": 0.018, "thickness": 0.013 * ONES}, "the arch of the back is"),
        ({"belly": "square"}, 'belly = "square"'),
        ({"belly": "corner", "belly_corner": 0.006}, r"at most 0\.0055 m"),
        ({"stiff_length": 1.8}, r"stiff length = 1\.8 m"),
        ({"ring_radius": -0.1}, r"ring radius = -0\.1 m"),
        ({"run_out": 1.6}, r"run_out = 1\.6 rad"),
        ({"lean": 2.0 * ONES}, "lean"),
        ({"sapwood": -0.001 * ONES}, "cannot be negative"),
        ({"sapwood": 0.012 * ONES}, "leave some heartwood"),
    ],
)
def test_impossible_geometry_is_refused(make_stave, changes, words):
    with pytest.raises(GeometryError, match=words):
        make_stave(**changes)


def test_a_layer_needs_its_wood_and_a_wood_its_layer(make_stave, woods):
    with pytest.raises(MaterialError, match=r"no \[wood\.backing\]"):
        make_stave(backing=0.002 * ONES)
    with pytest.raises(MaterialError, match="no sapwood thickness"):
        make_stave(sapwood=0.0 * ONES)
    make_stave(backing=0.002 * ONES, backing_wood=woods["sapwood_wood"])


def test_columns_cannot_be_written(make_stave):
    stave = make_stave()
    with pytest.raises(ValueError, match="read-only"):
        stave.width[3] = 0.02
