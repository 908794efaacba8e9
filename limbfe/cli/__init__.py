"""Command line: arguments in, exit code out.

Nothing heavy is imported until a command runs, so that ``limbfe --help`` answers at once.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
import threading
from _thread import interrupt_main
from collections.abc import Sequence
from io import TextIOWrapper

from limbfe.errors import ConvergenceError, LimbfeError
from limbfe.version import __version__

EXIT_BAD_INPUT = 2
EXIT_NO_EQUILIBRIUM = 3
EXIT_INTERRUPTED = 130
EXIT_ENDED = 143
SHORTLY = 0.02
"""Seconds in which a destructor or a callback should have returned."""


def command() -> int:
    """Run the command of this process, as `main` does.

    Loading the libraries makes hundreds of thousands of objects that stay.  Looking through them
    for garbage, again and again and once more at the end, would take a sixth of a draw's time.
    As much go into threads of a BLAS, one set in NumPy and one in SciPy, that wait for work: no
    matrix here is large enough to share.
    """
    _forget_current_folder()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # looks through every package
    os.environ.pop("MPLBACKEND", None)  # pictures go into files; a word it does not know ends it
    signal.signal(signal.SIGTERM, _end)
    sys.unraisablehook = _end_later
    gc.set_threshold(250_000, 50, 50)
    code = main()
    gc.freeze()
    return code


def _end(number: int, _: object) -> None:
    """Be told to end, and clean up as after Ctrl-C."""
    signal.signal(number, signal.SIG_IGN)  # once is enough: cleaning up is not to be stopped
    raise Ended


def _end_later(dropped: sys.UnraisableHookArgs) -> None:
    """Have the wish to end told again that came where Python drops every exception.

    Such places are destructors and what C code calls back, of which compiling has thousands.
    """
    if not issubclass(dropped.exc_type, KeyboardInterrupt):
        sys.__unraisablehook__(dropped)
        return
    number = signal.SIGINT
    if issubclass(dropped.exc_type, Ended):
        number = signal.SIGTERM
        signal.signal(number, _end)
    threading.Timer(SHORTLY, _tell, [number]).start()


def _tell(number: signal.Signals) -> None:
    if os.name == "posix":
        os.kill(os.getpid(), number)  # which wakes what sleeps or waits, too
    else:
        interrupt_main(number)


class Ended(KeyboardInterrupt):
    """The process was told to end."""


def _forget_current_folder() -> None:
    """Stop looking for modules in the current folder: a folder of cases may hold a ``struct.py``.

    ``python -m`` puts it first, a stray colon in PYTHONPATH anywhere.  Only this package and what
    is installed beside the interpreter may lie there.
    """
    here, package = (os.path.realpath(place) for place in (os.curdir, os.path.dirname(__file__)))
    ours = os.path.dirname(os.path.dirname(package))
    if here != ours and not here.startswith((sys.prefix, sys.base_prefix)):
        sys.path[:] = [place for place in sys.path if os.path.realpath(place) != here]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0, 2 for bad input, 3 for a failed solve."""
    if isinstance(sys.stdout, TextIOWrapper):
        # A title or a file's name may hold letters that this terminal cannot write.
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        _run(arguments)
        return 0
    except ConvergenceError as error:
        return _refuse(str(error), EXIT_NO_EQUILIBRIUM)
    except LimbfeError as error:
        return _refuse(str(error), EXIT_BAD_INPUT)
    except MemoryError:
        return _refuse(
            "takes more memory than there is; close other programs, or give fewer steps or a "
            "smaller fineness in [analysis]",
            EXIT_BAD_INPUT,
        )
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except OSError as error:
        place = error.filename2 or error.filename
        where = f"{place}: " if place else ""
        return _refuse(f"{where}{error.strerror or error}", EXIT_BAD_INPUT)
    except Ended:
        return _refuse("told to end; nothing was left half-written", EXIT_ENDED)
    except KeyboardInterrupt:
        return _refuse("stopped; nothing was left half-written", EXIT_INTERRUPTED)


def _run(arguments: Sequence[str] | None) -> None:
    from limbfe.cli.arguments import parse
    from limbfe.cli.inputs import check_inputs
    from limbfe.cli.outputs import check_outputs
    from limbfe.cli.parser import build_parser
    from limbfe.cli.reader_units import settle_units
    from limbfe.memory import allow_large
    from limbfe.units.parse import examples_in

    parser = build_parser()
    options = parse(parser, arguments)
    if options.version:
        print(__version__)
    elif options.command is None:
        parser.print_help()
    else:
        check_outputs(options)
        check_inputs(options)
        with allow_large(yes=getattr(options, "allow_large", False)):
            settle_units(options)
            with examples_in(getattr(options, "units", None) or "metric"):
                options.run(options)


def _refuse(message: str, code: int) -> int:
    """Say on one line why there is no result; what would steer a terminal is spelt out."""
    line = "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in message)
    print(_within_the_screen(f"limbfe: {line}"), file=sys.stderr)
    return code


def _within_the_screen(line: str) -> str:
    """Return a line broken between words where somebody reads it on a terminal."""
    if not sys.stderr.isatty():
        return line
    import shutil
    import textwrap

    width = shutil.get_terminal_size().columns
    return textwrap.fill(line, width, break_long_words=False, break_on_hyphens=False)
