"""A patch and a cone of a knot in a bent board, beside a solid of it made with scikit-fem.

Own solids: a quarter of the board in 27-node bricks, plane ends, faces free; 1.7 times the bricks
moved them by 2e-4.  The wood at a point is the plate's own field, so that it is the mechanics of
the plate that is compared: common deflection, no stress through the depth, cubic displacements.
Demanded: flexibility 3 %, fibre stress over the outer 2 mm of depth -3 to +5 %.  Found: patch -0.1
and +2.5 %, cone 0.0 and -0.5 %.  Opening beside the cone is not compared.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.defect.plane import plane_stiffness
from limbfe.defect.plate.body import body_plate, member_profiles, mesh_body
from limbfe.defect.plate.plate import solve_plate
from limbfe.defect.plate.profiles import values
from limbfe.defect.plate.strain import function_strains
from limbfe.defect.plate.wood import faces_at, wood_at
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse
from limbfe.stave.decay import Decay
from limbfe.wood.decay import DecayEffect
from tests.boards import board, hole_through, meshed_board
from tests.bricks import bricks, factor, stiffness, strain
from tests.failure.zones import WOOD

pytestmark = pytest.mark.slow

WIDTH, THICK, LENGTH = 40e-3, 15e-3, 120e-3
KNOT, POISSON = 2e9, 0.3
OUTER = 2e-3
X = 1e-3 * np.array([0, 2, 4, 6, 8, 11, 14, 18, 26, 40, 60])
Y = 1e-3 * np.array([0, 2, 4, 6, 9, 12, 16, 20])
Z = 1e-3 * np.array([-7.5, -5, -2, 1, 3.5, 5.5, 7.5])


def turned(angle):
    """Strain in axes turned by an angle about z, from that in fixed ones (Voigt 23, 13, 12)."""
    c, s = np.cos(angle), np.sin(angle)
    T = np.zeros((*angle.shape, 6, 6))
    T[..., 0, 0] = T[..., 1, 1] = c * c
    T[..., 0, 1] = T[..., 1, 0] = s * s
    T[..., 0, 5], T[..., 1, 5] = c * s, -c * s
    T[..., 5, 0], T[..., 5, 1], T[..., 5, 5] = -2 * c * s, 2 * c * s, c * c - s * s
    T[..., 2, 2] = 1.0
    T[..., 3, 3] = T[..., 4, 4] = c
    T[..., 3, 4], T[..., 4, 3] = -s, s
    return T


def field(wood, at):
    """Stiffness of the solid at points (3, m, q), from the plate's own wood."""
    flat = at.reshape(3, -1)
    points = flat[:2].T
    here = wood_at(wood, points, faces_at(wood, points), flat[2][:, None])
    T = turned(here.angle[:, 0])
    C = here.E[:, 0, None, None] * np.einsum("pji,jk,pkl->pil", T, stiffness(WOOD), T)
    lame, G = KNOT * POISSON / (1 + POISSON) / (1 - 2 * POISSON), KNOT / 2 / (1 + POISSON)
    grown = np.diag([2 * G] * 3 + [G] * 3)
    grown[:3, :3] += lame
    C[here.inside[:, 0] >= 0] = grown
    return C.reshape(*at.shape[1:], 6, 6)


def solid(wood, window):
    """Turn of the ends (rad) and mean stress along the board in a window (Pa), under 1 N m."""
    skfem = pytest.importorskip("skfem")
    mesh = skfem.MeshHex.init_tensor(X, Y, Z)
    basis, K, along = bricks(mesh, lambda at: field(wood, at), 5)
    x, y, z = basis.doflocs
    end = (np.abs(x - X[-1]) < 1e-9) & (along == 0)
    held = end | ((x < 1e-9) & (along == 0)) | ((y < 1e-9) & (along == 1))
    corner = np.flatnonzero((along == 2) & (x > X[-1] - 1e-9) & (y < 1e-9) & (np.abs(z) < 1e-2))
    held[corner[0]] = True
    given = np.stack([np.where(end, 1.0, 0.0), np.where(end, z, 0.0)], axis=1)
    free = np.flatnonzero(~held)
    inner = factor(K[free][:, free])
    u = given.copy()
    u[free] = -inner.solve(np.asarray((K @ given)[free]))
    # half of the width carries half of the load, half of the length turns by half
    give = np.linalg.inv(given.T @ (K @ u))
    moved = u @ give[:, 1] / 2.0
    at = np.asarray(basis.global_coordinates())
    C = field(wood, at)
    stress = np.einsum(
        "mqj,jmq->mq", C[..., 0, :], strain(np.asarray(basis.interpolate(moved).grad))
    )
    inside = window(*at)
    return give[1, 1], float((stress * basis.dx)[inside].sum() / basis.dx[inside].sum())


def plate(meshed, moduli, window):
    """The same of the plate, a full one."""
    made = body_plate(meshed, moduli, "full")
    found = solve_plate(made)
    strains = function_strains(made, found.displacement[..., 4]).reshape(len(meshed.points), -1, 3)
    xi, weight = np.polynomial.legendre.leggauss(3)
    z = 0.5 * THICK - 0.5 * OUTER * (1.0 - xi)
    F = values(member_profiles(meshed, "full"), z)[0]
    strain = np.einsum("kn,pkc->pnc", F, strains)
    depths = np.tile(z, (len(meshed.points), 1))
    angle = wood_at(meshed.body.wood, meshed.points, meshed.faces, depths).angle
    Q = plane_stiffness(WOOD, angle, np.zeros_like(angle))
    stress = np.einsum("pnc,pnc->pn", Q[..., 0, :], strain)
    x, y = np.abs(meshed.points.T)
    inside = window(x, y, np.full_like(x, 0.5 * THICK))
    area = meshed.at.weights.ravel()[inside]
    return found.give[1, 1], float(area @ (stress[inside] @ weight / 2.0) / area.sum())


def outer(low, high):
    """A window from the middle of the board's length on, 2 mm long and deep."""
    return lambda x, y, z: (x < 2e-3) & (y > low) & (y < high) & (z > 0.5 * THICK - OUTER)


def compare(meshed, moduli, window):
    by_plate, by_solid = plate(meshed, moduli, window), solid(meshed.body.wood, window)
    assert by_plate[0] == pytest.approx(by_solid[0], rel=0.03)
    assert 0.97 < by_plate[1] / by_solid[1] < 1.05


def test_a_half_depth_patch():
    """Rot in the belly, half of the depth and as deep as it goes over half of the width."""
    names = ("tension", "compression", "shear", "across", "toughness")
    rot = Decay(
        name="A", limb="upper", face="belly", center=np.array([0.0, 0.0, -0.5 * THICK]),
        semi_axes=np.array([16e-3, 12e-3, 0.5 * THICK]), stage="given", rot="given",
        effect=DecayEffect(density=1.0, E=0.2, G=0.2, **dict.fromkeys(names, 1.0)),
    )  # fmt: skip
    meshed = meshed_board(board(WIDTH, THICK), WOOD, length=LENGTH)
    body = replace(meshed.body, wood=replace(meshed.body.wood, decays=(rot,)))
    compare(mesh_body(body, Fineness(near=1.5e-3)), (), outer(0.0, 2e-3))


def test_a_cone_of_a_live_knot():
    """A knot grown in, 8 mm across on the back and 4 mm on the belly, the fibres flow round it."""
    z = np.linspace(-0.5 * THICK, 0.5 * THICK, 5)
    cone = hole_through(Ellipse(x=0.0, y=0.0, a=4e-3, b=4e-3), 0.5 * THICK)
    radius = 3e-3 + 1e-3 * z / (0.5 * THICK)
    traces = np.stack([0 * z, 0 * z, radius, radius, 0 * z])
    cone = replace(cone, state="live", diverts=True, z=z, traces=traces, poisson=POISSON)
    meshed = meshed_board(board(WIDTH, THICK), WOOD, length=LENGTH, knots=(cone,), near=0.8e-3)
    compare(meshed, (KNOT,), outer(4e-3, 6e-3))
