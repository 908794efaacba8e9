"""The strip's equilibrium: laminate limit, invariants, contact, second opinion."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import trapezoid
from scipy.spatial import cKDTree

from limbfe.defect.contact import contact_forces
from limbfe.defect.limb_state import LimbStrain, limb_strain, limb_stress
from limbfe.defect.plane import plane_stiffness
from limbfe.defect.recovery import corners_of, nodal_stress
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip, edge
from limbfe.defect.strip_solve import factor_strip, knot_stiffness, solve_strip
from limbfe.defect.submodel import build_model
from limbfe.defect.zone import DecayTrace, Grain, KnotTrace, fibre_at, remaining
from limbfe.fem.element import triangle6
from limbfe.fem.quadrature import triangle_rule
from limbfe.fem.raster import Grid, rasterise
from limbfe.wood.elasticity import Elasticity

WOOD = Elasticity(
    E_L=11.0e9,
    E_R=1.2e9,
    E_T=0.6e9,
    G_LR=0.9e9,
    G_LT=0.7e9,
    G_RT=0.08e9,
    nu_LR=0.33,
    nu_LT=0.41,
    nu_RT=0.52,
)
GRAIN = Grain(angle=0.05, run_out=0.03)
STRIP = Strip(x=[-0.07, 0.0, 0.08], right=[-0.017, -0.0158, -0.014], left=[0.018, 0.017, 0.0145])
STRAIN = LimbStrain(
    x0=0.01, axial=3e-3, axial_slope=-0.012, bending=0.06, bending_slope=0.3, shear=2e-4
)
ELLIPSE = Ellipse(x=2e-3, y=3e-3, a=5e-3, b=3.5e-3, angle=0.2)


def model(*, knots=(), decays=(), near=0.7e-3, strip=STRIP, grain=GRAIN, **more):
    return build_model(
        strip=strip,
        wood=WOOD,
        grain=grain,
        knots=knots,
        decays=decays,
        fineness=Fineness(near=near),
        **more,
    )


def knot(state="live", ellipse=ELLIPSE, **more):
    return KnotTrace(name="A", ellipse=ellipse, state=state, **more)


def own_stress(made, points):
    return limb_stress(made.strip, made.wood, made.grain, STRAIN, points)


@pytest.mark.parametrize("ends", ["force", "strain"])
def test_laminate_limit(ends):
    """Without a zone the strip is the beam: its stress to 1e-6, here to rounding.

    Axial strain linear along and across, shear, sloping grain, tapering edges.
    """
    made = model()
    solved = solve_strip(factor_strip(made, moduli=(), ends=ends), STRAIN)
    own = own_stress(made, made.at.points)
    assert np.abs(solved.stress - own).max() < 1e-9 * np.abs(own).max()
    sound = np.linalg.inv(made.stiffness[0, 0])
    modulus = 1.0 / sound[0, 0]
    x, y = made.at.points[..., 0], made.at.points[..., 1]
    ahead = x - 0.01
    axial = 3e-3 - 0.012 * ahead - y * (0.06 + 0.3 * ahead)
    assert solved.stress[..., 0] == pytest.approx(modulus * axial, rel=1e-6)


def test_a_zone_far_away_leaves_the_beam_stress():
    """A pin knot's disturbance has died out four widths away: 1e-4."""
    pin = knot(ellipse=Ellipse(x=0.0, y=1e-3, a=0.4e-3, b=0.3e-3))
    strip = Strip(x=[-0.16, 0.16], right=[-0.015] * 2, left=[0.016] * 2)
    made = model(knots=(pin,), strip=strip, grain=Grain(angle=0.0, run_out=0.0))
    strain = LimbStrain(x0=0.0, axial=3e-3, axial_slope=0.01)
    solved = solve_strip(factor_strip(made, moduli=(2e9,), ends="force"), strain)
    far = np.abs(made.at.points[..., 0]) > 0.13
    own = limb_stress(strip, WOOD, made.grain, strain, made.at.points)
    assert np.abs(solved.stress - own)[far].max() < 1e-4 * np.abs(own).max()


def test_limb_stress_leaves_no_traction_on_tapering_edges():
    x = np.linspace(-0.06, 0.07, 40)
    for side in ("left", "right"):
        points = np.stack([x, edge(STRIP, side, x)], axis=1)
        s = limb_stress(STRIP, WOOD, GRAIN, replace(STRAIN, shear=0.0), points)
        slope = edge(STRIP, side, x, slope=True)
        traction = np.stack([-slope * s[:, 0] + s[:, 2], -slope * s[:, 2] + s[:, 1]])
        assert np.abs(traction).max() < 1e-9 * np.abs(s).max()


def test_mean_shear_is_the_given_one():
    strip = Strip(x=[-0.1, 0.1], right=[-0.012] * 2, left=[0.018] * 2)
    grain = Grain(angle=0.0, run_out=0.0)
    y = np.linspace(-0.012, 0.018, 2001)
    points = np.stack([np.zeros_like(y), y], axis=1)
    s = limb_stress(strip, WOOD, grain, LimbStrain(x0=0.0, axial=0.0, shear=1e-3), points)
    assert trapezoid(s[:, 2], y) / 0.03 == pytest.approx(WOOD.G_LT * 1e-3, rel=1e-6)
    assert s[[0, -1], 2] == pytest.approx(0.0, abs=1e-6)


def test_stress_balances_whatever_the_zone():
    """Axial force through any cross-section equals the limb's own: 0.2 %.

    Integrated from the recovered stress on cuts through and beside a live knot.
    """
    strain = LimbStrain(x0=0.0, axial=3e-3, bending=0.05)
    strip = Strip(x=[-0.07, 0.07], right=[-0.015] * 2, left=[0.016] * 2)
    grain = Grain(angle=0.0, run_out=0.0)
    made = model(knots=(knot(),), strip=strip, grain=grain, near=0.3e-3)
    solved = solve_strip(factor_strip(made, moduli=(2e9,), ends="force"), strain)
    corners = corners_of(made)
    nodal = nodal_stress(solved, corners, strain)
    step = 2e-5
    for x in (-0.02, 0.0, 0.004):
        grid = Grid(origin=np.array([x, -0.015 + 0.5 * step]), step=step, shape=(1, 1550))
        element, reference = rasterise(made.mesh.mesh, grid)
        assert (element >= 0).all()
        values, _ = triangle6(reference)
        stress = np.einsum("pk,pkc->pc", values, nodal[corners.number[element]])
        y = grid.origin[1] + step * np.arange(1550)
        force, moment = stress[:, 0].sum() * step, -(stress[:, 0] * y).sum() * step
        own = limb_stress(strip, WOOD, grain, strain, np.stack([np.full(1550, x), y], axis=1))
        assert force == pytest.approx(own[:, 0].sum() * step, rel=2e-3)
        assert moment == pytest.approx(-(own[:, 0] * y).sum() * step, rel=1e-2)


def test_split_load():
    """Answers to parts of the strain add up to the answer to the whole."""
    system = factor_strip(model(knots=(knot(),)), moduli=(2e9,), ends="force")
    parts = [
        LimbStrain(x0=0.01, axial=3e-3),
        LimbStrain(x0=0.01, axial=0.0, axial_slope=-0.012),
        LimbStrain(x0=0.01, axial=0.0, bending=0.06),
        LimbStrain(x0=0.01, axial=0.0, bending_slope=0.3),
        LimbStrain(x0=0.01, axial=0.0, shear=2e-4),
    ]
    total = sum(solve_strip(system, p).stress for p in parts)
    whole = solve_strip(system, STRAIN).stress
    assert np.abs(total - whole).max() < 1e-9 * np.abs(whole).max()


def test_rescaled_units():
    """Millimetres and megapascals: the same stress in other numbers."""
    base = solve_strip(factor_strip(model(knots=(knot(),)), moduli=(2e9,), ends="force"), STRAIN)
    wood = replace(
        WOOD, **{n: getattr(WOOD, n) / 1e6 for n in ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")}
    )
    big = build_model(
        strip=Strip(x=STRIP.x * 1e3, right=STRIP.right * 1e3, left=STRIP.left * 1e3),
        wood=wood,
        grain=GRAIN,
        knots=(knot(ellipse=Ellipse(x=2.0, y=3.0, a=5.0, b=3.5, angle=0.2)),),
        fineness=Fineness(near=0.7),
    )
    strain = LimbStrain(
        x0=10.0, axial=3e-3, axial_slope=-1.2e-5, bending=6e-5, bending_slope=3e-7, shear=2e-4
    )
    other = solve_strip(factor_strip(big, moduli=(2e3,), ends="force"), strain)
    # The mesh may differ by a point here and there; compare what the zone adds to the give.
    assert other.end_motion[0] * 1e-3 == pytest.approx(base.end_motion[0], rel=1e-3)
    assert other.end_motion[1] == pytest.approx(base.end_motion[1], rel=1e-2)


def test_ends_by_strain_and_by_force():
    """By strain the zone takes force off the strip; by force it lengthens it: reciprocal."""
    made = model(knots=(knot("missing"),), grain=Grain(angle=0.0, run_out=0.0))
    strain = LimbStrain(x0=0.0, axial=3e-3)
    held = solve_strip(factor_strip(made, moduli=(1.0,), ends="strain"), strain)
    free = solve_strip(factor_strip(made, moduli=(1.0,), ends="force"), strain)
    assert held.end_motion == pytest.approx([0.0, 0.0])
    assert free.end_resultants == pytest.approx([0.0, 0.0])
    assert held.end_resultants[0] < 0.0 < free.end_motion[0]
    stiffness = factor_strip(made, moduli=(1.0,), ends="force").end_stiffness
    assert stiffness @ free.end_motion == pytest.approx(-held.end_resultants, rel=1e-6)


def test_softer_knot_gives_more():
    made = model(knots=(knot(),))
    give = [
        solve_strip(factor_strip(made, moduli=(E,), ends="force"), STRAIN).end_motion[0]
        for E in (1e9, 2e9, 3e9)
    ]
    assert give[0] > give[1] > give[2] > 0.0


def test_decay_zones_overlap_a_knot():
    """A graded patch over a knot: no fitting needed; the worse multiplier holds where two meet."""
    rot = DecayTrace(
        name="rot",
        ellipse=Ellipse(x=4e-3, y=4e-3, a=9e-3, b=4e-3),
        grading=0.5,
        E=0.5,
        G=0.5,
        tension=0.5,
        compression=0.5,
        shear=0.5,
        across=0.5,
        toughness=0.5,
    )
    both = (rot, replace(rot, name="more", E=0.8))
    made = model(knots=(knot(),), decays=both)
    wood = made.inside < 0
    points = made.at.points[wood]
    left = remaining((rot,), points, "E")
    assert remaining(both, points, "E") == pytest.approx(left)
    assert left.min() == pytest.approx(0.5)
    angle, dive = fibre_at(points, made.knots, GRAIN)
    expected = plane_stiffness(WOOD, angle, dive, left, remaining((rot,), points, "G"))
    assert made.stiffness[wood] == pytest.approx(expected)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_contact_solves_its_complementarity_problem(seed):
    rng = np.random.default_rng(seed)
    root = rng.normal(size=(30, 30))
    flexibility, opening = root @ root.T + 0.1 * np.eye(30), rng.normal(size=30)
    force = contact_forces(flexibility, opening)
    gap = opening + flexibility @ force
    assert force.min() >= -1e-12
    assert gap.min() >= -1e-9
    assert abs(force @ gap) < 1e-9


def loose(axial, ellipse=ELLIPSE):
    made = model(knots=(knot("dead", ellipse),), grain=Grain(angle=0.0, run_out=0.0))
    return solve_strip(
        factor_strip(made, moduli=(2e9,), ends="force"), LimbStrain(x0=0.0, axial=axial)
    )


def test_loose_knot_presses_but_does_not_pull():
    """Pulled, it parts at its poles and is pinched at its flanks; pressed, the other way."""
    for axial, poles_press in ((3e-3, False), (-3e-3, True)):
        solved = loose(axial)
        joint = solved.model.joint
        jump = solved.departure[joint.wood] - solved.departure[joint.knot]
        gap = (jump * joint.normal).sum(axis=1)
        assert solved.pressing.min() >= 0.0
        assert gap.min() > -1e-6 * np.abs(gap).max()
        assert np.abs(solved.pressing * gap).max() < 1e-6 * solved.pressing.max() * gap.max()
        along = np.abs(joint.normal @ [np.cos(0.2), np.sin(0.2)])
        pressed_at = np.average(along, weights=solved.pressing)
        assert (pressed_at > 0.7) == poles_press


def test_loose_knot_lies_between_a_hole_and_a_live_knot():
    """Give of the strip in compression, where the knot carries."""
    strain = LimbStrain(x0=0.0, axial=-3e-3)
    give = {}
    for state in ("missing", "dead", "live"):
        made = model(knots=(knot(state),), grain=Grain(angle=0.0, run_out=0.0))
        system = factor_strip(made, moduli=(2e9,), ends="force")
        give[state] = -solve_strip(system, strain).end_motion[0]
    assert give["missing"] > give["dead"] > give["live"]


def test_loose_knot_without_contact_is_a_hole():
    made = model(knots=(knot("dead"),))
    hole = model(knots=(knot("missing"),))
    solved = solve_strip(factor_strip(made, moduli=(2e9,), ends="force"), STRAIN, contact=False)
    empty = solve_strip(factor_strip(hole, moduli=(1.0,), ends="force"), STRAIN)
    assert solved.end_motion == pytest.approx(empty.end_motion, rel=2e-3)


def test_loose_knot_at_the_edge_is_solved():
    """It can be squeezed out: nothing holds it but the wood."""
    solved = loose(3e-3, Ellipse(x=0.0, y=15e-3, a=4e-3, b=4e-3))
    assert np.isfinite(solved.departure).all()
    assert solved.pressing.min() >= 0.0


@pytest.mark.parametrize(("bending", "tolerance"), [(0.0, 1e-8), (0.05, 2e-6)])
def test_second_opinion_of_scikit_fem(bending, tolerance):
    """One full knot model with scikit-fem: same mesh, same material field, displacement to 1e-8.

    There the unknown is the whole displacement.  Under bending the limb's own displacement is
    quadratic, which elements with a curved side cannot hold exactly: the two discretisations
    then differ by their own error, 5e-7 here.
    """
    skfem = pytest.importorskip("skfem")
    from skfem.helpers import sym_grad

    strip = Strip(x=[-0.06, 0.07], right=[-0.015] * 2, left=[0.016] * 2)
    grain = Grain(angle=0.0, run_out=0.0)
    strain = LimbStrain(x0=0.0, axial=3e-3, bending=bending)
    made = model(knots=(knot(),), strip=strip, grain=grain, near=0.8e-3)
    ours = solve_strip(factor_strip(made, moduli=(2e9,), ends="strain"), strain)

    nodes = made.mesh.mesh.nodes
    reference, weights = triangle_rule(4)
    basis = skfem.Basis(
        skfem.MeshTri2(nodes.T.copy(), made.mesh.mesh.elements.T.copy()),
        skfem.ElementVector(skfem.ElementTriP2()),
        quadrature=(reference.T.copy(), weights.copy()),
    )
    field = made.stiffness.copy()
    field[made.inside == 0] = knot_stiffness(2e9, 0.3)

    @skfem.BilinearForm
    def work(u, v, w):
        e, d = sym_grad(u), sym_grad(v)
        strain_u = np.stack([e[0, 0], e[1, 1], 2.0 * e[0, 1]])
        strain_v = np.stack([d[0, 0], d[1, 1], 2.0 * d[0, 1]])
        return np.einsum("imq,mqij,jmq->mq", strain_v, field, strain_u)

    K = work.assemble(basis)
    x, y = basis.doflocs
    across = np.zeros(basis.N, dtype=bool)
    across[basis.nodal_dofs[1]] = across[basis.facet_dofs[1]] = True
    own = limb_strain(WOOD, grain, np.array([1.0, 0.0, 0.0]))

    def limb(x, y):
        """Displacement of the sound strip, along and across."""
        contraction = own[1] / own[0]
        return (
            x * (3e-3 - bending * y),
            contraction * (3e-3 * y - 0.5 * bending * y**2) + 0.5 * bending * x**2,
        )

    given = np.where(across, limb(x, y)[1], limb(x, y)[0])
    ends = (np.abs(x + 0.06) < 1e-12) | (np.abs(x - 0.07) < 1e-12)
    low = np.flatnonzero((np.abs(x + 0.06) < 1e-12) & across)
    pinned = low[np.argmin(np.abs(y[low] - y[low].mean()))]
    fixed = np.append(np.flatnonzero(ends & ~across), pinned)
    total = skfem.solve(*skfem.condense(K, np.zeros(basis.N), x=given, D=fixed))

    mine = ours.departure + np.stack(limb(*nodes.T), axis=1)
    theirs = np.empty_like(mine)
    _, nearest = cKDTree(nodes).query(basis.doflocs.T)
    theirs[nearest, across.astype(int)] = total
    assert np.abs(theirs - mine).max() < tolerance * np.abs(mine).max()
