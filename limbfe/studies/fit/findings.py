"""What the most probable parameters say of the wood, the stations and each reading."""

from __future__ import annotations

import math

import numpy as np
from scipy.stats import norm

from limbfe.frames import Array
from limbfe.studies.fit.estimate import Estimate
from limbfe.studies.fit.parameters import Parameters
from limbfe.studies.fit.readings import Readings
from limbfe.studies.fit.results import Crushing, Finding, Modulus, Station

BOUND = float(norm.ppf(0.975))
"""Standard deviations to either side of bounds that hold 95 in 100."""
SUSPECT = 0.01
"""Probability that any reading at all of a sound set is called suspect."""
KNOWN = 0.5
"""A station of which the readings took away less than this share of the variance is not known."""


def find_misfits(readings: Readings, fitted: Estimate) -> tuple[Array, tuple[bool, ...]]:
    """Return every reading's misfit in its own standard deviation, and which are too large.

    The fit leans towards each reading by its leverage, which makes the misfit smaller than the
    reading's scatter by as much.
    """
    rates = fitted.prediction.rates / readings.scatter[:, None]
    leverage = np.einsum("ri,ij,rj->r", rates, fitted.covariance, rates)
    free = np.sqrt(np.maximum(1.0 - leverage, 1e-6))
    off = (readings.value - fitted.prediction.value) / (readings.scatter * free)
    limit = norm.isf(0.5 * SUSPECT / len(off))
    return off, tuple(bool(far) for far in np.abs(off) > limit)


def find_moduli(parameters: Parameters, fitted: Estimate) -> tuple[Modulus, ...]:
    """Return every modulus with its bounds."""
    deviation = np.sqrt(np.diag(fitted.covariance))
    return tuple(
        Modulus(
            wood=wood,
            case=float(parameters.E_L[k]),
            value=float(parameters.E_L[k] * math.exp(fitted.logs[k])),
            low=float(parameters.E_L[k] * math.exp(fitted.logs[k] - BOUND * deviation[k])),
            high=float(parameters.E_L[k] * math.exp(fitted.logs[k] + BOUND * deviation[k])),
            scatter=float(deviation[k]),
            case_scatter=float(parameters.scatter[k]),
            learned=float(1.0 - (deviation[k] / parameters.scatter[k]) ** 2),
        )
        for k, wood in enumerate(parameters.woods)
    )


def find_crushing(parameters: Parameters, fitted: Estimate) -> Crushing:
    """Return the crushing strength over that of the case, with its bounds."""
    k = len(parameters.woods)
    log, deviation = float(fitted.logs[k]), math.sqrt(fitted.covariance[k, k])
    before = float(parameters.scatter[k])
    return Crushing(
        ratio=math.exp(log),
        low=math.exp(log - BOUND * deviation),
        high=math.exp(log + BOUND * deviation),
        case_scatter=before,
        learned=1.0 - (deviation / before) ** 2,
    )


def find_stations(parameters: Parameters, fitted: Estimate) -> tuple[Station, ...]:
    """Return the stiffness at every station with its bounds."""
    count = parameters.stations_from
    logs, prior = fitted.logs[count:], parameters.scatter[count:]
    deviation = np.sqrt(np.diag(fitted.covariance)[count:])
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
