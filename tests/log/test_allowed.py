"""The map of allowed knots: the table read backwards, and the cone from the pith."""

from dataclasses import replace

import numpy as np
import pytest

from limbfe.log.layout.allowed import LARGEST, allowed_knots
from limbfe.log.layout.strength import ZoneStrength, width_table
from limbfe.stave.knot import knot_ellipse_at_depth
from limbfe.stave.marked import Mark, make_knot
from limbfe.stave.profile import shape_at

from .conftest import S, bow


def strength(most=0.7):
    s = np.linspace(S[0], S[-1], 81)
    return ZoneStrength(
        s=s,
        back=most * (1.0 - (s / 0.95) ** 4),
        belly=0.0 * s,
        tables={"dead": width_table(np.linspace(0.0, 0.8, 33), np.linspace(0.0, 1.0, 9))},
        tabulated=False,
    )


def test_the_largest_knot_is_where_what_is_left_just_bears_the_load():
    """With a strength that goes by the width left, 1 - d / w to the power 1 in the middle and 2 at
    the edge, a limb used to u bears d = w (1 - u) and w (1 - sqrt(u)) (hand)."""
    stave, known = bow(S), strength()
    found = allowed_knots(stave, known)
    one, middle = found.allowed["dead", "back"], len(found.share) // 2
    used = np.interp(found.s, known.s, known.back)
    limb = ~np.isnan(one.sound[:, 0])
    by_hand = np.minimum(1.0 - used, LARGEST) * found.width
    assert np.allclose(one.sound[limb, middle], by_hand[limb], atol=4e-4)
    at_edge = np.minimum(1.0 - np.sqrt(used), LARGEST) * found.width
    assert np.allclose(one.unbroken[limb, 0], at_edge[limb], atol=4e-4)
    assert np.all(np.isnan(one.sound[np.abs(found.s) < stave.half_grip]))


def test_no_knot_is_sound_in_an_edge_whatever_its_figure():
    """Common practice trusts none there: half a diameter of wood stays beside it, on the belly
    beside the cone that it is on the back too."""
    flat = bow(S)
    stave = replace(flat, grain=replace(flat.grain, ring_radius=np.full(len(S), 0.09)))
    found = allowed_knots(stave, strength(0.01))
    limb = np.abs(found.s) > stave.half_grip
    half = 0.5 * found.width[limb, None]
    for face in ("back", "belly"):
        sound = found.allowed["dead", face].sound[limb]
        assert np.all(sound[:, [0, -1]] == 0.0)
        assert np.all(np.abs(found.share) * half + sound <= half + 1e-12)
        assert np.all(sound[:, len(found.share) // 2] > 0.1 * half[:, 0])
    back, belly = (found.allowed["dead", face].sound[limb] for face in ("back", "belly"))
    assert np.all(belly <= back + 1e-12)
    assert np.all(found.allowed["dead", "back"].unbroken[limb][:, 0] > 0.0), "told as it is"


def test_an_overworked_bow_bears_no_knot_and_a_longer_draw_never_more():
    mild, hard = (allowed_knots(bow(S), strength(most)) for most in (0.6, 0.9))
    one, two = (found.allowed["dead", "back"].sound for found in (mild, hard))
    assert np.all((two <= one + 1e-12) | np.isnan(one))
    none = allowed_knots(bow(S), strength(1.6)).allowed["dead", "back"].sound
    assert np.nanmin(none) == 0.0


def test_a_knot_on_the_belly_is_the_cone_that_shows_larger_on_the_back():
    """Against the solid a case makes of a knot on the belly (ellipses of its cone, closed form)."""
    flat = bow(S)
    round_ = replace(flat, grain=replace(flat.grain, ring_radius=np.full(len(S), 0.09)))
    s, across, d = 0.45, 0.004, 0.006
    mark = Mark(name="k", limb="upper", at=s, face="belly", across=across)
    knot = make_knot(
        round_, mark, diameter=d, far_diameter=None, lean=0.0, state="dead", filler=None
    )
    shapes = shape_at(round_, np.array([s]))
    half = 0.5 * float(shapes.thickness[0])
    back = knot_ellipse_at_depth(knot, half)
    width, k = float(shapes.width[0]), 0.09 / (0.09 - 2.0 * half)
    assert 2.0 * min(back.a, back.b) == pytest.approx(k * d, rel=0.03)
    assert abs(back.across) == pytest.approx(k * across, rel=0.03)
    found, known = allowed_knots(round_, strength()), strength()
    i = int(np.argmin(np.abs(found.s - s)))
    most = float(np.interp(2.0 * across / width, found.share,
                           found.allowed["dead", "belly"].sound[i]))  # fmt: skip
    used = known.used("dead", found.s[i], most * k / found.width[i], k * 2.0 * across / width)
    assert used == pytest.approx(1.0, abs=0.01)
