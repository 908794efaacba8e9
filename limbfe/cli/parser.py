"""What the commands accept."""

from __future__ import annotations

import argparse
from pathlib import Path

EPILOG = """\
A bow that breaks hurts people: every figure is an estimate.  Wear eye protection, keep
everyone out of line, never dry-fire, and never draw past what the bow has been exercised to.
"""


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    parser = argparse.ArgumentParser(
        prog="limbfe",
        description="Compute how a wooden bow limb bends, where it is worked hardest and "
        "what its knots and decay will do.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="store_true", help="print the version and stop")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    _add_assess(commands)
    _add_draw(commands)
    _add_defect(commands)
    _add_pull(commands)
    _add_show(commands)
    _add_section(commands)
    _add_woods(commands)
    return parser


def _add_command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser], name: str, text: str
) -> argparse.ArgumentParser:
    return commands.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")


def _add_tables(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print one JSON object, nothing else")
    parser.add_argument(
        "--units",
        choices=("metric", "imperial"),
        default="metric",
        help="units of the tables (default: metric)",
    )


def _add_assess(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _add_command(commands, "assess", "brace and draw the bow and judge every part of it")
    parser.add_argument("case", nargs="+", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument(
        "--out", type=Path, metavar="DIR", help="also write results.json, limb.vtu and pictures"
    )
    parser.add_argument("--no-pictures", action="store_true", help="with --out: leave them out")
    _add_tables(parser)


def _add_draw(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _add_command(commands, "draw", "brace and draw the bow: forces, energy, shape")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    _add_tables(parser)


def _add_defect(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _add_command(commands, "defect", "look at one knot or patch and the wood around it")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument("name", metavar="NAME", help="its name in the case file")
    parser.add_argument("--png", type=Path, metavar="FILE", help="write its picture")
    _add_tables(parser)


def _add_pull(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _add_command(commands, "pull", "pull the unbraced bow on a long string, on a cradle")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument(
        "--string-length",
        required=True,
        metavar="LENGTH",
        help='between the nocks, such as "1.9 m"',
    )
    parser.add_argument("--force", metavar="FORCE", help='pull to this force, such as "60 lbf"')
    parser.add_argument(
        "--tip-movement", metavar="LENGTH", help='or until the tips have moved, such as "120 mm"'
    )
    _add_tables(parser)


def _add_show(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _add_command(commands, "show", "look at the bow unstrung, braced and drawn")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument("--png", type=Path, metavar="FILE", help="write a picture, no window")
    parser.add_argument(
        "--page", type=Path, metavar="FILE", help="write a page in which the bow can be turned"
    )
    parser.add_argument(
        "--movie", type=Path, metavar="FILE", help="write the draw as a film (.gif or .mp4)"
    )
    parser.add_argument(
        "--first-strain",
        metavar="STRAIN",
        help='write first_strain.png: where the back first passes a strain such as "0.3%%"',
    )
    parser.add_argument(
        "--colour",
        choices=("strength-used", "strain", "stress", "sapwood"),
        default="strength-used",
        help="what the colour of the limb means (default: strength-used)",
    )


def _add_section(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _add_command(commands, "section", "look at one cross-section: stiffness and centres")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument(
        "--at", required=True, metavar="LENGTH", help='station from the grip, such as "310 mm"'
    )
    parser.add_argument("--limb", choices=("upper", "lower"), default="upper")
    parser.add_argument("--png", type=Path, metavar="FILE", help="write its picture")
    _add_tables(parser)


def _add_woods(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _add_command(commands, "woods", "list the built-in woods with their sources")
    parser.add_argument("species", nargs="?", help="one wood in full")
