"""The files an assessment leaves: results, surface for other viewers, pictures."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.results.assessment import Assessment
from limbfe.analysis.results.steps import surface_steps
from limbfe.analysis.results.vtu import write_series
from limbfe.errors import CaseError
from limbfe.units import UnitSystem
from limbfe.whole_file import alone_in, clear_parts, part_name

if TYPE_CHECKING:
    from limbfe.report.document import Figures

RESULTS = "results.json"
DRAWN = ("report.html", "bow.png", "faces.png", "strength.png", "draw.png", "draw.pvd")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanted:
    """What an assessment leaves besides its numbers.

    Attributes
    ----------
    pictures : bool
        With the report.
    series : SolvedBow or None
        The bow of which every step of the draw is written.
    """

    pictures: bool
    series: SolvedBow | None = None


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
    assessment: Assessment,
    folder: Path,
    *,
    wanted: Wanted,
    units: UnitSystem,
    say: Callable[[str], None],
    remark: Callable[[str], None],
) -> list[Path]:
    """Write results.json, limb.vtu and what else is wanted; return what was written.

    Everything is made in a folder aside and moved to its names at the end, so that a run that is
    stopped leaves nothing, and two runs into one folder leave the files of one or the other.

    Parameters
    ----------
    assessment : Assessment
    folder : Path
        From `prepare_folder`.
    wanted : Wanted
    units : UnitSystem
        Of the labels in the pictures and the report.
    say : callable
        Told what is being written.
    remark : callable
        Told which pictures are left out and why.
    """
    with _made_aside(folder) as aside:
        say("writing results.json and limb.vtu")
        results = aside / RESULTS
        results.write_text(json.dumps(assessment.to_dict(), indent=1), encoding="utf-8")
        assessment.to_vtu(aside / "limb.vtu")
        written = [results, aside / "limb.vtu"]
        if wanted.series is not None:
            say("writing draw.pvd")
            steps = surface_steps(wanted.series)
            written.append(write_series(aside / "draw.pvd", assessment.drawn.poses[0], steps))
        if wanted.pictures:
            from limbfe.report.document import write_report
            from limbfe.view.theme import lacking_letters

            say("drawing")
            figures = _draw_figures(assessment, units)
            lacking = lacking_letters(assessment.setup.title)
            if lacking:
                remark(
                    f'the type of the pictures lacks the letters "{lacking}" of the title; install '
                    'one that has them, such as "Noto Sans CJK" or "Noto Sans Arabic"'
                )
            if figures.missing:
                remark(f"left out bow.png: {figures.missing}")
            written += _write_pictures(figures, aside)
            say("writing report.html")
            page = aside / "report.html"
            written.append(write_report(assessment, figures, page, units))
    return [folder / path.name for path in written]


@contextmanager
def _made_aside(folder: Path) -> Iterator[Path]:
    """Give a folder inside `folder`, and move its files up once the block has succeeded.

    The results of an earlier run go first and those of this one come last, so that a run that is
    killed among its moves leaves no results rather than some beside the pictures of another bow;
    and what the earlier run drew and this one has not goes too.  Two runs move one after the other.
    """
    clear_parts(folder)
    with tempfile.TemporaryDirectory(prefix=part_name(), dir=folder) as name:
        yield Path(name)
        made = sorted(Path(name).iterdir())
        for path in made:
            if (folder / path.name).is_dir():
                raise CaseError(
                    f"{folder / path.name}: is a folder; rename it or give another --out"
                )
        with alone_in(folder):
            if (folder / RESULTS).exists():
                for old in (RESULTS, *DRAWN):
                    (folder / old).unlink(missing_ok=True)
            for path in sorted(made, key=lambda path: path.name == RESULTS):
                path.replace(folder / path.name)


def _draw_figures(assessment: Assessment, units: UnitSystem) -> Figures:
    from limbfe.report.document import Figures
    from limbfe.view.bow.draw_curve import draw_curve
    from limbfe.view.bow.faces import draw_faces
    from limbfe.view.bow.limb import draw_bow
    from limbfe.view.bow.strength import draw_strength
    from limbfe.view.probe import probe_rendering

    rendering = probe_rendering()
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
