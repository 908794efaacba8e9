"""The ``[taper]`` table: stations made from it, and every way it can contradict itself."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from limbfe.case.build import build_setup
from limbfe.case.schema import Case

Reader = Callable[[str], Case]
Refusal = Callable[[str], str]


def test_the_strategy_becomes_stations_of_both_limbs(tapered: str, read: Reader) -> None:
    setup = build_setup(read(tapered))
    stave = setup.stave
    np.testing.assert_allclose(stave.x, -stave.x[::-1])
    np.testing.assert_allclose(stave.width, stave.width[::-1])
    at = {round(float(x), 4): k for k, x in enumerate(stave.x)}
    assert stave.width[at[0.0]] == pytest.approx(0.029)
    assert stave.thickness[at[0.055]] == pytest.approx(0.033)
    assert stave.width[at[0.4318]] == pytest.approx(0.043)
    assert (stave.width[-1], stave.thickness[-1]) == pytest.approx((0.012, 0.013))
    assert stave.reflex[-1] == pytest.approx(0.02)
    assert np.all(stave.sapwood == 0.003)
    assert np.all(stave.backing == 0.0015)
    assert np.degrees(stave.lean) == pytest.approx(2.0)
    assert any(
        str(one.words()).startswith("[taper] thickness_law: ell") for one in setup.assumptions
    )


REFUSALS = {
    "beside measured limbs": (
        "[taper]",
        '[limb.both]\nunit = "mm"\nstation = [0, 800]\nwidth = [30, 10]\nthickness = [9, 9]\n\n'
        "[taper]",
        ("[taper]: stands beside [limb.both]",),
    ),
    "misspelt law": ('"elliptical bend"', '"elliptic bend"', ('did you mean "elliptical bend"?',)),
    "misspelt key": ("tip_width", "tipwidth", ('unknown key; did you mean "tip_width"?',)),
    "no ellipse": ("ellipse_ratio = 0.8\n", "", ("add ellipse_ratio = 0.7",)),
    "ellipse of another law": (
        '"elliptical bend"',
        '"even strain"',
        ("[taper] ellipse_ratio = 0.8", "drop it"),
    ),
    "no station for the parallel part": ('parallel_to = "17 in"', "", ("add for instance",)),
    "parallel beyond the nock": (
        '"17 in"',
        "900",
        ("[taper] parallel_to = 900", "must lie on the limb", "860 mm"),
    ),
    "wrong unit": (
        "length = 860",
        'length = "860 in"',
        ("between 150 mm (5.91 in) and",),
    ),
    "no fade": ("fade = 55", "", ("[taper]: needs a fade", "stiff_length = 0")),
    "handle of a bow without one": (
        'stiff_length = "110 mm"',
        "stiff_length = 0",
        ("[taper] grip_width = 29", "bends through the grip"),
    ),
    "thin handle": ("grip_thickness = 33", "grip_thickness = 13", ("a stiff handle is thicker",)),
    "fade of the whole limb": ("fade = 55", "fade = 700", ("hardly any limb", "755 mm")),
    "wide tip": ("tip_width = 12", "tip_width = 50", ("43 mm (1.69 in); give at most that",)),
    "stiff tip that is thin": (
        "tip_thickness = 13",
        "tip_thickness = 7",
        ("[taper] tip_thickness = 7", "no stiff tip", "must end thicker"),
    ),
    "tips as long as the limb": ("tip_length = 130", "tip_length = 790", ("leave some limb",)),
    "length of plain tips": ('tips = "stiff"', "", ("[taper] tip_length = 130", "plain tips")),
    "no tip thickness": ("tip_thickness = 13\n", "", ("needs the thickness at the nock",)),
    "sapwood through the limb": (
        "sapwood = 3",
        "sapwood = 12",
        (
            "[taper] sapwood = 12: makes a sapwood of 12 mm (0.47 in) at",
            "leaves no heartwood",
        ),
    ),
    "reflex of half the limb": (
        "reflex = 20",
        "reflex = 500",
        ("[taper] reflex = 500: makes a reflex of", "measure again"),
    ),
    "corner wider than the limb": (
        '"1.5 mm" }',
        '"8 mm" }',
        ("[section] belly.corner", "of [taper]"),
    ),
    "no wood of the backing": ('[wood.backing]\nspecies = "shagbark hickory"', "", ("backing",)),
}


@pytest.mark.parametrize("name", REFUSALS)
def test_refusals(name: str, tapered: str, refusal: Refusal) -> None:
    old, new, expected = REFUSALS[name]
    assert tapered.count(old) >= 1
    message = refusal(tapered.replace(old, new, 1))
    for words in expected:
        assert words in message


def test_a_constant_plain_limb_needs_no_tip_thickness(tapered: str, read: Reader) -> None:
    for key in ('tips = "stiff"', "tip_length = 130", "tip_thickness = 13", "ellipse_ratio = 0.8"):
        tapered = tapered.replace(key, "")
    stave = build_setup(read(tapered.replace('"elliptical bend"', '"constant"'))).stave
    limb = np.abs(stave.x) > 0.11
    np.testing.assert_allclose(stave.thickness[limb], 0.015)
