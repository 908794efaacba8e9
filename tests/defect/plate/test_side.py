"""A limb looked at from its side: its plate has belly and back for edges."""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.defect.plate.body import body_plate, from_the_side
from limbfe.defect.plate.plate import solve_plate
from limbfe.defect.plate.profiles import values
from limbfe.defect.plate.strain import function_strains
from limbfe.defect.strip import Ellipse

from ...boards import board, hole_through, isotropic, meshed_board

B, H, L = 0.03, 0.018, 0.12
UNIT = {"N": 0, "Vy": 1, "Vz": 2, "My": 4, "Mz": 5}


@pytest.mark.parametrize("load", UNIT)
def test_a_board_bends_as_a_beam(load):
    """Axial stress ``N/A + z (My + Vz x)/I_y - y (Mz - Vy x)/I_z`` of the section: statics."""
    wood = isotropic(nu=0.0)
    meshed = meshed_board(board(B, H), wood, length=L, plane="side", near=4e-3)
    section = np.zeros(6)
    section[UNIT[load]] = 1.0
    solved = solve_plate(body_plate(meshed, (), "full"))
    strains = function_strains(solved.plate, solved.displacement @ from_the_side(section))
    x, height = meshed.at.points[..., 0], meshed.at.points[..., 1]
    middle = np.abs(x) < 0.25 * L
    for y in (-0.4 * B, 0.0, 0.3 * B):
        F, _ = values(solved.plate.profiles, np.full(x.shape, y))
        axial = wood.E_L * np.einsum("kmq,mqk->mq", F, strains[..., 0])
        N, Vy, Vz, _, My, Mz = section
        beam = N / (B * H) + height * (My + Vz * x) / (B * H**3 / 12)
        beam = beam - y * (Mz - Vy * x) / (H * B**3 / 12)
        scale = max(np.abs(beam).max(), 1.0 / (B * H))
        assert np.abs(axial - beam)[middle].max() < 0.01 * scale


def test_a_hole_on_the_middle_line_of_a_bent_beam():
    """Twice the stress ``M a / I`` at the rim's top: ``M a / I (sin t - sin 3t)`` round it.

    Of an infinite plate of isotropic material in linear stress; R. E. Peterson, Stress
    Concentration Factors (1974), in-plane bending of a beam with a central hole (from memory); the
    hole takes a twelfth of the height, by which the formula is good to a hundredth.
    """
    h, a = 0.06, 2.5e-3
    wood = isotropic()
    hole = hole_through(Ellipse(x=0.0, y=0.0, a=a, b=a), 0.02)
    meshed = meshed_board(board(0.01, h), wood, length=0.16, plane="side", knots=(hole,), near=3e-4)
    solved = solve_plate(body_plate(meshed, (None,), "full"))
    moved = solved.displacement @ from_the_side(np.array([0.0, 0.0, 0.0, 0.0, 1.0, 0.0]))
    sides = meshed.mesh.rims[0]
    nodes = meshed.mesh.mesh.nodes
    ends, move = nodes[sides[:, [0, 2]]], moved[sides[:, [0, 2]], :2]
    along = ends[:, 1] - ends[:, 0]
    length = np.linalg.norm(along, axis=1)
    hoop = wood.E_L * ((move[:, 1] - move[:, 0]) * along).sum(axis=1) / length**2
    t = np.arctan2(*nodes[sides[:, 1]].T[::-1])
    nominal = a / (0.01 * h**3 / 12)
    expected = nominal * (np.sin(t) - np.sin(3.0 * t))
    assert np.abs(hoop - expected).max() < 0.02 * 2.0 * nominal
    assert hoop.max() == pytest.approx(2.0 * nominal, rel=0.015)
