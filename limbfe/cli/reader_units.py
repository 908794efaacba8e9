"""The units a reader is answered in: those the case is written in, unless the command says."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from limbfe.errors import CaseError
from limbfe.units.show import UnitName

FILES = ("case", "cases", "stave")
"""Options that name the files a command reads its bow from."""

_INCHES = re.compile(r"(^|[\d\s])(in|inch|inches|ft|feet|foot|['\"\u2032\u2033])\s*$")
_MILLIMETRES = re.compile(r"(^|[\d\s])(mm|cm|m)\s*$")


def settle_units(options: argparse.Namespace) -> None:
    """Put the units of the case where the command line names none; metric without a case."""
    if getattr(options, "units", "") is not None:
        return
    named: Any = next((files for name in FILES if (files := getattr(options, name, None))), [])
    options.units = written_in([named] if isinstance(named, Path) else named)


def written_in(paths: list[Path]) -> UnitName:
    """Return "imperial" where most lengths of these files are in inches or feet.

    A table that names its ``unit`` counts with every number in it.  What cannot be read counts
    for nothing: whoever reads the case says what is wrong with it.
    """
    from limbfe.case.document import decode, parse_document, read_bytes

    inches = millimetres = 0
    for path in paths:
        try:
            document = parse_document(decode(read_bytes(path, path.name), path.name), path.name)
        except CaseError:
            continue
        for text, count in _lengths(document):
            inches += count * bool(_INCHES.search(text))
            millimetres += count * bool(_MILLIMETRES.search(text))
    return "imperial" if inches > millimetres else "metric"


def _lengths(part: Any) -> Iterator[tuple[str, int]]:
    """Yield the texts that may be lengths, a table's ``unit`` as often as the table has numbers."""
    if isinstance(part, str):
        yield part, 1
    elif isinstance(part, list):
        for one in part:
            yield from _lengths(one)
    elif isinstance(part, dict):
        for key, one in part.items():
            if key == "unit":
                yield str(one), _numbers(part)
            elif key not in ("title", "question"):
                yield from _lengths(one)


def _numbers(part: Any) -> int:
    if isinstance(part, dict | list):
        return sum(map(_numbers, part.values() if isinstance(part, dict) else part))
    return 1
