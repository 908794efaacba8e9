"""Fit a bow to its readings: the estimate, what it says, what it cannot say, what it assumed."""

from __future__ import annotations

import numpy as np
from scipy.stats import chi2

from limbfe.analysis.bow.model import LimbModel, build_model
from limbfe.analysis.bow.setup import BowSetup, HoldKind, adjust
from limbfe.analysis.wood.when_braced import would_be_braced
from limbfe.errors import ConvergenceError
from limbfe.frames import Array, read_only
from limbfe.studies.fit.estimate import Estimate, estimate
from limbfe.studies.fit.findings import find_crushing, find_misfits, find_moduli, find_stations
from limbfe.studies.fit.judge import DOUBTED, doubted_crushing, fit_warnings
from limbfe.studies.fit.parameters import (
    KNOWN_TO,
    USUAL,
    Doubt,
    Parameters,
    find_parameters,
    with_wood,
)
from limbfe.studies.fit.predict import predict
from limbfe.studies.fit.readings import Readings, forces_at
from limbfe.studies.fit.results import Crushing, Fit, Modulus
from limbfe.units import Length, Quantity, Sentence, Words

NOTICED = 0.005
"""Share of the force that crushing must take off to be worth a word."""
HELD = {
    "tiller": "the grip resting on a cradle, free to rock",
    "hand": "the grip held by a hand, free to turn",
    "clamp": "the grip held fast",
}
_CURVE_POINTS = 25


def fit_readings(
    setup: BowSetup,
    readings: Readings,
    *,
    hold: HoldKind = "tiller",
    first_pull: bool = False,
    one_wood: bool = False,
    doubt: Doubt = USUAL,
) -> Fit:
    """Find the moduli and the stations' stiffness from readings.

    Parameters
    ----------
    setup : BowSetup
    readings : Readings
    hold : {"tiller", "hand", "clamp"}
        How the grip was held while the bow was read, whatever the case does with it later.
    first_pull : bool
        The readings are those of a first draw, belly yielding; if not, the bow was drawn this far
        before, as tillering does, and its shape measured since, so that it answers elastically.
    one_wood : bool
        The case describes one wood for heartwood and sapwood: one modulus serves both.
    doubt : Doubt

    Raises
    ------
    CaseError
        If the readings cannot be of this bow.
    ConvergenceError
        If a bow on the way cannot be drawn to a length that was read, or the fit does not settle.
    MaterialError
        If a wood has no scatter, or the readings want an impossible one.
    """
    parameters = find_parameters(setup, one_wood=one_wood, doubt=doubt)
    model = build_model(adjust(setup, holding={"kind": hold}))
    exercised, doubts = not first_pull, []
    fitted = estimate(model, parameters, readings, exercised=exercised)
    asked = find_crushing(parameters, fitted)
    if asked.told and asked.ratio >= DOUBTED:
        doubts.append(doubted_crushing(asked))
        parameters = parameters.crushing_known()
        fitted = estimate(model, parameters, readings, exercised=exercised)
    moduli, crushing = find_moduli(parameters, fitted), find_crushing(parameters, fitted)
    stations = find_stations(parameters, fitted)
    off, suspect = find_misfits(readings, fitted)
    probability = float(chi2.sf(fitted.misfit, len(readings.rows)))
    curve = _curve(model, parameters, fitted, exercised)
    fitted_bow = with_wood(setup, parameters.wood_at(fitted.logs))
    braced = would_be_braced(fitted_bow)
    return Fit(
        setup=fitted_bow,
        when_braced=braced,
        readings=readings,
        computed=read_only(fitted.prediction.value),
        off=read_only(off),
        suspect=suspect,
        moduli=moduli,
        stations=stations,
        crushing=crushing,
        logs=read_only(fitted.logs),
        covariance=read_only(fitted.covariance),
        rates=read_only(_rates(parameters, fitted)),
        misfit=fitted.misfit,
        probability=probability,
        curve_length=read_only(curve[0]),
        curve_force=read_only(curve[1]),
        curve_scatter=read_only(curve[2]),
        warnings=(
            *braced,
            *doubts,
            *fit_warnings(
                parameters,
                readings,
                fitted,
                stations=stations,
                suspect=suspect,
                probability=probability,
            ),
            *_yielding(model, parameters, readings, fitted, exercised),
        ),
        assumptions=(
            *readings.assumptions,
            *_assumptions(model.setup, moduli, crushing, exercised=exercised, doubt=doubt),
        ),
    )


def _rates(parameters: Parameters, fitted: Estimate) -> Array:
    rates = fitted.prediction.rates.copy()
    k = len(parameters.woods)
    if parameters.scatter[k] <= KNOWN_TO:
        rates[:, k] = 0.0
    return rates


def _curve(
    model: LimbModel, parameters: Parameters, fitted: Estimate, exercised: bool
) -> tuple[Array, Array, Array]:
    """Return draw lengths, forces and their standard deviations from brace to the last reading."""
    start, end = (fitted.prediction.states[k].draw_length for k in (0, -1))
    lengths = np.linspace(start, end, _CURVE_POINTS)
    points = forces_at(lengths[1:])
    curve = predict(model, parameters, fitted.sections, points, fitted.logs, exercised=exercised)
    variance = np.einsum("rp,pq,rq->r", curve.rates, fitted.covariance, curve.rates)
    return lengths, np.append(0.0, curve.value), np.append(0.0, np.sqrt(variance))


def _yielding(
    model: LimbModel,
    parameters: Parameters,
    readings: Readings,
    fitted: Estimate,
    exercised: bool,
) -> tuple[Words, ...]:
    """Say what the other kind of draw would pull, when the belly yields before the last reading."""
    here = fitted.prediction.states[-1]
    length = Length(here.draw_length)
    try:
        there = predict(
            model, parameters, fitted.sections, readings, fitted.logs, exercised=not exercised
        ).states[-1]
    except ConvergenceError as error:
        return (f"drawn for the first time, this bow does not reach the last reading: {error}",)
    first, again = (there, here) if exercised else (here, there)
    lost = 1.0 - first.draw_force / again.draw_force
    if lost < NOTICED:
        return ()
    if exercised:
        return (
            Sentence(
                "limbfe assess takes the case for a bow before its first draw and finds {:.1%} "
                "less at {}, because it lets the belly be crushed there; with the reflex of before "
                "that draw in the case, readings of it go with --first-pull",
                lost,
                length,
            ),
        )
    return (
        Sentence(
            "the belly passes its proportional limit before the last reading; the readings are "
            "taken for a first draw, in which that takes {:.1%} off the force at {}. If the bow "
            "was drawn this far before and its reflex measured since, leave --first-pull out",
            lost,
            length,
        ),
    )


def _assumptions(
    setup: BowSetup,
    moduli: tuple[Modulus, ...],
    crushing: Crushing,
    *,
    exercised: bool,
    doubt: Doubt,
) -> tuple[Words, ...]:
    lines: list[Words] = [
        Sentence(
            "wood.{} E_L = {} before the readings, known to {:.0%} [the case and its cov]",
            m.wood,
            Quantity("modulus", m.case),
            m.case_scatter,
        )
        for m in moduli
    ]
    if not exercised:
        lines.append(
            f"crushing strength of the belly known to {crushing.case_scatter:.0%} before the "
            "readings [the case's woods]"
        )
    lines += [
        Sentence(
            "thickness and width measured to {} (one standard deviation) [--measured-to]",
            Quantity("fine length", doubt.measured_to, figures=2),
        ),
        Sentence(
            "the wood's stiffness uneven along the stave by {:.3g} % (one standard deviation), "
            "over {}: a choice, no source gives either [--uneven, --uneven-over]",
            100.0 * doubt.uneven,
            Length(doubt.uneven_over),
        ),
        "an error common to all thicknesses cannot be told from the modulus",
        "limbs that were drawn this far before, as tillering does, and their reflex or set "
        "measured since [--first-pull says otherwise]"
        if exercised
        else "a first draw to every reading [--first-pull]",
        f"{HELD[setup.holding.kind]} [--hold], the string pulled where the case says the arrow "
        "passes",
        "string, brace height and every knot and patch of decay as the case has them",
    ]
    if setup.stave.backing_wood is not None:
        lines.append("the backing's stiffness as the case has it")
    return tuple(lines)
