"""What the readings cannot say, and what they say against the model.

A direction in the space of the parameters is known when the readings took away most of the
variance it had before them, each parameter counted in units of its own prior scatter.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from limbfe.frames import Array
from limbfe.studies.fit.estimate import Estimate
from limbfe.studies.fit.parameters import Parameters
from limbfe.studies.fit.readings import Readings
from limbfe.studies.fit.results import Crushing, Station, limb
from limbfe.units import Length, Quantity, Sentence, Words

KNOWN = 0.5
"""Share of its prior variance a direction must have lost to count as known."""
FAR = 3.0
"""Prior standard deviations beyond which a property is doubted."""
MOST_SLIPS = 0.34
"""Share of suspect readings beyond which they are no slips of the pen."""
UNLIKELY = 0.01
"""Probability of the misfit below which the model, above 1 less which the scatter is doubted."""

DOUBTED = 1.4
"""Times the case's crushing strength, two of its usual deviations (0.18) off: a choice."""


def doubted_crushing(crushing: Crushing) -> str:
    """Return why a crushing strength is no finding."""
    return (
        f"the readings ask for a crushing strength {crushing.ratio:.2f} times the case's. That is "
        "not believed, and the case's is kept: more likely the bow had been drawn this far before "
        "(leave --first-pull out), or a thickness, the reflex, the moisture or the scale is wrong"
    )


def fit_warnings(
    parameters: Parameters,
    readings: Readings,
    fitted: Estimate,
    *,
    stations: tuple[Station, ...],
    suspect: tuple[bool, ...],
    probability: float,
) -> tuple[Words, ...]:
    """Return plain sentences, the gravest first.

    Parameters
    ----------
    parameters, readings, fitted
        Of the fit.
    stations : tuple of Station
    suspect : tuple of bool
        For every reading.
    probability : float
        Of a larger misfit.
    """
    said: list[Words] = [*_suspects(readings, fitted, suspect), *_misfit(probability)]
    said += [*_far(parameters, fitted), *_woods(parameters, fitted)]
    said += _limbs(parameters, fitted)
    said += _places(parameters, fitted, stations)
    return tuple(said)


def learned(parameters: Parameters, covariance: Array, direction: Array) -> float:
    """Return the share of its prior variance that a direction, shape (p,), has lost.

    The direction is given in units of the parameters' prior scatter.
    """
    share = direction / parameters.scatter
    return float(1.0 - (share @ covariance @ share) / (share @ parameters.prior @ share))


def _suspects(readings: Readings, fitted: Estimate, suspect: tuple[bool, ...]) -> list[Words]:
    if sum(suspect) > MOST_SLIPS * len(suspect):
        return []
    said: list[Words] = []
    for row, computed, bad in zip(readings.rows, fitted.prediction.value, suspect, strict=True):
        if bad:
            more = row.value - float(computed)
            side = "more" if more > 0.0 else "less"
            said.append(
                Sentence(
                    "line {}: the {} reads {} {} than the bow that fits the other readings gives: "
                    "read it again, or take the line out",
                    row.line,
                    row.what,
                    Quantity("force" if row.what == "force" else "length", abs(more)),
                    side,
                )
            )
    return said


def _misfit(probability: float) -> list[str]:
    if probability < UNLIKELY:
        chance = "less than one in a million" if probability < 1e-6 else f"{probability:.1g}"
        return [
            "readings and model disagree by more than the stated scatter (a misfit this large has "
            f"a probability of {chance}): the scatter is stated too small, a dimension or "
            "the brace height is wrong, or the limb holds something the case does not; the bounds "
            "are then too narrow"
        ]
    if probability > 1.0 - UNLIKELY:
        return [
            "the readings agree better than their stated scatter allows: it is stated too large, "
            "and the bounds are wider than need be"
        ]
    return []


def _far(parameters: Parameters, fitted: Estimate) -> list[str]:
    """Say which property the readings push further from the case than it is likely to lie."""
    names = [f"wood.{wood} E_L" for wood in parameters.woods]
    names.append("the crushing strength")
    off = fitted.logs[: len(names)] / parameters.scatter[: len(names)]
    return [
        f"{name} comes out at {np.exp(log):.2f} times the case, {abs(far):.1f} of its own "
        "deviations away: a dimension, the brace height or the unit of the readings is more likely "
        "wrong than the wood that odd"
        for name, log, far in zip(names, fitted.logs, off, strict=False)
        if abs(far) > FAR
    ]


def _woods(parameters: Parameters, fitted: Estimate) -> list[str]:
    """Say which mix of the woods is known when each alone is not."""
    count = len(parameters.woods)
    shape = fitted.covariance / np.multiply.outer(parameters.scatter, parameters.scatter)
    remaining, directions = np.linalg.eigh(shape[:count, :count])
    if 1.0 - remaining[0] < KNOWN:
        return ["the readings hardly say how stiff the wood is: the moduli rest on the case"]
    if count == 1 or 1.0 - remaining[-1] >= KNOWN:
        return []
    share = directions[:, 0] / parameters.scatter[:count]
    share /= share.sum()
    deviation = float(np.sqrt(share @ fitted.covariance[:count, :count] @ share))
    mix = " + ".join(
        f"{part:.2f} {wood}" for part, wood in zip(share, parameters.woods, strict=True)
    )
    names = " from ".join(reversed(parameters.woods))
    return [
        f"the readings cannot tell {names}: only the mix {mix} of their stiffnesses is known, to "
        f"{deviation:.1%}; each alone rests on the case. The bending test of an offcut of one of "
        "them would part them"
    ]


def _limbs(parameters: Parameters, fitted: Estimate) -> list[str]:
    direction = np.zeros(len(parameters.scatter))
    lower, upper = parameters.x < 0.0, parameters.x > 0.0
    count = parameters.stations_from
    direction[count:][lower], direction[count:][upper] = -1.0 / lower.sum(), 1.0 / upper.sum()
    if learned(parameters, fitted.covariance, direction) >= KNOWN:
        return []
    return [
        "the readings do not tell which limb is the stiffer: read where both tips stand at a draw"
    ]


def _places(
    parameters: Parameters, fitted: Estimate, stations: tuple[Station, ...]
) -> list[Sentence]:
    """Name the runs of stations over which a stiff or soft place may be spread."""
    count, size = parameters.stations_from, len(parameters.scatter)
    runs: list[list[int]] = []
    for k, (left, right) in enumerate(pairwise(stations)):
        differs = {left.finding, right.finding} & {"stiffer", "softer"}
        if not differs or left.x * right.x < 0.0:
            continue
        same, against = np.zeros(size), np.zeros(size)
        same[count + k : count + k + 2] = 1.0, 1.0
        against[count + k : count + k + 2] = 1.0, -1.0
        together = learned(parameters, fitted.covariance, same)
        apart = learned(parameters, fitted.covariance, against)
        if together >= KNOWN > apart:
            if runs and runs[-1][-1] == k:
                runs[-1].append(k + 1)
            else:
                runs.append([k, k + 1])
    return [_run([stations[k] for k in run]) for run in runs]


def _run(run: list[Station]) -> Sentence:
    ends = sorted(abs(station.x) for station in (run[0], run[-1]))
    findings = [s.finding for s in run if s.finding in ("stiffer", "softer")]
    return Sentence(
        "{} limb, {} to {}: {} than measured, but the readings do not tell which of these stations "
        "it is: neighbours share it",
        limb(run[-1].x),
        *map(Length, ends),
        " and ".join(dict.fromkeys(findings)),
    )
