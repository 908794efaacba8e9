"""Sizing for even strain, against the bow whose drawn limbs are circular arcs.

Statics gives the stiffness ``EI(s) = T h(s) R`` that bends a limb into an arc of radius R from a
rigid grip, with ``T`` the string's tension and ``h(s)`` its lever about every station (closed
form, no source beyond statics; the same bow as in `test_circular_arc_bows`).  With a rectangular
section of constant thickness t the width must go with EI, the strain is t / 2R everywhere, and so
sizing that width for even strain, from any thickness, must come back to the constant one.
Inextensible limbs without shear; the tip, where that width would fall to zero, is left 9 mm wide.
"""

import numpy as np
import pytest
from scipy.integrate import trapezoid

from limbfe.api import read_case
from limbfe.studies.size.even import size_evenly
from limbfe.studies.size.wanted import Wanted
from limbfe.wood.species import make_wood
from limbfe.wood.weakest_link import SHAPE, bar_volume

GRIP, LIMB, RADIUS, DRAW, ROOT = 0.1, 0.75, 0.8, 0.7, 50.0
MODULUS, THICKNESS, STRENGTH = 12e9, 0.008, 400e6

CASE = """title = "Limbs that bend into arcs"
[wood.whole]
species = "European ash"
moisture = 12
E_L = "12 GPa"
compression_proportional_limit = "390 MPa"
compression_plateau = "390 MPa"
compression_strength = "400 MPa"
tension_strength = "400 MPa"
bending_strength = "400 MPa"
[section]
back = "flat"
belly = "flat"
[limb.both]
unit = "m"
station = {station}
width = {width}
thickness = {thickness}
[grip]
stiff_length = "0.2 m"
hold = "clamp"
[string]
length = "{string} m"
stiffness = "8000 kN"
mass = "0 g"
[draw]
length = "{draw} m"
held = "107.78 s"
steps = 8
[analysis]
elements_per_limb = 9
fineness = 0.5
"""


def arc() -> tuple[np.ndarray, np.ndarray, float, float]:
    """Distances from the grip's edge, widths there, string length and draw force."""
    turn = LIMB / RADIUS
    tip = np.array([RADIUS * (1.0 - np.cos(turn)), GRIP + RADIUS * np.sin(turn)])
    string = np.hypot(DRAW - tip[0], tip[1])
    u = np.array([DRAW - tip[0], -tip[1]]) / string
    s = np.array([0.0, 0.05, 0.12, 0.2, 0.28, 0.36, 0.44, 0.52, 0.6, 0.66, 0.71, 0.735, 0.75])
    near, far = (LIMB - s) / (2.0 * RADIUS), (LIMB + s) / (2.0 * RADIUS)
    chord = 2.0 * RADIUS * np.sin(near)
    lever = chord * (np.cos(far) * u[0] - np.sin(far) * u[1])
    EI = ROOT * lever / lever[0]
    force = 2.0 * ROOT / (RADIUS * lever[0]) * u[0]
    return s, 12.0 * EI / (MODULUS * THICKNESS**3), 2.0 * string, force


def test_the_width_of_the_arc_gets_its_constant_thickness_back(tmp_path):
    s, width, string, force = arc()
    assert force == pytest.approx(192.87034526 * ROOT / 100.0, rel=1e-9)
    wrong = THICKNESS * (1.0 + 0.12 * np.sin(3.0 * s / LIMB) + 0.05 * s / LIMB)
    wrong[0] = wrong[-1] = THICKNESS
    columns = {
        "station": [0.0, *(GRIP + s)],
        "width": [width[0], *np.maximum(width, 0.009)],
        "thickness": [THICKNESS, *wrong],
    }
    text = {name: [round(float(v), 7) for v in values] for name, values in columns.items()}
    path = tmp_path / "arc.toml"
    path.write_text(CASE.format(**text, string=string, draw=DRAW + THICKNESS / 2.0))
    sized = size_evenly(
        read_case(path),
        Wanted(weight=force, draw_length=DRAW + THICKNESS / 2.0, allowance=2e-3, tip=0.004),
    )
    assert sized.after.force == pytest.approx(force, rel=5e-4)
    # Not in the last sixth, next to the tip that is wider than the arc's.
    limb = (np.abs(sized.x) > GRIP - 1e-9) & (np.abs(sized.x) < GRIP + 0.85 * LIMB)
    assert np.abs(sized.thickness_now[limb] / THICKNESS - 1.0).max() > 0.14
    assert sized.thickness[limb] == pytest.approx(np.full(limb.sum(), THICKNESS), rel=3e-3)
    used = sized.after.used_at(sized.x[limb])
    of_a_bar = THICKNESS / (2.0 * RADIUS) * MODULUS / STRENGTH
    assert used == pytest.approx(float(used.mean()), rel=0.01)
    assert used == pytest.approx(of_a_bar * size_of_the_back(s, width), rel=0.01)


def size_of_the_back(s: np.ndarray, width: np.ndarray) -> float:
    """How much more the whole back uses than a test bar of as much stress (Weibull 1939).

    Closed form: strain grows evenly from the middle plane to the back and is alike along both
    limbs, so the stretched half of the thickness counts with 1 / (SHAPE + 1).
    """
    stretched = 2.0 * trapezoid(width, s) * 0.5 * THICKNESS / (SHAPE + 1.0)
    given = dict.fromkeys(("tension_strength", "bending_strength"), STRENGTH)
    given |= {"compression_strength": STRENGTH, "compression_proportional_limit": 390e6}
    given |= {"compression_plateau": 390e6, "E_L": MODULUS}
    bar = make_wood(name="whole", species="European ash", moisture=0.12, given=given, cov={})
    return float((stretched / bar_volume(bar)) ** (1.0 / SHAPE))
