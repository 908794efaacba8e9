"""The report as text: complete, escaped, self-contained; tests/browser opens it."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from rich.console import Console

from limbfe.analysis.bow.string_lies import LyingString
from limbfe.report.assess import assessment_tables
from limbfe.report.document import Figures, make_report
from limbfe.report.tables import STRING_LIES
from limbfe.units import IMPERIAL, METRIC, Length, Quantity, Sentence
from limbfe.wood.source import Assumption

from ..invented_bow import unmodelled


class Outline(HTMLParser):
    """Tags with attributes, and the text outside scripts and styles."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.words, self._inside = [], [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag in ("script", "style"):
            self._inside.append(tag)

    def handle_endtag(self, tag):
        if tag in ("script", "style"):
            self._inside.pop()

    def handle_data(self, data):
        if not self._inside:
            self.words.append(data)

    @property
    def text(self):
        return re.sub(r"\s+", " ", " ".join(self.words))


@pytest.fixture(scope="module")
def figures(named_badly):
    from limbfe.view.bow.draw_curve import draw_curve
    from limbfe.view.bow.faces import draw_faces
    from limbfe.view.bow.strength import draw_strength

    return Figures(
        bow=None,
        faces=draw_faces(named_badly),
        strength=draw_strength(named_badly),
        draw=draw_curve(named_badly),
        missing="VTK cannot draw <here>",
    )


@pytest.fixture(scope="module")
def page(named_badly, figures):
    return make_report(named_badly, figures, METRIC)


@pytest.fixture(scope="module")
def outline(page):
    return Outline(page)


def test_words_of_the_case_are_text_and_not_markup(named_badly, outline):
    assert "script" not in {tag for tag, _ in outline.tags}, "and without 3D there is none of ours"
    assert not {"i", "u"} & {tag for tag, _ in outline.tags}
    assert named_badly.setup.title in outline.text
    assert named_badly.setup.question in outline.text
    for text in (
        r"<i>A</i> $\frac{ $",
        "Wear <u>glasses</u>.",
        "a <table> of values",
        "draw <here>",
    ):
        assert text in outline.text


def test_where_the_string_lies_is_told_of_a_bow_on_which_it_does(named_badly, figures, outline):
    assert STRING_LIES not in outline.text
    lying = LyingString(
        at_brace=0.061, leaves_at=0.752, lift_off=0.655, pressure=2.4e3, aside=0.0, slips_at=0.1
    )
    drawn = replace(named_badly.drawn, string_lies=(None, lying))
    text = Outline(make_report(replace(named_badly, drawn=drawn), figures, METRIC)).text
    after = text[text.index(STRING_LIES) :]
    assert re.search("presses upper 61.0 mm 752 mm 655 mm", after)
    assert "lower 61.0 mm" not in after


def test_nothing_is_fetched(page, outline):
    for tag, attributes in outline.tags:
        for name in ("src", "href", "data", "srcset", "action"):
            address = attributes.get(name, "#")
            assert address.startswith(("data:", "#")), (tag, address[:80])
    assert "@import" not in page
    assert re.search(r"url\((?!data:)", page) is None


def test_every_picture_says_what_it_shows_with_figures(named_badly, outline):
    pictures = [attributes for tag, attributes in outline.tags if tag == "img"]
    assert len(pictures) >= 3 + 3, "strength, faces, draw, and sections of the chief hot spots"
    for picture in pictures:
        assert re.search(r"\d", picture["alt"])
        assert len(picture["alt"]) > 60
    everything = " ".join(picture["alt"] for picture in pictures)
    weight = METRIC.force(float(named_badly.drawn.curve.force[-1]))
    assert f"to {weight} at 711 mm" in everything


def test_verdicts_have_signs_and_words(named_badly, outline):
    badges = [a["class"].split()[1:] for tag, a in outline.tags if "badge" in a.get("class", "")]
    wanted = ["-".join(defect.verdict.split()) for defect in named_badly.zones]
    assert [name for (name,) in badges[2:]] == wanted, "the first two are of the whole bow"
    assert "\u2715 expect rupture" in outline.text
    assert "! watch" in outline.text
    assert "\u2713 sound" in outline.text


def test_stations_assumptions_and_what_is_missing(named_badly, outline):
    rows = [a for tag, a in outline.tags if tag == "td" and a.get("class") == "used"]
    assert len(rows) == len(named_badly.setup.stave.x)
    assert "E_R = 1 GPa" in outline.text
    assert "cannot be turned in this page" in outline.text
    assert "stands in" not in outline.text, "there is no picture of the bow here"


@pytest.mark.slow
def test_a_page_without_the_viewer_says_which_package_is_missing(named_badly, figures, monkeypatch):
    from limbfe.view.bow import page as view_page

    monkeypatch.setattr(view_page, "find_spec", lambda name: None)
    drawn = replace(figures, bow=figures.draw, missing="")
    text = Outline(make_report(named_badly, drawn, METRIC)).text
    assert "the package trame-vtk is not installed" in text
    assert "The picture below stands in." in text


def luminance(colour):
    """Relative luminance: W3C, Web Content Accessibility Guidelines 2.1 (2018), definition."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def test_words_stand_out_from_their_ground(page):
    """Contrast of at least 4.5 to 1: the same guidelines, success criterion 1.4.3."""
    colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", page))
    colours["card"] = "#ffffff"
    pairs = [("ink", "paper"), ("faint", "paper"), ("faint", "card")]
    pairs += [(name, f"{name}-tint") for name in ("sound", "watch", "bad")]
    for ink, ground in pairs:
        light, dark = sorted((luminance(colours[ink]), luminance(colours[ground])), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5, (ink, ground)


METRIC_SIGN = re.compile(r"\d ?(?:mm|cm|N|J|MPa|GPa|kg|N m)\b")


def test_a_reader_of_inches_gets_no_metric_units(named_badly, figures):
    """The head of the page apart, which says the chief figures in both."""
    advice = Sentence("leave it {} wider", Length(0.019))
    said = replace(
        named_badly,
        judged=unmodelled(replace(one, advice=advice) for one in named_badly.zones),
        drawn=replace(
            named_badly.drawn,
            cautions=(Sentence("{} up the upper limb: crushed", Length(0.69)),),
            assumptions=(Assumption("wood", Sentence("E_R = {}", Quantity("modulus", 1.64e9, 3))),),
        ),
    )
    page = Outline(make_report(said, figures, IMPERIAL))
    body = page.text[page.text.index("The bow at full draw") :]
    assert METRIC_SIGN.findall(body) == []
    assert not [alt for _, one in page.tags if METRIC_SIGN.search(alt := one.get("alt") or "")]
    assert "27 3/16 in up the upper limb: crushed" in body
    assert "E_R = 0.238 Mpsi" in body
    console = Console(width=200, markup=False, emoji=False, file=io.StringIO())
    console.print(assessment_tables(said, IMPERIAL))
    assert METRIC_SIGN.findall(console.file.getvalue()) == []
