"""From a checked stave sheet to the log and to what is asked of its layout."""

from __future__ import annotations

from typing import Any

import numpy as np

from limbfe.case.build import filler_of
from limbfe.case.sheet_schema import Sheet, SheetFile
from limbfe.log.fate import Stage
from limbfe.log.layout.costs import Rules
from limbfe.log.log import COLUMNS, Crack, Log, Mark, Patch


def build_log(file: SheetFile) -> Log:
    """Return the log of a sheet.

    Parameters
    ----------
    file : SheetFile

    Returns
    -------
    Log
        In SI; a column that was not given is straight, and a pith that was not measured infinite.
    """
    stave = file.stave
    x = np.array(stave.station)
    columns: dict[str, Any] = {}
    for name in COLUMNS:
        values = getattr(stave, name)
        columns[name] = np.zeros(x.shape) if values is None else np.array(values)
    for name in ("left", "right"):
        if getattr(stave, f"{name}_below") is None:
            columns[f"{name}_below"] = columns[name]
    if stave.pith_ends is not None:
        columns["pith"] = np.interp(x, x[[0, -1]], stave.pith_ends)
    elif stave.pith is None:
        columns["pith"] = np.full(x.shape, np.inf)
    bark = stave.bark or 0.0
    over = bark if stave.over_bark else 0.0
    columns["depth"] = columns["depth"] - over
    columns["pith"] = columns["pith"] - over
    return Log(
        x=x,
        **columns,
        bark=bark,
        spiral=file.grain.spiral,
        marks=tuple(
            Mark(
                name=knot.name,
                x=knot.at,
                across=knot.across - (over if knot.face in ("left", "right") else 0.0),
                face=knot.face,
                diameter=knot.diameter,
                far_diameter=knot.far_diameter,
                lean=knot.lean,
                state=knot.state,
                filler=None if knot.filler is None else filler_of(knot.filler),
            )
            for knot in file.knot
        ),
        patches=tuple(
            Patch(
                name=one.name,
                x=one.at,
                across=one.across - (over if one.face in ("left", "right") else 0.0),
                face=one.face,
                length=one.length,
                width=one.width,
                depth=one.depth,
            )
            for one in file.decay
        ),
        cracks=tuple(
            Crack(
                start=one.from_,
                end=one.to,
                across=one.across,
                across_end=one.across if one.across_to is None else one.across_to,
                depth=one.depth,
            )
            for one in file.check
        ),
    )


def build_rules(sheet: Sheet) -> Rules:
    """Return what a sheet asks of the layout."""
    spare, fix = sheet.file.spare, sheet.file.fix
    return Rules(
        edge=spare.edge,
        end=spare.end,
        straightness=spare.straightness,
        upper_end=fix.upper_end,
        cut_butt=fix.cut_butt,
        cut_top=fix.cut_top,
        through=tuple((point.at, point.across) for point in fix.through),
    )


def build_stages(file: SheetFile) -> tuple[Stage, ...]:
    """Return the stages of roughing, the first one first."""
    return tuple(Stage(name=cut.name, side=cut.side, belly=cut.belly) for cut in file.cut)
