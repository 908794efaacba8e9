"""The page of ``limbfe sheet`` in a real browser: a bow entered, seen, judged and saved.

Run with ``python -m pytest -m browser``; skipped where Chromium or Playwright is missing.  The
program behind the page is the real one, started as a user starts it.
"""

from __future__ import annotations

import os
import signal
import tomllib
from pathlib import Path

import pytest

from limbfe.case.load import read_case
from tests.browser.program import CASES, COARSE, LONG, Program, choose, field, reach, saved
from tests.case.conftest import COMPLETE
from tests.case.test_refusals import BROKEN

pytestmark = pytest.mark.browser


def test_a_newcomer_comes_from_an_empty_page_to_a_verdict(visit, program):
    page = visit(viewport={"width": 1500, "height": 1000})
    page.get_by_role("button", name="A new bow, in inches").click()
    page.get_by_label("title", exact=True).fill("A flatbow from a tape")
    page.get_by_label("both limbs, station 1, station", exact=True).focus()
    rows = [
        ("0", "1 1/4", "1 1/4"), ("5", "1 15/16", "9/16"), ("14", "1 15/16", "7/16"),
        ("26", "1 3/8", "3/8"), ("34", "1/2", "3/8"),
    ]  # fmt: skip
    # typed with Tab alone, row after row
    for row in rows:
        for cell in row:
            page.keyboard.type(cell)
            page.keyboard.press("Tab")
    page.locator("#bow svg .limb.back").first.wait_for()
    field(page, "wood", "species").select_option("shagbark hickory")
    # its figures and their sources
    page.locator("#card-wood .figures small").nth(2).wait_for(state="attached")
    field(page, "section", "back").select_option("flat")
    field(page, "section", "belly").select_option("flat")
    field(page, "grip", "stiff_length").fill("10 in")
    field(page, "string", "brace_height").fill("6 in")
    field(page, "string", "material").select_option("polyester")
    field(page, "string", "strands").fill("14")
    page.locator("#card-analysis summary").first.click()
    field(page, "analysis", "elements_per_limb").fill("6")
    field(page, "analysis", "fineness").fill("0.5")
    field(page, "draw", "length").fill("28 in")
    page.locator("#draw-weight").wait_for(timeout=LONG)
    # a knot drawn on the back
    page.get_by_role("button", name="Place a knot").click()
    back = page.locator('.catch[data-view="back"]').bounding_box()
    x, y = back["x"] + 0.5 * back["width"], back["y"] + 0.3 * back["height"]
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 8, y + 4, steps=3)
    page.mouse.up()
    field(page, "knot", 0, "state").select_option("live")
    page.locator("#assess:enabled").click()
    page.locator("#verdict").wait_for(timeout=LONG)
    assert page.locator(".zone.knot .name").text_content().split()[0] == "A"
    assert len(page.locator(".zone.knot .name").text_content().split()) >= 3  # its verdict
    page.locator("#save").click()
    page.get_by_label("name of the file").fill("tape")
    page.locator("#question").get_by_role("button", name="Save").click()
    page.locator("#file-name", has_text="tape.toml").wait_for()
    case = read_case(program.folder / "tape.toml").file
    assert case.title == "A flatbow from a tape"
    assert case.limb.both.width == pytest.approx([0.03175, 0.0492125, 0.0492125, 0.034925, 0.0127])
    assert case.knot[0].limb == "upper"
    assert case.knot[0].diameter > 0.0
    (program.folder / "tape.toml").unlink()


def test_the_elm_entered_by_keyboard_is_the_case_that_ships(visit, program):
    """No mouse: Tab, Enter, arrows and letters, from the first page to the saved file."""
    page = visit(viewport={"width": 1400, "height": 1000})
    keys = page.keyboard
    page.get_by_role("button", name="A new bow, in millimetres").focus()
    keys.press("Enter")
    shipped = read_case(CASES / "elm_longbow.toml")

    def write(box, text):
        reach(page, box)
        keys.press("Control+a")
        keys.insert_text(text)

    def press(name):
        page.get_by_role("button", name=name, exact=True).focus()
        keys.press("Enter")

    write(page.get_by_label("title", exact=True), shipped.file.title)
    write(page.get_by_label("question", exact=True), shipped.file.question)
    press("The limbs differ: enter each")
    raw = tomllib.loads((CASES / "elm_longbow.toml").read_text())
    for side in ("upper", "lower"):
        table = raw["limb"][side]
        for name in ("sapwood", "lean", "reflex", "sideways"):
            choose(page, page.get_by_label(f"column to add to {side} limb"), name)
            keys.press("Tab")  # to the button beside it
            keys.press("Enter")
            page.get_by_label(f"{side} limb, station 1, {name}", exact=True).wait_for()
        order = ["station", "width", "thickness", "reflex", "sideways", "sapwood", "lean"]
        heads = page.locator(f'[aria-label="stations of {side} limb"] thead th')
        order = [text.split("\n")[0].split("mm")[0].split("degrees")[0].strip()
                 for text in heads.all_inner_texts()[1:]]  # fmt: skip
        page.get_by_label(f"{side} limb, station 1, station", exact=True).focus()
        for row in zip(*(table[name] for name in order), strict=True):
            for cell in row:
                keys.type(f"{cell:g}")
                keys.press("Tab")
    woods = page.locator("#card-wood .table")
    press("Heartwood and sapwood differ")
    woods.nth(1).wait_for()
    for k, (modulus, moisture) in enumerate((("10.6 GPa", "10"), ("9.8 GPa", ""))):
        wood = woods.nth(k)
        choose(page, wood.get_by_label("species", exact=True), "rock elm")
        write(wood.get_by_label("moisture", exact=True), moisture)
        write(wood.get_by_label("E L", exact=True).first, modulus)
    scatter = woods.first.locator("details", has=page.locator("> summary", has_text="cov"))
    write(scatter.last.get_by_label("E L", exact=True), "0.12")
    write(field(page, "grain", "ring_radius"), "105 mm")
    write(field(page, "grain", "run_out"), "1 in 40")
    back = field(page, "section", "back")
    back.focus()
    for _ in range(5):
        if page.get_by_label("crown", exact=True).count():
            break
        keys.press("ArrowDown")
        page.wait_for_timeout(300)
    write(page.get_by_label("crown", exact=True), "80 mm")
    choose(page, field(page, "section", "belly"), "round")
    for name, text in (("stiff_length", "95 mm"), ("hand_at", "-15 mm"), ("arrow_at", "35 mm")):
        write(field(page, "grip", name), text)
    choose(page, field(page, "grip", "hold"), "hand")
    write(field(page, "string", "brace_height"), "155 mm")
    choose(page, field(page, "string", "material"), "polyester")
    write(field(page, "string", "strands"), "14")
    write(field(page, "draw", "length"), "28 in")
    write(field(page, "draw", "steps"), "30")
    for kind, add in (("knot", "Add a knot"), ("decay", "Add a patch of rot")):
        press(add)
        for key, value in raw[kind][0].items():
            box = field(page, kind, 0, key)
            box.wait_for(state="attached")
            if box.evaluate("one => one.tagName") == "SELECT":
                choose(page, box, value)
            else:
                write(box, value)
    page.locator("#assess:enabled").wait_for()
    keys.press("Control+s")
    page.get_by_label("name of the file").wait_for()
    keys.press("Control+a")
    keys.type("typed")
    keys.press("Enter")
    page.locator("#file-name", has_text="typed.toml").wait_for()
    file = read_case(program.folder / "typed.toml").file
    for key in type(file).model_fields:
        assert getattr(file, key) == getattr(shipped.file, key), key
    (program.folder / "typed.toml").unlink()


def test_a_change_is_drawn_judged_anew_and_taken_back(visit, elm):
    page = visit(f"#file={elm.name}", viewport={"width": 1500, "height": 1000})
    weight = page.locator("#draw-weight")
    weight.wait_for(timeout=LONG)
    before, drawn = weight.text_content(), page.locator("#bow .limb.back").first.get_attribute("d")
    cell = page.get_by_label("upper limb, station 5, thickness", exact=True)
    cell.fill("20")
    page.wait_for_function(
        "d => document.querySelector('#bow .limb.belly').getAttribute('d') !== d", arg=drawn
    )
    page.locator(".facts .change").first.wait_for(timeout=LONG)
    assert weight.text_content() != before
    # what is wrong is said beside its field, in the words of the reader
    page.wait_for_timeout(2000)  # what is typed sooner is taken back with it
    cell.fill("thin")
    fault = page.locator("#f-upper-thickness-4")
    fault.wait_for()
    assert "is not a number with a unit" in fault.text_content()
    assert cell.get_attribute("aria-invalid") == "true"
    cell.press("Control+z")
    page.wait_for_function("() => document.querySelector('#f-upper-thickness-4').hidden")
    assert cell.input_value() == "20"
    page.locator("#redo").click()
    fault.wait_for()
    page.locator("#undo").click()
    page.wait_for_function("() => document.querySelector('#f-upper-thickness-4').hidden")
    page.locator("#undo").click()
    page.wait_for_function("() => document.querySelector('#file-state').textContent === 'saved'")
    assert cell.input_value() == "17.8"
    # opened, changed and changed back: the file is the one that ships, comments and all
    page.get_by_label("upper limb, station 5, width", exact=True).fill("40.5")
    saved(page)
    text = elm.read_text()
    assert text == (CASES / "elm_longbow.toml").read_text().replace("42, 41,", "42, 40.5,") + COARSE


def test_nothing_is_lost_on_reload_or_when_the_program_is_killed(visit, tmp_path):
    path = tmp_path / "bow.toml"
    path.write_text(COMPLETE)
    first = Program(tmp_path, "bow.toml")
    page = visit(address=first.address)
    title = page.get_by_label("title", exact=True)
    title.fill("Typed and not saved")
    page.reload()  # at once: what is still on its way goes with the page
    page.wait_for_function("() => document.title.startsWith('Typed and not saved')")
    first.process.kill()
    first.process.wait()
    first.process.stdout.close()
    title.fill("Typed into nowhere")
    page.locator("#notice", has_text="type limbfe sheet again").wait_for()
    assert path.read_text() == COMPLETE
    second = Program(tmp_path, "bow.toml")
    page = visit(address=second.address)
    page.locator("#notice", has_text="your last draft").wait_for()
    assert page.get_by_label("title", exact=True).input_value() == "Typed and not saved"
    # changed by another program meanwhile: asked before it is overwritten
    path.write_text(COMPLETE + "# mine\n")
    page.locator("#save").click()
    page.locator("#question", has_text="was changed by another program").wait_for()
    page.get_by_role("button", name="Throw away what is here").click()
    page.wait_for_function("() => document.title.startsWith('Practice stave')")
    assert path.read_text() == COMPLETE + "# mine\n"
    assert second.end() == 0
    assert sorted(one.name for one in tmp_path.iterdir()) == ["bow.toml"]


def test_two_tabs_do_not_undo_each_other_unseen(visit, elm):
    one = visit(f"#file={elm.name}")
    other = visit(f"#file={elm.name}")
    for page in (one, other):
        page.get_by_label("title", exact=True).wait_for()
    one.get_by_label("title", exact=True).fill("Changed here")
    one.locator("#file-state", has_text="not saved").wait_for()
    # the other has not looked since: its change is refused, and it is shown why
    other.get_by_label("question", exact=True).fill("Changed there?")
    other.locator("#notice", has_text="another tab").wait_for()
    assert other.get_by_label("title", exact=True).input_value() == "Changed here"
    assert other.get_by_label("question", exact=True).input_value().startswith("What do narrow")


def test_an_assessment_is_cancelled_and_the_next_one_runs(visit, elm):
    page = visit(f"#file={elm.name}")
    page.locator("#assess:enabled").click()
    page.locator("#cancel").click()
    page.locator("#notice", has_text="stopped").wait_for()
    page.locator("#assess:enabled").click()
    page.locator("#verdict").wait_for(timeout=LONG)
    assert page.locator(".card").count() == 2
    # report and shop sheet, each in a tab of its own
    with page.expect_popup() as opened:
        page.get_by_role("link", name="The whole report").click()
    report = opened.value
    report.locator(".facts").wait_for()
    assert report.locator(".sheet").is_hidden()
    with page.expect_popup() as opened:
        page.get_by_role("link", name="Shop sheet").click()
    sheet = opened.value.locator(".sheet")
    sheet.wait_for()
    assert opened.value.locator(".facts").is_hidden()
    # a change makes the verdict one of before
    page.get_by_label("upper limb, station 5, width", exact=True).fill("40")
    page.locator(".found .old").wait_for()


def test_every_error_of_the_reader_shows_at_its_field(visit, elm):
    """The broken cases of the reader's own tests, each shown on the page."""
    elm.write_text(COMPLETE)
    page = visit(f"#file={elm.name}")
    page.get_by_label("title", exact=True).wait_for()
    page.locator("#card-text summary").click()
    lost = {}
    for name, (old, new, _) in BROKEN.items():
        before = page.locator("#sheet").get_attribute("data-version")
        page.locator("#text").fill(COMPLETE.replace(old, new, 1))
        page.wait_for_function(
            "before => document.querySelector('#sheet').dataset.version !== before", arg=before
        )
        shown = page.evaluate(
            "() => [...document.querySelectorAll('.fault:not([hidden])')].map(f => f.textContent)"
        )
        at_line = page.locator(".todo li", has_text="of the file").count()
        if not any(shown) and not at_line:
            lost[name] = page.locator(".todo").text_content()
    assert lost == {}


def test_a_child_that_dies_loses_nothing_and_the_next_one_judges(visit, tmp_path):
    (tmp_path / "elm.toml").write_text((CASES / "elm_longbow.toml").read_text() + COARSE)
    program = Program(tmp_path, "elm.toml")  # whose judge has not begun yet
    page = visit(address=program.address)
    page.locator("#draw-weight").wait_for(timeout=LONG)
    page.get_by_label("title", exact=True).fill("Before the crash")
    page.locator("#file-state", has_text="not saved").wait_for()
    before = set(children(program.process.pid))
    page.locator("#assess:enabled").click()
    page.locator("#cancel").wait_for()
    judge = set()
    for _ in range(200):
        judge = set(children(program.process.pid)) - before
        if judge:
            break
        page.wait_for_timeout(50)
    assert judge
    for pid in judge:
        os.kill(pid, signal.SIGKILL)
    page.locator("#answers .bad", has_text="ended before it was done").wait_for(timeout=LONG)
    assert page.get_by_label("title", exact=True).input_value() == "Before the crash"
    page.locator("#assess:enabled").click()
    page.locator("#cancel").click()
    page.locator("#notice", has_text="stopped").wait_for()
    assert program.end() == 0


def children(pid):
    """Return the processes that a process started, from whichever of its threads."""
    found = [path.read_text().split() for path in Path(f"/proc/{pid}/task").glob("*/children")]
    return [int(one) for own in found for one in own]
