"""Command line: arguments in, exit code out.

Nothing heavy is imported until a command runs, so that ``limbfe --help`` answers at once.
"""

from __future__ import annotations

import gc
import sys
from collections.abc import Sequence

from limbfe.errors import ConvergenceError, LimbfeError
from limbfe.version import __version__

EXIT_BAD_INPUT = 2
EXIT_NO_EQUILIBRIUM = 3
EXIT_INTERRUPTED = 130


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0, 2 for bad input, 3 for a failed solve."""
    from limbfe.cli.outputs import check_outputs
    from limbfe.cli.parser import build_parser

    # Loading the libraries makes hundreds of thousands of objects that stay: looking through them
    # for garbage again and again would take a twentieth of a short command's time.
    gc.set_threshold(100_000, 50, 50)
    parser = build_parser()
    options = parser.parse_args(arguments)
    if options.version:
        print(__version__)
        return 0
    if options.command is None:
        parser.print_help()
        return 0
    try:
        check_outputs(options)
        options.run(options)
        return 0
    except ConvergenceError as error:
        print(f"limbfe: {error}", file=sys.stderr)
        return EXIT_NO_EQUILIBRIUM
    except LimbfeError as error:
        print(f"limbfe: {error}", file=sys.stderr)
        return EXIT_BAD_INPUT
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        print(f"limbfe: {where}{error.strerror or error}", file=sys.stderr)
        return EXIT_BAD_INPUT
    except KeyboardInterrupt:
        print("limbfe: stopped; nothing was left half-written", file=sys.stderr)
        return EXIT_INTERRUPTED
