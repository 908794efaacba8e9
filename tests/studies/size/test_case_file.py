"""A sized case file says what was computed, in the user's own words."""

import re

import numpy as np
import pytest

from limbfe.api import read_case
from limbfe.case.build import build_stave
from limbfe.errors import CaseError
from limbfe.stave import axis_at, grain_at, shape_at
from limbfe.studies.case_file import check_target, write_case
from limbfe.studies.size.recut import columns_of, recut, with_stations

from .make import CASES, coarse_ash

COURSE = """\
crown = ["flat", "flat", "flat", 120, 110, 100, 100, 90, 80, 70]
ring_radius = [180, 180, 178, 175, 170, 160, 150, 145, 142, 140]
run_out = [0, 0, 0, "1 in 60", 1, 1, 2, 2, 2, 2]
twist = [0, 0, 0, 0, 1, 2, 3, 4, 5, 5]

"""


@pytest.fixture(scope="module")
def elm():
    return read_case(CASES / "elm_longbow.toml")


def thinner(case):
    columns = columns_of(case)
    return {"thickness": columns["thickness"] - 1e-3 * np.linspace(0.3, 1.7, len(columns["width"]))}


def test_only_what_changed_is_rewritten(elm, tmp_path):
    sized = recut(elm, thinner(elm))
    written = write_case(sized, tmp_path / "sized.toml", ["made for a test"]).read_text()
    before = elm.path.read_text().splitlines()
    after = written.splitlines()
    assert after[0] == "# made for a test"
    gone = [line for line in before if line not in after]
    assert len(gone) == 2
    assert all(line.startswith("thickness") for line in gone)


def test_limbs_alike_are_divided_when_they_no_longer_are(tmp_path):
    case = read_case(coarse_ash(tmp_path))
    sized = recut(case, thinner(case), 0.66)
    again = read_case(write_case(sized, tmp_path / "sized.toml", []))
    assert again.file.limb.both is None
    for name, values in columns_of(sized).items():
        assert columns_of(again)[name] == pytest.approx(values, abs=1e-9)
    assert again.file.draw.length == pytest.approx(0.66)


def test_a_table_beside_the_case_is_written_into_it(tmp_path):
    text = (CASES / "ash_flatbow.toml").read_text()
    start, end = text.index("station "), text.index("[grip]")
    (tmp_path / "ash.csv").write_text(
        "station,width,thickness\n0,1.1,1.2\n3.2,1.1,1.1\n4.8,1.4,0.7\n7,2,0.57\n35,0.5,0.4\n"
    )
    text = text[:start] + 'table = "ash.csv"  # callipers\n\n' + text[end:]
    (tmp_path / "csv.toml").write_text(text.replace('unit = "mm"', 'unit = "in"'))
    case = read_case(tmp_path / "csv.toml")
    (tmp_path / "other").mkdir()
    target = write_case(recut(case, {}), tmp_path / "other" / "alone.toml", [])
    assert columns_of(read_case(target))["width"] == pytest.approx(columns_of(case)["width"])
    assert "width = [1.1, 1.1, 1.4, 2, 0.5]" in target.read_text()


def test_a_taper_gives_way_to_its_stations(tmp_path):
    case = read_case(CASES / "tapers" / "convex_circular.toml")
    target = write_case(recut(case, thinner(case)), tmp_path / "sized.toml", [])
    again, text = read_case(target), target.read_text()
    assert again.file.taper is None
    assert columns_of(again)["thickness"] == pytest.approx(
        columns_of(recut(case, thinner(case)))["thickness"], abs=1e-9
    )
    order = [text.index(f"[{name}") for name in ("section", "limb.upper", "limb.lower", "grip")]
    assert order == sorted(order)
    assert "# bending of an offcut" in text


def test_inches_stay_inches(tmp_path):
    """A draw and a taper in inches are written in inches."""
    text = (CASES / "tapers" / "convex_circular.toml").read_text()
    text = text.replace('unit = "mm"', 'unit = "in"')
    table = text.index("[taper]")
    ends = text.index("\n[", table + 1)
    inches = re.sub(
        r"= ([0-9.]+)", lambda found: f"= {float(found[1]) / 25.4:.6f}", text[table:ends]
    )
    (tmp_path / "inches.toml").write_text(text[:table] + inches + text[ends:])
    case = read_case(tmp_path / "inches.toml")
    target = write_case(recut(case, thinner(case), 0.6604), tmp_path / "sized.toml", [])
    again, written = read_case(target), target.read_text()
    assert columns_of(again)["width"] == pytest.approx(columns_of(case)["width"], abs=1e-6)
    assert 'unit = "in"' in written
    assert re.search(r'^length = "26 in', written, re.MULTILINE)
    assert "mm" not in re.findall(r"^(?:length|unit) = .*", written, re.MULTILINE)


def test_added_stations_leave_the_limb_as_it_was(elm):
    more = columns_of(with_stations(elm, np.array([0.298, -0.505, 0.2295, 1.2])))
    assert np.isin([0.298, -0.505], more["station"]).all()
    assert len(more["station"]) == len(columns_of(elm)["station"]) + 2
    assert np.interp(0.298, more["station"], more["width"]) == pytest.approx(0.0417, abs=3e-4)


def test_crown_grain_and_twist_are_read_between_stations_and_written(tmp_path):
    """A back flat at the handle, a pith that comes nearer, slopes and a twist that grow."""
    text = (CASES / "ash_flatbow.toml").read_text()
    for old, new in (
        ('back = "flat"', 'back = "crowned"'),
        ('ring_radius = "180 mm"\nrun_out = "1 in 60"', 'spiral = "2 deg"'),
        ("[grip]", COURSE + "[grip]"),
    ):
        assert old in text
        text = text.replace(old, new, 1)
    (tmp_path / "course.toml").write_text(text)
    case = read_case(tmp_path / "course.toml")
    at = np.array([-0.5, 0.143, 0.36])
    target = write_case(with_stations(case, at), tmp_path / "more.toml", [])
    assert '"flat", "flat"' in target.read_text()
    assert 'spiral = "2 deg"' in target.read_text()
    before, after = build_stave(case), build_stave(read_case(target))
    assert len(after.x) == len(before.x) + 3
    crown = [shape_at(stave, at).crown for stave in (before, after)]
    grain = [grain_at(stave, at) for stave in (before, after)]
    assert crown[0][1] > 0.125
    assert crown[1] == pytest.approx(crown[0], rel=1e-5)
    for name in ("ring_radius", "run_out", "spiral"):
        values = [getattr(one, name) for one in grain]
        assert values[1] == pytest.approx(values[0], abs=2e-6), name
        assert name == "spiral" or np.ptp(values[0]) > 0.0
    frames = [axis_at(stave, at)[1] for stave in (before, after)]
    twist = [np.arctan2(frame[:, 1, 2], frame[:, 1, 1]) for frame in frames]
    assert twist[1] == pytest.approx(twist[0], abs=2e-6)
    assert twist[0][0] > 0.03


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("ash.toml", "the case itself"),
        ("sized.txt", "ends in .toml"),
        ("nowhere/sized.toml", "no folder"),
    ],
)
def test_targets_that_are_refused(tmp_path, name, words):
    case = read_case(coarse_ash(tmp_path))
    with pytest.raises(CaseError, match=words):
        check_target(case, tmp_path / name)


def test_inline_limbs_are_divided_too(tmp_path):
    (tmp_path / "odd.toml").write_text("""title = "inline"
limb.both = { unit = "in", station = [0, "60 mm", 12, 35], width = [1, 1, 2, 0.5], thickness = [1.2, 1.1, 0.5, 0.4] }  # all of it
grip.stiff_length = "80 mm"
string = { brace_height = "150 mm", stiffness = "38 kN" }
section = { back = "flat", belly = "flat" }
draw.length = "28 in"
wood.whole = { species = "European ash", moisture = 11 }
""")  # noqa: E501
    case = read_case(tmp_path / "odd.toml")
    text = write_case(recut(case, thinner(case)), tmp_path / "sized.toml", []).read_text()
    assert text.count("# all of it") == 2
    assert 'station = [0, "60 mm", 12, 35]' in text
