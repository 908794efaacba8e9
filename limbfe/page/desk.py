"""One case or stave on the page: its text, the way back, its faults, and how it is saved.

However many tabs show it there is one desk for it, and every change names the version it was made
to: two tabs cannot undo each other's work unseen.
"""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from limbfe.case.document import LARGEST_FILE, parse_document
from limbfe.case.schema import Case
from limbfe.errors import CaseError, Fault, LimbfeError
from limbfe.page.edit import Document, Edit, apply_edit, parse_text
from limbfe.page.folder import Draft, Folder, digest_of
from limbfe.page.papers import PAPERS, Paper, kind_of

MOST_STEPS = 500
"""Changes that can be taken back."""
TOGETHER = 1.5
"""Seconds within which changes of one place count as one."""
DEEPEST_RAW = 12


class StaleError(LimbfeError):
    """A change was made to a version of the case that is no longer the last."""


class ChangedMeanwhileError(LimbfeError):
    """The file on the disk is not the one that was opened."""


@dataclass(slots=True)
class Desk:
    """A case or stave while it is worked on.

    Attributes
    ----------
    folder : Folder
    name : str or None
        Of its file in the folder; None until it is saved for the first time.
    text : str
    saved : str
        The text as it is on the disk.
    base : str or None
        Digest of the file that `saved` came from.
    version : int
        Grows with every change.
    restored : bool
        Whether it began with a draft.
    not_kept : str
        Why the last change is in no draft.
    """

    folder: Folder
    name: str | None
    text: str
    saved: str
    base: str | None
    version: int = 1
    restored: bool = False
    not_kept: str = ""
    _past: list[str] = None  # type: ignore[assignment]
    _future: list[str] = None  # type: ignore[assignment]
    _mark: tuple[str, float] = ("", 0.0)
    _document: Document | None = None
    paper: Paper = PAPERS["bow"]

    def __post_init__(self) -> None:
        self._past, self._future = [], []
        self.paper = PAPERS[kind_of(self.text)]

    @property
    def path(self) -> Path:
        """What messages call the case, and where its tables lie."""
        return self.folder.path / (self.name or self.paper.unnamed)

    @property
    def digest(self) -> str:
        """What tells one text from another, for results that are of one of them."""
        return digest_of(self.text.encode())

    def change(self, version: int, edits: Sequence[Edit], mark: str) -> None:
        """Make changes, all or none.

        Parameters
        ----------
        version : int
            The version they were made to.
        edits : sequence of mapping
            As `limbfe.page.edit.apply_edit` takes them.
        mark : str
            Place of the change: those of one place that follow each other are taken back as one.

        Raises
        ------
        StaleError
            If the case was changed meanwhile.
        CaseError
            If they do not fit the case.
        """
        self._check(version)
        document = self._document or parse_text(self.text)
        if document is None:
            raise CaseError("the text cannot be read as TOML; mend it there first")
        self._document = None  # until all have been made
        for edit in edits:
            apply_edit(document, edit)
        self._become(document.as_string(), mark)
        self._document = document

    def replace(self, version: int, text: str, mark: str) -> None:
        """Put another text in the place of the whole.

        Raises
        ------
        StaleError
            If the case was changed meanwhile.
        CaseError
            If it is too long.
        """
        self._check(version)
        if len(text.encode("utf-8", "replace")) > LARGEST_FILE:
            raise CaseError(f"a case is at most {LARGEST_FILE // 1024} kB; shorten it")
        self._document = None
        self._become(text.replace("\r\n", "\n"), mark)

    def undo(self, version: int) -> None:
        """Take the last change back."""
        self._check(version)
        if self._past:
            self._future.append(self.text)
            self._settle(self._past.pop())

    def redo(self, version: int) -> None:
        """Make the change again that was taken back."""
        self._check(version)
        if self._future:
            self._past.append(self.text)
            self._settle(self._future.pop())

    def save(self, version: int, name: str | None = None, *, over: bool = False) -> None:
        """Write the case into its file.

        Parameters
        ----------
        version : int
        name : str, optional
            Of the file; the one it has when left out.
        over : bool
            Also if another file of that name is there, or was changed since it was opened.

        Raises
        ------
        ChangedMeanwhileError
            If it would overwrite what this case did not come from.
        LimbfeError
            If it cannot be written.
        """
        self._check(version)
        target = self.folder.place(name or self.name or "").name
        there = self.folder.digest(target)
        expected = self.base if target == self.name else None
        if there != expected and not over:
            if target != self.name:
                raise ChangedMeanwhileError(f"there is a file {target} already")
            gone = "was deleted" if there is None else "was changed by another program"
            raise ChangedMeanwhileError(f"{target} {gone} since it was opened here")
        base = self.folder.write(target, self.text)
        self.folder.drop_draft(self.name)
        self.folder.drop_draft(target)
        self.name, self.base, self.saved, self.restored = target, base, self.text, False
        self.version += 1

    def throw_away(self, version: int) -> None:
        """Go back to what is on the disk; the way back stays open."""
        self._check(version)
        if self.name is not None and self.folder.digest(self.name) is not None:
            self.saved, self.base = self.folder.read(self.name)
        self._document = None
        self._become(self.saved, "")
        self.folder.drop_draft(self.name)
        self.restored = False

    def case(self) -> Case:
        """Return the case as the reader has it.

        Raises
        ------
        CaseError
            If something is wrong with it, or it is none but a stave.
        """
        if self.paper.kind != "bow":
            raise CaseError("this is a stave; the bow in it is found first")
        found: Case = self.read()
        return found

    def read(self) -> Any:
        """Return the case or the stave as its reader has it.

        Raises
        ------
        CaseError
            If something is wrong with it.
        """
        return self.paper.read(self.text, self.path, self.folder)

    def look(self, at: float | None = None) -> dict[str, Any]:
        """Return all that the page shows of the case.

        Parameters
        ----------
        at : float or None, m
            Station of the section.

        Returns
        -------
        dict
            ``"kind"`` is "bow" or "stave", ``"raw"`` the file as TOML has it, ``"faults"`` what
            the reader says of it by place, ``"message"`` the same in its one line, ``"beside"``
            the columns that stand in a file of their own, ``"drawing"`` as its paper draws it.
        """
        raw, beside, case, error = self._read()
        return {
            "name": self.name,
            "kind": self.paper.kind,
            "version": self.version,
            "digest": self.digest,
            "text": self.text,
            "raw": None if raw is None else _plain(raw),
            "beside": beside,
            "faults": [_told(fault) for fault in (() if error is None else _faults(error))],
            "message": "" if error is None else str(error).removeprefix(f"{self.path}: "),
            "sound": error is None,
            "drawing": self.paper.draw(raw or {}, case, at),
            "undo": bool(self._past),
            "redo": bool(self._future),
            "unsaved": self.name is None or self.text != self.saved,
            "restored": self.restored,
            "not_kept": self.not_kept,
        }

    def _read(
        self,
    ) -> tuple[Mapping[str, Any] | None, dict[str, list[str]], Any, CaseError | None]:
        name = str(self.path)
        try:
            raw: Mapping[str, Any] = parse_document(self.text, name)
        except CaseError as error:
            return None, {}, None, error
        beside: dict[str, list[str]] = {}
        try:
            filled, _ = self.paper.fill(dict(raw), self.path)
            for side, column in filled.columns_from:
                beside.setdefault(side, []).append(column)
            raw = filled.raw
        except CaseError:
            pass  # the reader says it below
        try:
            return raw, beside, self.read(), None
        except CaseError as error:
            return raw, beside, None, error

    def _check(self, version: int) -> None:
        if version != self.version:
            raise StaleError(
                "this case was changed in another tab meanwhile; what you see now is how it is "
                "there, and your last change was not made"
            )

    def _become(self, text: str, mark: str) -> None:
        now = time.monotonic()
        same = mark and self._mark[0] == mark and now - self._mark[1] < TOGETHER
        if text != self.text and not (same and self._past):
            self._past = [*self._past[-MOST_STEPS:], self.text]
        if text != self.text:
            self._future = []
        self._settle(text, document=self._document, mark=(mark, now))

    def _settle(
        self, text: str, document: Document | None = None, mark: tuple[str, float] = ("", 0.0)
    ) -> None:
        self.text, self._document, self._mark = text, document, mark
        self.version += 1
        self.not_kept = ""
        try:
            if text == self.saved and self.name is not None:
                self.folder.drop_draft(self.name)
            else:
                self.folder.keep_draft(self.name, Draft(text, self.base))
        except (LimbfeError, OSError) as error:
            self.not_kept = f"no draft can be kept: {error}"  # told, and typing goes on


def open_desk(folder: Folder, name: str) -> Desk:
    """Return a case of the folder on a desk of its own, with what was not saved the last time.

    Raises
    ------
    CaseError
        If there is no such case.
    """
    text, base = folder.read(name)
    name = folder.place(name).name
    desk = Desk(folder=folder, name=name, text=text, saved=text, base=base)
    draft = folder.draft(name)
    if draft is not None and draft.text != text:
        # made from the file as it was then: saving asks if that is no longer so
        desk.text, desk.base, desk.restored = draft.text, draft.base, True
    return desk


def new_desk(folder: Folder, text: str) -> Desk:
    """Return a case that has no file yet."""
    return Desk(folder=folder, name=None, text=text, saved="", base=None)


def unnamed_desk(folder: Folder) -> Desk | None:
    """Return the case without a file that was not saved the last time, if there is one."""
    draft = folder.draft(None)
    if draft is None:
        return None
    desk = new_desk(folder, draft.text)
    desk.restored = True
    return desk


def _faults(error: CaseError) -> Sequence[Fault]:
    return error.faults or (Fault(words=str(error)),)


def _told(fault: Fault) -> dict[str, Any]:
    return {
        "loc": list(fault.loc),
        "words": fault.words,
        "missing": fault.missing,
        "line": fault.line,
    }


def _plain(value: Any, depth: int = 0) -> Any:
    """Return a document as JSON can carry it: what JSON has no word for as its text."""
    if depth > DEEPEST_RAW:
        return "..."
    if isinstance(value, Mapping):
        return {str(key): _plain(part, depth + 1) for key, part in value.items()}
    if isinstance(value, list):
        return [_plain(part, depth + 1) for part in value]
    if isinstance(value, bool | str):
        return value
    if isinstance(value, int) and abs(value) < 2**53:
        return value
    if isinstance(value, float) and math.isfinite(value):
        return value
    return str(value)
