"""Every command, typed as a user types it; one in a process of its own, as a shell runs it."""

import io
import json
import subprocess
import sys
import tomllib
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import NamedTuple

import meshio
import pytest

from limbfe.cli import main

CASES = Path(__file__).parents[2] / "cases"
ASH = str(CASES / "ash_flatbow.toml")
COARSE = "\n[analysis]\nelements_per_limb = 6\nfineness = 0.5\n"


class Done(NamedTuple):
    returncode: int
    stdout: str
    stderr: str


def limbfe(*words: str) -> Done:
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = main(words)
    return Done(code, out.getvalue(), err.getvalue())


@pytest.fixture
def ash(tmp_path):
    """Return the path of the ash flatbow on a coarse mesh, with few steps."""
    path = tmp_path / "ash.toml"
    path.write_text(Path(ASH).read_text().replace("steps = 30", "steps = 8") + COARSE)
    return str(path)


def test_draw_prints_one_json_object_and_nothing_else():
    command = [sys.executable, "-m", "limbfe", "draw", ASH, "--json"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    result = json.loads(done.stdout)
    assert {"brace", "draw", "first_pull", "tips", "tiller"} <= result.keys()
    assert result["draw"]["draw_length_mm"][-1] == pytest.approx(711.2)


def test_assess_writes_its_files_and_leaves_no_parts(ash, tmp_path):
    out = tmp_path / "new" / "folder"
    done = limbfe("assess", ash, "--out", str(out), "--no-pictures", "--units", "imperial")
    assert done.returncode == 0, done.stderr
    assert sorted(path.name for path in out.iterdir()) == ["limb.vtu", "results.json"]
    assert json.loads((out / "results.json").read_text())["case"] in done.stdout
    assert "lbf" in done.stdout


@pytest.mark.slow
def test_assess_writes_report_pictures_and_every_step(tmp_path):
    done = limbfe("assess", ASH, "--out", str(tmp_path), "--series")
    assert done.returncode == 0, done.stderr
    names = {path.name for path in tmp_path.iterdir()}
    assert {"report.html", "faces.png", "strength.png", "draw.png", "draw.pvd"} <= names
    steps = sorted(tmp_path.glob("draw_*.vtu"))
    assert len(steps) == 31, "brace and the case's 30 steps"
    for path in steps:
        data = meshio.read(path).point_data
        assert {"station_m", "displacement_m", "axial_stress_Pa", "strength_used"} <= data.keys()
    assert "Ash flatbow" in (tmp_path / "report.html").read_text()


def test_an_unwritable_folder_is_refused_before_anything_is_computed(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    done = limbfe("assess", ASH, "--out", str(blocked / "out"))
    assert done.returncode == 2
    assert "--out" in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def test_section_and_woods(ash):
    done = limbfe("section", ash, "--at", "12 in", "--limb", "lower", "--json")
    assert done.returncode == 0, done.stderr
    section = json.loads(done.stdout)
    assert section["station_mm"] == pytest.approx(-304.8)
    assert len(section["stiffness_SI"]) == 6
    assert limbfe("woods", "robinia").returncode == 0
    assert "nearest" in limbfe("woods", "robinnia").stderr
    bent = json.loads(limbfe("woods", "ipe", "--bending", "--json").stdout)["woods"][0]
    assert bent["bending_strength_simulated_MPa"] == pytest.approx(177.0, abs=0.2)


def test_long_string_pull_of_even_limbs(ash):
    done = limbfe("pull", ash, "--string-length", "1.9 m", "--force", "150 N", "--json")
    assert done.returncode == 0, done.stderr
    pulled = json.loads(done.stdout)
    moved = pulled["tip_movement_mm"]
    # The string's middle is almost free to slide along the bow: the solver's residual of 1e-10
    # leaves a few micrometres in that soft direction.
    assert moved["upper"] == pytest.approx(moved["lower"], abs=0.05)
    assert pulled["stiffer_limb"] == "neither"


def changed(tmp_path: Path, **changes: str) -> str:
    text = Path(ASH).read_text()
    for old, new in changes.values():
        assert old in text
        text = text.replace(old, new)
    case = tmp_path / "changed.toml"
    case.write_text(text)
    return str(case)


def test_fit_writes_a_case_that_can_be_read(ash, tmp_path):
    case = Path(ash)
    readings = tmp_path / "readings.csv"
    readings.write_text("draw_length [in],draw_force [lbf]\n14,20\n18,28\n22,34\n")
    out, picture = tmp_path / "fitted.toml", tmp_path / "fit.png"
    words = ("--out", str(out), "--png", str(picture), "--units", "imperial")
    done = limbfe("fit", str(case), str(readings), *words)
    assert done.returncode == 0, done.stderr
    assert "which limb is the stiffer" in done.stdout
    assert picture.stat().st_size > 10_000
    fitted = tomllib.loads(out.read_text(encoding="utf-8"))
    wood = fitted["wood"]["whole"]
    assert 8.0 < float(wood["E_L"].split()[0]) < 16.0
    assert 0.0 < wood["cov"]["E_L"] < 0.1
    assert "# Flatbow of clear ash" in out.read_text(encoding="utf-8")
    refused = limbfe("fit", str(case), str(readings), "--exercised")
    assert refused.returncode == 2
    assert "leave it out (--first-pull says otherwise)" in refused.stderr
    refused = limbfe("fit", str(case), str(readings), "--out", str(case))
    assert refused.returncode == 2
    assert "that is the case itself" in refused.stderr


def test_a_limb_that_kicks_sideways_ends_with_3_and_the_brace_height(tmp_path):
    width = "width     = [27, 27, 36, 50, 50, 47, 41, 32, 23, 13]"
    thickness = "thickness = [30, 28, 18, 14.4, 13.6, 12.7, 11.8, 10.8, 9.9, 10]"
    case = changed(
        tmp_path,
        width=(width, "width = [24, 22, 16, 9, 9, 9, 8, 8, 8, 8]"),
        thickness=(thickness, "thickness = [30, 28, 24, 22, 22, 21, 20, 18, 16, 15]"),
        rings=('ring_radius = "180 mm"', ""),
    )
    done = limbfe("draw", case)
    assert done.returncode == 3
    assert "not stable" in done.stderr
    assert "braced 150 mm (5.91 in) high" in done.stderr
    assert done.stdout == ""


@pytest.mark.parametrize(("length", "said"), [("1.85 m", "is slack"), ("1.77 m", "in) high")])
def test_a_string_too_long_to_brace_is_refused(tmp_path, length, said):
    case = changed(tmp_path, string=('brace_height = "150 mm"', f'length = "{length}"'))
    done = limbfe("draw", case)
    assert done.returncode == 2
    *before, last = done.stderr.splitlines()
    assert said in last
    assert "pull" in last
    assert all(line.startswith("Compiling") for line in before)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["section", ASH, "--at", "12"], "has no unit"),
        (["section", ASH, "--at", "3 m"], "outside the stave"),
        (["pull", ASH, "--string-length", "1.9 m"], "one of --force and --tip-movement"),
        (["pull", ASH, "--string", "--force", "40 lbf"], "give either"),
        (["pull", ASH, "--brace-height", "6 in"], "--brace-height goes with --string"),
        (["defect", ASH, "A"], "no knot or decay of that name"),
        (["draw", "nowhere.toml"], "nowhere.toml"),
        (["show", ASH, "--first-strain", "much"], "give a strain"),
        (["show", ASH, "--movie", "draw.avi"], "name it .gif or .mp4"),
        (["assess", ASH, "--series"], "add --out DIR"),
        (["sweep", ASH, "A", "--moisture", "6:14:2"], 'leave out the name "A"'),
        (["sweep", ASH, "--moisture", "2:6:2"], "moisture = 2 %"),
        (["woods", "--json"], "goes with --bending"),
        (
            ["draw", ASH, "--to", "300 in"],
            "must lie between 100 mm (3.94 in) and 1500 mm (59.1 in)",
        ),
        (["pull", ASH, "--string-length", "1.9 m", "--force=-20 N"], '"-20 N": must be above zero'),
        (["shave", ASH, "--png", "shave.doc"], 'ends in ".doc"; name it .png or .pdf or .svg'),
        (["fit", ASH, "readings.csv", "--png", "nowhere/fit.png"], 'there is no folder "nowhere"'),
        (["show", ASH, "--page", "cases"], "--page cases: is a folder"),
    ],
)
def test_bad_words_are_refused_in_one_line(words, said):
    done = limbfe(*words)
    assert done.returncode == 2
    assert said in done.stderr
    assert done.stderr.count("\n") == 1
    assert done.stdout == ""
