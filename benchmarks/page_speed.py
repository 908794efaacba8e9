"""How soon the page of `limbfe sheet` answers, measured in Chromium.

``python benchmarks/page_speed.py`` prints medians of the clock, which another program's work
lengthens: the load of the machine stands beside them.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
CASE = ROOT / "cases" / "elm_longbow.toml"
ROUNDS = 7
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
REDRAWN = """([text, what]) => new Promise((done) => {
    const box = document.querySelector('[aria-label="upper limb, station 5, thickness"]');
    const seen = () => what === "drawing"
        ? document.querySelector("#bow .limb.belly").ownerSVGElement
        : document.querySelector("#draw-weight").closest(".weight").classList.contains("stale");
    const before = seen();
    let stale = false;
    const start = performance.now();
    const look = () => {
        const now = seen();
        stale ||= now === true;
        const done_ = what === "drawing" ? now !== before : stale && now === false;
        if (done_) done(performance.now() - start);
        else requestAnimationFrame(look);
    };
    box.focus();
    box.value = text;
    box.dispatchEvent(new Event("input", { bubbles: true }));
    look();
})"""


def start(folder: Path) -> tuple[subprocess.Popen[str], str]:
    """Return the program and its address."""
    process = subprocess.Popen(
        [sys.executable, "-m", "limbfe", "sheet", CASE.name, "--no-browser"],
        cwd=folder, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert process.stdout is not None
    return process, process.stdout.readline().split()[-1]


def measure(browser: Any, folder: Path) -> dict[str, list[float]]:
    """Return milliseconds of every round."""
    found: dict[str, list[float]] = {"first page": [], "drawing": [], "draw weight": []}
    for k in range(3):
        begun = time.perf_counter()
        process, address = start(folder)
        page = browser.new_page(viewport={"width": 1400, "height": 900})
        page.goto(address)
        page.locator("#bow .limb").first.wait_for()
        found["first page"].append(1e3 * (time.perf_counter() - begun))
        page.locator("#draw-weight").wait_for(timeout=180_000)
        if k == 2:
            for j in range(ROUNDS):
                for what, name in (("drawing", "drawing"), ("weight", "draw weight")):
                    text = f"{17.0 + 0.1 * j + (0.05 if what == 'weight' else 0.0):g}"
                    found[name].append(page.evaluate(REDRAWN, [text, what]))
                    page.wait_for_timeout(1500)
        page.close()
        process.terminate()
        process.wait()
    return found


def main() -> None:
    """Print the medians, and how busy the machine was."""
    from playwright.sync_api import sync_playwright

    program = next(filter(None, map(shutil.which, NAMES)))
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        shutil.copy(CASE, name)
        browser = playwright.chromium.launch(executable_path=program)
        found = measure(browser, Path(name))
        browser.close()
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    for what, times in found.items():
        print(f"{what}: median {statistics.median(times):.0f} ms, best {min(times):.0f} ms")


if __name__ == "__main__":
    main()
