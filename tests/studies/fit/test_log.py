"""A tillering log: several dated sessions in one file, however mangled, and what changed."""

import datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import limbfe
from limbfe.case.build import build_setup
from limbfe.errors import CaseError
from limbfe.studies.fit.log import read_log

CASES = Path(__file__).parents[3] / "cases"
SETUP = build_setup(limbfe.read_case(CASES / "ash_flatbow.toml"))
HEAD = "Date,draw_length [mm],draw_force [N],upper_tip [mm],set [mm],moisture [%],notes"
ROWS = (
    "2024-03-02,300,90,,4,10.5,long string",
    ",400,130,215,,,",
    "2024-03-09,,,,9,,only looked at",
    "2024-03-16,300,70,,12,9,",
    ",400,100,210,,,",
    ",500,130,240,,,",
)


def write(folder: Path, *lines: str, head: str = HEAD) -> Path:
    path = folder / "log.csv"
    path.write_text("\n".join((head, *lines)), encoding="utf-8")
    return path


def test_sessions_are_parted_by_their_dates(tmp_path):
    sessions = read_log(write(tmp_path, *ROWS), SETUP)
    assert [one.date for one in sessions] == [
        datetime.date(2024, 3, 2), datetime.date(2024, 3, 9), datetime.date(2024, 3, 16),
    ]  # fmt: skip
    assert [one.set for one in sessions] == pytest.approx([0.004, 0.009, 0.012])
    assert [one.moisture for one in sessions] == pytest.approx([0.105, None, 0.09])
    # draw lengths may start anew every day
    assert [len(one.readings.rows) for one in sessions] == [3, 0, 5]


def test_bare_moisture_is_in_per_cent_as_in_a_case(tmp_path):
    bare = read_log(write(tmp_path, *ROWS, head=HEAD.replace(" [%]", "")), SETUP)
    assert [one.moisture for one in bare] == pytest.approx([0.105, None, 0.09])


@pytest.mark.parametrize("date", ["2024-3-2", "2024/03/02", "2.3.2024", "02.03.2024", "2024.3.2"])
def test_dates_that_read_one_way_only(tmp_path, date):
    rows = [ROWS[0].replace("2024-03-02", date), *ROWS[1:]]
    assert read_log(write(tmp_path, *rows), SETUP)[0].date == datetime.date(2024, 3, 2)


def test_a_file_without_dates_is_one_session():
    (one,) = read_log(CASES / "ash_flatbow_readings.csv", SETUP)
    assert one.date is None
    assert len(one.readings.rows) > 30


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (("3/2/2024,300,90,,,,",), "no date that reads one way only; write year, month, day"),
        (("yesterday,300,90,,,,",), "such as 2024-03-05"),
        (("2024-02-30,300,90,,,,",), "there is no such day"),
        (("0024-02-03,300,90,,,,",), "is the year right"),
        ((*ROWS, "2024-03-10,300,90,,,,"), "is earlier than the day above it"),
        ((",300,90,,,,", *ROWS), "line 2: has no date; the first row needs one"),
        ((*ROWS[:2], ",410,131,,5,,"), "another set stands above it on the same day"),
        (("2024-03-02,300,90,,400,,", *ROWS[1:]), r"set \[mm\] = \"400\": must be 300 mm"),
        (("2024-03-02,300,90,,4,90,", *ROWS[1:]), r"moisture \[%\] = \"90\": must be between"),
        (("2024-03-02,300,90,,4,-1,", *ROWS[1:]), "must be between 0 and 40%"),
        (ROWS[:3], r"in the last session, 2024-03-09; earlier ones may hold less"),
        (("2024-03-02,500,90,,4,,", ",400,80,,,,"), "is shorter than the one above it"),
        (("2024-03-02,,,,,,",), "line 2: has no draw_length"),
    ],
)
def test_impossible_logs_are_refused_with_their_line(tmp_path, rows, said):
    with pytest.raises(CaseError, match=said) as refused:
        read_log(write(tmp_path, *rows), SETUP)
    assert "log.csv" in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("head", "said"),
    [
        (HEAD.replace("set [mm]", "set"), r"set \[mm\], \[cm\] or \[in\]"),
        (HEAD.replace("Date", "date [mm]"), "holds words and has no unit"),
        (HEAD.replace("Date", "dates"), 'did you mean "date"'),
    ],
)
def test_wrong_headings_are_refused(tmp_path, head, said):
    with pytest.raises(CaseError, match=said):
        read_log(write(tmp_path, *ROWS, head=head), SETUP)


def test_a_log_too_long_is_refused(tmp_path):
    rows = [f"20{k // 12:02d}-{k % 12 + 1:02d}-01,300,90,,,," for k in range(61)]
    with pytest.raises(CaseError, match="holds 61 sessions; at most 60"):
        read_log(write(tmp_path, *rows), SETUP)


WHOLE = "\n".join((HEAD, *ROWS)).encode()
PIECES = st.sampled_from(
    [b",", b";", b"\t", b'"', b"\n", b"\r", b"[", b"-", b"1e9", b"nan", b"\xff", b"\0", b"%",
     b"2024-13-01", b"2024-03-05", b"braced", b"#", b"9" * 400, b"\xef\xbb\xbf", b"1/0", b"date"]
)  # fmt: skip


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    changes=st.lists(st.tuples(st.integers(0, len(WHOLE)), st.integers(0, 6), PIECES), max_size=4)
)
def test_mangled_logs_are_read_or_refused(tmp_path, changes):
    content = WHOLE
    for at, cut, piece in changes:
        content = content[:at] + piece + content[at + cut :]
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    try:
        sessions = read_log(path, SETUP)
    except CaseError as error:
        said = str(error)
    else:
        said = f"{path}: read"
        for one in sessions:
            assert np.isfinite(one.readings.value).all()
            assert one.set is None or abs(one.set) <= 0.3
        dates = [one.date for one in sessions if one.date is not None]
        assert dates == sorted(dates)
    assert str(path) in said
    assert "\n" not in said


@pytest.mark.slow
def test_the_shipped_log_says_what_was_done_to_the_bow():
    """Invented with limbfe: 0.8 mm off both limbs, then 0.6 mm off most of the lower one.

    Stiffness goes with the cube of the thickness: 0.8 mm of some 12 mm are a fifth.
    """
    fit = limbfe.fit(CASES / "ash_flatbow.toml", CASES / "ash_flatbow_log.csv")
    assert fit.log is not None
    first, second, third = fit.log.sessions
    assert (first.set, third.set) == pytest.approx((0.004, 0.014))
    assert first.weight > second.weight > third.weight
    assert fit.log.common == pytest.approx(0.41)
    assert first.stiffness[1] / second.stiffness[1] == pytest.approx(1.22, abs=0.06)
    (_, early), (_, late) = fit.log.changes
    said = [str(line) for line in early]
    assert any("upper limb is" in one and "softer" in one for one in said)
    assert any("lower limb is" in one and "softer" in one for one in said)
    assert any("the set grew by 5 mm" in one for one in said)
    assert any("drier" in one for one in said)
    said = [str(line) for line in late]
    assert any("lower limb is" in one and "softer" in one for one in said)
    assert not any("upper limb is" in one for one in said)
    assert fit.to_dict()["log"]["sessions"][2]["date"] == "2024-03-16"
    assert len(fit.readings.rows) < 40  # of the last session alone
