"""The report in a real browser: Debian's Chromium, driven by Playwright, the network cut.

Run with ``python -m pytest -m browser``; skipped where either is missing.
"""

from __future__ import annotations

import io
import re
import time

import numpy as np
import pytest

from limbfe.units import METRIC

pytestmark = pytest.mark.browser
PATIENCE = 60.0
PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def report(tmp_path_factory, assessment):
    """Its report, in 3D."""
    from limbfe.report.document import Figures, write_report
    from limbfe.view.bow.draw_curve import draw_curve
    from limbfe.view.bow.faces import draw_faces
    from limbfe.view.bow.limb import draw_bow
    from limbfe.view.bow.page import page_available
    from limbfe.view.bow.strength import draw_strength
    from limbfe.view.probe import probe_rendering

    missing = page_available() or probe_rendering().reason
    if missing:
        pytest.skip(missing)
    figures = Figures(
        bow=draw_bow(assessment),
        faces=draw_faces(assessment),
        strength=draw_strength(assessment),
        draw=draw_curve(assessment),
        missing="",
    )
    return write_report(
        assessment, figures, tmp_path_factory.mktemp("report") / "report.html", METRIC
    )


@pytest.fixture
def opened(browser, report):
    """Open a file without a network; what the browser complains of or asks for is kept."""
    contexts, complaints = [], []

    def keep(request):
        if not request.url.startswith(("data:", "about:", report.parent.as_uri())):
            complaints.append(f"asked for {request.url[:100]}")

    def open_page(path=report, **options):
        context = browser.new_context(offline=True, **options)
        contexts.append(context)
        page = context.new_page()
        page.route(re.compile("^https?:"), lambda route: route.abort())
        page.on("request", keep)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda said: (
                complaints.append(said.text) if said.type in ("error", "warning") else None
            ),
        )
        page.goto(path.as_uri())
        return page, complaints

    yield open_page
    for context in contexts:
        context.close()


def picture(page, place="#scene"):
    """Return the 3D scene as the browser shows it, shape (h, w, 3)."""
    from PIL import Image

    return np.asarray(Image.open(io.BytesIO(page.locator(place).screenshot())).convert("RGB"))


def drawn_share(image):
    """Return the share of dark pixels in the middle, where the bow stands clear of the scale."""
    height, width = image.shape[:2]
    middle = image[height // 10 : 3 * height // 4, width // 5 : 4 * width // 5].astype(int)
    return float(np.mean(middle.max(axis=-1) < 150))


def wait_for_scene(page, place="#scene"):
    page.locator(place).scroll_into_view_if_needed()
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        image = picture(page, place)
        if drawn_share(image) > 0.002:
            return image
        page.wait_for_timeout(250)
    pytest.fail("the 3D scene stayed blank")


def test_opens_from_disk_and_the_bow_turns(opened):
    page, complaints = opened(viewport={"width": 1280, "height": 900})
    before = wait_for_scene(page)
    box = page.locator("#scene").bounding_box()
    x, y = box["x"] + 0.5 * box["width"], box["y"] + 0.4 * box["height"]
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 60, y + 10, steps=4)
    page.mouse.move(x + 160, y + 20, steps=4)
    page.mouse.up()
    page.wait_for_timeout(1000)
    after = picture(page)
    moved = np.abs(before.astype(int) - after).max(axis=-1) > 60
    assert moved.mean() > 0.002
    assert drawn_share(after) > 0.002
    assert complaints == []


def test_the_wheel_scrolls_the_page(opened):
    page, _ = opened(viewport={"width": 1280, "height": 900})
    wait_for_scene(page)
    box = page.locator("#scene").bounding_box()
    page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
    start = page.evaluate("window.scrollY")
    page.mouse.wheel(0, 300)
    page.wait_for_timeout(800)
    assert page.evaluate("window.scrollY") > start + 100


def test_every_picture_loads_and_has_words(opened):
    page, _ = opened()
    pictures = page.evaluate("[...document.images].map(i => [i.alt.length, i.naturalWidth])")
    assert len(pictures) >= 7
    assert all(words > 60 and width > 300 for words, width in pictures)
    assert page.locator("#scene iframe").get_attribute("title")


def test_prints_on_a4_with_the_still_picture(opened):
    page, _ = opened()
    wait_for_scene(page)
    page.emulate_media(media="print")
    assert not page.locator("#scene").is_visible()
    assert page.locator("img.tall").is_visible()
    pdf = page.pdf(prefer_css_page_size=True, print_background=True)
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", pdf)
    assert 5 <= len(boxes) <= 20
    # A4 in points: 210 mm by 297 mm.
    for width, height in boxes:
        assert float(width) == pytest.approx(595.3, abs=1.0)
        assert float(height) == pytest.approx(841.9, abs=1.0)
    assert len(pdf) > 100_000


def test_a_phone_scrolls_one_way_and_fetches_the_bow_when_asked(opened):
    page, complaints = opened(viewport=PHONE, has_touch=True, is_mobile=True)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert page.locator("#scene iframe").count() == 0
    page.locator("#turn").tap()
    wait_for_scene(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert complaints == []


def test_the_page_of_the_bow_alone(opened, report, assessment):
    """What ``limbfe show CASE --page`` writes."""
    from limbfe.view.bow.page import write_page

    path = write_page(assessment, report.parent / "bow.html")
    page, complaints = opened(path, viewport={"width": 1000, "height": 700})
    wait_for_scene(page, ".content")
    assert page.title() == assessment.setup.title
    assert "knot A at 310 mm: 0.93" in page.locator("body").inner_text()
    assert complaints == []


def test_page_1_of_the_print_is_the_shop_sheet_alone(opened):
    """One page for the wall of the workshop; on the screen it is not there."""
    page, _ = opened()
    assert not page.locator(".sheet").is_visible()
    page.emulate_media(media="print")
    sheet = page.locator(".sheet")
    assert sheet.is_visible()
    assert page.locator(".sheet table").first.locator("tbody tr").count() >= 5
    # A4 less its margins, 269 mm at 96 pixels to the inch; laid out as wide as the paper
    page.set_viewport_size({"width": round(184 / 25.4 * 96), "height": 1000})
    assert sheet.bounding_box()["height"] <= 269 / 25.4 * 96
