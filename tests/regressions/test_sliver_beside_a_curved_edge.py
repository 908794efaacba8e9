"""An edge that waves between stations turned the sliver beside it inside out."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import trapezoid
from scipy.interpolate import CubicSpline

from limbfe.defect import mesh as mesher
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip
from limbfe.fem.mesh import quadrature, turned_over
from limbfe.fem.quadrature import triangle_rule

EDGE = 1e-6 * np.array([
    13592.3, 13847.1, 14101.3, 14367.4, 14640.6, 14907.7, 15160.7, 15400.7, 15618.9, 15809.3,
    15964.9, 16103.7, 16224.9, 16329.4, 16436.1, 16530.2, 16585.6, 16589.9, 16584.3, 16575.2,
    16564.3, 16544.1, 16512.9, 16486.1, 16478.6,
])  # fmt: skip
X = -0.6753810 + 0.0040562260 * np.arange(len(EDGE))
KNOT = Ellipse(x=-0.6267063, y=-0.588069e-3, a=1.474044e-3, b=1.474055e-3)


def test_the_sliver_keeps_a_straight_side(monkeypatch):
    bent = []
    upright = mesher._upright

    def spy(mesh, nodes):
        bent.append(turned_over(replace(mesh, nodes=nodes)))
        return upright(mesh, nodes)

    monkeypatch.setattr(mesher, "_upright", spy)
    strip = Strip(x=X, right=-EDGE, left=EDGE)
    made = mesher.strip_mesh(strip, (KNOT,), Fineness(near=1e-3, growth=0.3, across=6, around=28))
    assert bent[0].any(), "this strip no longer makes such a sliver: find another"
    at = quadrature(made.mesh, *triangle_rule(4))
    x = np.linspace(X[0], X[-1], 4001)
    area = 2.0 * trapezoid(CubicSpline(X, EDGE)(x), x)
    assert at.weights.sum() == pytest.approx(area, rel=1e-4)
