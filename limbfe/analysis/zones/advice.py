"""What would make a zone sound, worked out by trying it.

Draw length and weight follow from the states of the draw.  Width, place and filling are tried on
the plate (`limbfe.analysis.zones.trials`).  A width and a place that are advised are judged once
more by the full plate.  A limb is widened as a bowyer widens it: the back is left as the tree made
it, so that an arched one keeps its radius and the wider limb has thinner edges; knots stay where
they are; the limb keeps its thickness.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np

from limbfe.analysis.zones.changed import filled, moved, widened
from limbfe.analysis.zones.trials import Trials
from limbfe.analysis.zones.when import When
from limbfe.defect.strip import half_extent
from limbfe.failure.problem import LocalOutcome, LocalProblem, Place
from limbfe.failure.verdict import (
    MODE_NAMES,
    SOUND_CHANCE,
    governing_mode,
    judge,
    sound_limits,
)
from limbfe.stave.knot import SWIRL_REACH
from limbfe.stave.knot_wood import EPOXY
from limbfe.units import DrawReach, Force, Quantity, Sentence, ToolLength, Words, join

WIDEST = 4.0 / 3.0
"""Advice on width looks no further than this many times the width there.  Faired out over the
limb's width, an edge then leaves its line by 1 in 6: more is a lump, or another stave."""
LEAST_STEP = 1.15
"""Least widening that is tried: below it a trial's own scatter would pass for its effect."""
CAREFUL = 1.05
"""Widening is rounded up by this factor: the quick member is a few per cent off the full one."""
QUARTERS = 4
"""Parts of the way between two places of the centre line to which the least move is found."""
NEAR_BROKEN = 1.5
"""Times the shortening at which wrinkles may show, from which a belly is not said to take a set
alone: bars of the woods in the table are broken at 1.8 to 2.3 times it (tests/wood/test_bar.py)."""
NO_PULL = 5.0
"""A bow that pulls less (N) is as good as at brace."""
CENTRED = 0.1
"""A zone closer than this part of the width to the middle of the limb is left there."""

"""From a load factor and a place to the draw length and weight at which the strain there is that
part of what was judged."""


def advise(
    problem: LocalProblem,
    outcome: LocalOutcome,
    sound_up_to: Callable[[Place], When | None],
    braced: float,
    *,
    movable: bool,
) -> Words:
    """Return what would make a zone sound.

    Parameters
    ----------
    problem : LocalProblem
    outcome : LocalOutcome
        Of the whole problem.
    sound_up_to : callable
        To what draw the zone is sound, by what is to be said of its place first; None beyond the
        draws that are known.
    braced : float, m
        Draw length of the braced bow.
    movable : bool
        Whether the strip lies in the face, so that the centre line can be moved in its plane.
    """
    verdict = judge(outcome)
    if verdict == "sound":
        return "leave it as it is"
    parts: list[Words] = [*_section_advice(outcome)]
    crushing = outcome.modes["yield"].typical
    crushed = crushing >= 1.0
    pulled_apart = outcome.modes["fibre"].mode == "fibre"
    limits = sound_limits(outcome)
    passed = [one.mark for one in limits if one.factor <= 1.0 and one.mark != "break"]
    if passed == ["crushing"]:
        parts.append(
            f"the belly there is worked to {crushing:.0%} of what wrinkles it (frets): "
            f"{_set_or_break(crushing)}; draw less, or leave the limb wider and thinner throughout"
        )
    if verdict == "watch" and [mark for mark in passed if mark != "crushing"] == ["chance"]:
        parts.append(
            "wood of typical strength holds, but it adds more than 1 in "
            f"{1.0 / SOUND_CHANCE:.0f} to the chance that this bow breaks: exercise the bow slowly "
            "and look at it often"
        )
    if passed == ["stress"]:
        parts.append(
            "as computed it does not split off in earnest, but common practice "
            "trusts no knot in an edge of a limb that works: lay the line so that it is whole "
            "inside or wholly outside, or round the edge over there and look at it after every "
            "draw"
        )
    reached = sound_up_to(limits[0].place)
    helps = reached is not None and reached.length > braced and reached.force >= NO_PULL
    parts.append(_draw_advice(reached) if reached and helps else "it is not sound even at brace")
    hopeless = False
    hinge = any(
        one.mark != "crushing" and one.place.station is not None and one.factor <= 1.0
        for one in limits
    )
    if passed not in (["crushing"], ["stress"]) and not hinge:
        # where the limb itself gives way, another width or place of the zone would not help it
        trials = Trials(problem, outcome, limits)
        if trials.as_it_is > 0.0:
            tried = tuple(_trial_advice(trials, movable))
            parts.extend(words for words, _ in tried)
            hopeless = not helps and not any(sound for _, sound in tried)
            if hopeless:
                parts.append("nothing that was tried saves it: take another stave")
    if crushed and passed != ["crushing"]:
        parts.append("wrinkles (frets) may show on the belly there besides, and it takes a set")
    if verdict == "expect a split" and not hopeless:
        parts.append("a wrapping of thread in glue may keep it shut: common practice, not computed")
    if verdict == "expect rupture":
        parts.append("do not draw this bow to the length that was asked for")
        if pulled_apart:
            parts.append(
                "a backing glued over it (rawhide, linen) holds splinters down but carries little: "
                "common practice, not computed"
            )
    return join("; ", parts)


def _set_or_break(crushing: float) -> str:
    """Say what comes of a belly that is worked so far past where wrinkles may show."""
    if crushing < NEAR_BROKEN:
        return "it takes a set rather than breaking"
    return "bars of clear wood are broken at 180% to 230%, so it is no longer far from giving way"


def _section_advice(outcome: LocalOutcome) -> Iterator[str]:
    """Say so where the bow's own section is worked harder than the wood of the layers."""
    first = governing_mode(outcome)
    if first.station is not None and first.mode != "yield":
        yield (
            f"the limb itself is worked to {first.typical:.0%} there ({MODE_NAMES[first.mode]}), "
            "by its own section: leave more wood"
        )


def _trial_advice(trials: Trials, movable: bool) -> Iterator[tuple[Words, bool]]:
    """Say what was tried, and whether it would make the zone sound."""
    yield _width_advice(trials)
    if movable:
        yield _place_advice(trials)
    if any(k.state in ("missing", "dead") for k in trials.own_knots()):
        yield _filling_advice(trials)


def _draw_advice(reached: When) -> Words:
    length, force = reached
    return Sentence(
        "it is sound up to a draw of {}, where the bow, never drawn further, pulls {}",
        DrawReach(length),
        Force(force),
    )


def _width_advice(trials: Trials) -> tuple[Words, bool]:
    """Return the width that makes the zone sound, and whether there is one.

    Strain falls as the width grows and the zone's share of the width falls too, nearly as powers
    of the width, so that two trials along that power are enough.
    """
    width = trials.width()
    if trials.room_along() < width:
        return "it lies too near the end of the limb to leave that wider and fair it out", False
    scale = float(np.clip(trials.used, LEAST_STEP, WIDEST))
    for verified in (False, False, True, True):
        gain = trials.used / (trials.verify if verified else trials.try_out)(
            partial(widened, scale=scale)
        )
        if verified and gain >= trials.used:
            break
        wanted = trials.used ** (np.log(scale) / np.log(gain)) if gain > 1.0 else np.inf
        if wanted > WIDEST:
            most = ToolLength((WIDEST - 1.0) * width)
            words = "leaving the limb as much as {} wider there (a third) would not make it sound"
            return Sentence(words, most), False
        scale = min(1.0 + CAREFUL * max(float(wanted) - 1.0, 0.01), WIDEST)
    sound = Sentence(
        "if the blank has the wood, leaving the limb {} wider there{} faired out over {} or more "
        "to both sides, would {}",
        ToolLength((scale - 1.0) * width),
        ", its back arched as it is," if trials.arched() else ",",
        ToolLength(width),
        trials.goal,
    )
    return sound, True


def _place_advice(trials: Trials) -> tuple[Words, bool]:
    """Return how far the centre line would have to move, towards the zone or away from it.

    Towards it, the best that can be had is the zone in the middle of the limb; away from it, the
    zone cut off with only its swirl left in the edge.  A move by more than the limb's width is
    another stave.
    """
    offset = trials.offset()
    away = 1.0 if offset >= 0.0 else -1.0
    half_width = half_extent(trials.focus)[1]
    edge = 0.5 * trials.width() - abs(offset) + half_width
    ways = []
    if abs(offset) > CENTRED * trials.width():
        ways.append((away, 0.0, abs(offset), ""))
    last = min(edge + (SWIRL_REACH - 1.0) * half_width, trials.width())
    if edge < last:
        ways.append((-away, edge, last, ", which cuts it off at the edge,"))
    said = []
    for way, near, far, remark in ways:
        distance = _least_move(trials, -way, near, far)
        if distance is not None:
            side = "right" if way > 0.0 else "left"
            said.append(Sentence("{} to the archer's {}{}", ToolLength(distance), side, remark))
    if not said:
        return "no place across the limb would make it sound", False
    words = Sentence(
        "if the blank has the wood, moving the centre line {} would {}",
        join(" or ", said),
        trials.goal,
    )
    return words, True


def _least_move(trials: Trials, way: float, near: float, far: float) -> float | None:
    """Return the least shift of the zones between two, m, that makes the zone sound, or None.

    To a quarter of the distance between the two.  The place tried first is the last quarter before
    a straight line between the known ends falls to the sound load: the load falls steeply at first.
    """

    def used(distance: float) -> float:
        return trials.try_out(partial(moved, shift=way * distance))

    def holds(distance: float) -> float | None:
        """Return the distance, or the last one, if the judgement's own plate finds it sound."""
        for one in (distance, far):
            if trials.verify(partial(moved, shift=way * one)) <= 1.0:
                return one
        return None

    last = used(far)
    if last > 1.0:
        return None
    first = used(near) if near > 0.0 else trials.used
    if first <= 1.0:
        return holds(near)
    share = (first - 1.0) / (first - last) if np.isfinite(first) else 0.5
    quarter = max(int(np.ceil(QUARTERS * share)) - 1, 1)
    step = (far - near) / QUARTERS

    def sound(k: int) -> bool:
        return k == QUARTERS or used(near + k * step) <= 1.0

    if sound(quarter):
        while quarter > 1 and sound(quarter - 1):
            quarter -= 1
    else:
        quarter += 1
        while not sound(quarter):
            quarter += 1
    return holds(near + quarter * step)


def _filling_advice(trials: Trials) -> tuple[Words, bool]:
    """Return what filling the hole would change, and whether it makes the zone sound."""
    left = trials.try_out(partial(filled))
    gain = 1.0 - left / trials.used
    if gain < 0.1:
        return "filling it with epoxy changes next to nothing", False
    modulus = Quantity("modulus", EPOXY.E, figures=2)
    words = Sentence("filling it with epoxy ({}) would take {:.0%} off the stress", modulus, gain)
    return words, left <= 1.0
