"""A wanted bow, unequal in its limbs, and logs to lay it in."""

import numpy as np
import pytest

from limbfe.log.layout.strength import ZoneStrength, width_table
from limbfe.stave.stave import Grain, Outline, Stave
from limbfe.wood import make_wood

S = np.array([-0.80, -0.4, -0.1, 0.0, 0.1, 0.45, 0.85])


@pytest.fixture(scope="session")
def wanted():
    return bow(S)


def bow(x, width=None):
    zero = np.zeros(len(x))
    wide = np.array([12, 34, 36, 30, 36, 35, 12]) * 1e-3 if width is None else width
    return Stave(
        x=x,
        width=wide,
        thickness=np.array([10, 14, 18, 28, 18, 14, 10]) * 1e-3,
        sapwood=zero,
        lean=zero,
        backing=zero,
        reflex=zero,
        sideways=zero,
        twist=zero,
        outline=Outline(crown=np.array(np.inf), belly="flat", belly_corner=0.0),
        grain=Grain(
            ring_radius=np.array(np.inf),
            run_out=np.array(0.0),
            sideways_grain=np.array(0.0),
            spiral=np.array(0.0),
        ),
        heartwood=make_wood(name="whole", species="European ash", moisture=0.11, given={}, cov={}),
        sapwood_wood=None,
        backing_wood=None,
        knots=(),
        decays=(),
        stiff_length=0.1,
    )


@pytest.fixture(scope="session")
def strength():
    s = np.linspace(-0.85, 0.9, 71)
    clear = np.where(np.abs(s) < 0.05, 0.0, 0.7 * (1.0 - (s / 0.95) ** 4))
    return ZoneStrength(
        s=s,
        back=clear,
        belly=clear,
        tables={"dead": width_table(np.linspace(0.0, 0.8, 9), np.linspace(0.0, 1.0, 5))},
        tabulated=False,
    )
