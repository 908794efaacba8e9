"""The file a command reads its bow from, looked at before anything heavy is loaded."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from limbfe.cli.reader_units import FILES


def check_inputs(options: argparse.Namespace) -> None:
    """Refuse a file that is not there, or is no TOML, at once: machine code takes a second to load.

    Several files are left to their command, which may tell what becomes of the others.

    Raises
    ------
    CaseError
        As reading the case would.
    """
    from limbfe.case.document import decode, parse_document, read_bytes

    for name in FILES:
        path: Any = getattr(options, name, None)
        if isinstance(path, Path):
            parse_document(decode(read_bytes(path, str(path)), str(path)), str(path))
