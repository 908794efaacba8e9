"""Files of readings: every way to write one, and every way it can be wrong."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import limbfe
from limbfe.analysis.bow.setup import adjust
from limbfe.case.build import build_setup
from limbfe.errors import CaseError

from .reading import read_readings

CASES = Path(__file__).parents[3] / "cases"
SETUP = build_setup(limbfe.read_case(CASES / "ash_flatbow.toml"))
HEAD = "draw_length [mm],draw_force [N],force_scatter [N],upper_tip [mm],limb,at [mm],position [mm]"
ROWS = ("300,62,1.5,210,,,", "400,101,1.5,,upper,300,41", "500,131,1.5,,lower,435,88")


def write(folder: Path, *lines: str, head: str = HEAD) -> Path:
    path = folder / "readings.csv"
    path.write_text("\n".join((head, *lines)), encoding="utf-8")
    return path


def test_the_same_readings_in_every_dress(tmp_path):
    plain = read_readings(write(tmp_path, *ROWS), SETUP)
    assert [(row.line, row.what) for row in plain.rows] == [
        (2, "force"), (2, "position"), (3, "force"), (3, "position"), (4, "force"), (4, "position"),
    ]  # fmt: skip
    assert [row.x for row in plain.rows[1::2]] == pytest.approx([0.89, 0.3, -0.435])
    dressed = (
        "sep=;\r\n# on the new scale\r\nDraw length (cm);Draw force [lbf];force_scatter [N];"
        "upper tip [cm];limb;at [in];position [mm];;\r\n\r\n"
        "30;13,93815436;1,5;21,0;;;;;\r\n"
        "40;22,70570307;1,5;;Upper;11 103/127;41;;\r\n"
        "50;29,4499714;1,5;;LOWER;17,12598425;88;;\r\n;;;;\r\n"
    )
    other = tmp_path / "dressed.csv"
    other.write_bytes(b"\xef\xbb\xbf" + dressed.encode())
    found = read_readings(other, SETUP)
    assert [row.line for row in found.rows] == [5, 5, 6, 6, 7, 7]
    np.testing.assert_allclose(found.value, plain.value, rtol=1e-6)
    assert [row.draw_length for row in found.rows] == pytest.approx(
        [row.draw_length for row in plain.rows]
    )
    assert [row.x for row in found.rows[1::2]] == pytest.approx([row.x for row in plain.rows[1::2]])


def test_a_draw_begins_where_the_braced_string_stands(tmp_path):
    """150 mm of brace height and 30 mm of grip: 180 mm is no pull yet, and no slip either."""
    row = read_readings(write(tmp_path, "180,0.5", "400,101", "500,131"), SETUP).rows[0]
    assert row.draw_length == pytest.approx(0.18)


def test_what_is_not_said_is_assumed_aloud(tmp_path):
    head = HEAD.partition(",limb")[0]
    readings = read_readings(
        write(tmp_path, "300,62,,210", "400,101,,", "500,300,3,", head=head), SETUP
    )
    np.testing.assert_allclose(readings.scatter, [3.0, 2e-3, 3.0, 3.0])
    assert any("3.0 N" in str(line) for line in readings.assumptions)
    assert any("2 mm" in str(line) for line in readings.assumptions)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (("500,131", "400,101"), r"line 3: draw_length \[mm\] = \"400\": is shorter than the one"),
        (("300,-62",), r"line 2: draw_force \[N\] = \"-62\": a pull is above zero"),
        (("300,62000",), "no bow pulls that hard; is the unit right"),
        (("120,62",), "the braced string already stands 180 mm .* from the back"),
        (("1400,62",), "no bow of 1780 mm .* is drawn that far"),
        (("300,sixty",), r"draw_force \[N\] = \"sixty\": must be a bare number"),
        (("300,62 N",), "must be a bare number"),
        (("300,nan",), "must be a bare number"),
        (("300,1e400",), "is too large a number"),
        (("300,1e300",), "no bow pulls that hard"),
        (("-300,62",), "the braced string already stands"),
        (("braced,62",), "a braced bow is not pulled"),
        (("braked,,,210",), r"must be a number or the word braced"),
        ((",62",), "line 2: has no draw_length"),
        (("300",), "line 2: holds no reading"),
        (("300,62,0",), r"force_scatter \[N\] = \"0\": must be above zero"),
        (("300,62,-1",), "must be above zero"),
        (("300,,1",), "has no draw_force beside it"),
        (("300,,,950",), "that place is only 890 mm .* from the middle of the grip"),
        (("300,,,,uper,300,41",), 'did you mean "upper"'),
        (("300,,,,,300,41",), "must be upper or lower"),
        (("300,,,,upper,,41",), "needs how far along the limb"),
        (("300,,,,upper,900,41",), "the upper limb ends at 890 mm"),
        (("300,,,,upper,60,41",), "lies in the grip"),
        (("300,,,,upper,-300,41",), "lies in the grip"),
        (("300,,,,upper,300,",), "has limb or at, but no position"),
        (("300,62,1,,upper,300,41,7,8",), "has 9 values for 7 columns; a number with a decimal"),
        (("300,62",), "holds 1 readings; at least 3"),
        (("300,,,210", "400,,,250", "500,,,290"), "holds no draw_force"),
        ((), "must hold a line of headings"),
        (('300,"62',), "not readable as CSV"),
    ],
)
def test_impossible_rows_are_refused_with_their_line(tmp_path, rows, said):
    with pytest.raises(CaseError, match=said) as refused:
        read_readings(write(tmp_path, *rows), SETUP)
    assert "readings.csv" in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("head", "said"),
    [
        ("draw_length [mm],draw_forse [N]", 'unknown column; did you mean "draw_force"'),
        ("draw_length [mm],weight [N]", "unknown column; use draw_length, draw_force"),
        ("draw_length [mm],draw_force [mm]", "is a length and must be a force"),
        ("draw_length [mm],draw_force [g]", 'write "lbf" or "kgf"'),
        ("draw_length [mm],draw_force", r"has no unit; write it behind the name: draw_force \[N\]"),
        ("draw_length [mm],draw_force [pond]", "has an unknown unit"),
        ("draw_force [N]", "no column draw_length"),
        ("draw_length [mm],draw_length [in]", "stands twice"),
        ("draw_length [mm],limb [mm]", "holds words and has no unit"),
    ],
)
def test_wrong_headings_are_refused(tmp_path, head, said):
    with pytest.raises(CaseError, match=r"line 1: .*" + said):
        read_readings(write(tmp_path, "300,62", head=head), SETUP)


def test_a_string_of_given_length_has_no_known_brace(tmp_path):
    setup = adjust(SETUP, stringing={"brace_height": None, "length": 1.7})
    with pytest.raises(CaseError, match="its brace height is not known"):
        read_readings(write(tmp_path, "braced,,,210", *ROWS), setup)


WHOLE = "\n".join((HEAD, *ROWS)).encode()
PIECES = st.sampled_from(
    [b",", b";", b"\t", b'"', b"\n", b"\r", b"[", b"]", b"-", b"1e9", b"nan", b"\xff", b"\0",
     b"braced", b"upper", b"mm", b"#", b"1/0", b"=", b"9" * 400, b"\xef\xbb\xbf"]
)  # fmt: skip


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    changes=st.lists(st.tuples(st.integers(0, len(WHOLE)), st.integers(0, 6), PIECES), max_size=4)
)
def test_mangled_files_are_read_or_refused(tmp_path, changes):
    content = WHOLE
    for at, cut, piece in changes:
        content = content[:at] + piece + content[at + cut :]
    path = tmp_path / "readings.csv"
    path.write_bytes(content)
    try:
        readings = read_readings(path, SETUP)
    except CaseError as error:
        said = str(error)
    else:
        said = f"{path}: read"
        assert np.isfinite(readings.value).all()
        assert (readings.scatter > 0.0).all()
    assert str(path) in said
    assert "\n" not in said
