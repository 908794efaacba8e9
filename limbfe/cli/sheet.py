"""Command ``sheet``: the bow, or its stave, as a page in the browser."""

from __future__ import annotations

import argparse
from importlib.util import find_spec
from pathlib import Path

from limbfe.cli.common import Commands, add_command
from limbfe.errors import CaseError

NEEDED = ("starlette", "uvicorn")


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(
        commands, "sheet", "open a page in the browser to enter, see and judge a bow"
    )
    parser.add_argument(
        "case",
        nargs="?",
        type=Path,
        metavar="CASE",
        help="case file or stave sheet (TOML), or the folder whose files the page shows "
        "(default: this one)",
    )
    parser.add_argument(
        "--port", type=int, default=0, metavar="N", help="of the address (default: any free one)"
    )
    parser.add_argument(
        "--no-browser", action="store_true", help="only print the address, open nothing"
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Serve the page until Ctrl-C."""
    lacking = [name for name in NEEDED if find_spec(name) is None]
    if lacking:
        raise CaseError(
            f"sheet: needs {' and '.join(lacking)}; install them with `pip install 'limbfe[sheet]'`"
        )
    folder, first = _place(options.case)
    from limbfe.page.serve import serve_page

    try:
        serve_page(folder, first, port=options.port, browser=not options.no_browser, say=_say)
    except KeyboardInterrupt:
        print("closed")  # the way in which it is meant to end


def _say(address: str) -> None:
    print(f"The page is at  {address}\nCtrl-C closes it.", flush=True)


def _place(case: Path | None) -> tuple[Path, str | None]:
    """Return the folder of the page and the case it opens with."""
    if case is None:
        return Path(), None
    if case.is_dir():
        return case, None
    if not case.is_file():
        from limbfe.case.document import read_bytes

        read_bytes(case, str(case))  # says what is wrong with it
    return case.parent, case.name
