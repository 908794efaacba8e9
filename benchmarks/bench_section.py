"""Section floor: mesh and 6x6 beside sectionproperties, 41 stations at once, and the solver's cost.

Run with ``python -m pytest benchmarks/bench_section.py``.  Every timing carries its accuracy:
relative errors of EI and of the torsion stiffness against a much finer mesh of the same code.
"""

import numpy as np
import pytest
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from limbfe.fem.banded import band_pattern, factor_band, solve_band
from limbfe.section import (
    bending_stiffness,
    fibre_section,
    grain_modulus,
    integration_points,
    law_through,
    recover_inelastic,
    section_mesh,
    section_stiffness,
    torsion_stiffness,
)
from limbfe.stave.outline import sapwood_z
from limbfe.stave.profile import SectionShapes

pre = pytest.importorskip("sectionproperties.pre")
analysis = pytest.importorskip("sectionproperties.analysis")
shapely = pytest.importorskip("shapely")

NU, HEART, SAP = 0.3, 12.5e9, 10.0e9
HALF, DEPTH, SAPWOOD = 0.015, 0.021, 0.005


def isotropic(E, nu):
    lame, G = E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))
    C = np.diag([2 * G] * 3 + [G] * 3)
    C[:3, :3] += lame
    return C


def one_station():
    one = np.ones(1)
    return SectionShapes(
        x=0 * one,
        width=2 * HALF * one,
        thickness=DEPTH * one,
        sapwood=SAPWOOD * one,
        lean=0 * one,
        backing=0 * one,
        crown=np.inf,
        belly="round",
        belly_corner=0.0,
    )


def bow_stations(n=41):
    """A longbow of our own: crowned back, round belly, sapwood that leans this way and that."""
    x = np.linspace(-0.83, 0.85, n)
    taper = 1 - np.abs(x) / 0.95
    return SectionShapes(
        x=x,
        width=0.012 + 0.022 * taper,
        thickness=0.011 + 0.014 * taper,
        sapwood=0.003 + 0.003 * taper,
        lean=0.06 * np.sin(9 * x),
        backing=np.zeros(n),
        crown=0.06,
        belly="round",
        belly_corner=0.0,
    )


def solve(shapes, fineness):
    mesh = section_mesh(shapes, fineness=fineness)
    points, _ = integration_points(mesh)
    sap = points[..., 1] > sapwood_z(shapes, points[..., 0])
    C = np.where(sap[..., None, None], isotropic(SAP, NU), isotropic(HEART, NU))
    return section_stiffness(mesh, C, np.where(sap, 560.0, 680.0))


def figures(solution):
    EI = bending_stiffness(solution)[0]
    return np.array([EI[0, 0], EI[1, 1], torsion_stiffness(solution)[0]])


@pytest.fixture(scope="module")
def exact():
    return figures(solve(one_station(), 6.0))


def note_errors(benchmark, found, exact):
    error = np.abs(found / exact - 1.0)
    benchmark.extra_info.update(EI_error=float(error[:2].max()), GJ_error=float(error[2]))


@pytest.mark.parametrize("fineness", [0.5, 1.0, 2.0])
@pytest.mark.benchmark(group="one section: mesh to 6x6")
def test_one_section(benchmark, exact, fineness):
    solution = benchmark(solve, one_station(), fineness)
    benchmark.extra_info["elements"] = len(solution.mesh.elements)
    note_errors(benchmark, figures(solution), exact)


def library_geometry(segments):
    """The same section in millimetres and GPa; the half ellipse as a polygon."""

    def arc(first, last, n):
        angle = np.linspace(first, last, n)
        return 1e3 * np.column_stack([-HALF * np.cos(angle), -DEPTH * np.sin(angle)])

    end = np.arcsin(SAPWOOD / DEPTH)
    few = max(4, segments // 7)
    belly, left = arc(end, np.pi - end, segments), arc(0, end, few)
    right = arc(np.pi - end, np.pi, few)
    left[-1], right[0] = belly[0], belly[-1]
    parts = [(belly, HEART), (np.concatenate([left, right]), SAP)]
    heart, sap = (
        pre.Geometry(shapely.Polygon(p), pre.Material(str(E), E / 1e9, NU, 1.0, 1.0, "white"))
        for p, E in parts
    )
    return heart + sap


def library_solve(geometry, size):
    geometry.create_mesh([size])
    section = analysis.Section(geometry)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    return section


@pytest.mark.parametrize(("segments", "size"), [(40, 6.0), (90, 1.4), (160, 0.24)])
@pytest.mark.benchmark(group="one section: mesh to 6x6")
def test_one_section_by_sectionproperties(benchmark, exact, segments, size):
    """Geometry is built outside the timed call; its mesh, geometric and warping parts are in."""
    geometry = library_geometry(segments)
    library_solve(geometry, 20.0)  # compile its kernels first
    section = benchmark.pedantic(library_solve, (geometry, size), rounds=5, warmup_rounds=1)
    EI_y, EI_z, _ = section.get_eic()
    GJ = section.get_ej() / (2 * (1 + NU))
    benchmark.extra_info["elements"] = len(section.elements)
    note_errors(benchmark, 1e-3 * np.array([EI_y, EI_z, GJ]), exact)


def whole_bow(fineness):
    return solve(bow_stations(), fineness)


@pytest.mark.parametrize("fineness", [0.5, 1.0, 2.0])
@pytest.mark.benchmark(group="41 stations of a bow: mesh to 6x6")
def test_bow(benchmark, note_memory, fineness):
    solution = benchmark.pedantic(solve, (bow_stations(), fineness), rounds=5, warmup_rounds=1)
    benchmark.extra_info["elements"] = len(solution.mesh.elements)
    fine = solve(bow_stations(), 3.0)
    diagonal = np.arange(6)
    error = solution.compliance[:, diagonal, diagonal] / fine.compliance[:, diagonal, diagonal] - 1
    benchmark.extra_info["worst_compliance_error"] = float(np.abs(error).max())
    note_memory("whole_bow", 0.5, fineness)


@pytest.mark.parametrize("fineness", [0.5, 1.0, 2.0])
@pytest.mark.benchmark(group="41 stations of a bow: stress at every integration point")
def test_recovery(benchmark, fineness):
    solution = solve(bow_stations(), fineness)
    shape = integration_points(solution.mesh)[1].shape
    grain = np.broadcast_to([1.0, 0.0, 0.0], (*shape, 3))
    stress = np.array([30e6, 50e6, 50e6])[:, None, None, None] * np.ones(shape)
    law = law_through(grain_modulus(solution, grain), stress, np.array([0.0, 0.02, 1.0]))
    section = fibre_section(solution, grain, law)
    loads = np.tile([300.0, 20.0, -40.0, 2.0, 55.0, 4.0], (41, 1))
    strains = (solution.compliance @ loads[..., None])[..., 0]
    benchmark(recover_inelastic, section, strains, np.zeros(shape))


def section_band(fineness):
    """A section's band storage and its sparse twin, filled with a well-conditioned matrix."""
    mesh = section_mesh(one_station(), fineness=fineness)
    pattern = band_pattern(mesh.elements, mesh.nodes.shape[1], 3)
    rng = np.random.default_rng(0)
    a, b = pattern.dofs[:, pattern.pairs[0]].ravel(), pattern.dofs[:, pattern.pairs[1]].ravel()
    values = rng.uniform(-1, 0, a.size)
    low = csc_array((values, (np.maximum(a, b), np.minimum(a, b))), shape=(pattern.size,) * 2)
    full = low + low.T
    full = full + csc_array(np.diag(np.abs(full).sum(axis=1) + 1.0))
    band = np.zeros((pattern.size, pattern.width + 1))
    for k in range(pattern.width + 1):
        band[: pattern.size - k, k] = full.diagonal(-k)
    return pattern, band, csc_array(full)


@pytest.mark.parametrize("fineness", [0.5, 1.0, 2.0])
@pytest.mark.benchmark(group="factor and six solves: band")
def test_band_solver(benchmark, fineness):
    pattern, band, _ = section_band(fineness)
    right = np.ones((6, pattern.size))

    def factor_and_solve():
        factor = band.copy()
        assert factor_band(factor)
        solve_band(factor, right.copy())

    benchmark(factor_and_solve)
    benchmark.extra_info.update(unknowns=pattern.size, sub_diagonals=pattern.width)


@pytest.mark.parametrize("fineness", [0.5, 1.0, 2.0])
@pytest.mark.benchmark(group="factor and six solves: SuperLU, minimum degree, symmetric mode")
def test_sparse_solver(benchmark, fineness):
    _, _, matrix = section_band(fineness)
    right = np.ones((matrix.shape[0], 6))
    benchmark(
        lambda: splu(
            matrix,
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.01,
            options={"SymmetricMode": True},
        ).solve(right)
    )
