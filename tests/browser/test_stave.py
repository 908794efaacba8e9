"""The sheet of a stave on the page: its line is dragged, the bow found in it, the file kept."""

from __future__ import annotations

import re

import pytest

from limbfe.case.sheet_load import read_sheet
from tests.browser.program import CASES, COARSE, LONG, saved

pytestmark = pytest.mark.browser


@pytest.fixture
def pole(program, elm):
    """The shipped pole beside the elm, of one knot, so that it is found soon."""
    text = (CASES / "staves" / "elm_pole.toml").read_text().replace("../elm_longbow.toml", elm.name)
    knots = text.index('[[knot]]\nname = "k2"'), text.index("[bow]")
    path = program.folder / f"pole_of_{elm.name}"
    path.write_text(text[: knots[0]] + text[knots[1] :])
    return path


def test_the_line_is_dragged_and_the_bow_found_in_its_stave(visit, pole, program):
    page = visit(f"#file={pole.name}", viewport={"width": 1500, "height": 1000})
    page.locator("#bow .limb.back").first.wait_for()
    # the first look is on the drawing at once, and stays when the rest is cancelled
    page.locator("#lay:enabled").click()
    page.locator("#laid").wait_for(timeout=LONG)
    line = page.locator("#bow .grab-line")
    line.wait_for(state="attached")
    page.locator("#cancel").click()
    page.locator("#notice", has_text="stopped").wait_for()
    assert page.locator("#answers .old", has_text="A first look").count() == 1
    # drawn aside, a point of it is settled
    box = line.bounding_box()
    there = page.evaluate(
        """() => {
            const line = document.querySelector("#bow .centre");
            const p = line.getPointAtLength(0.4 * line.getTotalLength());
            const m = line.getScreenCTM();
            return [m.a * p.x + m.e, m.d * p.y + m.f];
        }"""
    )
    assert box["y"] < there[1] < box["y"] + box["height"]
    page.mouse.move(*there)
    page.mouse.down()
    page.mouse.move(there[0] + 6, there[1], steps=3)
    page.mouse.up()
    point = page.locator("#bow .point")
    point.wait_for()
    # it is moved by keys, and is a field too
    across = page.locator("#point-0").get_by_label("across", exact=True)
    before = across.input_value()
    point.focus()
    page.keyboard.press("ArrowLeft")
    page.wait_for_function(
        "was => document.querySelectorAll('#point-0 input')[1].value !== was", arg=before
    )
    millimetres = [float(re.match(r"-?[\d.]+", one)[0]) for one in (before, across.input_value())]
    assert millimetres[0] - millimetres[1] == pytest.approx(1.0)
    saved(page)
    (through,) = read_sheet(pole).file.fix.through
    assert through.across == pytest.approx(1e-3 * millimetres[1])


def test_a_bow_is_found_judged_and_gone_on_with(visit, program):
    """In the shipped half log, which has nothing in it that is dear to judge."""
    (program.folder / "flat.toml").write_text((CASES / "ash_flatbow.toml").read_text() + COARSE)
    text = (CASES / "staves" / "clear_half_log.toml").read_text()
    (program.folder / "half.toml").write_text(text.replace("../ash_flatbow", "flat"))
    page = visit("#file=half.toml", viewport={"width": 1500, "height": 1000})
    page.locator("#lay:enabled").click()
    page.locator("#answers .links a").first.wait_for(timeout=3 * LONG)
    assert page.locator("#answers .lines tbody tr").count() > 10
    assert page.locator("#bow .laid").count() == 2
    address = page.get_by_role("link", name="Pattern").get_attribute("href")
    answer = page.request.get(program.address + address)
    assert answer.body().startswith(b"%PDF")
    page.locator("#take-out").click()
    page.locator("#draw-weight").wait_for(timeout=LONG)
    assert page.locator("#file-name").text_content() == "a bow without a file yet"
    for name in ("flat.toml", "half.toml"):
        (program.folder / name).unlink()


def test_a_stave_from_the_tape_by_keyboard(visit, program, elm):
    page = visit(viewport={"width": 390, "height": 844})
    page.get_by_role("button", name="A new stave, in inches").focus()
    keys = page.keyboard
    keys.press("Enter")
    page.get_by_label("title", exact=True).fill("From the tape")
    page.get_by_label("the stave, station 1, station", exact=True).focus()
    for row in (("0", "1 5/8", "1 1/2", "2 3/8"), ("76", "1 1/2", "1 3/8", "2")):
        for cell in row:
            keys.type(cell)
            keys.press("Tab")
    page.locator("#bow .limb.back").first.wait_for()
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    assert page.locator("#units").input_value() == "imperial"
    page.locator("#card-wanted").get_by_label("case", exact=True).select_option(elm.name)
    page.locator("#lay:enabled").wait_for()
    page.locator("#save").click()
    page.get_by_label("name of the file").fill("tape_stave")
    keys.press("Enter")
    page.locator("#file-name", has_text="tape_stave.toml").wait_for()
    sheet = read_sheet(program.folder / "tape_stave.toml")
    assert sheet.file.stave.left == pytest.approx((0.041275, 0.0381))
    assert COARSE in elm.read_text()
