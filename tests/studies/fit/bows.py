"""Small bows of known stiffness, and what would be read of them on the tiller."""

from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

import limbfe
from limbfe.analysis.bow.model import LimbModel, build_model
from limbfe.analysis.bow.setup import adjust
from limbfe.case.build import build_setup
from limbfe.studies.fit.parameters import Parameters, find_parameters
from limbfe.studies.fit.predict import predict
from limbfe.studies.fit.readings import Reading, Readings
from limbfe.studies.fit.sections import SectionTangent, section_tangent, solved_fibres

CASES = Path(__file__).parents[3] / "cases"


@dataclass(frozen=True, kw_only=True)
class Known:
    """A bow, its unknowns, and its sections about the moduli of the case."""

    model: LimbModel
    parameters: Parameters
    sections: SectionTangent

    def read(
        self,
        rows: tuple[Reading, ...],
        logs: np.ndarray,
        noise: np.random.Generator | None = None,
        *,
        exercised: bool = False,
    ) -> Readings:
        """Return what would be read of the bow with stiffness `logs`."""
        asked = Readings(file="readings.csv", rows=rows, assumptions=())
        wood = self.parameters.wood_at(logs)
        flat = ((np.zeros(()),) * 6,) * len(wood)
        exact = SectionTangent(wood=wood, section=solved_fibres(self.model, wood), slopes=flat)
        found = predict(self.model, self.parameters, exact, asked, logs, exercised=exercised)
        found = found.value
        if noise is not None:
            found = found + asked.scatter * noise.standard_normal(len(rows))
        return replace(
            asked,
            rows=tuple(
                replace(row, value=float(value)) for row, value in zip(rows, found, strict=True)
            ),
        )


@lru_cache
def known(name: str) -> Known:
    """Return a shipped case with few elements and without its knots and patches."""
    setup = build_setup(limbfe.read_case(CASES / f"{name}.toml"))
    stave = replace(setup.stave, knots=(), decays=())
    setup = adjust(
        setup,
        stave=stave,
        analysis={"elements_per_limb": 4, "fineness": 0.5},
        holding={"kind": "tiller"},
    )
    model, parameters = build_model(setup), find_parameters(setup)
    wood = np.append(parameters.E_L, 1.0)
    return Known(model=model, parameters=parameters, sections=section_tangent(model, wood))


def forces(*millimetres: float, scatter: float = 1.5) -> tuple[Reading, ...]:
    """Return rows of forces at draw lengths, on lines from 2 on."""
    return tuple(
        Reading(
            line=k + 2,
            what="force",
            draw_length=1e-3 * at,
            x=float("nan"),
            value=1.0,
            scatter=scatter,
        )
        for k, at in enumerate(millimetres)
    )


def positions(
    draw: float | None, *millimetres: float, scatter: float = 1e-3
) -> tuple[Reading, ...]:
    """Return rows of positions at stations of one draw, on lines from 40 on."""
    length = None if draw is None else 1e-3 * draw
    return tuple(
        Reading(
            line=k + 40, what="position", draw_length=length, x=1e-3 * x, value=0.0, scatter=scatter
        )
        for k, x in enumerate(millimetres)
    )
