"""A column of yielding fibres: tangent-modulus and reduced-modulus load.

F. R. Shanley, Inelastic column theory, Journal of the Aeronautical Sciences 14 (1947), 261-268, and
Th. von Karman (1910), both from memory: under a load that stays, a straight column all of whose
fibres are being crushed leaves its line at the tangent-modulus load ``P_t = (pi/L)^2 E_t I`` only
if the load grows with it, and stands up to the reduced-modulus load ``P_r = (pi/L)^2 E_r I``.  Two
thin flanges have ``E_r = 2 E E_t / (E + E_t)``, a rectangle ``4 E E_t / (sqrt(E) + sqrt(E_t))^2``.

The column is the half wave of a pinned bar: its axial rate and its curvature.  What is tested is
the package's own search for the fibres a movement loads.
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from limbfe.analysis.bow import standing
from limbfe.section.yielding.fibre_law import FibreLaw
from limbfe.section.yielding.inelastic import FibreSection, fibre_response
from limbfe.section.yielding.pressing import pressed_section

E, TANGENT, LENGTH = 10e9, 3e9, 1.0
WIDTH, DEPTH = 0.03, 0.015


def column(z: np.ndarray, area: np.ndarray) -> tuple[SimpleNamespace, SimpleNamespace]:
    """Return the state of a column and its section, every fibre crushed and being crushed."""
    fibre = np.zeros((1, 1, len(z), 6))
    fibre[..., 0], fibre[..., 4] = 1.0, z
    weights = area[None, None]
    rows = fibre[0, 0]
    K = (E * area[:, None, None] * rows[:, :, None] * rows[:, None]).sum(axis=0)
    slope = E * TANGENT / (E - TANGENT)  # of stress over crushing: E slope / (E + slope) = E_t
    full = np.ones_like(weights)
    law = FibreLaw(
        modulus=E * full, start=40e6 * full[None], slope=slope * full[None], level=0.0 * full
    )
    section = FibreSection(
        solution=SimpleNamespace(K=K[None]),
        points=np.stack([0.0 * z, z], axis=-1)[None, None],
        weights=weights,
        loads=K[None],
        grain=np.broadcast_to([1.0, 0.0, 0.0], (1, 1, len(z), 3)),
        fibre=fibre,
        law=law,
    )
    strains = np.zeros((1, 6))
    strains[0, 0] = -0.008
    plastic = fibre_response(section, strains, np.zeros_like(weights)).plastic
    assert (plastic > 0.0).all()
    pressed = pressed_section(section, plastic, strains)
    return SimpleNamespace(strains=strains[None]), pressed


def least_stiffness(monkeypatch: pytest.MonkeyPatch, state, pressed, load: float) -> float:
    def modes(_bow, _state, tangent, _count):
        """The pinned half wave under a load that stays: axial strain and curvature over depth."""
        stiff = tangent[0, 0][np.ix_([0, 4], [0, 4])].copy()
        stiff[1, 1] -= load * (LENGTH / np.pi) ** 2
        scale = np.array([1.0, 1.0 / DEPTH])
        values, shapes = np.linalg.eigh(scale[:, None] * stiff * scale)
        rates = np.zeros((2, 1, 1, 6))
        rates[:, 0, 0, [0, 4]] = (scale[:, None] * shapes).T
        return values, rates

    monkeypatch.setattr(standing, "softest_modes", modes)
    return standing.standing_margin(None, state, pressed)


def flanges() -> tuple[np.ndarray, np.ndarray, float, float]:
    z, area = 0.5 * DEPTH * np.array([-1.0, 1.0]), 0.5 * WIDTH * DEPTH * np.ones(2)
    return z, area, WIDTH * DEPTH**3 / 4.0, 2.0 * E * TANGENT / (E + TANGENT)


def rectangle() -> tuple[np.ndarray, np.ndarray, float, float]:
    count = 400
    z = DEPTH * ((np.arange(count) + 0.5) / count - 0.5)
    area = np.full(count, WIDTH * DEPTH / count)
    reduced = 4.0 * E * TANGENT / (np.sqrt(E) + np.sqrt(TANGENT)) ** 2
    return z, area, WIDTH * DEPTH**3 / 12.0, reduced


@pytest.mark.parametrize("shape", [flanges, rectangle])
def test_it_stands_up_to_the_reduced_modulus_load(monkeypatch, shape):
    z, area, inertia, reduced = shape()
    state, pressed = column(z, area)
    bears = (np.pi / LENGTH) ** 2 * reduced * inertia
    assert TANGENT < reduced < E
    assert least_stiffness(monkeypatch, state, pressed, 0.999 * bears) > 0.0
    assert least_stiffness(monkeypatch, state, pressed, 1.001 * bears) < 0.0


def test_the_load_of_the_tangent_modulus_is_borne(monkeypatch):
    z, area, inertia, _ = flanges()
    state, pressed = column(z, area)
    leaves = (np.pi / LENGTH) ** 2 * TANGENT * inertia
    assert least_stiffness(monkeypatch, state, pressed, 1.05 * leaves) > 0.0
