"""The most probable stiffness given the readings, and how well it is known.

Readings and prior are normal in the logarithms of the stiffness factors, so the most probable
factors are those of least squares

    sum ((reading - computed) / scatter)^2 + logs' prior^-1 logs

and close to it the posterior is normal with the inverse of its curvature as covariance.  The
derivatives of what is computed are exact (direct differentiation of the equilibrium).  Readings
whose misfit no scatter explains are pointed out and kept: leaving them out is the user's choice.

References
----------
A. Tarantola, Inverse Problem Theory and Methods for Model Parameter Estimation, SIAM (2005),
sec. 3.2 and 3.4 (least squares with a normal prior; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from limbfe.analysis.model import LimbModel
from limbfe.errors import CaseError, ConvergenceError
from limbfe.frames import Array
from limbfe.studies.fit.parameters import Parameters
from limbfe.studies.fit.predict import Prediction, predict
from limbfe.studies.fit.readings import Readings
from limbfe.studies.fit.sections import SectionTangent, section_tangent

FARTHEST = 3.0
"""Ratio of the forces to those of the case beyond which a wrong unit is certain."""
_MOVED = 1e-3
_ROUNDS = 12
_ROUGH, _FINE = 1e-3, 1e-6
"""Change of the sum of squares, as a share of it, at which a round ends.  A change of 1e-4 moves no
parameter by more than a hundredth of its bounds; fibres that begin to yield one after the other
make the sum a little rough, and a finer end is not to be had."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Estimate:
    """The most probable parameters.

    Attributes
    ----------
    logs, covariance : ndarray, shapes (p,), (p, p)
    misfit : float
        The sum of squares that is least there.
    prediction : Prediction
    sections : SectionTangent
        At the end.
    """

    logs: Array
    covariance: Array
    misfit: float
    prediction: Prediction
    sections: SectionTangent


def estimate(
    model: LimbModel,
    parameters: Parameters,
    readings: Readings,
    sections: SectionTangent | None = None,
    *,
    exercised: bool = False,
) -> Estimate:
    """Return the most probable parameters.

    Parameters
    ----------
    model : LimbModel
    parameters : Parameters
    readings : Readings
    sections : SectionTangent, optional
        Where to begin; by default at the case's own moduli.
    exercised : bool
        As in `limbfe.studies.fit.fitting.fit_readings`.

    Raises
    ------
    CaseError
        If the forces are many times those of the case.
    ConvergenceError
        If a bow on the way cannot be drawn, or the fit does not settle.
    """
    if sections is None:
        sections = section_tangent(model, np.append(parameters.E_L, 1.0))
    root = parameters.root
    logs = np.zeros(len(root))
    _check_scale(
        readings, predict(model, parameters, sections, readings, logs, exercised=exercised)
    )
    for trial in range(_ROUNDS):
        end = _ROUGH if trial == 0 else _FINE
        logs, prediction = _least_squares(
            model, parameters, sections, readings, logs, exercised=exercised, tolerance=end
        )
        wood = parameters.wood_at(logs)
        if trial > 0 and np.abs(wood / sections.wood - 1.0).max() < _MOVED:
            slopes = _slopes(parameters, readings, prediction)
            shape = np.linalg.inv(np.eye(len(logs)) + slopes.T @ slopes)
            residuals = _residuals(parameters, readings, logs, prediction)
            return Estimate(
                logs=logs,
                covariance=root @ shape @ root.T,
                misfit=float(residuals @ residuals),
                prediction=prediction,
                sections=sections,
            )
        sections = section_tangent(model, wood)
    raise ConvergenceError(
        f"{readings.file}: the fit does not settle: the wood still changes by more than "
        f"{_MOVED:.1%} after {_ROUNDS} rounds; are the readings of this bow, in these units?"
    )


def _check_scale(readings: Readings, case: Prediction) -> None:
    """Refuse forces that are many times those of the case."""
    forces = [row.what == "force" for row in readings.rows]
    ratio = float(np.median(readings.value[forces] / case.value[forces]))
    if not 1.0 / FARTHEST < ratio < FARTHEST:
        raise CaseError(
            f"{readings.file}: draw_force: the readings are {ratio:.2g} times what the case pulls "
            "as it stands; 1 lbf is 4.45 N and 1 kgf 9.81 N: are the units right, and is it the "
            "same bow?"
        )


def _least_squares(
    model: LimbModel,
    parameters: Parameters,
    sections: SectionTangent,
    readings: Readings,
    start: Array,
    *,
    exercised: bool,
    tolerance: float,
) -> tuple[Array, Prediction]:
    """Minimise over the parameters in units of their prior, sections on one tangent."""
    root = parameters.root
    last: dict[bytes, Prediction] = {}

    def at(scaled: Array) -> Prediction:
        key = scaled.tobytes()
        if key not in last:
            last.clear()
            last[key] = predict(
                model, parameters, sections, readings, root @ scaled, exercised=exercised
            )
        return last[key]

    begin: Array = np.asarray(np.linalg.solve(root, start))
    at(begin)

    def residuals(scaled: Array) -> Array:
        try:
            return _residuals(parameters, readings, root @ scaled, at(scaled))
        except ConvergenceError:
            # a step too long: without a number there the trust region shrinks
            return np.full(len(readings.rows) + len(scaled), np.inf)

    def jacobian(scaled: Array) -> Array:
        slopes = _slopes(parameters, readings, at(scaled))
        return np.concatenate([slopes, np.eye(len(scaled))])

    result = least_squares(
        residuals, begin, jac=jacobian, method="trf", xtol=1e-6, ftol=tolerance, gtol=1e-6
    )
    if not result.success:
        raise ConvergenceError(
            f"{readings.file}: the fit does not settle ({result.message}); are the readings of "
            "this bow, in these units?"
        )
    return root @ result.x, at(result.x)


def _residuals(
    parameters: Parameters, readings: Readings, logs: Array, prediction: Prediction
) -> Array:
    misfit = (prediction.value - readings.value) / readings.scatter
    return np.concatenate([misfit, np.linalg.solve(parameters.root, logs)])


def _slopes(parameters: Parameters, readings: Readings, prediction: Prediction) -> Array:
    """Return the readings' rates in their own scatter per unit of the prior, shape (r, p)."""
    slopes: Array = prediction.rates @ parameters.root / readings.scatter[:, None]
    return slopes
