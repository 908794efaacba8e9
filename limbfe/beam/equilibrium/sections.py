"""Sections that follow a law of their own, brought into balance together with the bow."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.limbs.chain import effective_stiffness
from limbfe.beam.limbs.element import resultants
from limbfe.beam.model import BORDER, TENSION, Model, Path
from limbfe.frames import Array

SectionLaw = Callable[[Array], tuple[Array, Array]]
"""Strains (n - 1, 2, 6) to resultants (n - 1, 2, 6) and their tangent (n - 1, 2, 6, 6)."""


class FollowedSections:
    """Sections asked for their answer at every pass of Newton's method.

    Attributes
    ----------
    law : callable
        May be exchanged between equilibria.
    strains, forces : ndarray, shape (n - 1, 2, 6)
        Where the law was asked last, and its answer.
    """

    def __init__(self, bow: Bow, law: SectionLaw, strains: Array) -> None:
        chain = bow.chain
        self.law = law
        self._transport, self._give = np.array(chain.transport), np.array(chain.extra)
        # strains at the Gauss points (m, 12) to the mean that does their work
        both = chain.transport.transpose(0, 3, 1, 2)
        self._average = 0.5 * both.reshape(len(both), 6, -1)
        self._rest = chain.twist / chain.length[:, None]
        self._compliance = np.empty_like(chain.stiffness)
        self._element = np.empty((len(chain.length), 6, 6))
        self._scale = np.array([1.0] * 3 + [bow.model.size] * 3)
        self.begin(strains)

    def begin(self, strains: Array) -> None:
        """Start from strains with which no law has been linearised yet."""
        self.strains, self.forces = strains, np.empty(0)
        self._model: Model | None = None

    def follow(self, model: Model, path: Path) -> tuple[Model, float]:
        """Return the model with the law's tangent at the shape of `path`, and the law's residual.

        An element's mean resultant differs from what the law answers to the strains; the strains
        are corrected by that gap at every pass, and it vanishes with the residual.
        """
        # a step too long may leave double precision; the residual then says so
        with np.errstate(over="ignore", invalid="ignore"):
            return self._followed(model, path)

    def _followed(self, model: Model, path: Path) -> tuple[Model, float]:
        if self._model is not None:
            gap = self._carried(self._model, path) - self.forces
            self.strains = self.strains + (self._compliance @ gap[..., None])[..., 0]
        self.forces, tangent = self.law(self.strains)
        self._model = self._linear(model, tangent)
        gap = self._carried(self._model, path) - self.forces
        scale = max(model.force, float(np.abs(path.border[TENSION:BORDER]).max()))
        return self._model, float(np.abs(gap / self._scale).max()) / scale

    def _linear(self, model: Model, tangent: Array) -> Model:
        """Linearise the law at the strains: ``S = K (twist/L - strain_0 - gap)``."""
        compliance, element = self._compliance, self._element
        effective_stiffness(
            np.ascontiguousarray(tangent), self._transport, self._give, compliance, element
        )
        plastic = self.strains - (compliance @ self.forces[..., None])[..., 0]
        mean = self._average @ plastic.reshape(len(element), -1, 1) + self._rest[..., None]
        return model._replace(stiffness=element, offset=-(element @ mean)[..., 0])

    def _carried(self, model: Model, path: Path) -> Array:
        """Return the resultants (m, 2, 6) in equilibrium with the elements' own."""
        _, mean = element_resultants(model, path)
        carried: Array = (self._transport @ mean[:, None, :, None])[..., 0]
        return carried


def element_resultants(model: Model, path: Path) -> tuple[Array, Array]:
    """Return the twist and the mean resultant of every element, each (m, 6)."""
    twist, mean = np.empty_like(model.offset), np.empty_like(model.offset)
    resultants(
        path.rotations, path.positions, model.stiffness, model.offset, model.length, twist, mean
    )
    return twist, mean
