"""The bow with the stiffness of given parameters, drawn, and its sections' rates on the way.

A station's factor acts on all that its sections answer with, yield included, as more width would;
a modulus or strength acts through the section's own equations, all else as it is.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbfe.analysis.bow.model import LimbModel
from limbfe.analysis.bow.yielding import draw_with_yield
from limbfe.analysis.rates.crushing import CrushingRates, SectionChange
from limbfe.beam import BowState, Chain, brace, draw
from limbfe.beam.rates.changes import SectionRates
from limbfe.frames import Array, read_only
from limbfe.section.yielding.inelastic import FibreSection
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
        self.hats = parameters.hats(model.stations.x)
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
            give=chain.give,
        )
        self.bow = replace(model.bow, chain=stiff)
        self.stringing = model.setup.stringing

    def draw(self, lengths: list[float]) -> tuple[tuple[BowState, ...], tuple[Array, ...]]:
        """Return the braced and the drawn states and how far the fibres are crushed in each."""
        string = self.stringing
        if self.exercised:
            braced = brace(self.bow, height=string.brace_height, length=string.length)
            states = (braced, *draw(self.bow, braced, lengths).states)
            return states, (np.zeros(self.section.weights.shape),) * len(states)
        drawn = draw_with_yield(self.bow, string, self.section, lambda _: (lengths, ()))
        return (drawn.braced, *drawn.states), tuple(drawn.plastic)


class RatesAlong:
    """The sections' rates by every parameter, state after state of one draw."""

    def __init__(self, stiff: StiffBow) -> None:
        self.stiff = stiff
        everywhere = np.ones((1, len(stiff.section.weights)))
        changes = tuple(
            SectionChange(larger=more, smaller=less, step=_STEP, share=everywhere)
            for more, less in stiff.changed
        )
        count = len(changes) + len(stiff.hats)
        self.crushing = CrushingRates(stiff.section, changes, count)

    def at(self, state: BowState, plastic: Array) -> SectionRates:
        """Return the tangent of the sections at a state and their rates at its strains."""
        stiff = self.stiff
        here, rates = self.crushing.at(state.strains.reshape(-1, 6), plastic)
        rates[len(stiff.changed) :] += stiff.hats[:, :, None] * here.resultants
        return SectionRates(
            tangent=here.tangent.reshape(*stiff.shape, 6, 6),
            resultants=rates.reshape(-1, *stiff.shape, 6),
            energy=np.zeros(stiff.shape),
            energy_rates=np.zeros((len(rates), *stiff.shape)),
        )


def _unyielding(section: FibreSection) -> FibreSection:
    never = np.full_like(section.law.start, np.inf)
    level = np.full_like(section.law.level, np.inf)
    return replace(section, law=replace(section.law, start=never, level=level))


def _scaled(section: FibreSection, factor: Array) -> FibreSection:
    """Return sections that answer every strain with `factor`, shape (S,), times as much."""
    solution = section.solution
    K = factor[:, None, None] * solution.K
    return replace(
        section,
        solution=replace(solution, K=K, compliance=np.asarray(np.linalg.inv(K))),
        weights=factor[:, None, None] * section.weights,
    )
