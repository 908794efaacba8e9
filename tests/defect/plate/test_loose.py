"""Loose knots that an edge cuts: what nothing holds carries nothing, and is no mechanism."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.analysis.piece.piece import outline_between
from limbfe.defect.plate.body import PlateBody, body_plate, mesh_body
from limbfe.defect.plate.plate import solve_plate
from limbfe.defect.plate.wood import PlateWood, Pressed
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse
from limbfe.stave.stave import Outline

from ...boards import STRAIGHT, board, hole_through, isotropic

B, H, R = 0.040, 0.018, 0.004
WOOD = isotropic()
HELD, LOOSE = 10e9, Pressed(10e9, sides=True)


def round_limb(y, state, near=0.7e-3):
    """A piece of limb with a round belly and a knot through it at y, whose edge is thin."""
    stave = replace(board(B, H), outline=Outline(crown=np.inf, belly="round", belly_corner=0.0))
    knot = replace(
        hole_through(Ellipse(x=0.0, y=y, a=R, b=R), H), state=state, modulus=None, diverts=True
    )
    wood = PlateWood(
        stave=stave, woods=(WOOD,) * 3, knots=(knot,), decays=(), grading=0.5, grain=STRAIGHT
    )
    strip = outline_between(stave, -0.05, 0.05)
    body = PlateBody(strip=strip, wood=wood, resultants=np.zeros(6))
    return mesh_body(body, Fineness(near=near, growth=0.4), hollow=False)


def give(meshed, held, member="quick"):
    return np.diag(solve_plate(body_plate(meshed, (held,), member)).give)


def test_an_edge_may_cut_a_loose_knot():
    """At a round limb's edge the depth runs out; in full a plate there was near to a mechanism.

    A piece of wood stiffens the limb the less, the less holds it: grown in, loose, fallen out.
    """
    meshed = round_limb(0.475 * B, "dead")
    grown, loose, gone = (give(meshed, held, "full") for held in (HELD, LOOSE, None))
    assert np.all(grown <= loose * (1.0 + 1e-9))
    assert np.all(loose <= gone * (1.0 + 1e-9))


def test_less_than_half_a_loose_knot_has_fallen_out():
    """Wood opens outwards round it and pushes it out, friction left out: statics of a wedge."""
    meshed = round_limb(0.525 * B, "dead", near=1.5e-3)
    # the shear of what stands for nothing is not quite the same
    assert give(meshed, LOOSE) == pytest.approx(give(meshed, None), rel=1e-6)
    inside = round_limb(0.3 * B, "dead", near=1.5e-3)
    assert give(inside, LOOSE)[1] < 0.999 * give(inside, None)[1]


def test_a_void_is_as_good_as_a_hole():
    """What stands for nothing where it has elements adds less than a thousandth."""
    meshed = round_limb(0.45 * B, "missing", near=1.5e-3)
    hole = mesh_body(meshed.body, Fineness(near=1.5e-3, growth=0.4), hollow=True)
    assert not np.isin(1, hole.mesh.mesh.region)
    assert give(meshed, None) == pytest.approx(give(hole, None), rel=1e-3)
