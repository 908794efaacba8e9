"""What a shot warns of, in words; of several arrows the worst is told, the others are counted."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple, Protocol

from limbfe.analysis.bow.setup import Shooting
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.shot.clear_wood import FARTHER, TOLD, ClearWood, Worst
from limbfe.analysis.shot.reversal import Reversal
from limbfe.analysis.shot.speed import GRAIN_A_POUND
from limbfe.analysis.wood.hot_spots import SKIN_MODES
from limbfe.beam.shot.shoot import Shot
from limbfe.failure.clear_chance import in_hundred
from limbfe.failure.criteria import MODES
from limbfe.units import Force, Length, Quantity, Sentence, Words
from limbfe.wood.bar import WRINKLES

LIGHT = 6.0 * GRAIN_A_POUND
"""Six grains a pound of draw weight, kg/N: lighter arrows are next to a dry release (common
practice says 8 to 10 for wood)."""
DRY = (
    "Never let a bow go without an arrow: what would have flown off stays in limbs and string, and "
    "breaks bows. These figures are to say by how much, and for nothing else."
)
HELD = (
    "the grip is held fast; a hand gives way, which softens the shock and changes the speed a "
    "little"
)
LIMITS = (
    "arrow and nocking point are one mass that moves freely: no bending of the arrow, no friction "
    "on the hand",
    "the string lies down on the limbs' bellies and slides over them without friction; that it "
    "may strike the hand or the handle is left out",
)
ROUGHLY = "; roughly, as the string has struck the limbs by then"


class _OneShot(Protocol):
    """What is asked of a shot: see `ShotResult`."""

    @property
    def arrow(self) -> float: ...

    @property
    def shot(self) -> Shot: ...

    @property
    def clear(self) -> ClearWood: ...

    @property
    def tension_max(self) -> float: ...

    @property
    def tension_max_after(self) -> float: ...


class _AllShots(Protocol):
    """What is asked of a bow's shots: see `Shots`."""

    @property
    def solved(self) -> SolvedBow: ...

    @property
    def weight(self) -> float: ...

    @property
    def shooting(self) -> Shooting: ...

    @property
    def shots(self) -> Sequence[_OneShot]: ...

    @property
    def dry(self) -> _OneShot | None: ...

    @property
    def reversals(self) -> Sequence[Reversal]: ...

    @property
    def when_braced(self) -> Sequence[Words]: ...


def graver(shots: _AllShots) -> tuple[Words, ...]:
    """Return what comes before all: what breaks braced, a dry shot, a string, wood, a knot."""
    words: list[Words] = [*shots.when_braced]
    if shots.dry is not None:
        words.append(DRY)
    strength = shots.solved.model.setup.stringing.strength
    for those in _flown_and_dry(shots):
        torn = [one for one in those if strength is not None and _tension(one) > strength]
        for one, what in _worst(torn, _tension):
            assert strength is not None
            words.append(
                Sentence(
                    "THE STRING BREAKS with {}: it bears {} and breaks at {}",
                    what, Force(_tension(one)), Force(strength),
                )
            )  # fmt: skip
    words += _wood(shots, breaks=True)
    return (*words, *(one.words() for one in shots.reversals if one.breaks))


def milder(shots: _AllShots) -> Iterator[Words]:
    """Yield what else there is to say of this bow's shots."""
    light = [one for one in shots.shots if one.arrow < LIGHT * shots.weight]
    for _, what in _worst(light, lambda one: -one.arrow):
        yield Sentence(
            "with {}: lighter than 6 grains a pound of draw weight, close to a dry release, which "
            "breaks bows (common practice: 8 to 10 for wood)",
            what,
        )
    yield from _come_down(shots)
    yield from _wood(shots, breaks=False)
    yield from (one.words() for one in shots.reversals if not one.breaks)
    full, length = shots.solved.full_draw.draw_length, shots.shooting.arrow_length
    if length is not None and length < full:
        yield Sentence(
            "an arrow of {} drawn to {} comes off its rest, and goes into the hand: a longer one, "
            "or less draw",
            Length(length), Length(full),
        )  # fmt: skip


def _tension(one: _OneShot) -> float:
    return max(one.tension_max, one.tension_max_after)


def _flown_and_dry(shots: _AllShots) -> tuple[Sequence[_OneShot], Sequence[_OneShot]]:
    return shots.shots, () if shots.dry is None else (shots.dry,)


def _worst(
    those: Sequence[_OneShot], measure: Callable[[_OneShot], float]
) -> Iterator[tuple[_OneShot, Words]]:
    """Yield the worst of some shots, if there are any, and what was shot, the others counted."""
    if those:
        worst = max(those, key=measure)
        yield worst, _shot_with(worst.arrow, len(those) - 1)


def _shot_with(arrow: float, more: int = 0) -> Words:
    if arrow == 0.0:
        return "no arrow"
    others = f" (and {more} more of these)" if more else ""
    return Sentence(f"an arrow of {{}}{others}", Quantity("arrow", arrow))


def _come_down(shots: _AllShots) -> Iterator[Words]:
    """Yield of which shots the string comes down on a limb where it is not followed."""
    for those in _flown_and_dry(shots):
        struck = [one for one in those if one.shot.comes_down is not None]
        for one, what in _worst(struck, lambda one: -(one.shot.comes_down or (0.0,))[0]):
            assert one.shot.comes_down is not None
            time, far = one.shot.comes_down
            yield Sentence(
                f"with {{}}, {1e3 * time:.0f} ms after the release the string strikes the "
                "limbs as far as {} from the nocks; what it does from then on is not followed, "
                "and tensions and strains after that are rough",
                what, Length(far),
            )  # fmt: skip


class ClearWords(NamedTuple):
    """What is to be said of clear wood in one shot.

    Attributes
    ----------
    breaks : bool
        Whether it is expected to break there.
    mode : str
    drawn : float
        Strength used at full draw.
    worst : Worst
    at_full_draw : bool
        Whether that is it: the same in every shot.
    """

    breaks: bool
    mode: str
    drawn: float
    worst: Worst
    at_full_draw: bool

    def words(self, arrow: float, more: int = 0) -> Words:
        """Return it as a sentence; `more` arrows do the like, but less."""
        if self.at_full_draw:
            return Sentence("at full draw {}", _told(self.worst))
        rough = ROUGHLY if self.worst.rough else ""
        return Sentence(
            f"with {{}}, {1e3 * self.worst.time:.0f} ms after the release, {{}}; at full draw "
            f"{self.drawn:.0%} at most{rough}",
            _shot_with(arrow, more), _told(self.worst),
        )  # fmt: skip


def clear_words(wood: ClearWood) -> Iterator[ClearWords]:
    """Yield what is to be said of clear wood in a shot."""
    for mode in MODES:
        least = WRINKLES if mode == "compression" else 1.0
        drawn, worst = wood.drawn.get(mode), wood.worst(mode)
        before = 0.0 if drawn is None else drawn.spot.strength_used
        if drawn is not None and before >= least:
            yield ClearWords(before >= 1.0, mode, before, drawn, at_full_draw=True)
        if worst is None:
            continue
        used = worst.spot.strength_used
        farther = used > FARTHER * before and (mode in SKIN_MODES or used >= TOLD)
        if farther or used >= least > before:
            yield ClearWords(used >= 1.0, mode, before, worst, at_full_draw=False)


def _wood(shots: _AllShots, *, breaks: bool) -> list[Words]:
    """Return what is said of clear wood, once for what several arrows do, the worst of them."""
    groups: dict[tuple[str, bool, bool], list[tuple[float, ClearWords]]] = {}
    for those in _flown_and_dry(shots):
        for one in those:
            for found in clear_words(one.clear):
                if found.breaks == breaks:
                    flown = one.arrow > 0.0 or found.at_full_draw
                    key = (found.mode, found.at_full_draw, flown)
                    groups.setdefault(key, []).append((one.arrow, found))
    told = []
    for group in groups.values():
        arrow, worst = max(group, key=lambda pair: pair[1].worst.spot.strength_used)
        told.append(worst.words(arrow, len(group) - 1))
    return told


def _told(worst: Worst) -> Sentence:
    spot = worst.spot
    breaks = ": it is expected to BREAK" if spot.strength_used >= 1.0 else ""
    chance = "" if worst.chance is None else f" ({in_hundred(worst.chance)} in 100 such bows break)"
    where = f"on the {spot.face}" if spot.face != "inside" else "inside"
    return Sentence(
        f"clear wood {where}, {{}} up the {spot.limb} limb, is worked to {spot.how_hard}{chance}"
        f"{breaks}",
        Length(spot.at),
    )
