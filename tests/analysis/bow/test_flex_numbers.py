"""What a pull on a long string hands on: SI inside, the unit in every key outside."""

import numpy as np
import pytest

from limbfe.analysis.bow.flex import Flex


def test_keys_in_millimetres_hold_the_metres_of_the_object():
    rng = np.random.default_rng(5)
    flex = Flex(
        force=rng.uniform(50, 200, 3), draw_length=rng.uniform(0.1, 0.4, 3),
        tips=rng.uniform(0.05, 0.2, (3, 2)), x=np.array([-0.4, 0.5]),
        down=rng.uniform(0.0, 0.1, (3, 2)), even_down=rng.uniform(0.0, 0.1, 2),
        even_strain=np.array([4e-3, 5e-3]), bending=np.array([0.9, 1.2]),
        stiffness=np.array([1.1, np.nan]),
    )  # fmt: skip
    told = flex.to_dict()
    for key, metres in (
        ("draw_length_mm", flex.draw_length),
        ("lower_tip_mm", flex.tips[:, 0]),
        ("upper_tip_mm", flex.tips[:, 1]),
        ("at_mm", flex.x),
        ("down_mm", flex.down),
        ("even_down_mm", flex.even_down),
    ):
        assert np.array(told[key]) * 1e-3 == pytest.approx(metres, rel=1e-12), key
    assert told["even_strain"] == {"lower": 4e-3, "upper": 5e-3}
    assert told["stiffness_over_other_limb"] == [1.1, None]
