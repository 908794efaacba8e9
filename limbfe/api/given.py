"""What the Python functions take: a case or its path, and values as numbers or as text."""

from __future__ import annotations

from collections.abc import Iterable
from os import PathLike
from typing import TypeAlias

from limbfe.analysis.bow.setup import BowSetup
from limbfe.case.schema import Case
from limbfe.errors import CaseError

File: TypeAlias = "str | PathLike[str]"
Value: TypeAlias = "float | str"
"""A number in SI, or text with its unit such as ``"45 lbf"``."""
Values: TypeAlias = "str | float | Iterable[float]"
"""Numbers in SI, or a range as text such as ``"4:20:4 mm"``."""


def as_case(case: Case | File) -> Case:
    """Return the case itself, read where a path is given."""
    from limbfe.case.load import read_case

    return read_case(case) if isinstance(case, (str, PathLike)) else case


def as_setup(case: Case | File | BowSetup) -> BowSetup:
    """Return what is strung, held, drawn and analysed."""
    if isinstance(case, BowSetup):
        return case
    from limbfe.case.build import build_setup

    return build_setup(as_case(case))


def worker_count(count: int | None) -> int | None:
    """Return a number of processes, None for one a core.

    Raises
    ------
    CaseError
        If it is none.
    """
    if count is not None and count < 1:
        raise CaseError(f"workers {count}: must be at least 1")
    return count
