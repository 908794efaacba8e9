"""The tillering log on the page, in a real browser."""

from __future__ import annotations

import pytest

from tests.browser.program import CASES, COARSE, LONG

pytestmark = pytest.mark.browser


def test_readings_on_the_tiller_are_kept_fitted_and_answered(visit, program):
    """Typed by keyboard into a new log, with a slip; the log that ships is fitted."""
    path = program.folder / "flatbow.toml"
    path.write_text((CASES / "ash_flatbow.toml").read_text() + COARSE)
    log = program.folder / "flatbow_log.csv"
    page = visit("#file=flatbow.toml", viewport={"width": 1500, "height": 1000})
    tiller = page.locator("#tiller")
    tiller.locator("summary").first.click()
    tiller.get_by_label("date").fill("2024-03-16")
    tiller.get_by_label("drawn to").focus()
    for word in ("410", "107"):
        page.keyboard.type(word)
        page.keyboard.press("Tab")
    tiller.get_by_label("drawn to").press("Enter")
    tiller.locator(".log tbody tr").wait_for()
    assert log.read_text().splitlines()[1] == "2024-03-16,410,107,,,,,,,"
    # half typed: it outlives a reload; what no bow does is refused beside it
    tiller.get_by_label("drawn to").fill("4600")
    tiller.get_by_label("weight there").fill("122")
    page.reload()
    page.wait_for_function(
        "() => [...document.querySelectorAll('#tiller input')].some((one) => one.value === '4600')"
    )
    tiller.get_by_role("button", name="Write it down").click()
    tiller.locator(".fault", has_text="no bow of").wait_for()
    tiller.get_by_label("drawn to").fill("460")
    tiller.get_by_label("drawn to").press("Enter")
    tiller.locator(".log tbody tr").nth(1).wait_for()
    tiller.get_by_role("button", name="Take out the reading of line 3").click()
    page.wait_for_function("() => document.querySelectorAll('.log tbody tr').length === 1")
    assert len(log.read_text().splitlines()) == 2
    tiller.get_by_role("button", name="Undo the last change").click()
    tiller.locator(".log tbody tr").nth(1).wait_for()
    tiller.get_by_role("button", name="Take out the reading of line 3").click()
    page.wait_for_function("() => document.querySelectorAll('.log tbody tr').length === 1")
    # too little to be fitted, said in the reader's words; then the whole log
    tiller.locator("#fit:enabled").click()
    tiller.locator(".bad", has_text="at least 3 are needed").wait_for(timeout=LONG)
    lines = (CASES / "ash_flatbow_log.csv").read_text().splitlines()
    head, last = lines[4], next(line for line in lines if line.startswith("2024-03-16"))
    log.write_text("\n".join([head, *lines[lines.index(last) :]]) + "\n")
    page.reload()
    tiller.get_by_label("draw weight wanted in the end").fill("150 N")
    tiller.locator("#fit:enabled").click()
    tiller.locator("h3", has_text="Stiffness along the grain").wait_for(timeout=LONG)
    tiller.locator("h3", has_text="Take wood here").wait_for(timeout=LONG)
    strokes = tiller.locator(".strokes li").count()
    assert strokes >= 1
    assert page.locator("#bow .stroke-number").count() == strokes
    log.unlink()
    path.unlink()
