"""Who may speak to the page, and what it may be asked for."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from limbfe.page.app import make_app
from limbfe.page.guard import LARGEST_REQUEST, Guard
from limbfe.page.room import open_room
from tests.page.asgi import HOST, TOKEN, request

pytest.importorskip("starlette")
CASES = Path(__file__).parents[2] / "cases"


class Quiet:
    """In the place of a child process, which these tests do not need."""

    def start(self) -> None:
        pass

    def close(self) -> None:
        pass


@pytest.fixture
def door(tmp_path):
    folder = tmp_path / "bows"
    folder.mkdir()
    (folder / "elm.toml").write_text((CASES / "elm_longbow.toml").read_text("utf-8"))
    (tmp_path / "secret.toml").write_text('title = "not for the page"\n[limb]\n')
    (folder / "link.toml").symlink_to(tmp_path / "secret.toml")
    (folder / "<img src=x>.toml").write_text('title = "<script>alert(1)</script>"\n[limb]\n')
    with open_room(folder, "elm.toml") as room:
        room.drawer = room.judge = Quiet()
        yield Guard(make_app(room), TOKEN, 8765)


def ask(door, name, body=None, **more):
    status, headers, answer = request(door, f"/{TOKEN}/{name}", body or {}, **more)
    return status, json.loads(answer) if "json" in headers.get("content-type", "") else answer


@pytest.mark.parametrize(
    ("path", "method", "headers", "status"),
    [
        (f"/{TOKEN}/", "GET", {}, 200),
        (f"/{TOKEN}/static/page.js", "GET", {}, 200),
        (f"/{TOKEN}/start", "POST", {}, 200),
        ("/", "GET", {}, 404),
        ("/start", "POST", {}, 404),
        (f"/{TOKEN}x/start", "POST", {}, 404),
        (f"/{TOKEN[:-1]}/start", "POST", {}, 404),
        # a foreign name that was made to lead to this machine
        (f"/{TOKEN}/", "GET", {"host": "bows.example:8765"}, 403),
        (f"/{TOKEN}/", "GET", {"host": "127.0.0.1"}, 403),
        (f"/{TOKEN}/", "GET", {"host": None}, 403),
        # another page of the same browser
        (f"/{TOKEN}/start", "POST", {"origin": "http://bows.example"}, 403),
        (f"/{TOKEN}/start", "POST", {"origin": "null"}, 403),
        (f"/{TOKEN}/start", "POST", {"origin": None}, 403),
        (f"/{TOKEN}/", "GET", {"sec-fetch-site": "cross-site"}, 403),
        (f"/{TOKEN}/start", "POST", {"content-type": "text/plain"}, 415),
        (f"/{TOKEN}/start", "POST", {"content-length": str(LARGEST_REQUEST + 1)}, 413),
        (f"/{TOKEN}/start", "DELETE", {}, 405),
        # nothing but its own files
        (f"/{TOKEN}/static/../app.py", "GET", {}, 404),
        (f"/{TOKEN}/static/app.py", "GET", {}, 404),
        (f"/{TOKEN}/static/..%2fapp.py", "GET", {}, 404),
        (f"/{TOKEN}/report/1", "GET", {}, 404),
        (f"/{TOKEN}/file/1/pattern.pdf", "GET", {}, 404),
        (f"/{TOKEN}/file/1/report.html", "GET", {}, 404),
        (f"/{TOKEN}/file/1/../../pattern.pdf", "GET", {}, 404),
        (f"/{TOKEN}/file/1/..%2f..%2fpattern.pdf", "GET", {}, 404),
        (f"/{TOKEN}/log_change", "POST", {"origin": "http://bows.example"}, 403),
        (f"/{TOKEN}/lay", "POST", {"content-type": "text/plain"}, 415),
        (f"/{TOKEN}/report/../../etc/passwd", "GET", {}, 404),
    ],
)
def test_only_this_page_by_its_own_address_is_let_in(door, path, method, headers, status):
    found, sent, _ = request(door, path, {}, method=method, headers=headers)
    assert found == status
    assert sent["x-content-type-options"] == "nosniff"
    assert sent["cache-control"] == "no-store"
    assert sent["referrer-policy"] == "no-referrer"
    if status == 200:
        policy = sent["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy


def test_more_than_was_said_is_not_taken(door):
    body = b'{"name": "' + b"x" * LARGEST_REQUEST + b'"}'
    assert request(door, f"/{TOKEN}/open", body, headers={"content-length": "10"})[0] == 413


def test_no_path_leads_out_of_the_folder(door, tmp_path):
    before = sorted(tmp_path.rglob("*"))
    for name in ("../secret.toml", "/etc/passwd", "..\\secret.toml", "link.toml", ".hidden", "", 3):
        status, answer = ask(door, "open", {"name": name}) if name != 3 else (400, {"error": "x"})
        assert status == 400, name
        assert "not for the page" not in json.dumps(answer)
    _, opened = ask(door, "open", {"name": "elm.toml"})
    for name in ("../out.toml", "link.toml", "a/b.toml", ".bashrc"):
        question = {"desk": opened["desk"], "version": 1, "name": name, "over": True}
        assert ask(door, "save", question)[0] == 400, name
    assert sorted(tmp_path.rglob("*")) == before
    assert "not for the page" in (tmp_path / "secret.toml").read_text()


def test_names_of_files_and_titles_travel_as_plain_text(door):
    _, start = ask(door, "start")
    hostile = [one for one in start["cases"] if "script" in one["title"]]
    assert hostile == [
        {"name": "<img src=x>.toml", "title": "<script>alert(1)</script>", "kind": "bow"}
    ]
    # and the page builds no markup from text
    folder = Path(__file__).parents[2] / "limbfe" / "page" / "static"
    for file in folder.glob("*.js"):
        text = file.read_text("utf-8")
        for way in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval("):
            assert way not in text, (file.name, way)
        assert "http://" not in text.replace("http://www.w3.org/2000/svg", "")
        assert "https://" not in text
    assert "//" not in (folder / "page.html").read_text("utf-8").split("<body>")[0]


@pytest.mark.parametrize(
    "body",
    [b"", b"[]", b"{", b"null", b"[" * 100_000, b'{"desk": [], "version": "x", "edits": 5}'],
)
@pytest.mark.parametrize(
    "name",
    [
        *("change", "save", "look", "step", "text", "assess", "open"),
        *("log", "log_change", "fit", "job", "cancel", "lay", "log_undo"),
    ],
)
def test_any_request_has_an_answer(door, name, body):
    status, _, answer = request(door, f"/{TOKEN}/{name}", body)
    assert status in (200, 400)
    assert status == 200 or json.loads(answer)["error"]


def test_two_tabs_share_a_case_and_see_each_other(door):
    _, one = ask(door, "open", {"name": "elm.toml"})
    _, other = ask(door, "open", {"name": "elm.toml"})
    assert one["desk"] == other["desk"]
    change = {
        "desk": one["desk"], "version": one["state"]["version"],
        "edits": [{"do": "set", "loc": ["title"], "text": "New"}],
    }  # fmt: skip
    status, first = ask(door, "change", change)
    assert (status, first["state"]["raw"]["title"]) == (200, "New")
    status, late = ask(door, "change", {**change, "edits": [{**change["edits"][0], "text": "Old"}]})
    assert status == 409
    assert late["stale"]
    assert late["state"]["raw"]["title"] == "New"
    same = {"desk": one["desk"], "unless": first["state"]["version"]}
    assert ask(door, "look", same)[1] == {"state": None}


def test_the_host_of_these_tests_is_the_machine_itself():
    assert HOST.startswith("127.0.0.1:")
