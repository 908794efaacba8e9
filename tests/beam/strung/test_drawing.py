"""Bracing and drawing: figures from outside, energy, quadratic convergence."""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.beam import brace, draw

from ..make import bow_1800


@pytest.fixture(scope="module")
def drawn():
    bow = bow_1800()
    braced = brace(bow, height=0.150)
    return bow, braced, draw(bow, braced, np.linspace(0.15, 0.7, 31)[1:])


def test_full_draw_force_of_the_1800_mm_bow(drawn):
    # Independent shooting solution of the boundary-value problem (rtol 1e-11), no shear.
    _, _, history = drawn
    assert history.force[-1] == pytest.approx(274.656, rel=4e-6)


def test_work_of_the_draw_force_is_the_change_of_energy(drawn):
    bow, braced, _ = drawn
    # Gauss-Legendre points of the draw length, since the force is smooth
    x, w = np.polynomial.legendre.leggauss(12)
    start = braced.draw_length
    lengths = 0.5 * (start + 0.7) + 0.5 * (0.7 - start) * x
    history = draw(bow, braced, [*lengths, 0.7])
    work = 0.5 * (0.7 - start) * (w @ history.force[:-1])
    change = history.energy[-1] - braced.strain_energy - braced.string_energy
    assert work == pytest.approx(change, rel=1e-8)


def test_newton_converges_quadratically(drawn):
    bow, braced, _ = drawn
    residuals = np.array(draw(bow, braced, [0.45]).states[0].residuals)
    errors = np.log(residuals[(residuals < 0.5) & (residuals > 1e-9)])
    order = np.diff(errors)[1:] / np.diff(errors)[:-1]
    assert len(order) >= 1
    assert order[-1] > 1.8
    assert residuals[-1] < 1e-9
