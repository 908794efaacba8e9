"""The files a command is asked to write, looked at before anything is computed."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from limbfe.errors import CaseError

ENDINGS: dict[str, tuple[str, ...]] = {
    "png": (".png", ".pdf", ".svg"),
    "page": (".html", ".htm"),
    "movie": (),
    "csv": (),
    "keep": (),
}
"""Options that name a file, and the endings it may have; any where there are none."""


def check_outputs(options: argparse.Namespace) -> None:
    """Refuse a file that cannot be written, before a minute is spent on what would be in it.

    Raises
    ------
    CaseError
        If the ending is not one the option can write, the folder is missing or closed, or the
        name is that of a folder.
    """
    for name, endings in ENDINGS.items():
        path = getattr(options, name, None)
        if path is not None:
            _check(f"--{name} {path}", path, endings)


def _check(where: str, path: Path, endings: tuple[str, ...]) -> None:
    if path.is_dir():
        raise CaseError(f"{where}: is a folder; give the name of a file in it")
    if path.exists() and not path.is_file():
        raise CaseError(f"{where}: is no ordinary file and cannot be replaced; give another name")
    if endings and path.suffix.lower() not in endings:
        found = f'ends in "{path.suffix}"' if path.suffix else "has no ending"
        raise CaseError(f"{where}: {found}; name it {' or '.join(endings)}")
    if not path.parent.is_dir():
        raise CaseError(f'{where}: there is no folder "{path.parent}"; make it first')
    if not os.access(path.parent, os.W_OK):
        raise CaseError(f'{where}: nothing can be written into "{path.parent}"; choose another')
