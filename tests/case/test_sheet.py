"""Stave sheets: what is read, and every way one can be wrong, in one sentence with the remedy."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

from limbfe.case.load import read_case
from limbfe.case.sheet_build import build_log, build_rules
from limbfe.case.sheet_fix import with_fixes
from limbfe.case.sheet_load import read_sheet
from limbfe.cli import main
from limbfe.errors import CaseError

CASES = Path(__file__).parents[2] / "cases"
STAVES = CASES / "staves"
POLE = (STAVES / "elm_pole.toml").read_text("utf-8")


@pytest.fixture
def sheet(tmp_path):
    """Return a writer of the elm pole with some text replaced, its wanted bow where it looks."""
    (tmp_path / "elm_longbow.toml").write_text((CASES / "elm_longbow.toml").read_text("utf-8"))
    folder = tmp_path / "staves"
    folder.mkdir()
    path = folder / "pole.toml"

    def write(old: str = "", new: str = "", text: str = POLE) -> Path:
        assert old in text
        path.write_text(text.replace(old, new, 1) if old else text, encoding="utf-8")
        return path

    return write


@pytest.mark.parametrize("path", sorted(STAVES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_shipped_sheet_is_sound(path):
    read = read_sheet(path)
    log = build_log(read.file)
    assert log.x[0] == 0.0
    assert read.bow.file.knot == ()


def test_values_arrive_in_si_whatever_unit_they_have(sheet):
    log = build_log(read_sheet(sheet('across = "24 mm"', 'across = "0.945 in"')).file)
    assert log.left[0] == pytest.approx(0.041)
    assert log.marks[1].across == pytest.approx(0.024, abs=1e-5)
    assert log.pith[-1] == pytest.approx(0.071)


def test_what_was_measured_over_the_bark_is_counted_from_under_it(sheet):
    """By hand: 4 mm off depth, pith and the marks of side faces; nothing else moves."""
    under = build_log(read_sheet(sheet()).file)
    over = build_log(read_sheet(sheet('bark    = "4 mm"', 'bark = "4 mm"\nover_bark = true')).file)
    assert over.bark == under.bark == pytest.approx(0.004)
    for name in ("depth", "pith"):
        assert getattr(over, name) == pytest.approx(getattr(under, name) - 0.004)
    down = [one.across for one in over.marks if one.face == "left"]
    assert down == pytest.approx([one.across - 0.004 for one in under.marks if one.face == "left"])
    assert over.left == pytest.approx(under.left)
    assert over.marks[0].across == under.marks[0].across


@pytest.mark.parametrize("bark", ["", "\nover_bark = true"])
def test_the_wanted_bow_gets_the_round_back_of_the_stave(sheet, bark):
    """The median of the pith's depths, 80 mm, and from under the bark where measured over it."""
    read = read_sheet(sheet('bark    = "4 mm"', f'bark = "4 mm"{bark}'))
    assert read.bow.file.section.back.crown == pytest.approx(0.076 if bark else 0.080)
    none = read_sheet(sheet("pith    = [88, 86, 84, 80, 77, 73, 71]", "")).bow.file.section.back
    assert none.crown == pytest.approx(0.080), "as the wanted bow's own"


@pytest.mark.parametrize(("name", "kept"), [("ash_recurve", True), ("locust_reflex", False)])
def test_a_recurve_is_wanted_and_a_reflex_is_the_staves(name, kept, sheet, tmp_path):
    """No stave grows bent to a radius of 220 mm; a straight bow was laid in a recurve's place."""
    text = (CASES / f"{name}.toml").read_text("utf-8")
    (tmp_path / "elm_longbow.toml").write_text(text, encoding="utf-8")
    wide = re.sub(r"(?m)^(left|right) .*$", r"\1 = [45, 45, 45, 45, 45, 45, 45]", POLE)
    wanted = read_sheet(sheet(text=wide)).bow.file.limb
    limb = wanted.both or wanted.upper
    assert bool(limb.reflex) == kept
    if kept:
        assert limb.reflex[-1] == pytest.approx(0.0694)


def test_a_pole_too_slender_for_the_bow_is_refused(sheet):
    path = sheet("pith    = [88, 86, 84, 80, 77, 73, 71]", "pith_ends = [24, 20]")
    with pytest.raises(CaseError, match=r"\[stave\] pith_ends.*as round as that.*narrower bow"):
        read_sheet(path)


def test_the_far_diameter_of_a_knot_arrives(sheet):
    log = build_log(
        read_sheet(sheet('diameter = "12 mm"', 'diameter = "12 mm"\nfar_diameter = "5 mm"')).file
    )
    assert [one.far_diameter for one in log.marks] == [None, pytest.approx(0.005), None, None, None]


def test_columns_of_a_csv_are_those_of_the_sheet():
    log = build_log(read_sheet(STAVES / "twisted_reflexed.toml").file)
    assert log.rise[3] == pytest.approx(-0.014)
    assert log.twist[4] == pytest.approx(0.104720, abs=1e-6)


WRONG = {
    "bark unknown": ('bark    = "4 mm"', "over_bark = true", r"over_bark.*needs the bark's thick"),
    "thicker bark than wood": (
        'bark    = "4 mm"',
        'bark = "50 mm"\nover_bark = true',
        r"bark.*thicker than the least depth",
    ),
    "a mark in the bark": (
        'bark    = "4 mm"',
        'bark = "28 mm"\nover_bark = true',
        r'knot "k4".*across.*lies in the bark',
    ),
    "misspelt key": ("left    =", "lefft   =", r'lefft.*did you mean "left"'),
    "missing column": ("depth   = [62, 60, 58, 55, 52, 48, 46]", "#", r"\[stave\] depth: is miss"),
    "out of order": ("300, 700", "700, 300", r"station, value 3 = 300: stations must increase"),
    "a value short": ("[41, 39, 34, ", "[41, 39, ", r"left.*has 6 values for 7 stations"),
    "no unit": ('unit = "mm"\nstation', "station", r"has no unit"),
    "edges crossed": ("34, 29, 32, 33", "34, -60, 32, 33", r"left edge .* right of the right edge"),
    "sapwood too deep": ("[8, 8, 7", "[80, 8, 7", r"sapwood, value 1 = 80: is more than the dep"),
    "rise not zero": ("6, 4, 1, 0]", "6, 4, 1, 3]", r"rise, value 7 = 3: must be 0 at the top"),
    "wild rise": ("[0, 2, 5, 6, 4", "[0, 2, 300, 6, 4", r"rise, value 3.*within 400 mm"),
    "pith twice": ("bark ", "pith_ends = [88, 71]\nbark ", r"pith_ends.*stands beside pith"),
    "knot outside": ('across = "24 mm"', 'across = "84 mm"', r'knot "k2": across.*outside the st'),
    "knot off the end": ('at = "1585 mm"', 'at = "2085 mm"', r'knot "k5": at.*lies off the stave'),
    "knot too deep": ('across = "27 mm"', 'across = "97 mm"', r'"k4": across.*from the back down'),
    "knot too large": ('diameter = "12 mm"', 'diameter = "99 mm"', r"diameter.*only 74.3 mm"),
    "name twice": ('name = "k2"', 'name = "k1"', r"name.*another knot"),
    "lean": ('lean = "40 deg"', 'lean = "70 deg"', r"lean.*between -60 and 60"),
    "overlap": ('at = "842 mm"\nacross = "-21 mm"', 'at = "655 mm"\nacross = "20 mm"', r"overlaps"),
    "no such bow": (
        "elm_longbow.toml",
        "elm_longbo.toml",
        r'pole.toml: \[bow\] case = .*did you mean "elm_longbow.toml"',
    ),
    "bow and taper": ("[spare]", '[draw]\nlength = "28 in"\n[spare]', r"stands beside \[bow\]"),
    "huge edge": ('edge = "4 mm"', 'edge = "4 m"', r"\[spare\] edge.*at most 100 mm"),
    "cuts upside down": ('side = "5 mm"', 'side = "25 mm"', r"leaves more than the cut before"),
    "both cuts": ("[spare]", '[fix]\ncut_butt="9 mm"\ncut_top="9 mm"\n[spare]', r"keep one"),
    "short stave": ("1900, 2060]", "1701, 1730]", r"bow is 1840 mm .* stave only 1730 mm"),
    "little to spare": ("1900, 2060]", "1801, 1850]", r"leaves 5 mm .* at each end"),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_spoilt_sheet_is_refused_in_one_sentence(name, sheet, capsys):
    old, new, said = WRONG[name]
    path = sheet(old, new)
    with pytest.raises(CaseError) as caught:
        read_sheet(path)
    message = str(caught.value)
    assert re.search(said, message), message
    assert "\n" not in message
    assert main(["lay", str(path)]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1


CHECK = '[[check]]\nfrom = "{}"\nto = "{}"\ndepth = "20 mm"\n[spare]'


@pytest.mark.parametrize(
    ("start", "end", "said"),
    [
        ("0 mm", "2090 mm", r"check 1: to.*past the top end of the stave, which is 2060 mm"),
        ("90 mm", "20 mm", r"check 1: to.*must be more than from"),
        ("-5 mm", "20 mm", r"check 1: from.*cannot be negative"),
        ('0 mm"\nacross = "90 mm', "20 mm", r"check 1: across = \"90 mm\": lies beside the stave"),
    ],
)
def test_a_check_lies_on_the_stave(start, end, said, sheet):
    with pytest.raises(CaseError, match=said):
        read_sheet(sheet("[spare]", CHECK.format(start, end)))


@pytest.mark.parametrize(("depth", "refused"), [("62 mm", False), ("63 mm", True), ("20 m", True)])
def test_a_check_goes_through_the_stave_and_no_deeper(depth, refused, sheet):
    text = CHECK.format("0 mm", "90 mm").replace('"20 mm"', f'"{depth}"')
    path = sheet("[spare]", text)
    if refused:
        with pytest.raises(CaseError, match=r"check 1: depth.*deeper than the stave, 62 mm"):
            read_sheet(path)
    else:
        read_sheet(path)


def test_a_misspelt_key_of_a_check_names_the_right_one(sheet):
    with pytest.raises(CaseError, match='did you mean "from"'):
        read_sheet(sheet("[spare]", CHECK.format("0 mm", "9 mm").replace("from", "form")))


def test_a_wrong_value_of_the_csv_names_its_line(tmp_path):
    for name in ("twisted_reflexed.toml", "twisted_reflexed.csv"):
        (tmp_path / name).write_text((STAVES / name).read_text("utf-8"))
    table = tmp_path / "twisted_reflexed.csv"
    table.write_text(table.read_text().replace("43,    -14,", "4300,  -14,"))
    with pytest.raises(CaseError, match=r"twisted_reflexed.csv: line 5: depth = 4300"):
        read_sheet(tmp_path / "twisted_reflexed.toml")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("upper_end=left", 'must be "butt" or "top"'),
        ("cut=90 mm", "unknown setting"),
        ("cut_butt=90", "no unit"),
        ("cut_butt=9 m", "leaves no stave"),
        ("through=840 mm", "needs two lengths"),
        ("through=9 m, 2 mm", "lies off the stave"),
        ("through=840 mm, 50 mm", "lies beside the stave, whose sound wood reaches 32"),
        ("top", "is not a setting"),
    ],
)
def test_what_is_fixed_wrongly_is_refused(text, said):
    with pytest.raises(CaseError, match=said):
        with_fixes(read_sheet(STAVES / "elm_pole.toml"), (text,))


def test_what_is_fixed_with_the_command_replaces_the_sheet(sheet):
    path = sheet("[spare]", '[fix]\ncut_top = "90 mm"\n[spare]')
    rules = build_rules(with_fixes(read_sheet(path), ("cut_butt=120 mm", "through=7 in, -1/2 in")))
    assert rules.cut_top is None
    assert rules.cut_butt == pytest.approx(0.12)
    assert rules.through == (pytest.approx((0.1778, -0.0127)),)


def test_no_spoilt_sheet_ends_in_a_traceback(sheet):
    """Four hundred sheets with slips of the pen, each read or refused in one line."""
    dice = random.Random(20261128)
    signs = ['"', "=", "[", "]", ",", "-", "9", "0", ".", "mm", "in", "\n", "e", "#", "x", "nan"]
    refused = 0
    for _ in range(400):
        text = POLE
        for _ in range(dice.randint(1, 4)):
            at = dice.randrange(len(text))
            cut = dice.choice([0, 1, 3, 12])
            text = text[:at] + dice.choice(signs) + text[at + cut :]
        message = ""
        try:
            read_sheet(sheet(text=text))
        except CaseError as error:
            message = str(error)
        refused += bool(message)
        assert "\n" not in message
    assert refused > 100


def test_a_case_is_no_sheet_and_a_sheet_no_case():
    with pytest.raises(CaseError, match=r"ash_flatbow.toml: is the case of a bow, not a stave"):
        read_sheet(CASES / "ash_flatbow.toml")
    with pytest.raises(CaseError, match=r"elm_pole.toml: is a stave sheet, not the case of a bow"):
        read_case(STAVES / "elm_pole.toml")
