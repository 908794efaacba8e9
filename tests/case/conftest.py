"""A complete case to break, and the message it then gives."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from limbfe.case.load import read_case
from limbfe.case.schema import Case
from limbfe.errors import CaseError

COMPLETE = """\
title = "Practice stave, every key given"
question = "Does every key reach the bow?"

[wood.heartwood]
species = "rock elm"
moisture = 9
E_L = "10.4 GPa"
cov = { E_L = 0.18 }
[wood.sapwood]
species = "rock elm"
E_L = "9.3 GPa"
[wood.backing]
species = "shagbark hickory"

[grain]
ring_radius = "98 mm"
run_out = "1 in 30"
sideways = "-2 deg"
spiral = "3 deg"

[section]
back = { crown = "70 mm" }
belly = "round"

[limb.upper]
unit = "mm"
station   = [0, 55, 130, 320, 510, 700, 880]
width     = [31, 31, 35, 33, 28, 21, 13]
thickness = [33, 30, 23, 21, 18.5, 15.5, 12]
sapwood   = [6, 6, 5.5, 5, 4.5, 4, 3]
lean      = [0, 1, 2, 3, 4, 3, 0]
backing   = [2, 2, 2, 2, 2, 2, 2]
reflex    = [0, 0, 1, 3, 9, 17, 28]
sideways  = [0, 0, 1, 1, -1, -2, 0]
twist     = [0, 0, 0, 1, 2, 4, 5]

[limb.lower]
unit = "in"
station   = [0, 2.5, 5, 12, 20, 28, 34]
width     = ["31 mm", 1.22, 1.38, 1.3, 1.1, 0.8, 0.5]
thickness = ["33 mm", 1.18, 0.9, 0.82, 0.72, 0.6, 0.48]
sapwood   = ["6 mm", 0.24, 0.22, 0.2, 0.18, 0.16, 0.12]
lean      = [0, -1, -2, -3, "-2 deg", 0, 0]
backing   = ["2 mm", 0.08, 0.08, 0.08, 0.08, 0.08, 0.08]
twist     = [0, 0, 0, "-1 deg", -1, -3, -4]

[grip]
stiff_length = "4 in"
hold = "hand"
hand_at = "-18 mm"
arrow_at = "27 mm"

[string]
brace_height = "152 mm"
stiffness = "42 kN"
mass = "7.5 g"
serving = "1 g"
nock_offset = "-2 mm"
diameter = "2.4 mm"
strung = "3 h"

[draw]
length = "28 in"
steps = 24
held = "6 s"

[arrow]
mass = "29 g"
shaft_diameter = "8 mm"
length = "29 in"
drag_coefficient = 2.8

[tips]
mass = "3 g"

[shot]
loss_factor = 0.009
string_loss_factor = 0.02
hand_mass = "1.5 kg"
hand_stiffness = "5 kN/m"

[analysis]
elements_per_limb = 12
fineness = 0.5

[[knot]]
name = "A"
limb = "upper"
at = "340 mm"
face = "back"
across = "-5 mm"
diameter = "9 mm"
far_diameter = "4 mm"
lean = "25 deg"
state = "live"

[[knot]]
name = "D"
limb = "lower"
at = "1 3/8 in"
face = "left"
across = "3 mm"
diameter = "5 mm"
state = "filled"
filler = { E = "2.4 GPa", tension = "38 MPa", shear = "19 MPa" }

[[decay]]
name = "B"
limb = "lower"
at = "590 mm"
face = "belly"
across = "3 mm"
length = "45 mm"
width = "9 mm"
depth = "5 mm"
stage = "moderate"
rot = "white"
multipliers = { E = 0.8 }
"""

TAPERED = """\
title = "Practice taper, every key of a strategy given"
question = "Does every key of the strategy reach the limb?"

[wood.heartwood]
species = "rock elm"
moisture = 10
[wood.sapwood]
species = "rock elm"
E_L = "9.1 GPa"
[wood.backing]
species = "shagbark hickory"

[section]
back = "flat"
belly = { corner = "1.5 mm" }

[taper]
unit = "mm"
length = 860
outline = "parallel"
width = 43
parallel_to = "17 in"
tip_width = 12
thickness_law = "elliptical bend"
thickness = 15
tip_thickness = 13
ellipse_ratio = 0.8
tips = "stiff"
tip_length = 130
grip_width = 29
grip_thickness = 33
fade = 55
sapwood = 3
lean = 2
backing = 1.5
reflex = 20

[grip]
stiff_length = "110 mm"

[string]
length = "1.66 m"
stiffness = "42 kN"

[draw]
length = "27 in"
steps = 8

[analysis]
elements_per_limb = 8
fineness = 0.5
"""


@pytest.fixture(scope="session")
def tapered() -> str:
    """Return the text of a case that gives every key of a taper."""
    return TAPERED


@pytest.fixture(scope="session")
def complete() -> str:
    """Return the text of a case that gives every key there is, upper and lower limb unequal."""
    return COMPLETE


@pytest.fixture
def read(tmp_path: Path) -> Callable[[str | bytes], Case]:
    """Return a reader of text as if it stood in a file ``stave.toml``."""

    def read_text(text: str | bytes) -> Case:
        path = tmp_path / "stave.toml"
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return read_case(path)

    return read_text


@pytest.fixture
def refused(read: Callable[[str | bytes], Case]) -> Callable[[str | bytes], CaseError]:
    """Return the error with which a text is refused."""

    def error(text: str | bytes) -> CaseError:
        with pytest.raises(CaseError) as caught:
            read(text)
        return caught.value

    return error


@pytest.fixture
def refusal(refused: Callable[[str | bytes], CaseError]) -> Callable[[str | bytes], str]:
    """Return the message with which a text is refused."""
    return lambda text: str(refused(text))
