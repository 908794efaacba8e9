"""H. Chen, W. Yu, M. Capellaro, A critical assessment of computer tools for calculating composite
wind turbine blade properties, Wind Energy 13 (2010) 497-516: the isotropic thick tube.

Printed values read second-hand in byuflowlab/GXBeam.jl, test/section.jl.  The printed GJ is 2 %
above the closed form of a circular tube, so it is held to that only.
"""

import numpy as np
import pytest

from limbfe.section import mapped_mesh, section_stiffness


def test_thick_tube():
    """R 0.3 m, wall 0.2 m, E 73 GPa, nu 0.33, 2800 kg/m3."""
    E, nu, rho = 73e9, 0.33, 2800.0
    lame, G = E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))
    C = np.diag([2 * G] * 3 + [G] * 3)
    C[:3, :3] += lame
    mesh = mapped_mesh(
        lambda a, r: (r * np.cos(-a), r * np.sin(-a)),
        np.linspace(0, 2 * np.pi, 49),
        np.linspace(0.1, 0.3, 9),
        closed=True,
    )
    solution = section_stiffness(mesh, C, np.array(rho))
    K = np.diag(solution.K[0])
    assert K[0] == pytest.approx(1.835e10, rel=5e-4)
    assert K[[1, 2]] == pytest.approx(4.682e9, rel=2e-3)
    assert K[3] == pytest.approx(3.519e8, rel=0.021)
    assert K[[4, 5]] == pytest.approx(4.587e8, rel=5e-4)
    area, second = np.pi * (0.3**2 - 0.1**2), np.pi * (0.3**4 - 0.1**4) / 4
    assert K[0] == pytest.approx(E * area, rel=2e-6)
    assert K[3] == pytest.approx(2 * G * second, rel=3e-6)
    assert K[[4, 5]] == pytest.approx(E * second, rel=3e-6)
    assert solution.mass[0, 0, 0] == pytest.approx(703.7, rel=1e-4)
    assert solution.mass[0, [4, 5], [4, 5]] == pytest.approx(17.59, rel=3e-4)
