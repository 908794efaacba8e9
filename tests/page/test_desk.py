"""Nothing typed is lost and nothing of others overwritten: drafts, undo, saving."""

from __future__ import annotations

from pathlib import Path

import pytest

from limbfe.errors import CaseError
from limbfe.page.desk import ChangedMeanwhileError, StaleError, new_desk, open_desk, unnamed_desk
from limbfe.page.folder import Folder
from tests.case.conftest import COMPLETE


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "bow.toml").write_text(COMPLETE)
    return Folder(tmp_path.resolve())


def title(desk, text, mark=""):
    desk.change(desk.version, [{"do": "set", "loc": ["title"], "text": text}], mark)


def files(folder):
    return sorted(one.name for one in folder.path.iterdir())


def test_what_was_typed_is_there_again_after_a_crash(folder):
    desk = open_desk(folder, "bow.toml")
    title(desk, "Typed")
    again = open_desk(folder, "bow.toml")
    assert again.restored
    assert 'title = "Typed"' in again.text
    assert (folder.path / "bow.toml").read_text() == COMPLETE
    again.throw_away(again.version)
    assert again.text == COMPLETE
    again.undo(again.version)  # even that can be taken back
    assert 'title = "Typed"' in again.text
    again.save(again.version)
    assert files(folder) == ["bow.toml"]
    assert not open_desk(folder, "bow.toml").restored


def test_a_bow_without_a_file_has_a_draft_too(folder):
    desk = new_desk(folder, "[wood.whole]\n")
    title(desk, "New")
    assert unnamed_desk(folder).text == desk.text
    with pytest.raises(ChangedMeanwhileError, match="already"):
        desk.save(desk.version, "bow")
    desk.save(desk.version, "other")
    assert files(folder) == ["bow.toml", "other.toml"]
    assert desk.name == "other.toml"


def test_one_step_back_is_one_word_and_not_one_letter(folder):
    desk = open_desk(folder, "bow.toml")
    for text in ("N", "Ne", "New"):
        title(desk, text, "title")
    desk.change(desk.version, [{"do": "set", "loc": ["draw", "steps"], "text": "20"}], "steps")
    desk.undo(desk.version)
    assert 'title = "New"' in desk.text
    assert "steps = 24" in desk.text
    desk.undo(desk.version)
    assert desk.text == COMPLETE
    desk.redo(desk.version)
    desk.redo(desk.version)
    assert "steps = 20" in desk.text
    title(desk, "Other")
    desk.redo(desk.version)  # nothing: another way was gone
    assert 'title = "Other"' in desk.text


def test_a_file_changed_meanwhile_is_not_overwritten_unasked(folder):
    desk = open_desk(folder, "bow.toml")
    title(desk, "Mine")
    place = folder.path / "bow.toml"
    place.write_text(COMPLETE + "# theirs\n")
    with pytest.raises(ChangedMeanwhileError, match="another program"):
        desk.save(desk.version)
    assert place.read_text() == COMPLETE + "# theirs\n"
    # a draft remembers what it was made from, so a new start asks as well
    again = open_desk(folder, "bow.toml")
    with pytest.raises(ChangedMeanwhileError):
        again.save(again.version)
    again.save(again.version, over=True)
    assert 'title = "Mine"' in place.read_text()
    place.unlink()
    with pytest.raises(ChangedMeanwhileError, match="deleted"):
        again.save(again.version)


def test_changes_to_an_old_version_and_half_changes_are_not_made(folder):
    desk = open_desk(folder, "bow.toml")
    version = desk.version
    title(desk, "First")
    with pytest.raises(StaleError):
        desk.change(version, [{"do": "set", "loc": ["title"], "text": "Second"}], "")
    text = desk.text
    with pytest.raises(CaseError):
        desk.change(
            desk.version,
            [
                {"do": "set", "loc": ["title"], "text": "Half"},
                {"do": "drop_row", "limb": "x", "at": 0},
            ],
            "",
        )
    assert desk.text == text
    title(desk, "Whole")
    assert "Half" not in desk.text


def test_faults_come_with_their_place_and_a_broken_text_with_its_line(folder):
    desk = open_desk(folder, "bow.toml")
    edit = {"do": "set", "loc": ["knot", 0, "diameter"], "text": "41 mm"}
    desk.change(desk.version, [edit], "")
    state = desk.look()
    assert [fault["loc"] for fault in state["faults"]] == [["knot", 0, "diameter"]]
    assert "32.7 mm" in state["faults"][0]["words"]
    assert state["drawing"]["bow"] is not None  # drawn all the same
    desk.replace(desk.version, COMPLETE.replace("[0, 55, 130", "[0 55, 130"), "")
    state = desk.look()
    assert state["raw"] is None
    assert state["faults"][0]["line"] == 27
    with pytest.raises(CaseError, match="mend it there"):
        title(desk, "New")


@pytest.mark.parametrize("text", ["a = nan", "a = inf", "a = 2020-01-01", f"a = {'9' * 30}", ""])
def test_whatever_stands_in_the_file_can_be_sent(folder, text):
    import json

    desk = new_desk(folder, text)
    json.loads(json.dumps(desk.look(), allow_nan=False))


def test_a_folder_that_cannot_be_written_is_told_and_stops_nothing(folder, monkeypatch):
    from limbfe.errors import LimbfeError

    def refuse(*args):
        raise LimbfeError("cannot be written (no room); choose a folder that exists")

    monkeypatch.setattr(Folder, "keep_draft", refuse)
    desk = open_desk(folder, "bow.toml")
    title(desk, "Typed")
    state = desk.look()
    assert state["raw"]["title"] == "Typed"
    assert "no room" in state["not_kept"]


def test_names_that_lead_elsewhere(folder, tmp_path):
    for name in ("../a.toml", "a/b.toml", ".a.toml", "C:a.toml", "a\nb", " ", "x" * 200, None):
        with pytest.raises(CaseError):
            folder.place(name)
    (tmp_path / "link.toml").symlink_to(Path("/etc/hostname"))
    with pytest.raises(CaseError, match="leads out"):
        folder.place("link.toml")
