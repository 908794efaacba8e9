"""Clear wood through a shot, judged as that of a drawn bow.

Every station is looked at where it is loaded hardest, in the instants of its own: back or belly
stretched most, shortened most, shear and twist greatest.  Those instants need not be one.  A piece
of wood holds if it holds in its worst instant, so strength used in tension is that of the most each
piece bears (`limbfe.analysis.wood.stretched`), as in the draw; the release is full draw, so a shot
uses no less.

Limits: sections answer elastically from full draw on.  Where a belly is shortened beyond that it is
crushed further, and the strain there is told too small; strength is that of seconds, not of
milliseconds, which is on the careful side.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.shot.strains import shot_states
from limbfe.analysis.wood.hot_spots import SKIN_MODES, HotSpot, Place, describe, locate_hot_spots
from limbfe.analysis.wood.limb_load import drawn_stress
from limbfe.analysis.wood.stretched import relieved_wood, worked_wood
from limbfe.beam.shot.shoot import Shot
from limbfe.failure.criteria import MODES
from limbfe.frames import Array
from limbfe.units import Length, Quantity, Sentence, Words
from limbfe.wood.bar import WRINKLES

FARTHER = 1.05
"""Times the strength used at full draw, from which a shot is told to load clear wood harder."""
TOLD = 0.5
"""Strength used from which that is told of shear and of tension across the grain (a choice)."""
SMALL = 0.2
"""Share of what back or belly is strained by at full draw, up to which the other sign of it is not
looked at: no wood of a bow bears five times less on one face than on the other."""
TWISTED = 0.01
"""Share of the bending moment, from which a limb's twisting is looked at: it uses a twentieth of
the wood's strength in shear there."""
ALIKE = 1e-3
"""A belly within this share of its most, when the back is stretched most, is looked at once."""
ROUGHLY = "; roughly, as the string has struck the limbs by then"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Worst:
    """Where clear wood is worked hardest in one way.

    Attributes
    ----------
    spot : HotSpot
    time : float, s
        Since the release; 0 at full draw.
    rough : bool
        Whether the string had come down on a limb by then where it is not followed.
    """

    spot: HotSpot
    time: float
    rough: bool = False

    def to_dict(self) -> dict[str, Any]:
        """Return the contract's part."""
        return {**self.spot.to_dict(), "time_ms": 1e3 * self.time, "rough": self.rough}


Modes = dict[str, Worst]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClearWood:
    """The hardest worked clear wood by mode: at full draw, from the release on and after the arrow.

    Attributes
    ----------
    drawn, during, after : dict of Worst by mode
        `during` until the arrow leaves, the release counted; without one it is all of it and
        `after` is empty.
    """

    drawn: Modes
    during: Modes
    after: Modes

    def worst(self, mode: str) -> Worst | None:
        """Return the worst of a shot in one way, and of what follows."""
        both = [found[mode] for found in (self.during, self.after) if mode in found]
        return max(both, key=lambda one: one.spot.strength_used, default=None)

    def to_dict(self) -> dict[str, Any]:
        """Return the contract's part."""
        parts = {"at_full_draw": self.drawn, "until_it_leaves": self.during, "after": self.after}
        return {
            name: {mode: worst.to_dict() for mode, worst in found.items()}
            for name, found in parts.items()
        }


def clear_wood(solved: SolvedBow, shot: Shot) -> ClearWood:
    """Judge the clear wood of a bow through a shot of it.

    Parameters
    ----------
    solved : SolvedBow
        Exercised.
    shot : Shot
    """
    inside, skin = drawn_stress(solved)
    stations = solved.model.stations
    drawn = {
        mode: Worst(spot=describe(stations, skin if place.on_skin else inside, place), time=0.0)
        for mode, place in _hardest(locate_hot_spots(stations, skin, inside)).items()
    }
    during = dict(drawn)
    after: Modes = {}
    strains, resultants = shot_states(solved, shot)
    left = len(shot.time) - 1 if shot.left is None else shot.left
    for found, states in ((during, slice(0, left + 1)), (after, slice(left, None))):
        if shot.left is None and found is after:
            continue
        for load in _loads(solved, strains[states], resultants[states]):
            _raise(found, solved, shot, load, states.start)
    return ClearWood(drawn=drawn, during=during, after=after)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Load:
    """Strains of every station at the instant that loads it hardest in one way, and the instant."""

    strains: Array
    step: NDArray[np.intp]
    relieved: bool


def _loads(solved: SolvedBow, strains: Array, resultants: Array) -> Iterator[_Load]:
    """Yield the ways in which stations are loaded hardest in a row of states.

    Left out is what cannot be the worst of any mode: see `SMALL`, `TWISTED`, `ALIKE`.
    """
    stations, every = solved.model.stations, np.arange(strains.shape[1])
    half, kept = 0.5 * stations.shapes.thickness, solved.residual
    back = strains[..., 0] + half * strains[..., 4]
    belly = strains[..., 0] - half * strains[..., 4]
    bent, drawn = stations.bends, solved.full_draw.strains.reshape(-1, 6)
    pulled = float((drawn[:, 0] + half * drawn[:, 4])[bent].max())
    pressed = float((half * drawn[:, 4] - drawn[:, 0])[bent].max())
    first = back.argmax(axis=0)
    yield _Load(strains=strains[first, every], step=first, relieved=False)
    step = belly.argmin(axis=0)
    if (belly[first, every] - belly[step, every])[bent].max() > ALIKE * pressed:
        yield _Load(strains=strains[step, every], step=step, relieved=False)
    if -back[:, bent].min() > SMALL * pressed:
        step = back.argmin(axis=0)
        yield _Load(strains=strains[step, every], step=step, relieved=False)
    shear, twist, moment = (np.abs(resultants[..., k]) for k in (2, 3, 4))
    step = shear.argmax(axis=0)
    yield _Load(strains=strains[step, every], step=step, relieved=False)
    if twist[:, bent].max() > TWISTED * moment[:, bent].max():
        step = twist.argmax(axis=0)
        yield _Load(strains=strains[step, every], step=step, relieved=False)
    stretched = belly - (kept[:, 0] - half * kept[:, 4])
    step = stretched.argmax(axis=0)
    # a station that never turns back is left in its unstrung shape
    turned = np.asarray(stretched[step, every] > 0.0)
    if stretched[:, bent].max() > SMALL * pulled:
        chosen = np.where(turned[:, None], strains[step, every], kept)
        yield _Load(strains=chosen, step=step, relieved=True)


def _raise(found: Modes, solved: SolvedBow, shot: Shot, load: _Load, start: int) -> None:
    """Put what a load works harder in place of what was found before."""
    stations, section = solved.model.stations, solved.section
    look = relieved_wood if load.relieved else worked_wood
    skin, inside = look(stations, section, load.strains, solved.plastic[-1])
    places = locate_hot_spots(stations, skin, inside)
    if load.relieved:
        # what is pressed in a load relieved of its crushing is judged without
        places = tuple(place for place in places if place.mode == "tension")
    for mode, place in _hardest(places).items():
        if mode in found and found[mode].spot.strength_used >= place.used:
            continue
        time = float(shot.time[start + load.step[place.station]])
        found[mode] = Worst(
            spot=describe(stations, skin if place.on_skin else inside, place),
            time=time,
            rough=shot.comes_down is not None and time >= shot.comes_down[0],
        )


def _hardest(places: Iterable[Place]) -> dict[str, Place]:
    """Return the hardest worked place of every mode, of places that come hardest first."""
    found: dict[str, Place] = {}
    for place in places:
        found.setdefault(place.mode, place)
    return found


def clear_words(arrow: float, wood: ClearWood) -> Iterator[tuple[bool, Words]]:
    """Yield what is said of clear wood in a shot, and whether it is expected to break there.

    Parameters
    ----------
    arrow : float, kg
        0 without one.
    wood : ClearWood
    """
    for mode in MODES:
        least = WRINKLES if mode == "compression" else 1.0
        drawn, worst = wood.drawn.get(mode), wood.worst(mode)
        before = 0.0 if drawn is None else drawn.spot.strength_used
        if drawn is not None and before >= least:
            yield before >= 1.0, Sentence("at full draw {}", _told(drawn.spot))
        if worst is None:
            continue
        used = worst.spot.strength_used
        farther = used > FARTHER * before and (mode in SKIN_MODES or used >= TOLD)
        if farther or used >= least > before:
            what = Sentence("an arrow of {}", Quantity("mass", arrow)) if arrow else "no arrow"
            words = Sentence(
                f"with {{}}, {1e3 * worst.time:.0f} ms after the release, {{}}; at full draw "
                f"{before:.0%} at most{ROUGHLY if worst.rough else ''}",
                what, _told(worst.spot),
            )  # fmt: skip
            yield used >= 1.0, words


def _told(spot: HotSpot) -> Sentence:
    breaks = ": it is expected to BREAK" if spot.strength_used >= 1.0 else ""
    where = f"on the {spot.face}" if spot.face != "inside" else "inside"
    return Sentence(
        f"clear wood {where}, {{}} up the {spot.limb} limb, is worked to {spot.how_hard}{breaks}",
        Length(spot.at),
    )
