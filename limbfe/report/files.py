"""The files an assessment leaves: results, surface for other viewers, pictures."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from limbfe.analysis.results import Assessment
from limbfe.errors import CaseError
from limbfe.units import UnitSystem


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
    pictures: bool,
    units: UnitSystem,
    say: Callable[[str], None],
) -> list[Path]:
    """Write results.json, limb.vtu and, if asked, the pictures; return what was written.

    Everything is made in a folder aside and moved to its names at the end, so that a run that is
    stopped leaves nothing, and two runs into one folder leave the files of one or the other.

    Parameters
    ----------
    assessment : Assessment
    folder : Path
        From `prepare_folder`.
    pictures : bool
    units : UnitSystem
        Of the labels in the pictures.
    say : callable
        Told what is being written, and which pictures are left out and why.
    """
    with _made_aside(folder) as aside:
        say("writing results.json and limb.vtu")
        results = aside / "results.json"
        results.write_text(json.dumps(assessment.to_dict(), indent=1), encoding="utf-8")
        assessment.to_vtu(aside / "limb.vtu")
        written = [results, aside / "limb.vtu"]
        if pictures:
            written += _write_pictures(assessment, aside, units, say)
    return [folder / path.name for path in written]


@contextmanager
def _made_aside(folder: Path) -> Iterator[Path]:
    """Give a folder inside `folder`, and move its files up once the block has succeeded."""
    with tempfile.TemporaryDirectory(prefix=".part-", dir=folder) as name:
        yield Path(name)
        for path in sorted(Path(name).iterdir()):
            path.replace(folder / path.name)


def _write_pictures(
    assessment: Assessment, folder: Path, units: UnitSystem, say: Callable[[str], None]
) -> list[Path]:
    from limbfe.view.draw import write_curve
    from limbfe.view.faces import write_faces
    from limbfe.view.limb import write_bow
    from limbfe.view.probe import probe_rendering
    from limbfe.view.strength import write_strength

    written = []
    writers = {"faces.png": write_faces, "strength.png": write_strength, "draw.png": write_curve}
    rendering = probe_rendering()
    if rendering.available:
        writers = {"bow.png": write_bow, **writers}
    else:
        say(f"left out bow.png: {rendering.reason}")
    for name, writer in writers.items():
        say(f"drawing {name}")
        written.append(writer(assessment, folder / name, units=units.name))
    return written
