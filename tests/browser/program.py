"""The program behind the page, and what tests of it have in common."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

CASES = Path(__file__).parents[2] / "cases"
COARSE = "\n[analysis]\nelements_per_limb = 6\nfineness = 0.5\n"
PATIENCE = 60_000
"""ms for what the page does at once, on a busy machine."""
LONG = 180_000
"""ms that a draw or an assessment may take on a busy machine before a test gives up."""
PHONE = {"width": 390, "height": 844}


class Program:
    """A ``limbfe sheet`` of its own, on a folder of its own."""

    def __init__(self, folder: Path, *words: str) -> None:
        self.folder = folder
        self.process = subprocess.Popen(
            [sys.executable, "-m", "limbfe", "sheet", *words, "--no-browser"],
            cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            env={**os.environ, "PYTHONPATH": str(CASES.parent)},
        )  # fmt: skip
        line = self.process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:\d+/[\w-]{20,}/", line)
        assert found, line + self.process.stdout.read()
        self.address = found[0]

    def end(self) -> int:
        """Press Ctrl-C and return the exit code."""
        self.process.send_signal(signal.SIGINT)
        code = self.process.wait(90)
        self.process.stdout.close()
        return code


def field(page, *loc):
    """Return the first input of the field at a place of the case."""
    table, key = loc[-2], loc[-1]
    words = str(key).replace("_", " ")
    if loc[0] in ("knot", "decay"):
        return page.locator(f"#{loc[0]}-{loc[1]}").get_by_label(words, exact=True).first
    return page.locator(f"#card-{table}").get_by_label(words, exact=True)


def reach(page, box):
    """Bring the focus to a field; what folds it away is opened by its own key."""
    box.wait_for(state="attached")
    while not box.is_visible():
        box.locator("xpath=ancestor::details[not(@open)]/summary").first.focus()
        page.keyboard.press("Enter")
    box.focus()


def choose(page, select, value):
    """Choose a word of a list by the arrow keys alone."""
    reach(page, select)
    for _ in range(150):
        if select.input_value() == value:
            return
        page.keyboard.press("ArrowDown")
    raise AssertionError(f"{value} is not in the list")


def saved(page):
    page.locator("#save").click()
    page.locator("#file-state", has_text=re.compile("^saved$")).wait_for()
