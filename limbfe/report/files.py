"""The files an assessment leaves: results, surface for other viewers, pictures."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from limbfe.analysis.defects import JudgedZone
from limbfe.analysis.results import Assessment
from limbfe.analysis.solve import SolvedBow
from limbfe.analysis.steps import surface_steps
from limbfe.analysis.store import write_series
from limbfe.errors import CaseError
from limbfe.units import UnitSystem

if TYPE_CHECKING:
    from limbfe.report.document import Figures


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanted:
    """What an assessment leaves besides its numbers: pictures with the report, every draw step."""

    pictures: bool
    series: bool


def prepare_folder(folder: Path) -> None:
    """Make sure that files can be written into `folder`, before anything is computed.

    Raises
    ------
    CaseError
        If the folder cannot be made or written to.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise CaseError(
            f"--out {folder}: cannot write there ({error.strerror}); give a folder you may "
            "write to, or make this one writable"
        ) from error


def write_files(
    solved: SolvedBow,
    assessment: Assessment,
    zones: tuple[JudgedZone, ...],
    folder: Path,
    *,
    wanted: Wanted,
    units: UnitSystem,
    say: Callable[[str], None],
) -> list[Path]:
    """Write results.json, limb.vtu and what else is wanted; return what was written.

    Everything is made in a folder aside and moved to its names at the end, so that a run that is
    stopped leaves nothing, and two runs into one folder leave the files of one or the other.

    Parameters
    ----------
    solved : SolvedBow
    assessment : Assessment
    zones : tuple of JudgedZone
        Both from `limbfe.analysis.assess.assess_closely` of `solved`.
    folder : Path
        From `prepare_folder`.
    wanted : Wanted
    units : UnitSystem
        Of the labels in the pictures and the report.
    say : callable
        Told what is being written, and which pictures are left out and why.
    """
    with _made_aside(folder) as aside:
        say("writing results.json and limb.vtu")
        results = aside / "results.json"
        results.write_text(json.dumps(assessment.to_dict(), indent=1), encoding="utf-8")
        assessment.to_vtu(aside / "limb.vtu")
        written = [results, aside / "limb.vtu"]
        if wanted.series:
            say("writing draw.pvd")
            written.append(write_series(assessment, aside / "draw.pvd", surface_steps(solved)))
        if wanted.pictures:
            from limbfe.report.document import write_report

            figures = _draw_figures(assessment, units, say)
            written += _write_pictures(figures, aside)
            say("writing report.html")
            page = aside / "report.html"
            written.append(write_report(assessment, zones, figures, page, units))
    return [folder / path.name for path in written]


@contextmanager
def _made_aside(folder: Path) -> Iterator[Path]:
    """Give a folder inside `folder`, and move its files up once the block has succeeded."""
    with tempfile.TemporaryDirectory(prefix=".part-", dir=folder) as name:
        yield Path(name)
        made = sorted(Path(name).iterdir())
        for path in made:
            if (folder / path.name).is_dir():
                raise CaseError(
                    f"{folder / path.name}: is a folder; rename it or give another --out"
                )
        for path in made:
            path.replace(folder / path.name)


def _draw_figures(assessment: Assessment, units: UnitSystem, say: Callable[[str], None]) -> Figures:
    from limbfe.report.document import Figures
    from limbfe.view.draw import draw_curve
    from limbfe.view.faces import draw_faces
    from limbfe.view.limb import draw_bow
    from limbfe.view.probe import probe_rendering
    from limbfe.view.strength import draw_strength

    rendering = probe_rendering()
    if not rendering.available:
        say(f"left out bow.png: {rendering.reason}")
    say("drawing")
    return Figures(
        bow=draw_bow(assessment, units=units.name) if rendering.available else None,
        faces=draw_faces(assessment, units=units.name),
        strength=draw_strength(assessment, units=units.name),
        draw=draw_curve(assessment, units=units.name),
        missing=rendering.reason,
    )


def _write_pictures(figures: Figures, folder: Path) -> list[Path]:
    from limbfe.view.theme import save_figure

    named = {
        "bow.png": figures.bow,
        "faces.png": figures.faces,
        "strength.png": figures.strength,
        "draw.png": figures.draw,
    }
    return [
        save_figure(figure, folder / name) for name, figure in named.items() if figure is not None
    ]
