"""The tillering log beside a case: what the page writes into it, and what it leaves alone."""

from __future__ import annotations

from pathlib import Path

import pytest

import limbfe
from limbfe.case.build import build_setup
from limbfe.errors import CaseError
from limbfe.page.desk import ChangedMeanwhileError
from limbfe.page.folder import Folder
from limbfe.page.tiller import Change, change_log, look_at_log, undo_log
from limbfe.studies.fit.log import read_log

CASES = Path(__file__).parents[2] / "cases"
SETUP = build_setup(limbfe.read_case(CASES / "ash_flatbow.toml"))
NAME = "bow_log.csv"
SHIPPED = (CASES / "ash_flatbow_log.csv").read_text("utf-8")
IN_MM = {"length": "mm", "force": "N"}


@pytest.fixture
def folder(tmp_path):
    return Folder(tmp_path.resolve())


def change(folder, line=None, units=IN_MM, **words):
    seen = look_at_log(folder, NAME, SETUP)["digest"]
    made = Change(words=words or None, line=line, units=units)
    change_log(folder, NAME, seen, made, SETUP)
    return (folder.path / NAME).read_text("utf-8")


def test_readings_entered_one_by_one_are_a_log_that_is_fitted(folder):
    """In any order: the file has them by day and by draw."""
    for drawn, force in (("400", "101"), ("300", "62"), ("braced", "")):
        change(folder, date="2024-03-09", draw_length=drawn, draw_force=force, upper_tip="180")
    change(folder, date="2024-03-02", draw_length="300", draw_force="70", set="4", moisture="10")
    text = change(
        folder, date="2024-03-09", draw_length="400", limb="lower", at="300", position="41"
    )
    assert [line.split(",")[:3] for line in text.splitlines()[1:]] == [
        ["2024-03-02", "300", "70"], ["2024-03-09", "braced", ""], ["2024-03-09", "300", "62"],
        ["2024-03-09", "400", "101"], ["2024-03-09", "400", ""],
    ]  # fmt: skip
    first, last = read_log(folder.path / NAME, SETUP)
    assert (first.set, first.moisture) == pytest.approx((0.004, 0.1))
    assert [row.value for row in last.readings.rows if row.what == "force"] == [62.0, 101.0]


def test_all_else_of_a_log_stays_as_its_writer_left_it(folder):
    (folder.path / NAME).write_text(SHIPPED, "utf-8")
    text = change(folder, date="2024-03-16", draw_length="585", draw_force="173")
    there, line = SHIPPED.splitlines(), "2024-03-16,585,173,,,,,,,,,,"
    k = text.splitlines().index(line)
    assert text.splitlines()[k - 1].startswith(",560,")
    assert text.splitlines()[k + 1].startswith(",610,183")
    assert [one for one in text.splitlines() if one != line] == there
    # taken out again, and changed: its notes and scatter stay
    assert change(folder, line=k + 1) == SHIPPED
    first = next(i for i, one in enumerate(there) if "lower limb eased" in one) + 1
    old = look_at_log(folder, NAME, SETUP)["sessions"][2]["rows"][0]
    assert old["line"] == first
    text = change(folder, line=first, **{**old["words"], "draw_force": "48"})
    assert text == SHIPPED.replace("2024-03-16,260,47,", "2024-03-16,260,48,")


def test_what_is_said_of_a_day_outlives_its_first_line(folder):
    (folder.path / NAME).write_text(SHIPPED, "utf-8")
    first = next(row for row in look_at_log(folder, NAME, SETUP)["sessions"][1]["rows"])
    change(folder, line=first["line"])
    sessions = read_log(folder.path / NAME, SETUP)
    assert [one.date.day for one in sessions] == [2, 9, 16]
    assert (sessions[1].set, sessions[1].moisture) == pytest.approx((0.009, 0.09))


def test_a_log_of_other_columns_and_separators_is_gone_on_with(folder):
    (folder.path / NAME).write_text(
        "# mine\r\nDraw length [in];notes;draw_force [lbf]\r\n12;long;14\r\n16;;22,5\r\n", "utf-8"
    )
    change(folder, draw_length="14 1/2", draw_force="19.5", upper_tip="7 1/4", date="2024-03-02")
    raw = (folder.path / NAME).read_bytes().decode()
    assert raw == (
        "# mine\r\nDraw length [in];notes;draw_force [lbf];upper_tip [in]\r\n12;long;14\r\n"
        "14 1/2;;19.5;7 1/4\r\n16;;22,5\r\n"
    )


def test_what_cannot_be_of_this_bow_is_refused_and_nothing_written(folder):
    before = change(folder, date="2024-03-02", draw_length="300", draw_force="62")
    for words, reason in (
        ({"draw_length": "3000"}, "no bow of"),
        ({"draw_length": "twelve"}, "must be a bare number"),
        ({"draw_length": "310", "draw_force": "-4"}, "a pull is above zero"),
        ({"draw_length": "310"}, "holds no reading"),
        ({"draw_length": "310", "draw_force": "6", "date": "2024-13-02"}, "no such day"),
        ({"draw_length": "310", "position": "20"}, "limb"),
        ({"draw_length": "310", "draw_force": "6" * 100}, "short number"),
    ):
        with pytest.raises(CaseError, match=reason):
            change(folder, **{"date": "2024-03-02", **words})
    with pytest.raises(CaseError, match="this one reading"):
        change(folder, line=2)
    assert (folder.path / NAME).read_text("utf-8") == before


def test_a_log_changed_meanwhile_is_not_written_over(folder):
    change(folder, date="2024-03-02", draw_length="300", draw_force="62")
    seen = look_at_log(folder, NAME, SETUP)["digest"]
    path = folder.path / NAME
    path.write_text(path.read_text("utf-8") + "2024-03-02,400,101\n", "utf-8")
    made = Change(words={"draw_length": "350", "draw_force": "80"}, line=None, units=IN_MM)
    with pytest.raises(ChangedMeanwhileError):
        change_log(folder, NAME, seen, made, SETUP)
    with pytest.raises(ChangedMeanwhileError):
        change_log(folder, NAME, None, made, SETUP)
    assert path.read_text("utf-8").endswith("400,101\n")


def test_a_link_is_not_followed(folder, tmp_path_factory):
    other = tmp_path_factory.mktemp("other") / "secret.csv"
    other.write_text("draw_length [mm],draw_force [N]\n300,62\n", "utf-8")
    (folder.path / NAME).symlink_to(other)
    with pytest.raises(CaseError, match="leads out of this folder"):
        look_at_log(folder, NAME, SETUP)


def test_every_change_is_taken_back_to_the_byte_the_first_one_too(folder):
    (folder.path / "other_log.csv").write_text(SHIPPED, "utf-8")
    first = Change(words={"draw_length": "300", "draw_force": "62"}, line=None, units=IN_MM)
    begun = change_log(folder, NAME, None, first, SETUP)
    seen = look_at_log(folder, NAME, SETUP)["digest"]
    with_it = (folder.path / NAME).read_bytes()
    again = change_log(folder, NAME, seen, first, SETUP)
    with pytest.raises(ChangedMeanwhileError):
        undo_log(folder, NAME, begun)
    undo_log(folder, NAME, again)
    assert (folder.path / NAME).read_bytes() == with_it
    undo_log(folder, NAME, begun)
    assert [one.name for one in folder.path.iterdir()] == ["other_log.csv"]
