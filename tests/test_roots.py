import math
import subprocess
import sys

import numpy as np
import pytest
from scipy.optimize import brentq

from limbfe.roots import find_root

FUNCTIONS = {
    "cosine": (lambda x: math.cos(x) - x, 0.0, 2.0),
    "steep": (lambda x: math.expm1(30.0 * (x - 0.3)), -1.0, 2.0),
    "nearly flat at its root": (lambda x: 1e-3 * (x - 1.0 / 3.0) + (x - 1.0 / 3.0) ** 3, -1.0, 2.0),
    "a kink": (lambda x: x - 0.1 if x < 0.2 else 40.0 * (x - 0.1975), 0.0, 3.0),
    "a jump": (lambda x: 1.0 if x > 0.77 else -0.5, 0.0, 1.0),
    "falling": (lambda x: 2.0 - x**3, 0.0, 5.0),
    "from above": (lambda x: x**3 - 2.0, 5.0, 0.0),
    "far": (lambda x: x - 1e7, 0.0, 3e8),
    "an end": (lambda x: x * (x - 4.0), 0.0, 3.0),
    "the other end": (lambda x: x - 3.0, 0.0, 3.0),
}


@pytest.mark.parametrize("name", FUNCTIONS)
@pytest.mark.parametrize(("within", "relative"), [(1e-10, 1e-9), (1e-13, None), (0.01, None)])
def test_the_steps_are_those_of_scipy(name, within, relative):
    function, low, high = FUNCTIONS[name]

    def noting(places):
        return lambda x: places.append(x) or function(x)

    mine, theirs = [], []
    more = {} if relative is None else {"relative": relative}
    found = find_root(noting(mine), low, high, within=within, **more)
    more = {} if relative is None else {"rtol": relative}
    assert found == brentq(noting(theirs), low, high, xtol=within, **more)
    assert mine == theirs


def test_the_same_sign_at_both_ends_is_refused():
    with pytest.raises(ValueError, match="no change of sign"):
        find_root(lambda x: x * x + 1.0, -1.0, 2.0, within=1e-9)


def test_what_is_no_number_is_refused():
    with pytest.raises(ValueError, match="no number"):
        find_root(lambda x: -1.0 if x == 0.0 else np.nan if x < 2.0 else 1.0, 0.0, 2.0, within=1e-9)


def test_what_is_judged_loads_no_optimisation():
    code = (
        "import sys\n"
        "import limbfe.analysis.assess, limbfe.report.assess, limbfe.failure.local\n"
        "print('scipy.optimize' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_steps_without_end_are_refused_as_by_scipy():
    def flat(x):
        return (x - 1.0 / 3.0) ** 9

    with pytest.raises(RuntimeError):
        brentq(flat, -1.0, 2.0, xtol=1e-13)
    with pytest.raises(RuntimeError, match="no root was found"):
        find_root(flat, -1.0, 2.0, within=1e-13)
