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

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import chi2, norm

from limbfe.analysis.model import LimbModel, build_model
from limbfe.analysis.settings import BowSetup, HoldKind
from limbfe.errors import CaseError, ConvergenceError
from limbfe.frames import Array, read_only
from limbfe.studies.fit.judge import fit_warnings
from limbfe.studies.fit.parameters import (
    MEASURED_TO,
    UNEVEN_OVER,
    UNEVEN_WOOD,
    Parameters,
    find_parameters,
    with_wood,
)
from limbfe.studies.fit.predict import Prediction, predict
from limbfe.studies.fit.readings import Readings, forces_at
from limbfe.studies.fit.results import Crushing, Finding, Fit, Modulus, Station
from limbfe.studies.fit.sections import SectionTangent, section_tangent
from limbfe.units import METRIC

BOUND = float(norm.ppf(0.975))
"""Standard deviations to either side of bounds that hold 95 in 100."""
SUSPECT = 0.01
"""Probability that any reading at all of a sound set is called suspect."""
KNOWN = 0.5
"""A station of which the readings took away less than this share of the variance is not known."""
FARTHEST = 3.0
"""Ratio of the forces to those of the case beyond which a wrong unit is certain."""
NOTICED = 0.005
"""Share of the force that crushing must take off to be worth a word."""
HELD = {
    "tiller": "the grip resting on a cradle, free to rock",
    "hand": "the grip held by a hand, free to turn",
    "clamp": "the grip held fast",
}
_MOVED = 1e-3
_ROUNDS = 12
_ROUGH, _FINE = 1e-3, 1e-6
"""Change of the sum of squares, as a share of it, at which a round ends.  A change of 1e-4 moves no
parameter by more than a hundredth of its bounds; fibres that begin to yield one after the other
make the sum a little rough, and a finer end is not to be had."""
_CURVE_POINTS = 25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Estimate:
    """The most probable parameters: logarithms (p,), their covariance, and the computed readings.

    `sections` is the tangent at the end, to begin a fit of other readings of the same bow with.
    """

    logs: Array
    covariance: Array
    prediction: Prediction
    sections: SectionTangent


def fit_readings(
    setup: BowSetup,
    readings: Readings,
    *,
    hold: HoldKind = "tiller",
    exercised: bool = False,
    one_wood: bool = False,
    measured_to: float = MEASURED_TO,
) -> Fit:
    """Find the moduli and the stations' stiffness from readings.

    Parameters
    ----------
    setup : BowSetup
    readings : Readings
    hold : {"tiller", "hand", "clamp"}
        How the grip was held while the bow was read, whatever the case does with it later.
    exercised : bool
        The bow was drawn this far before and its shape measured since, so that it answers
        elastically; if not, the readings are those of a first draw, belly yielding.
    one_wood : bool
        The case describes one wood for heartwood and sapwood: one modulus serves both.
    measured_to : float, m
        Standard deviation of a measured thickness or width.

    Raises
    ------
    CaseError
        If the forces are many times those of the case.
    ConvergenceError
        If a bow on the way cannot be drawn to a length that was read, or the fit does not settle.
    MaterialError
        If a wood has no scatter, or the readings want an impossible one.
    """
    parameters = find_parameters(setup, one_wood=one_wood, measured_to=measured_to)
    model = build_model(replace(setup, hold=hold))
    found = estimate(model, parameters, readings, exercised=exercised)
    moduli = _moduli(parameters, found)
    stations, crushing = _stations(parameters, found), _crushing(parameters, found)
    off, suspect = _misfits(readings, found)
    misfit = float(np.sum(_residuals(parameters, readings, found.logs, found.prediction) ** 2))
    probability = float(chi2.sf(misfit, len(readings.rows)))
    curve = _curve(model, parameters, found, exercised)
    fitted = with_wood(setup, parameters.wood_at(found.logs))
    return Fit(
        setup=fitted,
        readings=readings,
        computed=read_only(found.prediction.value),
        off=read_only(off),
        suspect=suspect,
        moduli=moduli,
        stations=stations,
        crushing=crushing,
        logs=read_only(found.logs),
        covariance=read_only(found.covariance),
        misfit=misfit,
        probability=probability,
        curve_length=read_only(curve[0]),
        curve_force=read_only(curve[1]),
        curve_scatter=read_only(curve[2]),
        warnings=(
            *fit_warnings(
                parameters,
                readings,
                found,
                stations=stations,
                suspect=suspect,
                probability=probability,
            ),
            *_yielding(model, parameters, readings, found, exercised),
        ),
        assumptions=(
            *readings.assumptions,
            *_assumptions(
                model.setup, moduli, crushing, measured_to=measured_to, exercised=exercised
            ),
        ),
    )


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
        As in `fit_readings`.

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
            return Estimate(
                logs=logs,
                covariance=root @ shape @ root.T,
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


def _misfits(readings: Readings, found: Estimate) -> tuple[Array, tuple[bool, ...]]:
    """Return every reading's misfit in its own standard deviation, and which are too large.

    The fit leans towards each reading by its leverage, which makes the misfit smaller than the
    reading's scatter by as much.
    """
    rates = found.prediction.rates / readings.scatter[:, None]
    leverage = np.einsum("ri,ij,rj->r", rates, found.covariance, rates)
    free = np.sqrt(np.maximum(1.0 - leverage, 1e-6))
    off = (readings.value - found.prediction.value) / (readings.scatter * free)
    limit = norm.isf(0.5 * SUSPECT / len(off))
    return off, tuple(bool(far) for far in np.abs(off) > limit)


def _moduli(parameters: Parameters, found: Estimate) -> tuple[Modulus, ...]:
    deviation = np.sqrt(np.diag(found.covariance))
    return tuple(
        Modulus(
            wood=wood,
            case=float(parameters.E_L[k]),
            value=float(parameters.E_L[k] * math.exp(found.logs[k])),
            low=float(parameters.E_L[k] * math.exp(found.logs[k] - BOUND * deviation[k])),
            high=float(parameters.E_L[k] * math.exp(found.logs[k] + BOUND * deviation[k])),
            scatter=float(deviation[k]),
            case_scatter=float(parameters.scatter[k]),
            learned=float(1.0 - (deviation[k] / parameters.scatter[k]) ** 2),
        )
        for k, wood in enumerate(parameters.woods)
    )


def _crushing(parameters: Parameters, found: Estimate) -> Crushing:
    k = len(parameters.woods)
    log, deviation = float(found.logs[k]), math.sqrt(found.covariance[k, k])
    before = float(parameters.scatter[k])
    return Crushing(
        ratio=math.exp(log),
        low=math.exp(log - BOUND * deviation),
        high=math.exp(log + BOUND * deviation),
        case_scatter=before,
        learned=1.0 - (deviation / before) ** 2,
    )


def _stations(parameters: Parameters, found: Estimate) -> tuple[Station, ...]:
    count = parameters.stations_from
    logs, prior = found.logs[count:], parameters.scatter[count:]
    deviation = np.sqrt(np.diag(found.covariance)[count:])
    stations = []
    for x, h, log, sd, before in zip(
        parameters.x, parameters.thickness, logs, deviation, prior, strict=True
    ):
        bounds = np.array([log, log - BOUND * sd, log + BOUND * sd])
        ratio, low, high = (float(v) for v in np.exp(bounds))
        thicker = [float(v) for v in h * np.expm1(bounds / 3.0)]
        learned = float(1.0 - (sd / before) ** 2)
        stations.append(
            Station(
                x=float(x),
                thickness=float(h),
                ratio=ratio,
                low=low,
                high=high,
                thicker=thicker[0],
                thicker_low=thicker[1],
                thicker_high=thicker[2],
                learned=learned,
                finding=_finding(low, high, learned),
            )
        )
    return tuple(stations)


def _finding(low: float, high: float, learned: float) -> Finding:
    if low > 1.0:
        return "stiffer"
    if high < 1.0:
        return "softer"
    return "as measured" if learned >= KNOWN else "not known"


def _curve(
    model: LimbModel, parameters: Parameters, found: Estimate, exercised: bool
) -> tuple[Array, Array, Array]:
    """Return draw lengths, forces and their standard deviations from brace to the last reading."""
    start, end = (found.prediction.states[k].draw_length for k in (0, -1))
    lengths = np.linspace(start, end, _CURVE_POINTS)
    points = forces_at(lengths[1:])
    curve = predict(model, parameters, found.sections, points, found.logs, exercised=exercised)
    variance = np.einsum("rp,pq,rq->r", curve.rates, found.covariance, curve.rates)
    return lengths, np.append(0.0, curve.value), np.append(0.0, np.sqrt(variance))


def _yielding(
    model: LimbModel,
    parameters: Parameters,
    readings: Readings,
    found: Estimate,
    exercised: bool,
) -> tuple[str, ...]:
    """Say what the other kind of draw would pull, when the belly yields before the last reading."""
    here = found.prediction.states[-1]
    length = METRIC.length(here.draw_length)
    try:
        there = predict(
            model, parameters, found.sections, readings, found.logs, exercised=not exercised
        ).states[-1]
    except ConvergenceError as error:
        return (f"drawn for the first time, this bow does not reach the last reading: {error}",)
    first, again = (there, here) if exercised else (here, there)
    lost = 1.0 - first.draw_force / again.draw_force
    if lost < NOTICED:
        return ()
    if exercised:
        return (
            f"drawn for the first time, this bow would pull {lost:.1%} less at {length}, because "
            "its belly is crushed there; that first draw is what limbfe assess computes",
        )
    return (
        "the belly passes its proportional limit before the last reading; the readings are taken "
        f"for a first draw, in which that takes {lost:.1%} off the force at {length}. If the bow "
        "was drawn this far before and its reflex measured since, say --exercised",
    )


def _assumptions(
    setup: BowSetup,
    moduli: tuple[Modulus, ...],
    crushing: Crushing,
    *,
    measured_to: float,
    exercised: bool,
) -> tuple[str, ...]:
    lines = [
        f"wood.{m.wood} E_L = {1e-9 * m.case:.2f} GPa before the readings, known to "
        f"{m.case_scatter:.0%} [the case and its cov]"
        for m in moduli
    ]
    if not exercised:
        lines.append(
            f"crushing strength of the belly known to {crushing.case_scatter:.0%} before the "
            "readings [the case's woods]"
        )
    lines += [
        f"thickness and width measured to {1e3 * measured_to:g} mm (one standard deviation), "
        f"stiffness uneven along the stave by {UNEVEN_WOOD:.0%} over {1e3 * UNEVEN_OVER:.0f} mm "
        "[assumed]",
        "an error common to all thicknesses cannot be told from the modulus",
        "limbs that were drawn this far before, their reflex or set measured since [--exercised]"
        if exercised
        else "a first draw to every reading",
        f"{HELD[setup.hold]} [--hold], the string pulled where the case says the arrow passes",
        "string, brace height and every knot and patch as the case has them",
    ]
    if setup.stave.backing_wood is not None:
        lines.append("the backing's stiffness as the case has it")
    return tuple(lines)
