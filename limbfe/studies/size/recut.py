"""A case with other columns: the same bow, shaved or widened, as the case file would say it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from limbfe.case.build import join_limbs
from limbfe.case.checks import file_problems
from limbfe.case.limb_checks import limb_tables
from limbfe.case.schema import Case, LimbTable
from limbfe.errors import CaseError
from limbfe.frames import Array
from limbfe.stave.columns import COLUMNS, NAMED, read_between
from limbfe.units import both_lengths

DECIMALS = 6
"""Columns are kept to a micrometre, so that a written case says exactly what was computed."""
SAME = 5e-6
"""Limbs whose columns differ by no more than this (m) are alike."""
CLOSEST = 2e-3
"""Stations nearer together than this (m) are one place on the stave."""


def columns_of(case: Case) -> dict[str, Array]:
    """Return the columns of the whole bow, lower tip to upper tip, ``station`` signed; SI."""
    tables = {limb: table for limb, (_, table) in limb_tables(case.file).items()}
    names = ("station", *COLUMNS)
    return {name: join_limbs(tables["lower"], tables["upper"], name) for name in names}


def recut(case: Case, columns: Mapping[str, Array], draw_length: float | None = None) -> Case:
    """Return the case with some columns replaced.

    Parameters
    ----------
    case : Case
    columns : mapping of str to ndarray, shape (n,), m (angles: rad)
        Over the whole bow, lower tip to upper tip, as `columns_of` gives them.  With other
        stations than the case has, ``station`` and every column must be there.
    draw_length : float, optional
        m; the case's own when left out.

    Notes
    -----
    A taper stands for its stations and no longer describes them once they change.  Limbs that
    the case has alike stay under one heading while their columns are alike.  Lengths
    are rounded to a micrometre.  Knots and patches keep the places and sizes measured on the
    faces, as the case file states them.
    """
    whole = columns_of(case)
    for name, values in columns.items():
        angle = NAMED[name].kind == "angle"
        whole[name] = values if angle else np.round(values, DECIMALS)
    middle = int(np.argmin(np.abs(whole["station"])))
    file, limbs = case.file, case.file.limb
    tables = {limb: table for limb, (_, table) in limb_tables(file).items()}
    upper = _with_columns(tables["upper"], {name: v[middle:] for name, v in whole.items()})
    lower = _with_columns(tables["lower"], {name: v[middle::-1] for name, v in whole.items()})
    if limbs.both is not None and _alike(lower, upper):
        changed = limbs.model_copy(update={"both": upper})
    else:
        changed = limbs.model_copy(update={"both": None, "upper": upper, "lower": lower})
    update: dict[str, object] = {"limb": changed}
    if columns:
        update["taper"] = None
    if draw_length is not None:
        update["draw"] = file.draw.model_copy(update={"length": draw_length})
    return replace(case, file=file.model_copy(update=update))


def check_draw(case: Case, draw_length: float) -> None:
    """Refuse a draw length that the case would refuse.

    Raises
    ------
    CaseError
    """
    draw = case.file.draw.model_copy(update={"length": draw_length})
    for problem in file_problems(case.file.model_copy(update={"draw": draw})):
        raise CaseError(f"--draw {both_lengths(draw_length)}: {problem.reason}")


def with_stations(case: Case, extra: Array) -> Case:
    """Return the case with stations added, every column interpolated as the stave does it.

    Parameters
    ----------
    case : Case
    extra : ndarray, shape (k,), m
        Signed; those closer than 2 mm to a station and those beyond a tip are left out.
    """
    columns = columns_of(case)
    x = columns["station"]
    distance = np.abs(np.asarray(extra)[:, None] - x).min(axis=1)
    inside = (extra > x[0]) & (extra < x[-1]) & (distance > CLOSEST)
    stations = np.unique(np.concatenate([x, np.round(extra[inside], DECIMALS)]))
    del columns["station"]
    return recut(case, {**read_between(x, columns, stations), "station": stations})


def _with_columns(table: LimbTable, side: Mapping[str, Array]) -> LimbTable:
    update: dict[str, object] = {}
    for name, values in side.items():
        if getattr(table, name) is not None:
            signed = np.abs(values) if name == "station" else values
            update[name] = tuple(float(value) for value in signed)
    return table.model_copy(update=update)


def _alike(one: LimbTable, other: LimbTable) -> bool:
    pairs = [(getattr(one, name), getattr(other, name)) for name in ("station", *COLUMNS)]
    return all(
        a == b or (len(a) == len(b) and np.allclose(a, b, rtol=0.0, atol=SAME)) for a, b in pairs
    )
