"""What bowyers see (common practice, no source): flatbows 66 in long, 1.8 in wide, 45 lbf at 28 in,
of wood at 9 % moisture, well made, keep 1 to 2 in of set once exercised and rested; Osage orange
and yew least, ash and red oak most.

Nothing is tuned to it.  The band is 10 to 80 mm for the six woods and 25 to 50 mm for the good bow
woods among them.  Found: yew 16, Osage orange 21, hickory 38, rock elm 52, ash 56 and red oak
78 mm, all within the wide band and in the right order.  The order is that of the crushing strength
over E_L: 0.68 and 0.61 % for yew and Osage, 0.42 % for red oak, the least of the six.  The belly's
unloading with the full modulus after its peak, for want of figures, makes all of them too large
rather than too small.
"""

import pytest

from limbfe.analysis.bow.exercise import exercise
from limbfe.analysis.bow.kept import kept_set
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.studies.compare.scaling import scale_to

WOODS = (
    "shagbark hickory", "white ash", "rock elm", "northern red oak", "Osage orange", "Pacific yew",
)  # fmt: skip
CASE = """title = "Flatbow"
[wood.whole]
species = "{species}"
moisture = 9
[section]
back = "flat"
belly = {{ corner = "2 mm" }}
[taper]
unit = "in"
length = 33
outline = "parallel"
parallel_to = 17
width = 1.8
tip_width = 0.5
thickness_law = "even strain"
thickness = 0.5
tip_thickness = 0.34
grip_width = 1.1
grip_thickness = 1.2
fade = 2.5
[grip]
stiff_length = "4 in"
[string]
brace_height = "6 in"
stiffness = "38 kN"
mass = "8 g"
[draw]
length = "28 in"
steps = 8
[analysis]
elements_per_limb = 8
fineness = 0.5
"""


pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    folder, found = tmp_path_factory.mktemp("six"), {}
    for species in WOODS:
        path = folder / f"{species}.toml"
        path.write_text(CASE.format(species=species))
        equal = scale_to(build_setup(read_case(path)), draw_weight=45 * 4.4482216)
        found[species] = kept_set(exercise(equal.solved))
    return found


def test_set_of_six_flatbows(kept):
    mean = {species: 1e3 * one.mean for species, one in kept.items()}
    assert all(10.0 < value < 80.0 for value in mean.values()), mean
    assert 25.0 < mean["shagbark hickory"] < 50.0


def test_osage_and_yew_least_ash_and_red_oak_most(kept):
    order = sorted(kept, key=lambda species: kept[species].mean)
    assert set(order[:2]) == {"Osage orange", "Pacific yew"}
    assert set(order[-2:]) == {"white ash", "northern red oak"}


def test_most_bands_reach_what_is_seen(kept):
    """One to two inches lie within what each bow is likely to keep, but for Osage and yew."""
    for species in ("shagbark hickory", "white ash", "rock elm", "northern red oak"):
        one = kept[species]
        assert one.low < 0.050
        assert one.high is None or one.high > 0.025
