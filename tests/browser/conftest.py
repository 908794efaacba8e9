"""One Chromium for every test that needs a real browser."""

from __future__ import annotations

import shutil

import pytest

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
