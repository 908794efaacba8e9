"""What a child process of the page computes: a cheap draw, or everything.

A child loads the libraries once, then waits for work.  It takes no more memory than it is allowed,
and ends with the process that started it.
"""

from __future__ import annotations

import signal
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from limbfe.children import end_with_parent
from limbfe.errors import ConvergenceError, LimbfeError

MEMORY = 4_000_000_000
"""Bytes of a child's own; twice what the largest case allowed takes, and the pictures."""

Tell = Callable[[str], None]
Show = Callable[[Any], None]


def serve(pipe: Connection) -> None:
    """Do what comes through `pipe` until it is closed.

    Every job ends with one message, ``("done", result)`` or ``("failed", words)``; before it
    ``("stage", words)`` and ``("seen", first_look)`` may come.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent is told, and ends its children
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    end_with_parent()
    _limit_memory()
    _prepare()
    pipe.send(("ready", None))
    while True:
        try:
            kind, job = pipe.recv()
        except (EOFError, OSError):
            return
        pipe.send(
            _answer(
                kind,
                job,
                lambda words: pipe.send(("stage", words)),
                lambda first: pipe.send(("seen", first)),
            )
        )


def _limit_memory() -> None:
    """Bound what this process may take for itself, where the system can."""
    try:
        import resource
    except ImportError:  # not on Windows
        return
    _, hard = resource.getrlimit(resource.RLIMIT_DATA)
    most = MEMORY if hard == resource.RLIM_INFINITY else min(MEMORY, hard)
    resource.setrlimit(resource.RLIMIT_DATA, (most, hard))


def _prepare() -> None:
    """Load what every job needs, so that the first one does not wait for it."""
    import limbfe.analysis.assess
    import limbfe.analysis.warned_draw
    import limbfe.case.load  # noqa: F401


def _answer(kind: str, job: dict[str, Any], tell: Tell, show: Show) -> tuple[str, Any]:
    from limbfe.compiled import announce_compilation

    try:
        with announce_compilation(tell):
            return "done", _JOBS[kind](job, tell, show)
    except ConvergenceError as error:
        return "failed", f"the bow could not be solved: {error}"
    except LimbfeError as error:
        return "failed", str(error)
    except MemoryError:
        return "failed", (
            f"takes more than the {MEMORY / 1e9:g} GB of memory allowed here; give fewer steps or "
            "a smaller fineness in [analysis]"
        )


def draw_job(job: dict[str, Any], tell: Tell, show: Show) -> dict[str, Any]:
    """Draw the bow and look at its clear wood; knots and patches are not judged.

    Parameters
    ----------
    job : dict
        ``"text"`` and ``"path"`` of the case.
    tell, show : callable
        Not used: it takes less than a second.
    """
    from limbfe.analysis.bow.exercise import exercise
    from limbfe.analysis.warned_draw import warned_draw
    from limbfe.analysis.wood.limb_field import limb_field
    from limbfe.api import solve
    from limbfe.case.load import case_of
    from limbfe.page.computing.answers import drawn_answer

    case = case_of(job["text"].encode(), Path(job["path"]))
    solved = exercise(solve(case, beyond=False))
    return drawn_answer(warned_draw(solved), limb_field(solved))


def assess_job(job: dict[str, Any], tell: Tell, show: Show) -> dict[str, Any]:
    """Judge every part of the bow and write the report.

    Parameters
    ----------
    job : dict
        ``"text"`` and ``"path"`` of the case, ``"folder"`` for what is written, ``"units"`` of
        words and pictures.
    tell : callable
        Told in words what is being done.
    show : callable
        Not used.
    """
    from limbfe.analysis.assess import assess_solved
    from limbfe.api import solve
    from limbfe.case.load import case_of
    from limbfe.page.computing.answers import assessed_answer
    from limbfe.report.files import Wanted, write_files
    from limbfe.units import say, unit_system

    units = unit_system(job["units"])
    remarks: list[str] = []
    tell("bracing and drawing the bow")
    solved = solve(case_of(job["text"].encode(), Path(job["path"])))
    assessment = assess_solved(solved, tell=lambda words: tell(say(words, units)))
    write_files(
        assessment,
        Path(job["folder"]),
        wanted=Wanted(pictures=True),
        units=units,
        say=tell,
        remark=remarks.append,
    )
    return {**assessed_answer(assessment, units), "remarks": remarks}


def fit_job(job: dict[str, Any], tell: Tell, show: Show) -> dict[str, Any]:
    """Fit the wood to the tillering log, and say where to take wood next.

    Parameters
    ----------
    job : dict
        As for `assess_job`, with ``"log"``, the path of the readings, ``"hold"``, ``"first_pull"``,
        and ``"weight"``, the draw weight wanted in the end, empty if none is said.
    tell : callable
        Told in words what is being done.
    show : callable
        Given the fit before the list of what to take off.
    """
    from limbfe.api import fit, take_wood
    from limbfe.case.load import case_of
    from limbfe.page.computing.answers import fitted_answer, taking_answer
    from limbfe.units import say, unit_system

    units = unit_system(job["units"])
    tell("fitting the wood to the readings")
    case = case_of(job["text"].encode(), Path(job["path"]))
    found = fit(case, job["log"], hold=job["hold"], first_pull=job["first_pull"])
    answer = {"fit": fitted_answer(found, units), "take": None, "no_list": ""}
    if not job["weight"]:
        return answer
    show(answer)
    step = 0.0254 / 64.0 if job["units"] == "imperial" else 5e-4
    try:
        taking = take_wood(
            case,
            job["weight"],
            step=step,
            readings=found,
            tell=lambda words: tell(say(words, units)),
        )
    except LimbfeError as error:  # the fit is worth having without the list
        return {**answer, "no_list": str(error)}
    return {**answer, "take": taking_answer(taking, units)}


def lay_job(job: dict[str, Any], tell: Tell, show: Show) -> dict[str, Any]:
    """Find where the wanted bow lies in a stave, and draw its pictures.

    Parameters
    ----------
    job : dict
        ``"text"`` and ``"path"`` of the sheet, ``"folder"`` for what is written, ``"units"``.
    tell : callable
        Told in words what is being done.
    show : callable
        Given the first look, which nothing has assessed.
    """
    from limbfe.api import lay
    from limbfe.case.sheet_load import sheet_of
    from limbfe.page.computing.laid_answer import laid_answer
    from limbfe.report.stave_pictures import write_pictures
    from limbfe.studies.lay.results import LaidOut
    from limbfe.units import Words, say, unit_system

    units = unit_system(job["units"])

    def told(said: Words | LaidOut) -> None:
        if isinstance(said, LaidOut):
            show(laid_answer(said, units))
        else:
            tell(say(said, units))

    tell("drawing the wanted bow")
    found = lay(
        sheet_of(job["text"].encode(), Path(job["path"])),
        tell=told,
    )
    tell("drawing the pictures")
    write_pictures(found, Path(job["folder"]), job["units"])
    return laid_answer(found, units)


_JOBS: dict[str, Callable[[dict[str, Any], Tell, Show], dict[str, Any]]] = {
    "draw": draw_job,
    "assess": assess_job,
    "fit": fit_job,
    "lay": lay_job,
}
