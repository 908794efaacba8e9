"""The file in which a study keeps its results while it runs."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from limbfe.errors import CaseError
from limbfe.version import __version__


@dataclass(frozen=True, slots=True, kw_only=True)
class Journal:
    """Results by name, kept as JSON lines.

    Every line is written by one call in append mode, so a study that is killed loses at most the
    line it was writing, and two studies that share a file never mix their lines.  A line that was
    cut short is passed over when the file is read.

    Attributes
    ----------
    path : Path or None
        None keeps nothing on disk.
    results : dict
    """

    path: Path | None
    results: dict[str, dict[str, Any]] = field(default_factory=dict)

    @classmethod
    def nowhere(cls) -> Journal:
        """Return a journal without a file."""
        return cls(path=None)

    @classmethod
    def open(cls, path: Path, study: str) -> Journal:
        """Open a file of results, or begin one.

        Parameters
        ----------
        path : Path
        study : str
            What the results depend on; its digest and the version stand in the first line.

        Raises
        ------
        CaseError
            If the file belongs to another study or version, or cannot be read or written.
        """
        head = {"study": hashlib.sha256(study.encode()).hexdigest(), "version": __version__}
        journal = cls(path=path)
        try:
            if path.exists() and not path.is_file():
                raise CaseError(f"{path}: cannot keep results there: it is no ordinary file")
            if path.exists() and path.stat().st_size:
                _read(path, head, journal.results)
                _append(path, "")
            else:
                path.parent.mkdir(parents=True, exist_ok=True)
                _append(path, json.dumps(head))
        except OSError as error:
            raise CaseError(
                f"{path}: cannot keep results there ({error.strerror}); give a folder you may "
                "write to"
            ) from error
        return journal

    def add(self, name: str, result: dict[str, Any]) -> dict[str, Any]:
        """Keep one result and return it."""
        self.results[name] = result
        if self.path is not None:
            _append(self.path, json.dumps({"name": name, "result": result}))
        return result


def _read(path: Path, head: dict[str, str], results: dict[str, dict[str, Any]]) -> None:
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    if _parsed(lines[0]) != head:
        raise CaseError(
            f"{path}: holds the results of another study, another case or another version; "
            "move it away or give another folder"
        )
    for line in lines[1:]:
        entry = _parsed(line)
        name, result = (entry or {}).get("name"), (entry or {}).get("result")
        if isinstance(name, str) and isinstance(result, dict):
            results[name] = result


def _parsed(line: str) -> dict[str, Any] | None:
    """Return one line's object; None for a line that was cut short or is of something else."""
    try:
        entry = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return entry if isinstance(entry, dict) else None


def _append(path: Path, line: str) -> None:
    descriptor = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
    try:
        os.write(descriptor, f"{line}\n".encode())
    finally:
        os.close(descriptor)
