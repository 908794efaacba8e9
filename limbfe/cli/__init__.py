"""Command line: arguments in, exit code out.

Nothing heavy is imported until a command runs, so that ``limbfe --help`` answers at once.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from limbfe.cli.parser import build_parser
from limbfe.errors import ConvergenceError, LimbfeError

EXIT_BAD_INPUT = 2
EXIT_NO_EQUILIBRIUM = 3
EXIT_INTERRUPTED = 130


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0, 2 for bad input, 3 for a failed solve."""
    options = build_parser().parse_args(arguments)
    from limbfe.cli import commands

    try:
        return commands.run(options)
    except ConvergenceError as error:
        print(f"limbfe: {error}", file=sys.stderr)
        return EXIT_NO_EQUILIBRIUM
    except LimbfeError as error:
        print(f"limbfe: {error}", file=sys.stderr)
        return EXIT_BAD_INPUT
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except KeyboardInterrupt:
        print("limbfe: stopped; nothing was left half-written", file=sys.stderr)
        return EXIT_INTERRUPTED
