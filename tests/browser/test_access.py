"""Whoever uses the page: by keyboard, by a screen reader, on a phone, in the dark, on paper.

Its accessibility is judged by axe-core as axe-playwright-python carries it (MPL 2.0).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser.program import CASES

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def axe():
    carrier = pytest.importorskip("axe_playwright_python")
    return (Path(carrier.__file__).parent / "axe.min.js").read_text("utf-8")


def findings(page, axe):
    """Return what axe-core finds wrong, with the first place of each."""
    page.evaluate(f"{axe}; 0")
    found = page.evaluate("axe.run(document, { resultTypes: ['violations'] })")
    return [
        (one["impact"], one["id"], one["nodes"][0]["html"][:120]) for one in found["violations"]
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(visit, elm, program, axe, scheme):
    (program.folder / f"axe_{elm.name}").write_text(
        (CASES / "staves" / "elm_pole.toml").read_text().replace("../elm_longbow.toml", elm.name)
        + '\n[[fix.through]]\nat = "900 mm"\nacross = "2 mm"\n'
    )
    (program.folder / f"{elm.stem}_log.csv").write_text(
        "date,draw_length [mm],draw_force [N],upper_tip [mm]\n2024-03-02,400,60,150\n"
    )
    page = visit(color_scheme=scheme, viewport={"width": 1400, "height": 1000})
    page.locator("#start h2").first.wait_for()
    assert findings(page, axe) == []
    page.get_by_role("button", name="Elm longbow, overworked").first.click()
    page.locator("#tiller .log").wait_for()
    # with a fault beside its field, a question asked
    page.get_by_label("upper limb, station 5, thickness", exact=True).fill("thin")
    page.locator("#f-upper-thickness-4:not([hidden])").wait_for()
    assert findings(page, axe) == []
    page.locator("#save-as").click()
    assert findings(page, axe) == []
    page.keyboard.press("Escape")
    page.locator("#undo").click()
    page.goto(f"{program.address}#file=axe_{elm.name}")
    page.reload()
    page.locator("#bow .point").wait_for()
    assert findings(page, axe) == []
    (program.folder / f"{elm.stem}_log.csv").unlink()


@pytest.mark.parametrize("width", [390, 1280, 2560])
def test_it_fits_from_phone_to_wall_and_every_field_has_a_name(visit, elm, width):
    page = visit(f"#file={elm.name}", viewport={"width": width, "height": 900})
    page.locator("#bow svg").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    bow = page.locator("#bow svg").bounding_box()
    assert bow["x"] >= 0
    assert bow["x"] + bow["width"] <= width
    nameless = page.evaluate(
        """() => [...document.querySelectorAll("input, select, textarea, button, svg [role]")]
            .filter((one) => one.checkVisibility() && !one.getAttribute("aria-label"))
            .filter((one) => !(one.labels && one.labels.length) && !one.textContent.trim())
            .map((one) => one.outerHTML.slice(0, 200))"""
    )
    assert nameless == []


def test_tab_goes_through_the_page_in_its_order_and_never_stays(visit, elm):
    """From the skip link on: every stop is seen, and the order is that of the page."""
    page = visit(f"#file={elm.name}", viewport={"width": 1400, "height": 1000})
    page.locator("#bow svg").wait_for()
    stops = []
    for _ in range(60):
        page.keyboard.press("Tab")
        stops.append(
            page.evaluate(
                """() => {
                    const one = document.activeElement;
                    const all = [...document.querySelectorAll("*")];
                    const box = one.getBoundingClientRect();
                    const style = getComputedStyle(one);
                    const area = box.width * box.height;
                    return [all.indexOf(one), one.className, area, style.outlineStyle];
                }"""
            )
        )
    order = [stop[0] for stop in stops]
    assert order == sorted(set(order))
    assert stops[0][1] == "skip"
    assert all(area > 0.0 and outline != "none" for _, _, area, outline in stops)


def test_the_page_is_printed_without_its_tools(visit, elm):
    page = visit(f"#file={elm.name}", viewport={"width": 1400, "height": 1000})
    page.locator("#bow svg").wait_for()
    page.emulate_media(media="print")
    assert page.locator("#bow svg").is_visible()
    assert page.locator("#card-limbs .grid").first.is_visible()
    for tool in ("#save", "#placing", "#photo", "#card-text", "#assess", "#card-limbs button"):
        assert not page.locator(tool).first.is_visible(), tool
    pdf = page.pdf(prefer_css_page_size=True, print_background=True)
    assert 2 <= pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ") <= 8
