"""The two kinds of file the page works on: the case of a bow, and the sheet of a stave."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from limbfe.case.columns import fill_columns
from limbfe.case.document import parse_document
from limbfe.case.load import case_of
from limbfe.case.messages import CaseText
from limbfe.case.sheet_load import fill_sheet, sheet_of
from limbfe.errors import CaseError, Fault
from limbfe.page.folder import Folder
from limbfe.page.sketch import draw_sketch
from limbfe.page.stave_sketch import draw_stave

Kind = Literal["bow", "stave"]


@dataclass(frozen=True, slots=True)
class Paper:
    """How files of one kind are read and drawn.

    Attributes
    ----------
    kind : {"bow", "stave"}
    unnamed : str
        What messages call one without a file.
    fill : callable
        Puts the columns of CSV tables into a document.
    read : callable
        Checks a text that is called by a path, in a folder of the page.
    draw : callable
        The drawing from a document, what was read of it where it is sound, and a station.
    """

    kind: Kind
    unnamed: str
    fill: Callable[[dict[str, Any], Path], tuple[CaseText, bytes]]
    read: Callable[[str, Path, Folder], Any]
    draw: Callable[[Mapping[str, Any], Any, float | None], dict[str, Any]]


def _bow(text: str, path: Path, folder: Folder) -> Any:
    return case_of(text.encode(), path)


def _stave(text: str, path: Path, folder: Folder) -> Any:
    check_wanted(text, path, folder)
    return sheet_of(text.encode(), path)


def check_wanted(text: str, path: Path, folder: Folder) -> None:
    """Refuse a stave whose wanted bow lies where the page may not read.

    Raises
    ------
    CaseError
    """
    bow = parse_document(text, str(path)).get("bow")
    name = bow.get("case") if isinstance(bow, dict) else None
    if isinstance(name, str) and not folder.may_read(name):
        words = (
            "lies outside the folder of this page; copy the bow into the folder, or start the "
            "page with this stave as `limbfe sheet` names it"
        )
        fault = Fault(loc=("bow", "case"), words=words)
        raise CaseError(f"{path}: [bow] case: {words}", faults=(fault,))


PAPERS: dict[Kind, Paper] = {
    "bow": Paper("bow", "new_bow.toml", fill_columns, _bow, draw_sketch),
    "stave": Paper("stave", "new_stave.toml", fill_sheet, _stave, draw_stave),
}


def kind_of(text: str) -> Kind:
    """Return what a text is, however broken.

    Examples
    --------
    >>> kind_of("[stave]\\nstation = [0"), kind_of("[limb.both]")
    ('stave', 'bow')
    """
    try:
        staved = "stave" in tomllib.loads(text)
    except (ValueError, RecursionError):
        staved = re.search(r"^\s*\[stave\]", text, re.MULTILINE) is not None
    return "stave" if staved else "bow"
