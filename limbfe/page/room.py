"""All that one running page holds: its folder, desks and workers, and the last assessment."""

from __future__ import annotations

import contextlib
import shutil
import tempfile
import threading
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from limbfe.case.samples import ABOVE, find_samples
from limbfe.errors import CaseError, LimbfeError
from limbfe.page.computing.workers import CancelledError, ComputationError, Worker
from limbfe.page.desk import Desk, new_desk, open_desk, unnamed_desk
from limbfe.page.folder import Folder
from limbfe.page.tiller import Before

DRAW_SECONDS = 300.0
"""Of one draw; its machine code is compiled once in every installation, which takes a minute or
two on an idle machine."""
ASSESS_SECONDS = 1800.0
MOST_DESKS = 50

BLANK_STAVE = """\
[stave]
unit = "{unit}"
station = []
left = []
right = []
depth = []

[bow]
"""
"""A stave of which nothing is known yet."""
BLANK = """\
[wood.whole]

[section]

[limb.both]
unit = "{unit}"
station = []
width = []
thickness = []

[grip]

[string]

[draw]
"""
"""A bow of which nothing is known yet."""


Work = Literal["assess", "fit", "lay"]


@dataclass(slots=True)
class Job:
    """One long computation, running or done.

    Attributes
    ----------
    number : int
    work : {"assess", "fit", "lay"}
    desk, digest : str
        The case or stave it is of, and its text as it was.
    state : {"runs", "done", "failed", "cancelled"}
    stage : str
        What is being done.
    result : dict or None
        While it runs, the first look where there is one.
    words : str
        Why there is no result.
    folder : Path
        Where its files are.
    """

    number: int
    work: Work
    desk: str
    digest: str
    folder: Path
    state: Literal["runs", "done", "failed", "cancelled"] = "runs"
    stage: str = "starting"
    result: dict[str, Any] | None = None
    words: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Return what the page is told of it."""
        return {
            "number": self.number,
            "work": self.work,
            "desk": self.desk,
            "digest": self.digest,
            "state": self.state,
            "stage": self.stage,
            "result": self.result,
            "words": self.words,
        }


@dataclass(slots=True)
class Room:
    """What the routes work on.

    Attributes
    ----------
    folder : Folder
    scratch : Path
        A folder of this run alone, for reports.
    first : str or None
        The case asked for on the command line.
    logs : dict of str to list of Before
        Tillering logs as they were before each change of this run, by their names.
    """

    folder: Folder
    scratch: Path
    first: str | None = None
    drawer: Worker = field(default_factory=lambda: Worker(seconds=DRAW_SECONDS))
    judge: Worker = field(default_factory=lambda: Worker(seconds=ASSESS_SECONDS))
    lock: threading.RLock = field(default_factory=threading.RLock)
    desks: dict[str, Desk] = field(default_factory=dict)
    job: Job | None = None
    logs: dict[str, list[Before]] = field(default_factory=dict)
    _numbers: int = 0
    _wanted: int = 0

    def open(self, name: str) -> tuple[str, Desk]:
        """Return the desk of a case of the folder and what it is called here.

        Raises
        ------
        CaseError
            If there is no such case.
        """
        with self.lock:
            place = self.folder.place(name).name
            for key, desk in self.desks.items():
                if desk.name == place:
                    return key, desk
            return self._keep(open_desk(self.folder, place))

    def begin(
        self,
        *,
        unit: str = "",
        sample: str = "",
        draft: bool = False,
        stave: bool = False,
        layout: int | None = None,
    ) -> tuple[str, Desk]:
        """Return a desk for a case without a file: blank, a sample, or what was left unsaved.

        Or for a blank stave, or the bow of one of the layouts that were found last.

        Raises
        ------
        CaseError
            If there is no such sample or layout, or nothing was left.
        """
        with self.lock:
            if layout is not None:
                return self._keep(new_desk(self.folder, self._laid(layout)))
            if draft:
                found = unnamed_desk(self.folder)
                if found is None:
                    raise CaseError("nothing unsaved is left here")
                return self._keep(found)
            blank = BLANK_STAVE if stave else BLANK
            text = blank.format(unit="in" if unit == "in" else "mm")
            if sample:
                chosen = find_samples().get(sample)
                if chosen is None or chosen.beside:
                    raise CaseError(f'sample "{sample[:60]}": there is none of that name')
                text = chosen.path.read_text(encoding="utf-8").replace(f'"{ABOVE}', '"')
            return self._keep(new_desk(self.folder, text))

    def _laid(self, layout: int) -> str:
        found = self.job
        layouts = (found.result or {}).get("layouts", ()) if found and found.work == "lay" else ()
        if not 0 <= layout < len(layouts):
            raise CaseError("this layout is no longer here; lay the bow in its stave again")
        return str(layouts[layout]["case_text"])

    def _keep(self, desk: Desk) -> tuple[str, Desk]:
        if len(self.desks) >= MOST_DESKS:
            raise CaseError(f"{MOST_DESKS} cases are open; close the page and start it again")
        self._numbers += 1
        key = f"d{self._numbers}"
        self.desks[key] = desk
        return key, desk

    def desk(self, key: Any) -> Desk:
        """Return an open desk.

        Raises
        ------
        CaseError
            If it is not open, as after a new start of the page.
        """
        desk = self.desks.get(key) if isinstance(key, str) else None
        if desk is None:
            raise CaseError("this case is not open here any more; open it again")
        return desk

    def starts(self) -> dict[str, Any]:
        """Return what one may start from."""
        samples = [
            {"name": name, "title": one.title, "question": one.question}
            for name, one in find_samples().items()
            if not one.beside and one.path.parent.name != "staves"
        ]
        return {
            "folder": self.folder.path.name or str(self.folder.path),
            "first": self.first,
            "cases": self.folder.cases(),
            "samples": samples,
            "unnamed": self.folder.draft(None) is not None,
        }

    def draw(self, desk: Desk) -> dict[str, Any] | None:
        """Return the cheap draw of a case as it is now; None if a newer one was asked for.

        Raises
        ------
        ComputationError
            If it cannot be solved.
        """
        with self.lock:
            self._wanted += 1
            mine = self._wanted
            job, digest = self._asked(desk), desk.digest
        try:
            result = self.drawer.run("draw", job, lambda words: None, lambda: mine < self._wanted)
        except CancelledError:
            return None
        return {"digest": digest, **result}

    def start(self, work: Work, key: str, units: str, **asked: Any) -> Job:
        """Start a long computation on a case or stave as it is now.

        Raises
        ------
        CaseError
            If one is running.
        """
        with self.lock:
            if self.job is not None and self.job.state == "runs":
                raise CaseError("a computation is running; wait for it or cancel it first")
            desk = self.desk(key)
            self._numbers += 1
            folder = self.scratch / str(self._numbers)
            folder.mkdir()
            found = Job(
                number=self._numbers, work=work, desk=key, digest=desk.digest, folder=folder
            )
            job = {**self._asked(desk), "folder": str(folder), "units": units, **asked}
            self.job = found
        threading.Thread(target=self._run, args=(found, job), daemon=True).start()
        return found

    def _run(self, found: Job, job: Mapping[str, Any]) -> None:
        def tell(words: str) -> None:
            found.stage = words

        def show(first: Any) -> None:
            found.result = first

        try:
            found.result = self.judge.run(found.work, dict(job), tell, show=show)
            found.state = "done"
        except CancelledError:
            found.state = "cancelled"
        except ComputationError as error:
            found.words, found.state = str(error), "failed"

    def cancel(self, number: int) -> None:
        """Stop a computation; nothing happens if it is done."""
        found = self.job
        if found is not None and found.number == number and found.state == "runs":
            self.judge.cancel()

    def _asked(self, desk: Desk) -> dict[str, Any]:
        return {"text": desk.text, "path": str(desk.path)}

    def close(self) -> None:
        """End all computations; none begins any more."""
        self.drawer.close()
        self.judge.close()


def _named_by(folder: Path, first: str | None) -> frozenset[Path]:
    """Return the bow that the stave on the command line names now, wherever it lies."""
    try:
        text = (folder / (first or "")).read_text("utf-8") if first else ""
        bow = tomllib.loads(text).get("bow")
        name = bow.get("case") if isinstance(bow, dict) else None
        return frozenset({(folder / name).resolve()} if isinstance(name, str) else ())
    except (OSError, ValueError, RecursionError):
        return frozenset()  # what is wrong with it is said when it is opened


@contextlib.contextmanager
def open_room(folder: Path, first: str | None) -> Iterator[Room]:
    """Give a room for one run of the page; its processes and its scratch folder end with it."""
    try:
        scratch = Path(tempfile.mkdtemp(prefix="limbfe-sheet-"))
    except OSError as error:
        raise LimbfeError(
            f"sheet: no folder for what it computes can be made ({error.strerror or error}); name "
            "one that can be written to in TMPDIR"
        ) from None
    here = folder.resolve()
    room = Room(folder=Folder(here, _named_by(here, first)), scratch=scratch, first=first)
    try:
        yield room
    finally:
        room.close()
        shutil.rmtree(scratch, ignore_errors=True)
