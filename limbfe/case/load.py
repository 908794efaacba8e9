"""From a path to a checked case; every way a file can be wrong ends in one `CaseError`."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from os import PathLike
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from limbfe.case.build import bare_stave, build_setup
from limbfe.case.checks import file_problems
from limbfe.case.columns import fill_columns
from limbfe.case.document import decode, parse_document, read_bytes
from limbfe.case.explain import explain
from limbfe.case.messages import CaseText, Problem, refuse
from limbfe.case.schema import Case, CaseFile
from limbfe.case.taper_checks import taper_problems, taper_words, with_stations
from limbfe.case.zone_checks import meeting_problems, zone_problems
from limbfe.errors import CaseError

File = TypeVar("File", bound=BaseModel)
Fill = Callable[[dict[str, Any], Path], tuple[CaseText, bytes]]


def read_case(path: str | PathLike[str]) -> Case:
    """Read and check a case file and the tables beside it.

    Parameters
    ----------
    path : path-like
        A TOML file in UTF-8.

    Raises
    ------
    CaseError
        Naming the file, the key, the value, what is allowed and what to do.
    """
    path = Path(path)
    return case_of(read_bytes(path, str(path)), path)


def case_of(content: bytes, path: Path) -> Case:
    """Check a case whose text is not, or not yet, that of the file it is called by.

    Parameters
    ----------
    content : bytes
        TOML in UTF-8.
    path : Path
        What messages call it; tables that it names lie in its folder.

    Raises
    ------
    CaseError
        As `read_case`.
    """
    file, text, digest = parse_file(content, path, CaseFile, fill_columns)
    refuse(text, taper_problems(file))
    file = with_stations(file)
    refuse(text, _in_words_of(file, file_problems(file)))
    case = Case(path=path, digest=digest, file=file)
    refuse(text, _in_words_of(file, zone_problems(file, bare_stave(case))))
    refuse(text, meeting_problems(build_setup(case).stave))
    return case


def parse_file(
    content: bytes, path: Path, model: type[File], fill: Fill
) -> tuple[File, CaseText, str]:
    """Return a file as its tables, what the user wrote, and a digest of it and its columns."""
    document = parse_document(decode(content, str(path)), str(path))
    _refuse_other_kind(document, path, model)
    text, tables = fill(document, path)
    try:
        file = model.model_validate(text.raw)
    except ValidationError as error:
        raise explain(error, text, model) from None
    return file, text, hashlib.sha256(content + tables).hexdigest()


def _refuse_other_kind(document: dict[str, Any], path: Path, model: type[BaseModel]) -> None:
    """Refuse a stave sheet given as a case, and a case given as a stave sheet, in one sentence."""
    if model is CaseFile and "stave" in document and "limb" not in document:
        raise CaseError(
            f"{path}: is a stave sheet, not the case of a bow: limbfe lay finds the bow in it, and "
            "writes the case as laid.toml"
        )
    if model is not CaseFile and "stave" not in document and "limb" in document:
        raise CaseError(
            f"{path}: is the case of a bow, not a stave sheet: measure the stave into a sheet "
            "(limbfe sample elm_pole writes one to start from) and name this case in its [bow]"
        )


def _in_words_of(file: CaseFile, problems: Iterator[Problem]) -> Iterator[Problem]:
    """Yield problems in terms of what the file says: of its taper, where it has one."""
    if file.taper is None:
        yield from problems
    else:
        yield from (taper_words(problem, file) for problem in problems)
