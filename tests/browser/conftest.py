"""One Chromium for every test that needs a real browser."""

from __future__ import annotations

import itertools
import shutil

import pytest

from tests.browser.program import CASES, COARSE, PATIENCE, Program

COUNT = itertools.count()
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
# Software WebGL, so that a machine without a graphics card draws as well.
FLAGS = ("--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader")


@pytest.fixture(scope="session")
def browser():
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    program = next(filter(None, map(shutil.which, NAMES)), None)
    if program is None:
        pytest.skip("no Chromium here; on Debian `apt-get install chromium` brings it")
    with sync_api.sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=program, args=list(FLAGS))
        yield started
        started.close()


@pytest.fixture(scope="session")
def program(tmp_path_factory):
    """One for all tests that do not end it; its child stays warm."""
    started = Program(tmp_path_factory.mktemp("bows"))
    yield started
    assert started.end() == 0


@pytest.fixture
def elm(program):
    # of a name of its own: the program remembers what was done to a file
    path = program.folder / f"elm_{next(COUNT)}.toml"
    path.write_text((CASES / "elm_longbow.toml").read_text() + COARSE)
    yield path
    for left in program.folder.glob("*.toml"):
        left.unlink()
    for left in program.folder.glob(".*.json"):
        left.unlink()


@pytest.fixture
def visit(browser, program):
    """Open the page, the network cut off but for its own address; what it complains of fails."""
    contexts, complaints = [], []

    def open_page(place="", address=program.address, **options):
        context = browser.new_context(**options)
        context.set_default_timeout(PATIENCE)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda said: (
                complaints.append(said.text)
                if said.type == "warning" or "Content Security" in said.text
                else None
            ),
        )
        page.on(
            "request",
            lambda one: (
                None
                if one.url.startswith((address, "data:", "blob:"))
                else complaints.append(one.url)
            ),
        )
        page.goto(address + place)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert complaints == []
