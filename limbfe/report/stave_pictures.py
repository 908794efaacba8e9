"""The pictures of a layout, as files."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from limbfe.studies.lay.results import LaidOut
from limbfe.units import UnitName
from limbfe.view.probe import probe_rendering
from limbfe.view.stave.pattern import write_pattern
from limbfe.view.stave.picture import write_back, write_side
from limbfe.view.stave.sections import section_stations, write_sections
from limbfe.view.stave.space import write_inside, write_inside_page
from limbfe.view.stave.view import StaveView


def stave_view(found: LaidOut) -> StaveView:
    """Return what the pictures show of a stave and its layouts."""
    best = found.best
    return StaveView(
        title=found.sheet.title,
        log=found.log,
        laid=best.laid,
        line=best.line,
        others=tuple(one.line for one in found.layouts[1:]),
        stages=tuple((stage.name, stage.side, stage.belly) for stage in found.stages),
        gone=frozenset(
            {knot.name for knot in best.knots if knot.fate == "gone"}
            | {patch.name for patch in found.log.patches} - {patch.name for patch in best.patches}
        ),
    )


def write_pictures(
    found: LaidOut, folder: Path, units: UnitName, sections: tuple[float, ...] = ()
) -> list[Path]:
    """Write back, side, sections, the limb in the stave in space, and the pattern into a folder.

    Parameters
    ----------
    found : LaidOut
    folder : Path
    units : {"metric", "imperial"}
    sections : tuple of float, m
        Stations of the sections, from the butt; `section_stations` where there are none.

    Notes
    -----
    Where nothing can draw in 3D the picture in space is left out; its page needs nothing.
    """
    view = stave_view(found)
    at = np.array(sections) if sections else section_stations(view)
    written = [
        write_back(view, folder / "stave.png", units),
        write_side(view, folder / "side.png", units),
        write_sections(view, found.best.bow, folder / "sections.png", units, at),
        write_inside_page(view, found.best.bow, folder / "inside.html"),
        write_pattern(view, folder / "pattern.pdf", units),
    ]
    if probe_rendering().available:
        written.append(write_inside(view, found.best.bow, folder / "inside.png", units))
    return written
