"""How far fibres were crushed, and how that changes, from state to state of a bow's history.

A fibre pressed further than ever before follows a law of its strain alone.  One that has let go
since keeps what it was crushed by, whose rate comes from the state in which it was pressed hardest.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.section.yielding.fibre_law import crush, pick_law, yield_stress
from limbfe.section.yielding.inelastic import FibreResponse, FibreSection, fibre_response


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionChange:
    """Sections with one quantity a step larger and smaller, and what k parameters have of it.

    `step` is in the parameters' unit, `share` of shape (k, S).
    """

    larger: FibreSection
    smaller: FibreSection
    step: float
    share: Array

    def both(self) -> tuple[FibreSection, FibreSection]:
        """Return the larger and the smaller sections."""
        return self.larger, self.smaller

    def slope(self, larger: Array, smaller: Array) -> Array:
        """Return the difference quotient of what was found on both sides."""
        return (larger - smaller) / (2.0 * self.step)


class CrushingRates:
    """The sections' rates by p parameters in one state after the other: `at`, then `hand_on`.

    The first parameters are those of `changes`; more than these change no section at fixed strains
    but through what the states hand on.
    """

    def __init__(
        self, section: FibreSection, changes: tuple[SectionChange, ...], count: int
    ) -> None:
        self.section, self.changes = section, changes
        self.crushed = np.zeros((count, section.weights.size))
        self.station = np.repeat(np.arange(len(section.weights)), section.weights[0].size)

    def at(self, strains: Array, plastic: Array) -> tuple[FibreResponse, Array]:
        """Return the sections' answer at strains (S, 6) and its rates (p, S, 6), strains kept."""
        section = self.section
        self.strains, self.plastic = np.ascontiguousarray(strains), plastic
        self.start = let_go(section, self.strains, plastic)
        here = fibre_response(section, self.strains, self.start)
        loose = self.start > 0.0
        self.sides = [
            tuple(
                fibre_response(_unyielding(one, loose), self.strains, self.start)
                for one in change.both()
            )
            for change in self.changes
        ]
        rates = np.zeros((len(self.crushed), len(section.weights), 6))
        by_change = [
            change.share[..., None] * change.slope(more.resultants, less.resultants)
            for change, (more, less) in zip(self.changes, self.sides, strict=True)
        ]
        if by_change:
            rates[: sum(map(len, by_change))] = np.concatenate(by_change)
        self.loose = np.flatnonzero(self.start)
        if self.loose.size:
            lacking = (section.law.modulus * section.weights).ravel()[self.loose]
            forces = lacking[:, None] * section.fibre.reshape(-1, 6)[self.loose]
            self._add_up(rates, forces)
        return here, rates

    def energy(self, strains: Array) -> Array:
        """Return the rates (p, S), J/m, that the fibres let go add to the work, strains kept."""
        rates = np.zeros((len(self.crushed), len(self.section.weights)))
        if self.loose.size:
            at, section = self.loose, self.section
            law = pick_law(section.law, np.unravel_index(at, section.law.level.shape))
            fibre, crushed = section.fibre.reshape(-1, 6)[at], self.plastic.ravel()[at]
            stress = law.modulus * ((fibre * strains[self.station[at]]).sum(axis=1) + crushed)
            work = (stress + yield_stress(law, crushed)) * section.weights.ravel()[at]
            self._add_up(rates, work)
        return rates

    def _add_up(self, rates: Array, per_fibre: Array) -> None:
        """Add to the rates of every section what its loose fibres' crushing brings, one by one."""
        stations, first = np.unique(self.station[self.loose], return_index=True)
        for rate, crushed in zip(rates, self.crushed[:, self.loose], strict=True):
            moved = (crushed * per_fibre.T).T
            rate[stations] += np.add.reduceat(moved, first, axis=0)

    def hand_on(self, strain_rates: Array) -> None:
        """Take the rates (p, ..., 6) of all stations' strains in the state last asked about."""
        at = np.flatnonzero((self.plastic > 0.0) & (self.start == 0.0))
        if not at.size:
            return
        section, station = self.section, self.station[at]
        fibre = section.fibre.reshape(-1, 6)[at]
        here = pick_law(section.law, np.unravel_index(at, section.law.level.shape))
        strain = (fibre * self.strains[station]).sum(axis=1)
        _, _, tangent = crush(here, strain, np.zeros_like(strain))
        yielding = (1.0 - tangent / here.modulus)[:, None] * fibre
        per_station = strain_rates.reshape(len(strain_rates), -1, 6)
        self.crushed[:, at] = [-(yielding * one[station]).sum(axis=1) for one in per_station]
        row = 0
        for change, (more, less) in zip(self.changes, self.sides, strict=True):
            slope = change.slope(more.plastic.ravel()[at], less.plastic.ravel()[at])
            rows = slice(row, row + len(change.share))
            self.crushed[rows, at] += change.share[:, station] * slope
            row = rows.stop


def _unyielding(section: FibreSection, loose: NDArray[np.bool_]) -> FibreSection:
    """Return sections some of whose fibres answer elastically, however near to the edge they are.

    Between two steps that lie on either side of the edge a difference quotient means nothing.
    """
    law = section.law
    return replace(
        section,
        law=replace(
            law,
            start=np.where(loose, np.inf, law.start),
            level=np.where(loose, np.inf, law.level),
        ),
    )


def let_go(section: FibreSection, strains: Array, plastic: Array) -> Array:
    """Return the crushing of the fibres that have let go since, zero where one is still pressed.

    From this state one step to `strains` gives `plastic` again.
    """
    pressed = fibre_response(section, strains, np.zeros_like(plastic)).plastic
    return np.where(plastic > pressed + 1e-9, plastic, 0.0)
