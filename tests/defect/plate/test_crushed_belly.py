"""A board whose belly is crushed past its peak: one answer, whatever the mesh."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.analysis.bow.yielding import wood_law
from limbfe.analysis.zones.crushed_belly import CrushedBelly
from limbfe.defect.plate import soften
from limbfe.defect.plate.body import from_the_side, mesh_body
from limbfe.defect.plate.spread import spread_along
from limbfe.defect.strip import Ellipse
from limbfe.section.yielding.fibre_law import crush
from limbfe.wood.bar import belly_law

from ...boards import board, hole_through, meshed_board

B, H, L = 0.024, 0.022, 0.10
PAST_PEAK = 166.0
"""Moment, N m, that crushes the belly beside a hole past its peak."""


def softening(stave, plane="flat"):
    strains = np.zeros((len(stave.x), 6))
    return CrushedBelly(stations=stave.x, strains=strains, stave=stave, plane=plane)


def test_what_is_straight_across_the_limb_stays_so():
    """Means along the limb of a field that runs straight across it are the field, to rounding."""
    stave = board(B, H)
    meshed = meshed_board(stave, stave.heartwood.elasticity, length=L, near=4e-3)
    weight = meshed.at.weights / meshed.at.weights.sum(axis=1, keepdims=True)
    field = 0.3 + 40.0 * meshed.at.points[..., 1]
    spread = spread_along(meshed) @ (weight * field).sum(axis=1)
    assert spread == pytest.approx(field.ravel(), abs=1e-12)


def test_wood_crushed_alike_follows_the_law_and_a_hot_spot_keeps_its_peak():
    """Strain alike over a length of limb: the fibre's own law; one place alone does not soften."""
    stave = board(B, H)
    z = np.linspace(-7e-3, 7e-3, 5)[None]
    modulus = np.full(z.shape, stave.heartwood.elasticity.E_L)
    left = softening(stave)(np.zeros((1, 2)), z, modulus)
    points = np.stack([np.zeros(z.shape), z], axis=-1)
    law = wood_law(stave, np.zeros(1), points, modulus)
    for strain in (-0.002, -0.004, -0.006, -0.009, -0.02):
        alike = np.full(z.shape, strain)
        stress = crush(law, alike, np.zeros(z.shape))[0]
        assert left(alike, alike) * modulus * alike == pytest.approx(stress, rel=1e-12)
    spot, beside = np.full(z.shape, -0.02), np.full(z.shape, -0.002)
    crushing = float(belly_law(stave.heartwood).crushing)
    assert -left(spot, beside) * modulus * spot == pytest.approx(crushing, rel=1e-6)


def test_a_limb_on_edge_settles_whatever_the_mesh():
    """Bent past its peak beside a hole, with straight sections: strain to a hundredth.

    Point by point the same law finds no end under this load on either mesh.
    """
    stave = board(B, H)
    hole = hole_through(Ellipse(x=0.0, y=0.0, a=3e-3, b=3e-3), B)
    wood = stave.heartwood.elasticity
    meshed = meshed_board(stave, wood, length=L, plane="side", knots=(hole,), near=4e-3)
    moment = from_the_side(np.array([0.0, 0.0, 0.0, 0.0, PAST_PEAK, 0.0]))
    body = replace(meshed.body, resultants=moment)
    found = []
    for near in (3e-3, 1.8e-3):
        finer = replace(soften.COARSE, near=near, across=4.0 * 3e-3 / near)
        meshed = mesh_body(body, finer)
        strains, spread = soften._settled(meshed, softening(stave, "side"))
        mean = soften._along(meshed, spread.reshape(len(meshed.points), -1, 3))
        assert mean.min() < -0.008
        along = strains[..., 0, 0]
        area = meshed.at.weights
        found.append([(area * along**k).sum() / area.sum() for k in (1, 2)])
    assert found[1] == pytest.approx(found[0], rel=0.01)
