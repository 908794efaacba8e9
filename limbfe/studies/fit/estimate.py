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

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from limbfe.analysis.bow.model import LimbModel
from limbfe.errors import CaseError, ConvergenceError
from limbfe.frames import Array
from limbfe.studies.fit.parameters import Parameters
from limbfe.studies.fit.predict import Prediction, predict
from limbfe.studies.fit.readings import Readings
from limbfe.studies.fit.sections import SectionTangent, section_tangent

FARTHEST = 3.0
"""Ratio of the forces to those of the case beyond which a wrong unit is certain."""
HOPELESS = 8.0
"""Prior standard deviations beyond which a fitted property is refused."""
_MOVED = 1e-3
_ROUNDS, _MOST_BOWS = 8, 200
_REACH = 2.0
"""Ratio of a modulus or strength to that of the sections' tangent up to which that is trusted."""
_ROUGH, _FINE = 1e-3, 1e-6
"""Change of the sum of squares, as a share of it, at which a round ends.  A change of 1e-4 moves no
parameter by more than a hundredth of its bounds; fibres that begin to yield one after the other
make the sum a little rough, and a finer end is not to be had."""
_IDLE = 5e-4
"""Change of the sum of squares over the last quarter of many steps, as a share of it, that counts
as settled: along a bent valley of wood against crushing strength the steps get ever shorter."""


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
        If the readings cannot be of this bow.
    ConvergenceError
        If a bow on the way cannot be drawn, or the fit does not settle.
    """
    if sections is None:
        sections = section_tangent(model, np.append(parameters.E_L, 1.0))
    root = parameters.root
    logs = np.zeros(len(root))
    with _on_the_way(readings):
        case = predict(model, parameters, sections, readings, logs, exercised=exercised)
    _check_scale(readings, case)
    for trial in range(_ROUNDS):
        end = _ROUGH if trial == 0 else _FINE
        logs, prediction = _least_squares(
            model, parameters, sections, readings, logs, exercised=exercised, tolerance=end
        )
        wood = parameters.wood_at(logs)
        _check_wood(parameters, readings, logs)
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


def _check_wood(parameters: Parameters, readings: Readings, logs: Array) -> None:
    """Refuse readings that want a wood no case can have meant."""
    count = parameters.stations_from
    off = np.abs(logs[:count]) / parameters.scatter[:count]
    if off.max() > HOPELESS:
        names = [*(f"wood.{name} E_L" for name in parameters.woods), "the crushing strength"]
        k = int(off.argmax())
        raise CaseError(
            f"{readings.file}: to agree with these readings {names[k]} would have to be "
            f"{np.exp(logs[k]):.2g} times what the case says, {off[k]:.0f} of its deviations away; "
            "look for a wrong unit, a slip, another bow, or a wrong dimension or brace height"
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
    sums = []

    def at(scaled: Array) -> Prediction:
        key = scaled.tobytes()
        if key not in last:
            last.clear()
            last[key] = predict(
                model, parameters, sections, readings, root @ scaled, exercised=exercised
            )
        return last[key]

    begin: Array = np.asarray(np.linalg.solve(root, start))
    with _on_the_way(readings):
        at(begin)

    def residuals(scaled: Array) -> Array:
        # without a number at the end of a step too long the trust region shrinks
        nothing = np.full(len(readings.rows) + len(scaled), np.inf)
        change = parameters.wood_at(root @ scaled) / sections.wood
        if not np.all((change > 1.0 / _REACH) & (change < _REACH)):
            return nothing
        try:
            found = _residuals(parameters, readings, root @ scaled, at(scaled))
        except ConvergenceError:
            return nothing
        sums.append(0.5 * float(found @ found))
        return found

    def jacobian(scaled: Array) -> Array:
        slopes = _slopes(parameters, readings, at(scaled))
        return np.concatenate([slopes, np.eye(len(scaled))])

    result = least_squares(
        residuals,
        begin,
        jac=jacobian,
        method="trf",
        xtol=1e-6,
        ftol=tolerance,
        gtol=1e-6,
        max_nfev=_MOST_BOWS,
    )
    if result.status == 0 and tolerance <= _FINE and not _idle(sums):
        raise ConvergenceError(
            f"{readings.file}: the fit does not settle within {_MOST_BOWS} bows; are the readings "
            "of this bow, in these units?"
        )
    return root @ result.x, at(result.x)


def _idle(sums: list[float]) -> bool:
    """Return whether the last quarter of the steps hardly lowered the sum."""
    quarter = len(sums) // 4
    return min(sums[:-quarter]) - min(sums) < _IDLE * min(sums)


@contextmanager
def _on_the_way(readings: Readings) -> Iterator[None]:
    try:
        yield
    except ConvergenceError as error:
        raise ConvergenceError(
            f"{readings.file}: a bow on the way from the case to these readings fails: {error}",
            draw_length=error.draw_length,
            iteration=error.iteration,
            residuals=error.residuals,
            last_state=error.last_state,
        ) from error


def _residuals(
    parameters: Parameters, readings: Readings, logs: Array, prediction: Prediction
) -> Array:
    misfit = (prediction.value - readings.value) / readings.scatter
    return np.concatenate([misfit, np.linalg.solve(parameters.root, logs)])


def _slopes(parameters: Parameters, readings: Readings, prediction: Prediction) -> Array:
    """Return the readings' rates in their own scatter per unit of the prior, shape (r, p)."""
    slopes: Array = prediction.rates @ parameters.root / readings.scatter[:, None]
    return slopes
