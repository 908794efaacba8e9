"""Where to take wood next: the list is short, reaches the stop, and works no place harder."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import limbfe
from limbfe.analysis.bow.setup import adjust
from limbfe.case.build import build_setup
from limbfe.errors import CaseError, ConvergenceError
from limbfe.report.take import end_words, line_words
from limbfe.stave.reshape import reshaped
from limbfe.studies.size.trial import draw_trial
from limbfe.studies.take import take
from limbfe.studies.take.choose import MOST_LINES, strokes_of
from limbfe.studies.take.results import EYE, RULER, Harder, Left, Line, Taking, out_of_tiller
from limbfe.studies.take.take import MARGIN, MOST_AT_ONCE, take_wood
from limbfe.units import IMPERIAL, METRIC

CASES = Path(__file__).parents[3] / "cases"
LBF = 4.4482216
STEP = 0.0254 / 64


@pytest.fixture(scope="module")
def ash():
    setup = build_setup(limbfe.read_case(CASES / "ash_flatbow.toml"))
    return adjust(setup, analysis={"elements_per_limb": 8, "fineness": 0.4})


@pytest.fixture(scope="module")
def taking(ash):
    return take_wood(ash, 45.0 * LBF, step=STEP)


def cut_by_hand(setup, lines):
    """Take the lines off station by station, as they read."""
    stave = setup.stave
    thickness, width = stave.thickness.copy(), stave.width.copy()
    for line in lines:
        sign = 1.0 if line.limb == "upper" else -1.0
        far = sign * stave.x
        here = (far >= line.start - 1e-6) & (far <= line.end + 1e-6)
        if line.side == "belly":
            thickness[here] -= line.steps * STEP
        else:
            width[here] -= 2.0 * line.steps * STEP
    return replace(setup, stave=reshaped(stave, thickness=thickness, width=width))


def test_a_short_list_comes_down_to_the_stop_from_above(taking):
    assert 1 <= len(taking.lines) <= MOST_LINES
    weights = [taking.before.draw_weight, *(line.left.draw_weight for line in taking.lines)]
    assert all(low < high for high, low in pairwise(weights))
    assert taking.stop == pytest.approx(46.0 * LBF)
    assert taking.stop - 0.2 * LBF <= weights[-1] < taking.stop + 1.5 * LBF


def test_the_bow_it_leaves_is_drawn_again_by_hand(ash, taking):
    for k in (1, len(taking.lines)):
        trial = draw_trial(cut_by_hand(ash, taking.lines[:k]), coarse=True)
        left = taking.lines[k - 1].left
        assert trial.force == pytest.approx(left.draw_weight, rel=1e-6)
        assert trial.used[trial.open].max() == pytest.approx(left.strength_used, rel=1e-6)


def test_nothing_is_worked_harder_than_the_hardest_place_was(taking):
    """It shall never make strain worse where it takes wood than it is elsewhere."""
    assert taking.after.strength_used <= 1.004 * taking.before.strength_used


def test_the_limbs_are_left_in_tiller(taking):
    """Common practice: the upper limb of the braced bow as far off the string, or a little more."""
    assert out_of_tiller(taking.before.tiller) > 0.005
    assert out_of_tiller(taking.after.tiller) <= RULER


@pytest.mark.slow
def test_a_lower_limb_eased_too_far_is_met_by_the_upper(ash):
    """Even out first (common practice); the weaker limb takes more set, so the list looks at that.

    With the rates of a first pull, which has none, the upper limb came to stand 23 mm further off.
    """
    stave = ash.stave
    eased = (stave.x < -0.1) & (stave.x > -0.6)
    bow = replace(ash, stave=reshaped(stave, thickness=stave.thickness - 4e-4 * eased))
    taking = take_wood(bow, 41.0 * LBF)
    assert taking.before.tiller < -0.012
    assert taking.lines[0].limb == "upper"
    assert out_of_tiller(taking.after.tiller) <= RULER
    assert taking.after.draw_weight < taking.stop + 3.0
    assert taking.after.strength_used <= taking.before.strength_used


def test_it_is_drawn_no_further_than_the_target_s_pull(ash, taking):
    """Common practice: an unfinished bow is never pulled harder than it shall pull in the end."""
    cut = adjust(cut_by_hand(ash, taking.lines), drawing={"length": taking.exercise_to})
    assert draw_trial(cut, coarse=True).force == pytest.approx(taking.target, rel=0.02)
    assert taking.exercise_to < taking.draw_length


@pytest.mark.slow
def test_a_long_way_is_gone_in_parts(ash):
    far = take_wood(ash, 25.0 * LBF, step=STEP)
    assert far.stop == pytest.approx((1.0 - MOST_AT_ONCE) * far.before.draw_weight)
    assert "read the bow again" in str(far.reason)


def test_what_is_far_above_its_weight_is_a_blank(ash):
    thick = replace(ash, stave=reshaped(ash.stave, thickness=1.7 * ash.stave.thickness))
    blank = take_wood(thick, 45.0 * LBF, step=STEP)
    assert blank.lines == ()
    assert "blank" in end_words(blank, METRIC)[0]
    assert "size" in end_words(blank, METRIC)[0]


@pytest.mark.slow
def test_a_list_whose_bow_gives_way_is_given_up_for_a_shorter_one(ash, taking, monkeypatch):
    drawn = []

    def draw(setup):
        drawn.append(setup)
        if len(drawn) == 2:
            raise ConvergenceError("a limb kicks over")
        return whole(setup)

    whole = take._draw
    monkeypatch.setattr(take, "_draw", draw)
    shorter = take_wood(ash, 45.0 * LBF, step=STEP)
    assert taking.after.draw_weight < shorter.after.draw_weight < taking.before.draw_weight


def test_a_bow_that_is_there_and_one_below(ash, taking):
    weight = taking.before.draw_weight
    there = take_wood(ash, weight - 0.5 * MARGIN, step=STEP)
    assert there.lines == ()
    assert any("Take nothing off" in one for one in end_words(there, METRIC))
    with pytest.raises(CaseError, match="wood taken off only makes it weaker"):
        take_wood(ash, 1.1 * weight, step=STEP)


@pytest.mark.slow
def test_a_weak_place_is_left_alone(ash):
    """A place thinned by 1.5 mm bends too much: no line takes the belly down there."""
    stave = ash.stave
    weak = int(np.argmin(np.abs(stave.x - 0.57)))
    thickness = stave.thickness.copy()
    thickness[weak] -= 1.5e-3
    bow = replace(ash, stave=reshaped(stave, thickness=thickness))
    taking = take_wood(bow, 42.0 * LBF, step=STEP)
    for line in taking.lines:
        assert not (line.limb == "upper" and line.start <= 0.57 <= line.end), line


def test_strokes_keep_off_the_grip_and_closed_stations(ash):
    stave = ash.stave
    closed = np.zeros(len(stave.x), dtype=bool)
    closed[4] = True
    for one in strokes_of(stave, closed):
        assert not closed[one.first : one.last + 1].any()
        assert np.abs(stave.x[one.first : one.last + 1]).min() > stave.half_grip
        assert stave.x[one.first] * stave.x[one.last] > 0.0


@pytest.mark.slow
def test_knots_that_are_not_sound_are_kept_clear_of():
    taking = limbfe.take_wood(CASES / "elm_longbow.toml", "38 lbf")
    assert "knot A" in taking.kept_off
    for line in taking.lines:
        assert not (line.limb == "upper" and line.start <= 0.298 <= line.end)
    assert any("assess" in one for one in end_words(taking, METRIC))


def left_with(tiller, weight=200.0):
    return Left(draw_weight=weight, tiller=tiller, strength_used=0.7, worst_at=0.3)


def list_of(*tillers, turns=(), turns_out=0.0, harder=()):
    lines = tuple(
        Line(
            limb="upper",
            side="belly",
            start=0.2,
            end=0.4,
            fades=(0.1, 0.5),
            steps=1,
            amount=STEP,
            left=left_with(one),
        )
        for one in tillers[1:]
    )
    return Taking(
        title="a bow", target=190.0, stop=195.0, draw_length=0.71, exercise_to=0.67, step=STEP,
        before=left_with(tillers[0]), lines=lines, reason="", kept_off=(), readings="",
        turns=turns, turns_out=turns_out, harder=harder,
    )  # fmt: skip


def test_lines_that_leave_the_tiller_on_the_way_are_done_in_turns():
    assert list_of(-0.008, 0.019, 0.004).way_out == pytest.approx(0.013)
    assert list_of(-0.02, -0.011, 0.004).way_out == 0.0  # coming back from where it was
    rounds = (left_with(-0.002, 198.0), left_with(0.001, 196.5), left_with(0.004, 195.0))
    turns = list_of(-0.008, 0.019, 0.004, turns=rounds, turns_out=0.008)
    assert turns.in_turns
    words = end_words(turns, METRIC)
    assert any("3 rounds" in one and "a third of every line" in one for one in words)
    assert any("13.0 mm" in one and "at most 8.0 mm" in one for one in words)
    for k, left in enumerate(("198 N, lower limb 2.0 mm", "196 N, upper", "195 N, upper limb 4.0")):
        assert sum(f"Round {k + 1} leaves {left}" in one for one in words) == 1
    assert any("after every round" in one for one in words)
    # a line alone leaves what no one shall see
    assert not any("eaves" in line_words(line, turns, METRIC) for line in turns.lines)
    after = list_of(-0.008, 0.003, 0.004)
    assert not any("rounds" in one for one in end_words(after, METRIC))
    assert "Leaves" in line_words(after.lines[0], after, METRIC)
    told = turns.to_dict()
    assert told["in_turns"] is True
    assert [one["draw_weight_N"] for one in told["turns"]] == [198.0, 196.5, 195.0]
    assert told["out_of_tiller_in_turns_mm"] == pytest.approx(8.0)


def test_limbs_that_stay_uneven_are_told():
    uneven = end_words(list_of(-0.02, -0.009), METRIC)
    assert any("stay uneven, lower limb 9.0 mm further" in one for one in uneven)
    assert any("stay uneven" in one for one in end_words(list_of(-0.02), METRIC))


def test_a_knot_that_works_harder_and_stays_sound_is_told():
    words = end_words(list_of(0.0, 0.001, harder=(Harder("knot A", 0.4, 0.46),)), METRIC)
    assert any("Knot A stays sound" in one and "46%" in one and "40%" in one for one in words)


def test_the_ash_s_lines_keep_the_tiller_on_the_way(ash, taking):
    """Followed as it reads, the list leaves the limbs nowhere further out than it says."""
    count = len(taking.turns) or 1
    stave, reached = ash.stave, []
    for done in range(1, count * len(taking.lines)):
        whole, part = divmod(done, len(taking.lines))
        shares = [(whole + (k < part)) / count for k in range(len(taking.lines))]
        thickness, width = stave.thickness.copy(), stave.width.copy()
        for line, share in zip(taking.lines, shares, strict=True):
            far = stave.x if line.limb == "upper" else -stave.x
            here = (far >= line.start - 1e-6) & (far <= line.end + 1e-6)
            if line.side == "belly":
                thickness[here] -= share * line.steps * STEP
            else:
                width[here] -= 2.0 * share * line.steps * STEP
        cut = replace(ash, stave=reshaped(stave, thickness=thickness, width=width))
        reached.append(take._draw(cut).left.tiller)
    said = taking.turns_out if taking.turns else max(EYE, out_of_tiller(taking.before.tiller))
    assert max(out_of_tiller(one) for one in reached) <= said + 1e-3
    # no further than it is now, or than an eye tells
    assert said <= out_of_tiller(taking.before.tiller) + EYE + 1e-3


def test_a_line_says_all_that_is_done_at_the_bench():
    left = Left(draw_weight=46.2 * LBF, tiller=0.0042, strength_used=0.73, worst_at=0.3)
    line = Line(
        limb="lower", side="belly", start=0.1524, end=0.4064, fades=(0.1016, None), steps=3,
        amount=3 * STEP, left=left,
    )  # fmt: skip
    taking = Taking(
        title="a bow", target=45 * LBF, stop=46 * LBF, draw_length=0.7112, exercise_to=0.6731,
        step=STEP, before=left, lines=(line,), reason="", kept_off=(), readings="",
    )  # fmt: skip
    words = line_words(line, taking, IMPERIAL)
    for part in ("Lower limb", "belly", "3/64 in", "6 in to 16 in", "4 in", "46.2 lbf", "73%"):
        assert part in words
    assert "upper limb 11/64 in further" in words
    stop = " ".join(end_words(taking, IMPERIAL))
    assert "Stop at 46.0 lbf, 1.0 lbf above the target, then exercise to 26 1/2 in" in stop
    assert "both sides, each" in line_words(replace(line, side="sides"), taking, METRIC)


def test_sound_knots_may_work_harder_while_they_stay_sound(monkeypatch):
    """One that would not be sound any more, or worked harder than any clear wood, is kept off."""
    asked = []

    def search(_, keep_off, tell):
        asked.append(set(keep_off))
        return take._Found(("a stroke",), "", keep_off)

    def judged(bow):
        at = {
            "now": {"A": ("sound", 0.4), "B": ("sound", 0.5), "C": ("watch", 0.3)},
            "cut": {
                "A": ("sound", 0.46),
                "B": ("watch", 0.55) if len(asked) == 1 else ("sound", 0.5),
                "C": ("watch", 0.33),
                "D": ("sound", 0.82),
            },
        }[bow]
        at["D"] = at.get("D", ("sound", 0.7))
        return [
            SimpleNamespace(name=name, kind="knot", verdict=verdict, strength_used=used)
            for name, (verdict, used) in at.items()
        ]

    monkeypatch.setattr(take, "_search", search)
    monkeypatch.setattr(take, "judge_zones", judged)
    monkeypatch.setattr(take, "zones_of", lambda stave: (stave,))
    monkeypatch.setattr(take, "_cut", lambda setup, strokes, step: setup)
    monkeypatch.setattr(take, "_draw", lambda setup: SimpleNamespace(trial="cut"))
    now = SimpleNamespace(trial="now", left=left_with(0.0))  # clear wood works at 70 %
    bow = take._Search(SimpleNamespace(stave="a stave"), now, None, 190.0, STEP)
    found = take._beside_zones(bow, lambda words: None)
    # C is not sound as it is; B would not stay so; D would work harder than clear wood does
    assert asked == [{"C"}, {"B", "C", "D"}]
    assert found.harder == (Harder("knot A", 0.4, 0.46),)
