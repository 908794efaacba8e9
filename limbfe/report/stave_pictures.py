"""The pictures of a layout, as files."""

from __future__ import annotations

from pathlib import Path

from limbfe.studies.lay.results import LaidOut
from limbfe.units import UnitName
from limbfe.view.stave.pattern import write_pattern
from limbfe.view.stave.picture import write_back, write_side
from limbfe.view.stave.sections import write_sections
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
        gone=frozenset(knot.name for knot in best.knots if knot.fate == "gone"),
    )


def write_pictures(found: LaidOut, folder: Path, units: UnitName) -> list[Path]:
    """Write back, side and the pattern at full size into a folder."""
    view = stave_view(found)
    return [
        write_back(view, folder / "stave.png", units),
        write_side(view, folder / "side.png", units),
        write_sections(view, found.wanted, folder / "sections.png", units),
        write_pattern(view, folder / "pattern.pdf", units),
    ]
