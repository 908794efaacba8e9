"""Clear wood through a shot, judged as that of a drawn bow.

Every station is looked at where it is loaded hardest, in the instants of its own: back or belly
stretched most, shortened most, shear and twist greatest.  Those instants need not be one.  A piece
of wood holds if it holds in its worst instant, so strength used in tension is that of the most each
piece bears (`limbfe.analysis.wood.stretched`), as in the draw; the release is full draw, so a shot
uses no less.

Limits: sections answer elastically from full draw on.  Where a belly is shortened beyond that it is
crushed further, and the strain there is told too small; strength is that of seconds, not of
milliseconds, which is on the careful side.

Strength used in tension is that of all links of the limbs together, so it has the chance that an
assessment gives the limb without a zone (`limbfe.failure.clear_chance`), with the scatter of the
wood of back or belly.  Every way of loading the limbs is judged alone: wood that is
pulled on the belly after it was on the back adds its links to neither, the worst of both is told.
Of the other ways of failing none is told: in shear and across the grain an assessment has no chance
of clear wood either, and a belly that is crushed wears out and does not break at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.bow.stations import Stations
from limbfe.analysis.shot.strains import shot_states
from limbfe.analysis.wood.hot_spots import HotSpot, Place, describe, locate_hot_spots
from limbfe.analysis.wood.limb_load import drawn_stress
from limbfe.analysis.wood.stress import WoodStress
from limbfe.analysis.wood.stretched import relieved_wood, worked_wood
from limbfe.beam.shot.shoot import Shot
from limbfe.failure.clear_chance import clear_chance
from limbfe.frames import Array

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
    chance : float or None
        That the limbs break so; in tension only.
    """

    spot: HotSpot
    time: float
    rough: bool = False
    chance: float | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return the contract's part."""
        chance = {} if self.chance is None else {"failure_probability": self.chance}
        return {**self.spot.to_dict(), "time_ms": 1e3 * self.time, "rough": self.rough, **chance}


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
        mode: _worst(stations, skin, inside, place)
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


def _worst(
    stations: Stations,
    skin: WoodStress,
    inside: WoodStress,
    place: Place,
    *,
    time: float = 0.0,
    rough: bool = False,
) -> Worst:
    """Return a place with its instant, and in tension with the chance that the limbs break."""
    spot, chance = describe(stations, skin if place.on_skin else inside, place), None
    if spot.mode == "tension":
        stave = stations.setup.stave
        outer = stave.backing_wood or stave.sapwood_wood or stave.heartwood
        cov = (outer if spot.face == "back" else stave.heartwood).strength.cov
        chance = clear_chance(spot.strength_used, cov["E_L"], cov["tension_strength"])
    return Worst(spot=spot, time=time, rough=rough, chance=chance)


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
        rough = shot.comes_down is not None and time >= shot.comes_down[0]
        found[mode] = _worst(stations, skin, inside, place, time=time, rough=rough)


def _hardest(places: Iterable[Place]) -> dict[str, Place]:
    """Return the hardest worked place of every mode, of places that come hardest first."""
    found: dict[str, Place] = {}
    for place in places:
        found.setdefault(place.mode, place)
    return found
