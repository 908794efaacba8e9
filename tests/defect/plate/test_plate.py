"""The layered plate against closed forms of beams and plates."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.defect.mesh import strip_mesh
from limbfe.defect.plane import plane_stiffness
from limbfe.defect.plate.assembly import node_pattern, plate_matrix
from limbfe.defect.plate.depth import gauss_columns, integrate, transverse_shear
from limbfe.defect.plate.ends import end_loads, end_of
from limbfe.defect.plate.plate import Plate, factor_plate, solve_plate
from limbfe.defect.plate.profiles import cubic, layered, plane_motion, straight, values
from limbfe.defect.plate.strain import function_strains
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip
from limbfe.fem.mesh import quadrature
from limbfe.fem.quadrature import triangle_rule
from limbfe.fem.solve import factorise, solve
from limbfe.wood.elasticity import Elasticity

H, B, L = 0.015, 0.040, 0.160
WOOD = Elasticity(
    E_L=10e9, E_R=1e9, E_T=0.7e9, G_LR=0.8e9, G_LT=0.7e9, G_RT=0.1e9,
    nu_LR=0.35, nu_LT=0.35, nu_RT=0.4,
)  # fmt: skip
MODELS = {
    "straight": straight(-H / 2, H / 2),
    "cubic": cubic(-H / 2, H / 2),
    "layers": layered(np.linspace(-H / 2, H / 2, 4)),
}


def isotropic(E=10e9, nu=0.3):
    return Elasticity(
        E_L=E, E_R=E, E_T=E, G_LR=E / 2 / (1 + nu), G_LT=E / 2 / (1 + nu), G_RT=E / 2 / (1 + nu),
        nu_LR=nu, nu_LT=nu, nu_RT=nu,
    )  # fmt: skip


def plate(profiles, wood=WOOD, *, weak=1.0, hole=None, near=4e-3, length=L, width=B, h=H):
    """A strip whose upper half is `weak` times as stiff, with a hole in the middle or none."""
    strip = Strip(x=[-length / 2, length / 2], right=[-width / 2] * 2, left=[width / 2] * 2)
    holes = () if hole is None else (Ellipse(x=0.0, y=0.0, a=hole / 2, b=hole / 2),)
    made = strip_mesh(strip, holes, Fineness(near=near), hollow=(True,) * len(holes))
    at = quadrature(made.mesh, *triangle_rule(4))
    count = at.weights.size
    columns = gauss_columns(np.tile([-h / 2, 0.0, h / 2], (count, 1)), 4)
    scale = np.where(columns.z > 0.0, weak, 1.0)
    none = np.zeros(())
    Q = plane_stiffness(wood, none, none) * scale[..., None, None]
    C_s = transverse_shear(wood.G_LR, wood.G_RT, none) * scale[..., None]

    def end(nodes):
        return end_of(made.mesh, nodes, np.full(len(nodes), -h / 2), np.full(len(nodes), h / 2))

    return Plate(
        mesh=made.mesh,
        at=at,
        profiles=profiles,
        integrals=integrate(profiles, columns, Q, C_s),
        low=end(made.low_end),
        high=end(made.high_end),
    )


@pytest.mark.parametrize("profiles", MODELS.values(), ids=MODELS)
def test_beam(profiles):
    """A free strip stretches and bends both ways as a beam, to rounding: statics."""
    solved = solve_plate(plate(profiles))
    I_y, I_z = B * H**3 / 12, B**3 * H / 12
    expected = np.diag(L / WOOD.E_L / np.array([B * H, I_y, I_z]))
    assert solved.give == pytest.approx(expected, rel=1e-8, abs=1e-12)
    for case, modulus in ((0, B * H), (4, I_y / (H / 2))):
        strains = function_strains(solved.plate, solved.displacement[..., case])
        F, _ = values(solved.plate.profiles, np.full(strains.shape[:-2], H / 2))
        strain = np.einsum("k...,...kc->...c", F, strains)
        along = 1.0 / modulus / WOOD.E_L
        assert strain[..., 0] == pytest.approx(along, rel=1e-7)
        assert strain[..., 1] == pytest.approx(-WOOD.nu_LT * along, rel=1e-7)


@pytest.mark.parametrize("profiles", MODELS.values(), ids=MODELS)
@pytest.mark.parametrize("wood", [isotropic(), WOOD], ids=["isotropic", "wood"])
def test_cylindrical_bending(profiles, wood):
    """With the sides held from moving across, kappa EI / M = 1 - nu_LT nu_TL (plate theory)."""
    made = plate(profiles, wood)
    K, n = profiles.count, len(made.mesh.nodes)
    pattern = node_pattern(made.mesh, 2 * K + 1)
    held = np.zeros((n, 2 * K + 1), dtype=bool)
    held[:, 1 : 2 * K : 2] = True
    given = np.zeros((n, 2 * K + 1))
    for end in (made.low, made.high):
        held[end.nodes, : 2 * K : 2] = True
    held[made.low.nodes[[0, -1]], 2 * K] = True
    given[made.high.nodes, : 2 * K : 2] = plane_motion(profiles)[1]
    fixed = np.flatnonzero(held.ravel())
    factor = factorise(plate_matrix(pattern, made.at, made.integrals), fixed)
    u = solve(factor, np.zeros((held.size, 1)), given.ravel()[fixed, None])
    moment = float(given.ravel()[fixed] @ (factor.coupling.T @ u)[:, 0])
    nu2 = wood.nu_LT**2 * wood.E_T / wood.E_L
    assert wood.E_L * B * H**3 / 12 / L / moment == pytest.approx(1.0 - nu2, rel=1e-6)


@pytest.mark.parametrize("wood", [isotropic(), WOOD], ids=["isotropic", "wood"])
def test_twisted_strip(wood):
    """``J = b h^3 / 3 (1 - tanh p / p)``, ``p = b / 2h sqrt(10 G_LR / G_LT)``: straight sections.

    Derived from the plate's own equations; St Venant's series lies 0.1 per cent above.  Read off
    the middle, clear of the ends, which hold the warping along the limb: in wood that is felt over
    a few widths, sqrt(E_L / G_LT) times as far as in a metal.
    """
    solved = solve_plate(plate(MODELS["straight"], wood, near=2e-3, length=0.5))
    x, y = solved.plate.mesh.nodes.T
    away = np.abs(x) < 0.06
    w = solved.displacement[away, -1, 3]
    fit = np.stack([x[away] * y[away], x[away], y[away], np.ones(away.sum())], axis=1)
    rate = np.linalg.lstsq(fit, w, rcond=None)[0][0]
    p = 0.5 * B / H * np.sqrt(10.0 * wood.G_LR / wood.G_LT)
    expected = B * H**3 / 3.0 * (1.0 - np.tanh(p) / p)
    assert 1.0 / rate / wood.G_LT == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("name", ["straight", "cubic"])
def test_cantilever(name):
    """Tip of a clamped strip: ``l^3 / 3 E I + l / (5/6 G A)``, no contraction across (statics)."""
    length, wood = 0.060, replace(isotropic(), nu_LR=0.0, nu_LT=0.0, nu_RT=0.0)
    made = plate(MODELS[name], wood, near=3e-3, length=length)
    K, n = made.profiles.count, len(made.mesh.nodes)
    held = np.zeros((n, 2 * K + 1), dtype=bool)
    held[made.low.nodes, : 2 * K : 2] = held[made.low.nodes, -1] = True
    held[made.low.nodes[0], 1] = True
    fixed = np.flatnonzero(held.ravel())
    pattern = node_pattern(made.mesh, 2 * K + 1)
    factor = factorise(plate_matrix(pattern, made.at, made.integrals), fixed)
    load = end_loads(made.low, made.high, made.profiles, made.mesh)[0][..., 1].reshape(-1, 1)
    u = solve(factor, load, np.zeros((len(fixed), 1))).reshape(n, -1)
    tip = length**3 / (3 * wood.E_L * B * H**3 / 12) + length / (5 / 6 * wood.G_LR * B * H)
    assert u[made.high.nodes, -1].mean() == pytest.approx(tip, rel=2e-3)


@pytest.mark.parametrize("profiles", MODELS.values(), ids=MODELS)
@pytest.mark.parametrize("r", [0.3, 0.05])
def test_weak_half(profiles, r):
    """The back half r times as stiff: a composite beam, its axis shifted (statics)."""
    if profiles.kind == "hats":
        profiles = layered(np.array([-H / 2, 0.0, H / 2]))
    solved = solve_plate(plate(profiles, weak=r))
    A, C, D = (1 + r) / 2, -(1 - r) * H / 8, (1 + r) * H**2 / 24
    stiff = WOOD.E_L * B * H / L * np.array([[A, C], [C, D]])
    assert solved.give[:2, :2] == pytest.approx(np.linalg.inv(stiff), rel=1e-7)
    if r == 0.3:
        alone = 12.0 / H**2 * (D - C**2 / A)
        assert alone == pytest.approx(0.5087, abs=5e-5)


@pytest.mark.parametrize("profiles", MODELS.values(), ids=MODELS)
def test_give_is_symmetric_and_works_as_much(profiles):
    """Reciprocity, and Clapeyron: the ends' work is twice the energy of the strains."""
    made = plate(profiles, weak=0.4, hole=0.008, near=2e-3)
    solved = solve_plate(made)
    assert solved.give == pytest.approx(solved.give.T, rel=1e-8, abs=1e-16)
    pattern = node_pattern(made.mesh, profiles.unknowns)
    stiffness = plate_matrix(pattern, made.at, made.integrals)
    u = solved.displacement[..., [0, 4, 5]].reshape(-1, 3)
    assert u.T @ (stiffness @ u) == pytest.approx(solved.give, rel=1e-6, abs=1e-14)


def test_loads_of_the_cuts_hold_each_other():
    """Of unequal cuts too, so that nothing is left to what keeps a plate from turning (statics).

    Shear across that acts at either cut's own middle is a couple about the limb's axis.
    """
    made = plate(MODELS["cubic"], near=4e-3)
    high = replace(made.high, belly=0.4 * made.high.belly, back=0.7 * made.high.back)
    forces = end_loads(made.low, high, made.profiles, made.mesh)[0]
    depth, y = plane_motion(made.profiles)[1], made.mesh.nodes[:, 1]
    across, up = forces[:, 1:-1:2], forces[:, -1]
    torque = y @ up - np.einsum("nkr,k->r", across, depth)
    one = np.array([1.0, 1.0, 1.0])
    for end, sign in ((made.low, -1.0), (high, 1.0)):
        pushed = np.einsum("nkr,k->r", across[end.nodes], plane_motion(made.profiles)[0])
        assert pushed == pytest.approx(sign * one * [1, 0, 0], abs=1e-12)
        assert up[end.nodes].sum(axis=0) == pytest.approx(sign * one * [0, 1, 0], abs=1e-12)
    assert torque == pytest.approx(0.0 * one, abs=1e-12)


def test_symmetric_depth_splits():
    """Stretching and bending solved apart say what all unknowns together say."""
    made = plate(MODELS["cubic"], hole=0.008, near=2e-3)
    apart = solve_plate(made)
    nothing = plate_matrix(node_pattern(made.mesh, 9), made.at, made.integrals)
    springs = 0.0 * nothing
    together = solve_plate(made, springs=springs)
    assert (len(factor_plate(made)), len(factor_plate(made, springs))) == (2, 1)
    scale = np.abs(together.displacement).max(axis=(0, 1))
    assert np.all(
        np.abs(apart.displacement - together.displacement).max(axis=(0, 1)) < 1e-6 * scale
    )


def test_hole_gives_as_a_solid():
    """A hole of 8 mm through 40 x 15 mm lets the strip bend as if it were 6.25 mm longer.

    Own solid of 27-node bricks, linear stress at the ends; within 3 per cent.
    """
    solved = solve_plate(plate(MODELS["cubic"], hole=0.008, near=0.7e-3))
    extra = solved.give[1, 1] * WOOD.E_L * B * H**3 / 12 - L
    assert extra == pytest.approx(6.25e-3, rel=0.03)


@pytest.mark.parametrize(("case", "across"), [(1, B / 2), (2, H / 2)], ids=["sideways", "flatwise"])
def test_shear_alone_bends_the_plate_by_its_lever_from_the_middle(case, across):
    """Statics: unit shear, no moment in the middle: a moment x at x, and M c / E I of strain."""
    solved = solve_plate(plate(MODELS["cubic"]))
    strains = function_strains(solved.plate, solved.displacement[..., case])
    F, _ = values(solved.plate.profiles, np.full(strains.shape[:-2], H / 2))
    strain = np.einsum("k...,...kc->...c", F, strains)[..., 0]
    x, y = np.moveaxis(solved.plate.at.points, -1, 0)
    near = np.abs(x) < L / 4
    if case == 1:
        near, strain = near & (np.abs(y) > 0.3 * B), strain / y
        across = 1.0
    stiffness = WOOD.E_L * (B**3 * H if case == 1 else B * H**3) / 12
    slope, middle = np.polyfit(x[near], strain[near], 1)
    assert abs(slope) == pytest.approx(across / stiffness, rel=0.03)
    assert abs(middle) < 0.01 * L * abs(slope)
