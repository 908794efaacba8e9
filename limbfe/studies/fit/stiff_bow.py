"""The bow with the stiffness of given parameters, drawn, and its sections' rates on the way.

A station's factor acts on all that its sections answer with, yield included, as more width would;
a modulus or strength acts through the section's own equations, all else as it is.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbfe.analysis.derivatives import let_go
from limbfe.analysis.model import LimbModel
from limbfe.analysis.yielding import draw_with_yield
from limbfe.beam import BowState, Chain, brace, draw
from limbfe.beam.rates import SectionRates
from limbfe.frames import Array, read_only
from limbfe.section.fibre_law import FibreLaw, crush
from limbfe.section.inelastic import FibreSection, fibre_response
from limbfe.studies.fit.parameters import Parameters
from limbfe.studies.fit.sections import SectionTangent

_STEP = 1e-4
"""Relative change of a property for the central difference of what strained sections answer."""


class StiffBow:
    """A bow whose sections are those of a tangent at parameters `logs`, shape (p,).

    An `exercised` one was drawn as far before and answers elastically.
    """

    def __init__(
        self,
        model: LimbModel,
        parameters: Parameters,
        sections: SectionTangent,
        logs: Array,
        *,
        exercised: bool,
    ) -> None:
        count = parameters.stations_from
        wood = parameters.wood_at(logs)
        self.hats = parameters.hats(model.x)
        factor = np.exp(logs[count:] @ self.hats)
        self.exercised = exercised

        def section(wood: Array) -> FibreSection:
            plain = sections.at(wood)
            return _scaled(_unyielding(plain) if exercised else plain, factor)

        self.section = section(wood)
        self.changed = [
            tuple(section(wood * (1.0 + step * unit)) for step in (_STEP, -_STEP))
            for unit in np.eye(count)
        ]
        chain = model.bow.chain
        self.shape = chain.stiffness.shape[:2]
        stiff = Chain(
            positions=chain.positions,
            rotations=chain.rotations,
            stiffness=read_only(self.section.solution.K.reshape(chain.stiffness.shape)),
            mass=chain.mass,
        )
        self.bow = replace(model.bow, chain=stiff)
        self.model = replace(model, bow=self.bow)

    def draw(self, lengths: list[float]) -> tuple[tuple[BowState, ...], tuple[Array, ...]]:
        """Return the braced and the drawn states and how far the fibres are crushed in each."""
        setup = self.model.setup
        if self.exercised:
            braced = brace(self.bow, height=setup.brace_height, length=setup.string_length)
            states = (braced, *draw(self.bow, braced, lengths).states)
            return states, (np.zeros(self.section.weights.shape),) * len(states)
        drawn = draw_with_yield(self.model, lambda _: (lengths, ()), section=self.section)
        return (drawn.braced, *drawn.states), tuple(drawn.plastic)


class RatesAlong:
    """The sections' rates by every parameter, state after state of one draw.

    A fibre pressed further than ever before follows a law of its strain alone.  One that has let
    go since (the string's tension falls at first, and with it the load near the tips) keeps what
    it was crushed by, and the rate of that is handed on.
    """

    def __init__(self, stiff: StiffBow) -> None:
        self.stiff = stiff
        count = len(stiff.changed) + len(stiff.hats)
        self.crushed = np.zeros((count, stiff.section.weights.size))
        self.station = np.repeat(
            np.arange(len(stiff.section.weights)), stiff.section.weights[0].size
        )

    def at(self, state: BowState, plastic: Array) -> SectionRates:
        """Return the tangent of the sections at a state and their rates at its strains."""
        stiff, section = self.stiff, self.stiff.section
        self.strains = np.ascontiguousarray(state.strains.reshape(-1, 6))
        self.plastic, self.start = plastic, let_go(section, self.strains, plastic)
        here = fibre_response(section, self.strains, self.start)
        self.both = [
            tuple(fibre_response(one, self.strains, self.start) for one in pair)
            for pair in stiff.changed
        ]
        by_wood = [_slope(more.resultants, less.resultants) for more, less in self.both]
        rates = np.concatenate([np.stack(by_wood), stiff.hats[:, :, None] * here.resultants])
        loose = np.flatnonzero(self.start)
        if loose.size:
            lacking = (section.law.modulus * section.weights).ravel()[loose]
            forces = lacking[:, None] * section.fibre.reshape(-1, 6)[loose]
            for rate, crushed in zip(rates, self.crushed[:, loose], strict=True):
                np.add.at(rate, self.station[loose], crushed[:, None] * forces)
        return SectionRates(
            tangent=here.tangent.reshape(*stiff.shape, 6, 6),
            resultants=rates.reshape(-1, *stiff.shape, 6),
            energy=np.zeros(stiff.shape),
            energy_rates=np.zeros((len(rates), *stiff.shape)),
        )

    def hand_on(self, strain_rates: Array) -> None:
        """Take the rates (p, n - 1, 2, 6) of the strains of the state last asked about."""
        at = np.flatnonzero((self.plastic > 0.0) & (self.start == 0.0))
        if not at.size:
            return
        law, station = self.stiff.section.law, self.station[at]
        fibre = self.stiff.section.fibre.reshape(-1, 6)[at]
        strain = (fibre * self.strains[station]).sum(axis=1)
        lines = len(law.start)
        here = FibreLaw(
            modulus=law.modulus.ravel()[at],
            start=law.start.reshape(lines, -1)[:, at],
            slope=law.slope.reshape(lines, -1)[:, at],
        )
        _, _, tangent = crush(here, strain, np.zeros_like(strain))
        yielding = 1.0 - tangent / here.modulus
        moved = strain_rates.reshape(len(strain_rates), -1, 6)[:, station]
        rates = -yielding * np.einsum("ni,pni->pn", fibre, moved)
        for rate, (more, less) in zip(rates, self.both, strict=False):
            rate += _slope(more.plastic.ravel()[at], less.plastic.ravel()[at])
        self.crushed[:, at] = rates


def _unyielding(section: FibreSection) -> FibreSection:
    never = np.full_like(section.law.start, np.inf)
    return replace(section, law=replace(section.law, start=never))


def _scaled(section: FibreSection, factor: Array) -> FibreSection:
    """Return sections that answer every strain with `factor`, shape (S,), times as much."""
    solution = section.solution
    K = factor[:, None, None] * solution.K
    return replace(
        section,
        solution=replace(solution, K=K, compliance=np.asarray(np.linalg.inv(K))),
        weights=factor[:, None, None] * section.weights,
    )


def _slope(more: Array, less: Array) -> Array:
    return (more - less) / (2.0 * _STEP)
