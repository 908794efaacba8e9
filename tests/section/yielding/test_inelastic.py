"""Compression yield in sections: closed forms, tangent, energy and set.

The elastic - ideally plastic compression law with brittle tension on a rectangle is known from
C. B. Norris and S. C. Bechtel (FPL, 1952), B. Zakic (1973) and A. H. Buchanan (1990) (authors from
memory); the closed forms used here were derived again and checked numerically.
"""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

from limbfe.errors import ConvergenceError, MaterialError
from limbfe.frames import VOIGT_PAIRS, rotate_stiffness
from limbfe.section import (
    FibreLaw,
    crush,
    crushing_work,
    fibre_response,
    fibre_section,
    fresh_state,
    grain_modulus,
    integration_points,
    law_through,
    lost_energy,
    mapped_mesh,
    recover_inelastic,
    section_mesh,
    section_stiffness,
    stored_energy,
    strains_under,
)
from limbfe.section.yielding import pressing
from limbfe.section.yielding.inelastic import modulus_along
from limbfe.section.yielding.pressing import crushed_at, press, pressed_section
from limbfe.stave.outline import sapwood_z
from limbfe.stave.profile import SectionShapes

from ...section_fields import recover, resultants_of

E, CRUSHING = 11.5e9, 48e6
WIDTH, THICKNESS = 0.032, 0.018
WOOD = np.diag([E, 1.2e9, 0.8e9, 0.2e9, 0.8e9, 1.0e9])
X = np.array([1.0, 0.0, 0.0])


def rectangle(law, rows=16, stations=1):
    mesh = mapped_mesh(
        lambda y, z: (y, z),
        WIDTH * np.linspace(-0.5, 0.5, 3),
        THICKNESS * np.linspace(-0.5, 0.5, rows + 1),
    )
    return fibre_section(section_stiffness(mesh, WOOD, np.ones(1)), X, law)


def bilinear_law(modulus, limit, crushing, strain):
    """Straight to the limit, more softly to the crushing strength at a strain, and level."""
    rising = strain - crushing / modulus
    level = np.broadcast_to(1.0, np.shape(rising))
    return law_through(
        modulus,
        np.stack([limit * level, crushing * level, crushing * level]),
        np.stack([0.0 * level, rising * level, rising + 1.0]),
    )


IDEAL = law_through(E, np.full(2, CRUSHING), np.array([0.0, 1.0]))
BENT = bilinear_law(E, 0.75 * CRUSHING, CRUSHING, 0.009)


def moment(My):
    return np.array([[0.0, 0.0, 0.0, 0.0, My, 0.0]])


@pytest.mark.parametrize("n", [1.0, 1.5, 2.0, 3.0, 3.7])
def test_moment_and_neutral_axis_when_the_tension_face_breaks(n):
    """MOR = f_c (3 n - 1)/(n + 1) and neutral axis 2 n/(n + 1)^2 of the depth from that face."""
    section = rectangle(IDEAL, rows=24)
    MOR = CRUSHING * (3 * n - 1) / (n + 1)
    strains, response = strains_under(
        section, moment(MOR * WIDTH * THICKNESS**2 / 6), fresh_state(section)
    )
    face = strains[0, 0] + strains[0, 4] * THICKNESS / 2
    # the edge of the crushed zone falls between integration points
    assert E * face == pytest.approx(n * CRUSHING, rel=2e-3)
    depth = face / strains[0, 4] / THICKNESS
    assert depth == pytest.approx(2 * n / (n + 1) ** 2, rel=1e-3)
    assert response.stress.min() >= -CRUSHING * (1 + 1e-12)


@pytest.mark.parametrize("n", [1.5, 2.0, 3.0])
def test_curvature_left_after_unloading(n):
    """kappa_left E h / f_c = (n + 1)^2/2 - 2 (3 n - 1)/(n + 1), elastic unloading."""
    section = rectangle(IDEAL, rows=24)
    load = moment(CRUSHING * (3 * n - 1) / (n + 1) * WIDTH * THICKNESS**2 / 6)
    _, bent = strains_under(section, load, fresh_state(section))
    left, relaxed = strains_under(section, 0.0 * load, bent.plastic)
    expected = (n + 1) ** 2 / 2 - 2 * (3 * n - 1) / (n + 1)
    assert left[0, 4] * E * THICKNESS / CRUSHING == pytest.approx(expected, rel=4e-3)
    assert (relaxed.plastic == bent.plastic).all()


def test_moment_of_the_bilinear_law_against_quadrature():
    """Independent: scipy integrates the law over the depth and finds the neutral axis."""
    kink = 0.75 * CRUSHING / E
    slope = 0.25 * CRUSHING / (0.009 - kink)

    def stress(strain):
        if strain >= -kink:
            return E * strain
        return -min(0.75 * CRUSHING + slope * (-strain - kink), CRUSHING)

    curvature, half = 1.6, THICKNESS / 2

    def force(middle, lever):
        corners = [(s - middle) / curvature for s in (-kink, -0.009)]
        return quad(
            lambda z: stress(middle + z * curvature) * (z if lever else 1.0),
            -half,
            half,
            points=[c for c in corners if -half < c < half],
            epsabs=1e-3,
        )[0]

    middle = brentq(lambda m: force(m, False), -0.02, 0.02, xtol=1e-15)
    expected = WIDTH * force(middle, True)
    section = rectangle(BENT, rows=24)
    strains, _ = strains_under(section, moment(expected), fresh_state(section))
    assert strains[0, 4] == pytest.approx(curvature, rel=1e-3)
    assert strains[0, 0] == pytest.approx(middle, rel=1e-3)


def test_points_per_depth_converge_with_second_order():
    n = 2.5
    load = moment(CRUSHING * (3 * n - 1) / (n + 1) * WIDTH * THICKNESS**2 / 6)
    exact = CRUSHING / E * (n + 1) ** 2 / (2 * THICKNESS)
    errors = []
    for rows in (4, 16):
        # average over yield fronts that fall differently between the points
        found = [
            strains_under(rectangle(IDEAL, rows + k), load, np.zeros((1, 2 * (rows + k), 9)))[0]
            for k in range(4)
        ]
        errors.append(np.mean([abs(f[0, 4] / exact - 1) for f in found]))
    assert errors[1] < errors[0] / 6
    assert errors[1] < 2e-3


def test_one_fibre_loaded_unloaded_and_loaded_again():
    """Bilinear law by hand: kink, plateau, elastic unloading, reloading to where it left."""
    law = bilinear_law(10e9, 30e6, 40e6, 0.009)
    state = np.zeros(())
    for strain, stress in [
        (-0.0030, -30e6),
        (-0.0060, -35e6),
        (-0.0050, -25e6),
        (0.0020, 45e6),
        (-0.0060, -35e6),
        (-0.0090, -40e6),
        (-0.0200, -40e6),
        (-0.0160, 0.0),
    ]:
        found, state, _ = crush(law, np.array(strain), state)
        assert found == pytest.approx(stress, rel=1e-12, abs=1e-3)
    assert state == pytest.approx(0.016, rel=1e-12)


def test_one_fibre_over_its_peak_and_down_to_its_plateau():
    """By hand: E = 10 GPa; up to 40 MPa, 0.1 % crushed, and down by 8 MPa within 0.4 % more."""
    law = law_through(10e9, np.array([30e6, 40e6, 32e6]), np.array([0.0, 0.001, 0.005]))
    state = np.zeros(())
    for strain, stress, rise in [
        (-0.0040, -35e6, 5e9),
        (-0.0050, -40e6, None),
        (-0.0066, -36e6, -2.5e9),
        (-0.0046, -16e6, 10e9),
        (-0.0066, -36e6, None),
        (-0.0082, -32e6, None),
        (-0.0200, -32e6, 0.0),
        (-0.0168, 0.0, 10e9),
    ]:
        found, state, tangent = crush(law, np.array(strain), state)
        assert found == pytest.approx(stress, rel=1e-9, abs=1e-3)
        assert rise is None or tangent == pytest.approx(rise, abs=1.0)
    # two triangles over 30 MPa, the plateau, from 0 to the 1.68 % that are left
    work = 35e6 * 0.001 + 36e6 * 0.004 + 32e6 * 0.0118
    assert crushing_work(law, state) == pytest.approx(work, rel=1e-9)


@lru_cache
def limb_sections():
    """Two stations of a leaning two-wood limb with fibres that run out, and their laws."""
    shapes = SectionShapes(
        x=np.array([-0.3, 0.4]),
        width=np.array([0.031, 0.024]),
        thickness=np.array([0.021, 0.016]),
        sapwood=np.array([0.005, 0.003]),
        lean=np.array([0.1, -0.05]),
        backing=np.zeros(2),
        crown=0.06,
        belly="round",
        belly_corner=0.0,
    )
    mesh = section_mesh(shapes, fineness=0.7)
    points, _ = integration_points(mesh)
    sap = points[..., 1] > sapwood_z(shapes, points[..., 0])
    r = np.random.default_rng(2).normal(size=(6, 6))
    C = (WOOD + 2e7 * (r @ r.T)) * np.where(sap, 0.85, 1.0)[..., None, None]
    solution = section_stiffness(mesh, C, np.ones(1))
    grain = np.array([0.995, 0.06, np.sqrt(1 - 0.995**2 - 0.06**2)])
    high = np.where(sap, 42e6, 51e6)
    law = bilinear_law(grain_modulus(solution, grain), 0.7 * high, high, 0.011)
    return fibre_section(solution, grain, law)


LOADS = np.array([[-200.0, 15.0, -30.0, 1.5, 130.0, 12.0], [150.0, -8.0, 20.0, -1.0, 55.0, -6.0]])


def test_small_strains_give_the_elastic_section():
    section = limb_sections()
    strains = (section.solution.compliance @ (0.05 * LOADS)[..., None])[..., 0]
    response = fibre_response(section, strains, fresh_state(section))
    assert response.resultants == pytest.approx(0.05 * LOADS, rel=1e-9)
    assert (response.tangent == section.solution.K).all()
    assert (response.plastic == 0.0).all()


def test_tangent_is_the_derivative_and_symmetric():
    section = limb_sections()
    state = fresh_state(section)
    strains, response = strains_under(section, LOADS, state)
    assert response.plastic.max() > 1e-3
    assert response.tangent == pytest.approx(response.tangent.swapaxes(1, 2), rel=1e-10, abs=1e-6)
    scale = np.abs(strains).max(axis=0)
    for k in range(6):
        step = np.zeros(6)
        step[k] = 1e-7 * scale[k]
        up = fibre_response(section, strains + step, state).resultants
        down = fibre_response(section, strains - step, state).resultants
        difference = (up - down) / (2 * step[k])
        size = np.abs(response.tangent[:, :, k]).max()
        assert difference == pytest.approx(response.tangent[:, :, k], abs=2e-4 * size)


def test_compiled_pass_is_the_law_fibre_by_fibre():
    """Four lines and a level, tension and compression, some crushed before, some never yielding."""
    section = limb_sections()
    rng = np.random.default_rng(7)
    shape = section.weights.shape
    start = np.sort(rng.uniform(20e6, 60e6, (4, *shape)), axis=0)
    start[:, 0, :40] = np.inf
    slope = np.sort(rng.uniform(-1e9, 6e9, (4, *shape)), axis=0)[::-1].copy()
    level = rng.uniform(15e6, 50e6, shape)
    level[:, :40] = np.inf
    law = FibreLaw(modulus=section.law.modulus, start=start, slope=slope, level=level)
    section = replace(section, law=law)
    strains = np.array(
        [[-0.002, 1e-4, 2e-4, 0.02, 0.9, 0.2], [-0.001, 0.0, 1e-4, -0.05, 1.1, -0.3]]
    )
    before = np.where(rng.uniform(size=shape) < 0.3, 0.002, 0.0)
    found = fibre_response(section, strains, before)
    strain = (section.fibre @ strains[:, None, :, None])[..., 0]
    stress, plastic, tangent = crush(law, strain, before)
    assert (plastic > before).mean() > 0.2
    assert found.stress == pytest.approx(stress, rel=1e-9, abs=1.0)
    assert found.plastic == pytest.approx(plastic, rel=1e-9, abs=1e-15)
    softer = (law.modulus - tangent) * section.weights
    K = section.solution.K - np.einsum(
        "smqi,smq,smqj->sij", section.fibre, softer, section.fibre, optimize=True
    )
    assert found.tangent == pytest.approx(K, rel=1e-9, abs=1e-9 * np.abs(K).max())


@pytest.mark.parametrize("lines", [2, 4])
@pytest.mark.parametrize("reference", [0.0, 0.9, 1.3])
def test_looking_only_where_fibres_yield_misses_none(lines, reference):
    """Up, back and further up, whatever strains the bounds start from."""
    section, rng = limb_sections(), np.random.default_rng(lines)
    shape = section.weights.shape
    start = np.sort(rng.uniform(20e6, 60e6, (lines, *shape)), axis=0)
    slope = np.sort(rng.uniform(-1e9, 6e9, (lines, *shape)), axis=0)[::-1].copy()
    start[:, 0, :40] = np.inf
    level = rng.uniform(15e6, 50e6, shape)
    level[:, :40] = np.inf
    law = FibreLaw(modulus=section.law.modulus, start=start, slope=slope, level=level)
    section = replace(section, law=law)
    far = np.array([[-0.001, 1e-4, 2e-4, 0.02, 0.9, 0.2], [-0.0005, 0.0, 1e-4, -0.05, 1.1, -0.3]])
    plastic = fresh_state(section)
    state = pressed_section(section, plastic, reference * far)
    seen = 0.0
    for share in (0.3, 0.6, 0.5, -0.4, 0.65, 1.0):
        strains = share * far + 1e-4 * rng.normal(size=far.shape)
        expected = fibre_response(section, strains, plastic)
        resultants, tangent = press(state, strains)
        state, plastic = crushed_at(state, strains), expected.plastic
        scale = np.abs(expected.tangent).max()
        assert resultants == pytest.approx(expected.resultants, rel=1e-9, abs=1e-9)
        assert tangent == pytest.approx(expected.tangent, rel=1e-9, abs=1e-12 * scale)
        assert state.plastic == pytest.approx(plastic, rel=1e-9, abs=1e-15)
        seen = max(seen, (plastic > 0.0).mean())
    assert 0.2 < seen < 0.8
    # taken up anew, the state is the one that was led on
    anew = pressed_section(section, state.plastic, 1.1 * far)
    assert anew.held == pytest.approx(state.held, rel=1e-9, abs=1e-9)
    assert anew.limit == pytest.approx(state.limit, rel=1e-9)


def test_modulus_along_the_grain_is_the_woods_own():
    """Wood turned any way has E_L along its L, and a direction between what its compliance says."""
    turn = Rotation.from_rotvec([0.3, -0.5, 0.8]).as_matrix()
    stiff = rotate_stiffness(WOOD, turn)
    assert modulus_along(stiff, turn[:, 0]) == pytest.approx(E, rel=1e-12)
    n = np.array([0.6, 0.48, 0.64])
    along = np.array([n[i] * n[j] for i, j in VOIGT_PAIRS])
    expected = 1.0 / (along @ np.linalg.inv(stiff) @ along)
    assert modulus_along(np.stack([stiff, 2.0 * stiff]), n) == pytest.approx(
        [expected, 2.0 * expected], rel=1e-12
    )


def test_newton_needs_few_steps_from_any_guess(monkeypatch):
    """Each step is exact while the crushed points stay the same, so the count stays small."""
    section, steps = limb_sections(), []

    def counted(state, strains):
        steps[-1] += 1
        return press(state, strains)

    monkeypatch.setattr(pressing, "press", counted)
    found = []
    for start in (None, 0.97, 0.5):
        steps.append(0)
        guess = None if start is None else start * found[0]
        found.append(strains_under(section, LOADS, fresh_state(section), start=guess)[0])
        assert found[-1] == pytest.approx(found[0], rel=1e-8)
    assert max(steps) <= 9
    assert steps[1] < steps[0]


def test_second_draw_adds_nothing_and_unloading_is_elastic():
    """Shakedown under repeated equal resultants; the set is what the crushed fibres hold open."""
    section = limb_sections()
    _, first = strains_under(section, LOADS, fresh_state(section))
    left, relaxed = strains_under(section, np.zeros_like(LOADS), first.plastic)
    assert (relaxed.plastic == first.plastic).all()
    assert np.abs(left[:, 4]).min() > 0.01
    strains, second = strains_under(section, LOADS, relaxed.plastic)
    assert second.plastic == pytest.approx(first.plastic, rel=1e-9, abs=1e-12)
    opened = (section.solution.compliance @ LOADS[..., None])[..., 0]
    assert strains - left == pytest.approx(opened, rel=1e-8)


def test_work_in_is_stored_plus_lost():
    """A path of many small steps by the trapezoidal rule, loading and unloading: 1e-6."""
    section = limb_sections()
    strains, _ = strains_under(section, LOADS, fresh_state(section))
    way = np.concatenate([np.linspace(0, 1, 1501), np.linspace(1, 0.2, 201)[1:]])
    state, work = fresh_state(section), np.zeros(2)
    last, force = 0.0 * strains, 0.0 * strains
    for share in way:
        now = share * strains
        response = fibre_response(section, now, state)
        work += 0.5 * ((response.resultants + force) * (now - last)).sum(axis=1)
        state, last, force = response.plastic, now, response.resultants
    kept = stored_energy(section, last, state) + lost_energy(section, state)
    assert (lost_energy(section, state) > 0).all()
    assert work == pytest.approx(kept, rel=1e-6)


def test_section_crushed_evenly_shortens_and_shears_freely():
    """One wood, slanting grain, every fibre crushed by p: the strain is p times S_.L / S_LL.

    Closed form: an even eigenstrain needs no stress, and leaves no curvature or twist.
    """
    layered = limb_sections()
    C = layered.solution.C[0, 0, 0]
    solution = section_stiffness(layered.solution.mesh, C, np.ones(1))
    grain = np.array([0.98, 0.12, np.sqrt(1 - 0.98**2 - 0.12**2)])
    law = bilinear_law(grain_modulus(solution, grain), 30e6, 40e6, 0.01)
    section = fibre_section(solution, grain, law)
    p = 0.0021
    strains, response = strains_under(section, np.zeros((2, 6)), np.full(section.weights.shape, p))
    compliance = np.linalg.inv(C)
    along = section.along[0, 0, 0]
    free = -p * compliance @ along / (along @ compliance @ along)
    expected = np.array([free[0], free[5], free[4], 0.0, 0.0, 0.0])
    assert strains == pytest.approx(np.tile(expected, (2, 1)), rel=1e-6, abs=1e-8)
    assert (response.plastic == p).all()


def test_recovered_stress_is_elastic_plus_what_the_fibres_lost():
    section = limb_sections()
    strains, response = strains_under(section, LOADS, fresh_state(section))
    field = recover_inelastic(section, strains, response.plastic)
    elastic = recover(section.solution, (section.solution.K @ strains[..., None])[..., 0])
    assert field.strain == pytest.approx(elastic.strain, rel=1e-8, abs=1e-12)
    lost = ((field.stress - elastic.stress) * section.along).sum(axis=-1)
    expected = section.law.modulus * response.plastic
    assert lost == pytest.approx(expected * (section.along**2).sum(axis=-1), rel=1e-6, abs=1.0)


def test_resultants_of_the_recovered_stress_on_straight_grain():
    """Fibres along x: the axial stress alone makes N and the moments, exactly."""
    section = rectangle(BENT)
    load = np.array([[-900.0, 0.0, 0.0, 0.0, 80.0, 20.0]])
    strains, response = strains_under(section, load, fresh_state(section))
    field = recover_inelastic(section, strains, response.plastic)
    found = resultants_of(field.points, section.weights, field.stress)
    assert found == pytest.approx(load, rel=1e-8, abs=1e-6)
    assert field.stress[..., 0] == pytest.approx(response.stress, rel=1e-8, abs=1.0)


def test_turned_section_yields_alike():
    """Bending about any axis: the section and its load turned by 40 degrees."""
    c, s = np.cos(np.deg2rad(40)), np.sin(np.deg2rad(40))
    law, load = BENT, np.array([[100.0, 0.0, 0.0, 0.0, 75.0, 30.0]])
    flat = rectangle(law)
    mesh = flat.solution.mesh
    turned = mapped_mesh(
        lambda y, z: (c * y - s * z, s * y + c * z),
        WIDTH * np.linspace(-0.5, 0.5, 3),
        THICKNESS * np.linspace(-0.5, 0.5, len(mesh.elements) // 2 + 1),
    )
    round_wood = np.diag([E, 1e9, 1e9, 0.5e9, 0.9e9, 0.9e9])
    sections = [
        fibre_section(section_stiffness(m, round_wood, np.ones(1)), X, law) for m in (mesh, turned)
    ]
    turn = np.array([[c, -s], [s, c]])
    turned_load = load.copy()
    turned_load[:, 4:] = load[:, 4:] @ turn.T
    (a, _), (b, _) = (
        strains_under(sec, th, fresh_state(sec))
        for sec, th in zip(sections, (load, turned_load), strict=True)
    )
    assert b[:, 4:] == pytest.approx(a[:, 4:] @ turn.T, rel=1e-9)
    assert b[:, 0] == pytest.approx(a[:, 0], rel=1e-9)


def test_load_beyond_what_the_belly_carries_is_refused_with_the_station():
    section = rectangle(IDEAL)
    squash = np.array([[-1.05 * CRUSHING * WIDTH * THICKNESS, 0, 0, 0, 0, 0]])
    with pytest.raises(ConvergenceError, match=r"x = 0 mm.*crushed through") as caught:
        strains_under(section, squash, fresh_state(section))
    assert len(caught.value.residuals) == caught.value.iteration


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((E, [30e6, 35e6, 50e6], [0.0, 0.001, 0.002]), "bend downwards"),
        ((E, [30e6, -1e6], [0.0, 0.01]), "positive"),
        ((-E, [30e6, 40e6], [0.0, 0.01]), "modulus"),
        ((E, [40e6, 20e6], [0.0, 0.001]), "falls faster"),
    ],
)
def test_impossible_laws_are_refused(arguments, message):
    modulus, stress, plastic = arguments
    with pytest.raises(MaterialError, match=message):
        law_through(modulus, np.array(stress), np.array(plastic))
