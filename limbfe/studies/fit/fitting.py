"""Fit a bow to its readings: the estimate, what it says, what it cannot say, what it assumed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.stats import chi2

from limbfe.analysis.model import LimbModel, build_model
from limbfe.analysis.settings import BowSetup, HoldKind
from limbfe.errors import ConvergenceError
from limbfe.frames import Array, read_only
from limbfe.studies.fit.estimate import Estimate, estimate
from limbfe.studies.fit.findings import find_crushing, find_misfits, find_moduli, find_stations
from limbfe.studies.fit.judge import fit_warnings
from limbfe.studies.fit.parameters import (
    MEASURED_TO,
    UNEVEN_OVER,
    UNEVEN_WOOD,
    Parameters,
    find_parameters,
    with_wood,
)
from limbfe.studies.fit.predict import predict
from limbfe.studies.fit.readings import Readings, forces_at
from limbfe.studies.fit.results import Crushing, Fit, Modulus
from limbfe.units import both, both_lengths

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
    exercised: bool = False,
    one_wood: bool = False,
    measured_to: float = MEASURED_TO,
    uneven: float = UNEVEN_WOOD,
    uneven_over: float = UNEVEN_OVER,
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
    uneven, uneven_over : float, m
        See `find_parameters`.

    Raises
    ------
    CaseError
        If the readings cannot be of this bow.
    ConvergenceError
        If a bow on the way cannot be drawn to a length that was read, or the fit does not settle.
    MaterialError
        If a wood has no scatter, or the readings want an impossible one.
    """
    scatter = {"measured_to": measured_to, "uneven": uneven, "uneven_over": uneven_over}
    parameters = find_parameters(setup, one_wood=one_wood, **scatter)
    model = build_model(replace(setup, hold=hold))
    found = estimate(model, parameters, readings, exercised=exercised)
    moduli, crushing = find_moduli(parameters, found), find_crushing(parameters, found)
    stations = find_stations(parameters, found)
    off, suspect = find_misfits(readings, found)
    probability = float(chi2.sf(found.misfit, len(readings.rows)))
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
        misfit=found.misfit,
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
            *_assumptions(model.setup, moduli, crushing, exercised=exercised, **scatter),
        ),
    )


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
    length = both_lengths(here.draw_length)
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
    uneven: float,
    uneven_over: float,
    exercised: bool,
) -> tuple[str, ...]:
    lines = [
        f"wood.{m.wood} E_L = {both('modulus', m.case)} before the readings, known to "
        f"{m.case_scatter:.0%} [the case and its cov]"
        for m in moduli
    ]
    if not exercised:
        lines.append(
            f"crushing strength of the belly known to {crushing.case_scatter:.0%} before the "
            "readings [the case's woods]"
        )
    lines += [
        f"thickness and width measured to {both('fine length', measured_to, figures=2)} (one "
        "standard deviation) [--measured-to]",
        f"the wood's stiffness uneven along the stave by {100.0 * uneven:.3g} % (one standard "
        f"deviation), over {both_lengths(uneven_over)}: a choice, no source gives either "
        "[--uneven, --uneven-over]",
        "an error common to all thicknesses cannot be told from the modulus",
        "limbs that were drawn this far before, their reflex or set measured since [--exercised]"
        if exercised
        else "a first draw to every reading",
        f"{HELD[setup.hold]} [--hold], the string pulled where the case says the arrow passes",
        "string, brace height and every knot and patch of decay as the case has them",
    ]
    if setup.stave.backing_wood is not None:
        lines.append("the backing's stiffness as the case has it")
    return tuple(lines)
