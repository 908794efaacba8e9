"""What readings of the bow say of what varies: its inputs given a fit of them.

What a fit looks for (moduli, crushing strength, stiffness at the stations) is linear in the normal
inputs of `chance`, and readings are nearly linear in it where the fit ends.  So the inputs given
the readings are normal again, in closed form.  Only the readings speak, through their rates at the
fit: the fit's own prior, which knows neither of strengths nor of a calliper's zero, is left out.

References
----------
A. Tarantola, Inverse Problem Theory and Methods for Model Parameter Estimation, SIAM (2005),
sec. 3.2 (normal priors and linear data; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_triangular

from limbfe.analysis.bow.setup import BowSetup
from limbfe.frames import Array, read_only
from limbfe.studies.chance.asked import Tiller
from limbfe.studies.chance.inputs import MOISTURE, Inputs, factors, hats
from limbfe.studies.fit import Fit, Readings, fit_readings
from limbfe.studies.fit.log import read_log
from limbfe.studies.fit.parameters import MEASURED_TO, Doubt, find_parameters
from limbfe.studies.fit.sessions import fit_sessions

METER = 0.01
"""Standard deviation of a moisture that was read, a fraction (hand meters; from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Read:
    """n figures that were read, linear in d standard normal inputs.

    Attributes
    ----------
    rates : ndarray, shape (n, d)
    value : ndarray, shape (n,)
        Less what inputs of zero give.
    covariance : ndarray, shape (n, n)
        Of what was read, about what the inputs give.
    """

    rates: Array
    value: Array
    covariance: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Known:
    """The inputs given what was read: normal, no longer independent.

    Attributes
    ----------
    mean : ndarray, shape (d,)
    root : ndarray, shape (d, d)
        Lower triangle whose product with its transpose is their covariance.
    fit : Fit, optional
        Behind it.
    """

    mean: Array
    root: Array
    fit: Fit | None = None

    def of_fit(self, inputs: Inputs) -> tuple[Array, Array]:
        """Return mean and standard deviation of what the fit looked for, shapes (p,), (p,)."""
        assert self.fit is not None
        x = np.array([one.x for one in self.fit.stations])
        thickness = np.array([one.thickness for one in self.fit.stations])
        u = np.stack([self.mean, *(self.mean + self.root.T)])
        logs = fit_logs(inputs, u, x, thickness, len(self.fit.moduli))
        return logs[0], np.sqrt(((logs[1:] - logs[0]) ** 2).sum(axis=0))

    def inputs_of(self, z: Array) -> Array:
        """Return inputs (n, d) from independent standard normal numbers of that shape."""
        return np.asarray(self.mean + z @ self.root.T)

    def exchanged(self, first: Array, second: Array, columns: Sequence[int]) -> tuple[Array, Array]:
        """Exchange inputs of samples; see `limbfe.failure.indices.Exchange`.

        Parameters
        ----------
        first, second : ndarray, shape (n, d)
            Independent standard normal, as `inputs_of` takes them.
        columns : sequence of int
            Of the inputs.
        """
        those = np.asarray(columns)
        rest = np.setdiff1d(np.arange(len(self.mean)), those)
        count, others = len(those), len(rest)
        root, a, b = self._ordered(np.concatenate([those, rest]), first, second)
        alone = self._back(root, np.concatenate([b[:, :count], a[:, count:]], axis=1),
                           np.concatenate([those, rest]))  # fmt: skip
        root, a, b = self._ordered(np.concatenate([rest, those]), first, second)
        anew = self._back(root, np.concatenate([a[:, :others], b[:, others:]], axis=1),
                          np.concatenate([rest, those]))  # fmt: skip
        return alone, anew

    def _ordered(self, order: Array, *samples: Array) -> tuple[Array, ...]:
        """Return the root for inputs in another order, and the numbers that give samples by it."""
        covariance = self.root @ self.root.T
        root = np.linalg.cholesky(covariance[np.ix_(order, order)])
        away = (z @ self.root[order].T for z in samples)
        return root, *(solve_triangular(root, one.T, lower=True).T for one in away)

    def _back(self, root: Array, numbers: Array, order: Array) -> Array:
        away = np.empty_like(numbers)
        away[:, order] = numbers @ root.T
        return np.asarray(solve_triangular(self.root, away.T, lower=True).T)


def given_read(read: Read, fit: Fit | None = None) -> Known:
    """Return standard normal inputs given what was read: the normal update.

    Covariance ``(1 + A' C^-1 A)^-1``, mean that times ``A' C^-1 y``.
    """
    weighted = np.linalg.solve(read.covariance, read.rates)
    covariance = np.linalg.inv(np.eye(read.rates.shape[1]) + read.rates.T @ weighted)
    covariance = 0.5 * (covariance + covariance.T)
    return Known(
        mean=read_only(covariance @ (weighted.T @ read.value)),
        root=read_only(np.linalg.cholesky(covariance)),
        fit=fit,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """A fit of the readings, what it doubted before them, and how damp the wood was then.

    `damper` is the moisture (a fraction) less that of the case; None if it was not read.
    """

    fit: Fit
    doubt: Doubt
    damper: float | None


def fitted(setup: BowSetup, tiller: Tiller, calliper: float) -> Fitted:
    """Fit the readings of a file, the last day of a log.

    Raises
    ------
    CaseError
        If the file cannot be read, or cannot be of this bow.
    ConvergenceError
        If a bow on the way cannot be drawn, or the fit does not settle.
    """
    doubt = Doubt(measured_to=calliper or MEASURED_TO)
    sessions = read_log(tiller.file, setup)

    def fit(readings: Readings) -> Fit:
        return fit_readings(
            setup, readings, hold=tiller.hold, first_pull=tiller.first_pull, doubt=doubt
        )

    moisture, own = sessions[-1].moisture, setup.stave.heartwood.moisture
    return Fitted(
        fit=fit_sessions(sessions, fit),
        doubt=doubt,
        damper=None if moisture is None or own is None else moisture - own,
    )


def known_from(setup: BowSetup, inputs: Inputs, found: Fitted) -> Known:
    """Return what varies given the readings of a fit."""
    read = read_of(setup, inputs, found.fit, found.doubt)
    if found.damper is not None:
        read = with_moisture(inputs, read, found.damper)
    return given_read(read, found.fit)


def read_of(setup: BowSetup, inputs: Inputs, fit: Fit, doubt: Doubt) -> Read:
    """Return a fit's readings, linear in the inputs.

    The stations' stiffness as the fit has it strays over shorter lengths than the inputs' fields
    do; by what these cannot follow the readings are the less sure.
    """
    parameters = find_parameters(setup, doubt=doubt)
    u = np.concatenate([np.zeros((1, inputs.count)), np.eye(inputs.count)])
    logs = fit_logs(inputs, u, parameters.x, parameters.thickness, len(fit.moduli))
    own, rates = logs[0], (logs[1:] - logs[0]).T
    first = parameters.stations_from
    field = hats(inputs.nodes, parameters.x)
    short = np.eye(len(field)) - field @ np.linalg.pinv(field)
    apart = fit.rates[:, first:] @ short
    covariance = apart @ parameters.prior[first:, first:] @ apart.T
    return Read(
        rates=fit.rates @ rates,
        value=fit.readings.value - fit.computed + fit.rates @ (fit.logs - own),
        covariance=covariance + np.diag(fit.readings.scatter**2),
    )


def fit_logs(inputs: Inputs, u: Array, x: Array, thickness: Array, woods: int) -> Array:
    """Return what a fit looks for, shape (n, p), of samples: linear in them.

    Parameters
    ----------
    inputs : Inputs
    u : ndarray, shape (n, inputs.count)
    x, thickness : ndarray, shape (s,), m
        Of the fit's stations.
    woods : int
        Moduli that it looks for.
    """
    found = factors(inputs, u)
    modulus, crushing = found.logs[:, 0], found.logs[:, 2] + found.law
    moduli = [modulus, modulus + found.contrast][:woods]
    field = hats(inputs.nodes, x).T
    stations = (found.field + found.width) @ field + 3.0 * (found.thickness @ field) / thickness
    return np.concatenate([np.stack([*moduli, crushing], axis=1), stations], axis=1)


def with_moisture(inputs: Inputs, read: Read, damper: float) -> Read:
    """Return readings with the wood's moisture among them, read `damper` than the case says."""
    row = np.zeros((1, inputs.count))
    row[0, inputs.groups["moisture"][0]] = inputs.spread.scatter * MOISTURE
    n = len(read.value)
    covariance = np.zeros((n + 1, n + 1))
    covariance[:n, :n], covariance[n, n] = read.covariance, METER**2
    return Read(
        rates=np.concatenate([read.rates, row]),
        value=np.append(read.value, damper),
        covariance=covariance,
    )
