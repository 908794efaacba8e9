"""The search for what ends a draw: states further and further out, and the wood in them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.optimize import brentq

from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.bow.yielding import crushed_by, section_law
from limbfe.analysis.wood.hot_spots import SKIN_MODES, HotSpot, Place, describe
from limbfe.analysis.wood.limb_wood import LimbWood, limb_wood
from limbfe.analysis.wood.picked import Looked, pick_wood
from limbfe.analysis.wood.stress import WoodStress, clear_stations, limit_used, look_at
from limbfe.analysis.wood.stretched import link_parts, size_factor, sized
from limbfe.beam import BowState, draw_on
from limbfe.errors import ConvergenceError
from limbfe.failure.criteria import MODES
from limbfe.frames import Array
from limbfe.section.yielding.inelastic import fibre_response, fresh_state
from limbfe.section.yielding.pressing import PressedSection, pressed_section
from limbfe.wood.bar import HOLDS, WRINKLES

Kind = Literal["yield", "tension", "compression", "shear", "across", "crush"]
EndKind = Literal["break", "stability", "equilibrium", "string"]

KINDS: tuple[Kind, ...] = ("yield", "tension", "compression", "shear", "across", "crush")
BREAKING: tuple[Kind, ...] = ("tension", "shear", "across", "crush")
"""Events that end a limb; with wrinkles on its belly it still stands."""
STEP = 0.025
"""Steps of the search past full draw, as a share of the draw length."""
ACCURACY = 1e-5
"""Draw lengths are found to this (m)."""
_MOST_PLACES = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawLimit:
    """What first happens to clear wood at one draw length.

    Attributes
    ----------
    kind : {"yield", "tension", "compression", "shear", "across", "crush"}
        ``"yield"``: the proportional limit in compression is passed; a mode: its strength is
        used up, but ``"compression"``: wrinkles (frets) may show on the belly; ``"crush"``: fibres
        are shortened past the plateau of the crushed belly.
    draw_length, force : float, m, N
    when_braced : bool
        It has already happened when the bow is braced; then these are the braced bow's.
    spot : HotSpot
        Where, with the stress and the strain there.
    """

    kind: Kind
    draw_length: float
    force: float
    when_braced: bool
    spot: HotSpot


class DrawSearch:
    """The states of one draw, as far out as was needed, and the worst places in them."""

    def __init__(self, solved: SolvedBow) -> None:
        # what happens first does so on the way out, not when the bow is drawn again
        solved = solved.first_pull
        self.solved, self.model, self.section = solved, solved.model, solved.section
        self.states = [solved.braced, *solved.states]
        self.plastic = list(solved.plastic)
        self.pressed: dict[int, PressedSection] = {}
        for state in solved.beyond:
            self._add(state)
        self.stations = solved.model.stations
        self.searched = clear_stations(self.stations) & self.stations.bends
        self.looked: dict[int, Looked] = {}
        self.found: dict[Kind, DrawLimit] = {}
        self.wood = limb_wood(self.stations, self.section)
        self.parts = link_parts(self.stations, self.section)

    def _add(self, state: BowState) -> None:
        pressed = crushed_by(self._pressed(len(self.states) - 1), state)
        self.plastic.append(pressed.plastic)
        self.pressed[len(self.states)] = pressed
        self.states.append(state)

    def _pressed(self, index: int) -> PressedSection:
        """Return all sections in one of the states."""
        if index not in self.pressed:
            self.pressed[index] = pressed_section(self.section, self.plastic[index])
        return self.pressed[index]

    def draw_on(self) -> tuple[EndKind, float, float]:
        """Draw on until wood parts or there is no further; return why, where, and the pull."""
        step = STEP * self.model.setup.drawing.length
        look_from = 0.0
        while True:
            last = self.states[-1]
            if last.draw_length >= look_from:
                used = self._breaking()
                if used >= 1.0:
                    return self._broken()
                # about as fast as the square of the draw; looking too late costs time only
                look_from = last.draw_length / max(used, 0.25) ** 0.5
            target = last.draw_length + step
            end: EndKind = "string"
            if target <= self._reach():
                try:
                    state = self._draw(len(self.states) - 1, target)
                except ConvergenceError:
                    end = "equilibrium"
                else:
                    if state.stable:
                        self._add(state)
                        continue
                    end = "stability"
                final = self._last_before(target)
                if final is not last:
                    self._add(final)
            if self._breaking() >= 1.0:
                return self._broken()
            return end, self.states[-1].draw_length, self.states[-1].draw_force

    def _broken(self) -> tuple[EndKind, float, float]:
        limits = [limit for kind in BREAKING if (limit := self.first(kind)) is not None]
        first = min(limits, key=lambda limit: limit.draw_length)
        return "break", first.draw_length, first.force

    def _breaking(self) -> float:
        """Return how near the last state is to the first of `BREAKING`."""
        return max(self.worst(len(self.states) - 1, kind).used for kind in BREAKING)

    def _reach(self) -> float:
        """Return a draw length that string and limbs laid out in one line would not reach."""
        stave, string = self.model.setup.stave, self.solved.braced.string_lengths
        limbs = np.array([-stave.x[0], stave.x[-1]])
        return float(np.min(string + limbs))

    def _draw(self, start: int, draw_length: float) -> BowState:
        law = section_law(self._pressed(start))
        state = self.states[start]
        if abs(draw_length - state.draw_length) < 1e-9:
            return state
        behind = self.states[max(start - 3, 0) : start]
        return draw_on(self.model.bow, state, draw_length, law, behind=behind)

    def _last_before(self, beyond: float) -> BowState:
        """Return the last stable state before a draw length without one, by bisection."""
        last, high = self.states[-1], beyond
        while high - last.draw_length > ACCURACY:
            at = 0.5 * (last.draw_length + high)
            try:
                middle = self._draw(len(self.states) - 1, at)
            except ConvergenceError:
                high = at
                continue
            if middle.stable:
                last = middle
            else:
                high = at
        return last

    def look(self, state: BowState) -> Looked:
        """Return the stress of the whole limb in a state."""
        skin, inside = _look(self.wood, state.strains.reshape(-1, 6))
        factor = size_factor(self.parts, skin, inside)
        return sized(skin, factor), sized(inside, factor)

    def _look_again(self, index: int) -> Looked:
        """Return the stress of the whole limb in one of the states, kept."""
        if index not in self.looked:
            self.looked[index] = self.look(self.states[index])
        return self.looked[index]

    def worst(self, index: int, kind: Kind) -> Place:
        """Return the place that is nearest to the event in one of the states."""
        return self._worst(self._look_again(index), kind)

    def _worst(self, looked: Looked, kind: Kind) -> Place:
        stress, share = _share(self.wood, looked, kind)
        used = np.where(stress.clear, share, 0.0)
        used = np.where(self.searched[:, None], used, 0.0)
        station, point = np.unravel_index(int(used.argmax()), used.shape)
        limb = "upper" if self.stations.x[station] > 0.0 else "lower"
        mode = kind if kind in MODES else "compression"
        return Place(limb, mode, int(station), int(point), float(used[station, point]))

    def first(self, kind: Kind) -> DrawLimit | None:
        """Return where and when an event first happens, None if it does not in these states."""
        if kind not in self.found and (limit := self._find(kind)) is not None:
            self.found[kind] = limit
        return self.found.get(kind)

    def _find(self, kind: Kind) -> DrawLimit | None:
        upper, place = self.states[-1], self.worst(len(self.states) - 1, kind)
        looked = self._look_again(len(self.states) - 1)
        if place.used < 1.0:
            return None
        if self.worst(0, kind).used >= 1.0:
            return self._event(kind, self.states[0], self.looked[0], when_braced=True)
        sizes = {upper.draw_length: looked[0].size}
        for _ in range(_MOST_PLACES):
            state = self._reaches(kind, place, upper, sizes)
            looked = self.look(state)
            sizes[state.draw_length] = looked[0].size
            earlier = self._worst(looked, kind)
            if abs(earlier.used - 1.0) < 0.1 * ACCURACY:
                break
            if earlier.used > 1.0:
                place, upper = earlier, state
        return self._event(kind, state, looked)

    def _reaches(
        self, kind: Kind, place: Place, upper: BowState, sizes: dict[float, float]
    ) -> BowState:
        """Return the state in which a place is there that is there in `upper`, not when braced.

        `sizes` holds the effect of the stretched wood at some draw lengths, `upper` among them;
        between them it is taken to change evenly, and the whole limb is looked at afterwards.
        """
        station = np.array([place.station])
        wood = pick_wood(self.wood, station)

        def over(state: BowState) -> float:
            at = sorted(sizes)
            factor = float(np.interp(state.draw_length, at, [sizes[one] for one in at]))
            skin, inside = _look(wood, state.strains.reshape(-1, 6)[station])
            looked = sized(skin, factor), sized(inside, factor)
            return float(_share(wood, looked, kind)[1][0, place.point] - 1.0)

        low, high = 0, sum(state.draw_length < upper.draw_length for state in self.states)
        while high - low > 1:
            middle = (low + high) // 2
            sizes[self.states[middle].draw_length] = self._look_again(middle)[0].size
            if over(self.states[middle]) >= 0.0:
                high, upper = middle, self.states[middle]
            else:
                low = middle
        lower = self.states[low]
        sizes[lower.draw_length] = self._look_again(low)[0].size
        states = {state.draw_length: state for state in (lower, upper)}
        values = {state.draw_length: over(state) for state in (lower, upper)}

        def at(draw_length: float) -> float:
            if draw_length not in states:
                states[draw_length] = self._draw(low, draw_length)
                values[draw_length] = over(states[draw_length])
            return values[draw_length]

        found = brentq(at, lower.draw_length, upper.draw_length, xtol=0.1 * ACCURACY, rtol=1e-9)
        at(found)
        return states[found]

    def _event(
        self, kind: Kind, state: BowState, looked: Looked, *, when_braced: bool = False
    ) -> DrawLimit:
        place = self._worst(looked, kind)
        stress, _ = _share(self.wood, looked, kind)
        return DrawLimit(
            kind=kind,
            draw_length=state.draw_length,
            force=state.draw_force,
            when_braced=when_braced,
            spot=describe(self.stations, stress, place),
        )


def _look(wood: LimbWood, strains: Array) -> Looked:
    """Return the stress on the skin and inside at the strains of a first draw."""
    nothing = fresh_state(wood.section)
    return look_at(wood, strains, fibre_response(wood.section, strains, nothing).plastic)


def _share(wood: LimbWood, looked: Looked, kind: Kind) -> tuple[WoodStress, Array]:
    """Return how near every point is to an event, 1 where it happens, with its stress."""
    skin, inside = looked
    if kind == "yield":
        return skin, limit_used(wood.law, skin)
    if kind == "crush":
        return skin, skin.shortened / HOLDS
    if kind == "compression":
        return skin, skin.used.compression / WRINKLES
    stress = skin if kind in SKIN_MODES else inside
    share: Array = getattr(stress.used, kind)
    return stress, share
