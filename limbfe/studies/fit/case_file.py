"""Write a case with everything that a fit found, so that it draws as the bow was read."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import tomlkit

from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.stations import solve_stations
from limbfe.case.schema import Case
from limbfe.frames import Array
from limbfe.studies.case_file import write_case
from limbfe.studies.fit.findings import BOUND
from limbfe.studies.fit.results import Fit, limb
from limbfe.studies.size.recut import recut
from limbfe.units import both, both_lengths
from limbfe.wood.duration import gain_in_tension, load_duration_factor
from limbfe.wood.wood import Wood

_ROUNDS = 5
"""Of looking for a width: each leaves under a tenth of the error, since bending stiffness is
nearly in proportion to the width."""


def write_fitted(case: Case, fit: Fit, path: Path) -> Path:
    """Write the case with the fitted wood, and the stations' stiffness as width.

    Parameters
    ----------
    case : Case
        As it was read.
    fit : Fit
    path : Path
        Written whole or not at all, and read back before it takes its name.

    Notes
    -----
    A case says what its wood is only layer by layer.  A place that is stiffer or softer than its
    dimensions say is written as one that is wider or narrower: bent alike, it answers with as
    much more or less at every draw, past yielding too, and its strains are those of the thickness
    that was measured.  Comments keep the measured widths and the bounds.

    Raises
    ------
    CaseError
        If the file cannot be written or would not be read.
    """
    widths = fitted_widths(fit.setup, fit)
    heading = tuple(_heading(fit))
    write = partial(_write_wood, fit=fit)
    return write_case(recut(case, {"width": widths}), path, heading, also=write)


def fitted_widths(setup: BowSetup, fit: Fit) -> Array:
    """Return the width at every station that makes the limb as stiff as it was read.

    Parameters
    ----------
    setup : BowSetup
        Its stations' dimensions as measured.
    fit : Fit

    Returns
    -------
    ndarray, shape (n,), m
        At the stave's stations, lower tip to upper tip; as measured in a stiff grip.
    """
    x = np.array([station.x for station in fit.stations])
    ratio = np.array([station.ratio for station in fit.stations])
    free = np.searchsorted(setup.stave.x, x - 1e-9)
    wanted = ratio * _bending_stiffness(setup, x)
    width = setup.stave.width.copy()
    width[free] *= ratio
    for _ in range(_ROUNDS):
        now = replace(setup, stave=replace(setup.stave, width=width))
        width[free] *= wanted / _bending_stiffness(now, x)
    return width


def _bending_stiffness(setup: BowSetup, x: Array) -> Array:
    """Return the flatwise bending stiffness at stations, all else free, shape (s,), N m2."""
    return np.asarray(1.0 / solve_stations(setup, x).sections.compliance[:, 4, 4])


def _heading(fit: Fit) -> Iterator[str]:
    yield f"fitted to {_name(fit)} by limbfe fit: the wood, and the stiffness of every station as"
    yield "width; thickness and all else as measured.  Bounds hold 95 in 100."
    stave = fit.setup.stave
    for station in fit.stations:
        measured = both_lengths(float(np.interp(station.x, stave.x, stave.width)))
        yield (
            f"  {limb(station.x)} {both_lengths(abs(station.x))}: measured {measured} wide, "
            f"stiffness x {station.ratio:.3f} ({station.low:.3f} to {station.high:.3f})"
        )


def _write_wood(document: tomlkit.TOMLDocument, fit: Fit) -> None:
    """Write every fitted modulus and strength with its scatter."""
    woods: Any = document["wood"]
    for modulus in fit.moduli:
        table = woods[modulus.wood]
        table["E_L"] = f"{1e-9 * modulus.value:.5g} GPa"
        low, high = (both("modulus", value, figures=3) for value in (modulus.low, modulus.high))
        table["E_L"].comment(f"fitted to {_name(fit)}: {low} to {high}")
        if "cov" not in table:
            table["cov"] = tomlkit.inline_table()
        table["cov"]["E_L"] = round(modulus.scatter, 4)
        if fit.crushing.told:
            _write_strength(table, _wood(fit, modulus.wood), fit)


def _write_strength(table: Any, wood: Wood, fit: Fit) -> None:
    """Write the crushing strength, and the tension strength, which would follow it, as it was.

    A case states strengths of tests; the bow's own are those of a draw held for some seconds.
    """
    crushing, strength, held = fit.crushing, wood.strength, fit.setup.drawing.held
    lasting = float(load_duration_factor(held))
    for name, value in (
        ("compression_strength", strength.compression),
        ("compression_proportional_limit", strength.compression_proportional_limit),
        ("compression_plateau", strength.compression_plateau),
    ):
        tested = value / lasting
        table[name] = f"{1e-6 * tested:.5g} MPa"
        bounds = (tested / crushing.ratio * bound for bound in (crushing.low, crushing.high))
        low, high = (both("stress", bound, figures=3) for bound in bounds)
        table[name].comment(f"fitted to {_name(fit)}: {low} to {high}")
    table["tension_strength"] = f"{1e-6 * strength.tension / gain_in_tension(held):.5g} MPa"
    table["tension_strength"].comment("as before the fit")
    scatter = math.log(crushing.high / crushing.low) / (2.0 * BOUND)
    table["cov"]["compression_strength"] = round(scatter, 4)


def _wood(fit: Fit, name: str) -> Wood:
    stave = fit.setup.stave
    sapwood = stave.sapwood_wood if name == "sapwood" else None
    return stave.heartwood if sapwood is None else sapwood


def _name(fit: Fit) -> str:
    return Path(fit.readings.file).name
