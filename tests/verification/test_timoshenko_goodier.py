"""Saint-Venant torsion and the bending centre of a semicircle.

S. P. Timoshenko and J. N. Goodier, Theory of Elasticity: torsion of rectangular, elliptical and
triangular bars, bending centre of a semicircular bar (formulae from memory).  The rectangle's
coefficients are the Saint-Venant series, recomputed; to three digits they are also the table of
the Oasys GSA theory manual, "Rectangular sections" (read).  The half ellipses' torsion constants
lie between a Prandtl lower and a Neumann upper bound of Ritz series, recomputed (no closed form).
"""

import numpy as np
import pytest

from limbfe.fem.element import quad9
from limbfe.section import (
    integration_points,
    mapped_mesh,
    mesh_from_arrays,
    section_mesh,
    section_stiffness,
    shear_centre,
    torsion_stiffness,
)
from limbfe.section.kinematics import reference_rule
from limbfe.stave.profile import SectionShapes

from ..section_fields import physical_gradients, strain_at


def isotropic(E, nu):
    lame, G = E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))
    C = np.diag([2 * G] * 3 + [G] * 3)
    C[:3, :3] += lame
    return C


def solve(mesh, E=7.0, nu=0.3):
    return section_stiffness(mesh, isotropic(E, nu), np.ones(1)), E / (2 * (1 + nu))


def limb(width, thickness, belly, fineness=1.0):
    one = np.ones(1)
    shapes = SectionShapes(
        x=0.0 * one,
        width=width * one,
        thickness=thickness * one,
        sapwood=0.3 * thickness * one,
        lean=0.0 * one,
        backing=0.0 * one,
        crown=np.inf,
        belly=belly,
        belly_corner=0.0,
    )
    return section_mesh(shapes, fineness=fineness)


# a/b, c2 and c1 of J = c2 a b^3 and tau_max = T / (c1 a b^2)
RECTANGLES = [
    (1.0, 0.1405770150, 0.2081652599),
    (1.2, 0.1661189101, 0.2189335450),
    (1.5, 0.1957607089, 0.2309691269),
    (2.0, 0.2286816771, 0.2458783420),
    (2.5, 0.2493650747, 0.2575899416),
    (3.0, 0.2633169310, 0.2672080462),
    (4.0, 0.2808129583, 0.2816656658),
    (5.0, 0.2913167542, 0.2915002044),
    (6.0, 0.2983195073, 0.2983585401),
    (8.0, 0.3070729635, 0.3070746995),
    (10.0, 0.3123250375, 0.3123251138),
    (20.0, 0.3228291854, 0.3228291854),
]


@pytest.mark.parametrize(("ratio", "c2", "c1"), RECTANGLES)
def test_rectangle(ratio, c2, c1):
    """J to 5e-5 up to 8:1 at the default fineness; the longest strips need finer columns."""
    b = 0.7
    solution, G = solve(limb(ratio * b, b, "flat", 1.0 if ratio <= 8.0 else 1.5))
    assert torsion_stiffness(solution)[0] / G == pytest.approx(c2 * ratio * b**4, rel=5e-5)
    torque = np.array([0.0, 0, 0, 1.3, 0, 0])
    face = strain_at(solution, torque, np.array([[[0.0, b / 2]]]))[0, 0]
    # gamma_12 of the outermost element, one order below its twist: 0.4 % on 8 rows
    assert abs(G * face[5]) == pytest.approx(1.3 / (c1 * ratio * b**3), rel=4e-3)


def test_ellipse():
    """J = pi a^3 b^3 / (a^2 + b^2), semi-axes 2 and 1 in a frame turned by 25 degrees."""
    a, b, turn = 2.0, 1.0, np.deg2rad(25.0)

    def disc(u, v):
        p, q = a * u * np.sqrt(1 - v * v / 2), b * v * np.sqrt(1 - u * u / 2)
        return np.cos(turn) * p - np.sin(turn) * q, np.sin(turn) * p + np.cos(turn) * q

    solution, G = solve(mapped_mesh(disc, np.linspace(-1, 1, 15), np.linspace(-1, 1, 13)))
    exact = np.pi * a**3 * b**3 / (a * a + b * b)
    assert torsion_stiffness(solution)[0] / G == pytest.approx(exact, rel=2e-5)


def test_equilateral_triangle():
    """J = h^4 / (15 sqrt 3), here on six-node triangles (also W. D. Pilkey 2002, Ex. 5.6)."""
    h, n = 1.3, 16
    nodes, number = [], {}
    for i in range(2 * n + 1):
        for j in range(2 * n + 1 - i):
            number[i, j] = len(nodes)
            nodes.append((h * (i + j / 2) / (n * np.sqrt(3.0)), h * j / (2 * n)))
    elements = []
    for i in range(0, 2 * n, 2):
        for j in range(0, 2 * n - i, 2):
            up = [(i, j), (i + 2, j), (i, j + 2), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
            elements.append([number[p] for p in up])
            if i + j + 4 <= 2 * n:
                down = [(i + 2, j), (i + 2, j + 2), (i, j + 2)]
                down += [(i + 2, j + 1), (i + 1, j + 2), (i + 1, j + 1)]
                elements.append([number[p] for p in down])
    solution, G = solve(mesh_from_arrays(np.array(nodes), np.array(elements)))
    assert torsion_stiffness(solution)[0] / G == pytest.approx(h**4 / (15 * np.sqrt(3.0)), rel=2e-5)


@pytest.mark.parametrize(
    ("depth", "exact"),
    [(1.0, np.pi / 2 - 4 / np.pi), (0.5, 0.045381167797), (0.75, 0.140201072597)],
)
def test_half_ellipses(depth, exact):
    """Semicircle (pi/2 - 4/pi) r^4; half ellipses of half width 1 by bounded Ritz series."""
    solution, G = solve(limb(2.0, depth, "round"))
    assert torsion_stiffness(solution)[0] / G == pytest.approx(exact, rel=5e-5)


@pytest.mark.parametrize(
    ("nu", "at_the_flat", "on_average"),
    [
        (0.0, 0.50929582, 0.50929582),
        (0.3, 0.54847242, 0.51136620),
        (0.4, 0.55780018, 0.51185914),
    ],
)
def test_three_bending_centres_of_a_semicircle(nu, at_the_flat, on_average):
    """Distance from the flat over r: no twist at mid-flat (Timoshenko), on average, in energy.

    8 (3 + 4 nu) / (15 pi (1 + nu)) is the first; the 6x6 knows only the third, 8 / (5 pi).  The
    mean-twist values are from the Ritz flexure solution, recomputed.
    """
    assert at_the_flat == pytest.approx(8 * (3 + 4 * nu) / (15 * np.pi * (1 + nu)), rel=1e-7)
    solution, _ = solve(limb(2.0, 1.0, "round", 1.5), nu=nu)
    flat = 0.5
    assert flat - shear_centre(solution)[0, 1] == pytest.approx(8 / (5 * np.pi), rel=1e-5)

    # Twist per unit Vy through the origin, of every point: the section's own and the warping's.
    mesh = solution.mesh
    _, _, gradients = reference_rule(9, mesh.order)
    physical, _ = physical_gradients(mesh.nodes[0][mesh.elements], gradients)
    slope = solution.warping_slope[0][mesh.elements][..., 1]
    gradient = physical @ slope[:, None]
    twist = solution.plane_strain[0, 3, 1] + 0.5 * (gradient[..., 0, 2] - gradient[..., 1, 1])
    _, weights = integration_points(mesh)
    per_torque = solution.compliance[0, 3, 3]
    mean = (twist * weights[0]).sum() / weights.sum()
    assert flat - mean / per_torque == pytest.approx(on_average, rel=1e-5)

    # gradients at one node converge with second order only
    local = _local_twist(solution, np.array([0.0, flat]))
    assert flat - local / per_torque == pytest.approx(at_the_flat, rel=2e-3)


def _local_twist(solution, point):
    """Twist per unit Vy at a node, the mean over its elements."""
    mesh = solution.mesh
    node = int(np.linalg.norm(mesh.nodes[0] - point, axis=1).argmin())
    assert mesh.nodes[0][node] == pytest.approx(point, abs=1e-12)
    corners = np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
    twists = []
    for element, local in np.argwhere(mesh.elements == node):
        _, gradients = quad9(corners[[local]])
        nodes = mesh.elements[element]
        physical, _ = physical_gradients(mesh.nodes[0][nodes], gradients.transpose(0, 2, 1))
        d = physical[0] @ solution.warping_slope[0][nodes, :, 1]
        twists.append(solution.plane_strain[0, 3, 1] + 0.5 * (d[0, 2] - d[1, 1]))
    return np.mean(twists)
