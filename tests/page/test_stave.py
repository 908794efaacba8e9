"""The sheet of a stave on the page: read, drawn, edited and saved as the command line reads it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from limbfe.case.sheet_load import read_sheet
from limbfe.errors import CaseError
from limbfe.page.desk import new_desk, open_desk
from limbfe.page.entry import describe_entry
from limbfe.page.folder import Folder
from limbfe.page.room import BLANK_STAVE, open_room

CASES = Path(__file__).parents[2] / "cases"
POLE = (CASES / "staves" / "elm_pole.toml").read_text("utf-8")


@pytest.fixture
def folder(tmp_path):
    here = tmp_path / "staves"
    here.mkdir()
    (here / "pole.toml").write_text(POLE.replace("../elm_longbow", "elm_longbow"), "utf-8")
    (here / "elm_longbow.toml").write_text((CASES / "elm_longbow.toml").read_text("utf-8"), "utf-8")
    return Folder(here.resolve())


def change(desk, *edits):
    desk.change(desk.version, edits, "")
    return desk.look()


def test_a_shipped_stave_is_drawn_as_it_was_measured(folder):
    seen = open_desk(folder, "pole.toml").look(0.842)
    assert (seen["kind"], seen["faults"], seen["sound"]) == ("stave", [], True)
    drawing = seen["drawing"]
    k = drawing["bow"]["x"].index(1100.0)
    at = {name: drawing["bow"][name][k] for name in ("left", "right", "depth", "rise", "sapwood")}
    assert at == {"left": 29.0, "right": 42.0, "depth": 55.0, "rise": 6.0, "sapwood": 7.0}
    assert [(zone["name"], zone["x"], zone["across"]) for zone in drawing["zones"]][:2] == [
        ("k1", 228.0, -14.0), ("k2", 655.0, 24.0),
    ]  # fmt: skip
    right = [point[0] for point in drawing["section"]["outline"]]
    assert max(right) - min(right) == pytest.approx(32.2 + 40.7, abs=0.6)
    assert drawing["section"]["words"].startswith("842 mm")


def test_edits_of_a_stave_keep_all_else_and_are_read_as_typed(folder):
    desk = open_desk(folder, "pole.toml")
    before = desk.text
    change(desk, {"do": "set", "loc": ["stave", "left", 2], "text": "35.5"})
    assert desk.text == before.replace("[41, 39, 34,", "[41, 39, 35.5,")
    change(desk, {"do": "row", "limb": "stave", "at": 1})
    assert desk.text.count("[stave]") == 1
    seen = change(desk, {"do": "drop_row", "limb": "stave", "at": 1})
    assert seen["raw"]["stave"]["left"][:3] == [41, 39, 35.5]
    seen = change(desk, {"do": "put", "loc": ["stave", "pith_ends"], "value": ["88 mm", "70"]})
    assert "keep one" in seen["message"] or "pith" in seen["message"]  # beside the column
    desk.undo(desk.version)
    seen = change(desk, {"do": "column", "limb": "stave", "name": "pith_across"})
    assert seen["raw"]["stave"]["pith_across"] == [""] * 7


def test_points_of_the_line_are_placed_moved_and_taken_out(folder):
    desk = open_desk(folder, "pole.toml")
    point = {"do": "point", "values": {"at": "400 mm", "across": "2.5 mm"}}
    change(desk, point)
    seen = change(desk, {"do": "point", "values": {"at": "1500 mm", "across": "-4 mm"}})
    assert [one["across"] for one in seen["drawing"]["points"]] == [2.5, -4.0]
    batten = seen["drawing"]["batten"]
    assert (batten["x"][0], batten["across"][0], batten["across"][-1]) == (400.0, 2.5, -4.0)
    change(desk, {"do": "set", "loc": ["fix", "through", 1, "across"], "text": "-6 mm"})
    assert [one.across for one in desk.read().file.fix.through] == pytest.approx([0.0025, -0.006])
    for _ in range(2):
        seen = change(desk, {"do": "drop", "loc": ["fix", "through", 0]})
    assert seen["drawing"]["points"] == []
    assert seen["sound"]
    # written as a list of tables, it is gone on with as one
    desk = new_desk(folder, POLE + "\n[fix]\nthrough = [{ at = '400 mm', across = '1 mm' }]\n")
    seen = change(desk, point)
    assert [one["across"] for one in seen["drawing"]["points"]] == [1.0, 2.5]


def test_a_stave_typed_from_nothing_runs_on_the_command_line(folder):
    desk = new_desk(folder, BLANK_STAVE.format(unit="in"))
    assert desk.look()["drawing"]["bow"] is None
    rows = [
        ["0", "1 5/8", "1 1/2", "2 3/8"],
        ["40", "1 1/2", "1 1/2", "2 1/4"],
        ["76", "1 1/2", "1 3/8", "2"],
    ]
    names = ["station", "left", "right", "depth"]
    knot = {
        "name": "k",
        "at": "20 in",
        "across": "1/2 in",
        "face": "back",
        "diameter": "3/8 in",
        "state": "live",
    }
    check = {"from": "0 in", "to": "2 in", "depth": "1 in"}
    cut = {"name": "rough", "side": "1/2 in", "belly": "1/2 in"}
    change(
        desk,
        {"do": "set", "loc": ["title"], "text": "From the tape"},
        {"do": "cells", "limb": "stave", "at": 0, "columns": names, "rows": rows},
        {"do": "put", "loc": ["stave", "pith_ends"], "value": ["3 1/2 in", "3 in"]},
        {"do": "put", "loc": ["bow", "case"], "value": "elm_longbow.toml"},
        {"do": "add", "loc": ["knot"], "values": knot},
        {"do": "add", "loc": ["check"], "values": check},
        {"do": "add", "loc": ["cut"], "values": cut},
        {"do": "set", "loc": ["fix", "upper_end"], "text": "top"},
    )
    seen = desk.look()
    assert seen["faults"] == [], seen["message"]
    desk.save(desk.version, "typed.toml")
    file = read_sheet(folder.path / "typed.toml").file
    assert file.stave.left == pytest.approx([0.041275, 0.0381, 0.0381])
    assert file.stave.pith_ends == pytest.approx([0.0889, 0.0762])
    assert (file.check[0].to, file.cut[0].belly, file.fix.upper_end) == pytest.approx(
        (0.0508, 0.0127, "top")
    )
    change(desk, {"do": "unit", "loc": ["stave"], "unit": "mm", "convert": True})
    assert desk.read().file.stave.left == pytest.approx(file.stave.left)


def test_what_is_wrong_with_a_stave_is_told_at_its_place(folder):
    for old, new, loc in (
        ("[41, 39, 34,", '["wide", 39, 34,', ["stave", "left", 0]),
        ('at = "228 mm"', 'at = "9 m"', ["knot", 0, "at"]),
        ('bark    = "4 mm"', 'bark    = "4 kg"', ["stave", "bark"]),
        ("elm_longbow", "elm_lungbow", ["bow", "case"]),
    ):
        text = POLE.replace("../elm_longbow", "elm_longbow")
        desk = new_desk(folder, text.replace(old, new, 1))
        faults = desk.look()["faults"]
        assert faults, new
        assert [loc] == [fault["loc"] for fault in faults][:1], new


def test_the_wanted_bow_is_read_from_this_folder_or_as_the_command_line_named_it(folder, tmp_path):
    (tmp_path / "elm_longbow.toml").write_text(
        (CASES / "elm_longbow.toml").read_text("utf-8"), "utf-8"
    )
    (folder.path / "far.toml").write_text(POLE, "utf-8")
    (folder.path / "link.toml").symlink_to(tmp_path / "elm_longbow.toml")
    seen = open_desk(folder, "far.toml").look()
    assert seen["faults"][0]["loc"] == ["bow", "case"]
    assert "outside the folder" in seen["message"]
    desk = new_desk(folder, POLE.replace("../elm_longbow", "link"))
    assert "outside the folder" in desk.look()["message"]
    with pytest.raises(CaseError, match="outside the folder"):
        desk.read()
    with open_room(folder.path, "far.toml") as room:
        assert room.open("far.toml")[1].look()["sound"]
        # and nothing else outside
        other = new_desk(room.folder, POLE.replace("../elm_longbow", "../other"))
        (tmp_path / "other.toml").write_text("title = 'secret'", "utf-8")
        assert "outside the folder" in other.look()["message"]
        assert "secret" not in json.dumps(other.look())


def test_every_key_of_the_stave_has_a_field_with_words_and_signs_of_the_bench():
    tables = {".".join(one["path"]): one for one in describe_entry("stave")["tables"]}
    assert {"stave", "knot", "check", "decay", "bow", "spare", "cut", "fix", "grain"} <= set(tables)
    fields = {one["key"]: one for one in tables["stave"]["fields"]}
    kinds = {fields[key]["kind"] for key in ("station", "left", "twist", "pith_across")}
    assert kinds == {"column"}
    assert (fields["pith_ends"]["kind"], fields["over_bark"]["kind"]) == ("pair", "yes")
    for table in tables.values():
        for one in table["fields"]:
            assert "archer" not in json.dumps(one.get("sign", "")), (table["path"], one["key"])
    assert all(one["about"] for one in tables["stave"]["fields"])
