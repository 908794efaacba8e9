"""A photo of the back laid under the drawing: it is scaled by two points and stays in the tab."""

from __future__ import annotations

import base64
import io

import pytest

pytestmark = pytest.mark.browser
WIDE, HIGH = 1000, 300
ENDS = (100, 900)
"""Pixels at which the tips of the bow in the picture lie, and the middle of its back at 150."""


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    """A bow lying with its lower tip to the left: a bar, a mark on the archer's right at 3/4."""
    from PIL import Image, ImageDraw

    path = tmp_path_factory.mktemp("photo") / "back.png"
    image = Image.new("RGB", (WIDE, HIGH), "white")
    draw = ImageDraw.Draw(image)
    draw.rectangle((*(ENDS[0], 140), *(ENDS[1], 160)), fill="black")
    draw.rectangle((*(695, 120), *(705, 140)), fill="red")
    image.save(path, exif=b"Exif\0\0secret place")
    return path


def shown(page):
    """Return how the photo's pixels (u, v) become places (x, y) of the drawing."""
    return page.evaluate(
        """() => {
            const image = document.querySelector("#bow .photo image");
            const m = image.transform.baseVal.consolidate().matrix;
            return [m.a, m.b, m.c, m.d, m.e, m.f];
        }"""
    )


def test_a_photo_lies_under_the_back_outlives_a_reload_and_is_sent_nowhere(visit, elm, photo):
    page = visit(f"#file={elm.name}", viewport={"width": 1500, "height": 1000})
    asked = []
    page.on("request", lambda one: asked.append((one.method, len(one.post_data or ""))))
    page.locator("#bow svg").wait_for()
    page.locator("#photo input[type=file]").set_input_files(photo)
    page.locator(".photo-whole").wait_for()
    # the marks are set by drag and by arrow keys, their stations typed
    whole = page.locator(".photo-whole").bounding_box()
    scale = whole["width"] / WIDE
    lift = (whole["height"] - HIGH * scale) / 2
    for k, u in enumerate(ENDS):
        mark = page.locator(".photo-point .ring").nth(k).bounding_box()
        page.mouse.move(mark["x"] + mark["width"] / 2, mark["y"] + mark["height"] / 2)
        page.mouse.down()
        page.mouse.move(whole["x"] + u * scale, whole["y"] + lift + 150 * scale, steps=3)
        page.mouse.up()
    first = page.locator(".photo-point").first
    at = page.locator(".photo-point .ring").first.get_attribute("cx")
    first.press("ArrowRight")
    assert float(page.locator(".photo-point .ring").first.get_attribute("cx")) > float(at)
    first.press("ArrowLeft")
    lower = page.get_by_label("1: from the middle of the grip")
    assert lower.input_value() == "-910 mm"
    lower.fill("here")
    page.get_by_role("button", name="Lay it under the drawing").click()
    page.locator("#question .fault", has_text="needs its station").wait_for()
    lower.fill("-910")
    # it lies there already, by points that were only guessed
    guessed = shown(page)
    page.get_by_role("button", name="Lay it under the drawing").click()
    page.wait_for_function(
        """was => {
            const image = document.querySelector("#bow .photo image");
            return image.transform.baseVal.consolidate().matrix.b !== was;
        }""",
        arg=guessed[1],
    )
    a, b, c, d, e, f = shown(page)
    tips = [(a * u + c * 150 + e, b * u + d * 150 + f) for u in ENDS]
    # the middle line of the drawn back, and both of its ends
    box = page.evaluate(
        """() => {
            const back = document.querySelector("#bow .limb.back").getBBox();
            return [back.x + back.width / 2, back.y, back.y + back.height];
        }"""
    )
    assert tips[0] == pytest.approx((box[0], box[2]), abs=6.0)
    assert tips[1] == pytest.approx((box[0], box[1]), abs=6.0)
    # up in a picture that lies with its upper tip to the right is the archer's right: left here
    red = (a * 700 + c * 130 + e, b * 700 + d * 130 + f)
    assert red[0] < box[0] - 5.0
    # the slider uncovers it
    slider = page.get_by_label("photo", exact=True)
    cover = float(page.locator("#bow .limb.back").first.get_attribute("fill-opacity"))
    slider.focus()
    page.keyboard.press("End")
    assert float(page.locator("#bow .limb.back").first.get_attribute("fill-opacity")) < cover
    page.reload()
    page.locator("#bow .photo image").wait_for()
    assert shown(page) == pytest.approx([a, b, c, d, e, f], abs=0.5)
    kept = page.evaluate(
        "name => JSON.parse(sessionStorage.getItem(name)).data", f"photo {elm.name}"
    )
    assert b"secret place" not in base64.b64decode(kept)
    # nothing of it went to the program, whose largest question is an edit
    assert max((size for _, size in asked), default=0) < 2000
    page.get_by_role("button", name="Take it away").click()
    assert page.locator("#bow .photo").count() == 0
    assert page.evaluate("name => sessionStorage.getItem(name)", f"photo {elm.name}") is None


def test_what_is_no_photo_is_refused(visit, elm, tmp_path):
    page = visit(f"#file={elm.name}")
    page.locator("#bow svg").wait_for()
    chooser = page.locator("#photo input[type=file]")
    script = tmp_path / "back.svg"
    script.write_text('<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>')
    chooser.set_input_files(script)
    page.locator("#notice", has_text="is no photo in JPEG").wait_for()
    broken = tmp_path / "back.jpg"
    broken.write_bytes(b"\xff\xd8 not a picture")
    chooser.set_input_files(broken)
    page.locator("#notice", has_text="cannot be read as a picture").wait_for()
    assert page.locator("#bow .photo").count() == 0


def test_a_large_photo_is_kept_small(visit, elm, tmp_path):
    from PIL import Image

    page = visit(f"#file={elm.name}")
    page.locator("#bow svg").wait_for()
    rows = io.BytesIO()
    Image.effect_noise((3000, 2000), 80).convert("RGB").save(rows, "JPEG")
    path = tmp_path / "large.jpg"
    path.write_bytes(rows.getvalue())
    page.locator("#photo input[type=file]").set_input_files(path)
    page.get_by_role("button", name="Leave it").click()
    kept = page.evaluate("name => sessionStorage.getItem(name)", f"photo {elm.name}")
    assert 10_000 < len(kept) < 4_000_000
