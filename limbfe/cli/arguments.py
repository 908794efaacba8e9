"""A parser of the command line whose complaints are one line each."""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NoReturn

from limbfe.errors import CaseError

_WORDS: tuple[tuple[str, str], ...] = (
    (r"the following arguments are required: (.+)", r"\1: missing"),
    (r"argument (\S+): expected one argument", r"\1: needs a value after it"),
    (r"argument (\S+): invalid int value: '(.*)'", r'\1 "\2": must be a whole number'),
    (r"argument (\S+): not allowed with argument (\S+)", r"\1: does not go with \2; keep one"),
    (r"argument (\S+): ignored explicit argument '(.*)'", r'\1 "\2": takes no value'),
    (r"ambiguous option: (\S+) could match (.+)", r"\1: may be \2; write it in full"),
    (r"argument (.+)", r"\1"),
)
"""What argparse says, and how we say it; what it may say otherwise is passed on as it is."""

_CHOICE = re.compile(r"argument (\S+): invalid choice: (.+) \(choose from (.+)\)")


class Parser(argparse.ArgumentParser):
    """A parser that raises `CaseError` instead of printing its usage."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.register("type", Path, _path)

    def error(self, message: str) -> NoReturn:
        """Refuse the command line for what argparse found in it."""
        raise CaseError(f'{self.whose}{_reworded(message)}; see "{self.prog} --help"')

    @property
    def whose(self) -> str:
        """The command this parser belongs to, as it stands before a message."""
        command = self.prog.partition(" ")[2]
        return f"{command}: " if command else ""


def parse(parser: Parser, arguments: Sequence[str] | None) -> argparse.Namespace:
    """Return the options of a command line.

    Raises
    ------
    CaseError
        Naming the word that does not fit, what is allowed and where to look.
    """
    options, unknown = parser.parse_known_args(arguments)
    if unknown:
        own: Parser = getattr(options, "parser", parser)
        own.error(_unknown(unknown[0], own))
    return options


def _unknown(word: str, parser: Parser) -> str:
    """Return why a word is one too many."""
    if not word.startswith("-"):
        return f'"{word}": one word too many'
    name = word.partition("=")[0]
    options = [*re.findall(r"--[a-z][\w-]*", parser.format_usage()), "--help"]
    return f'"{name}": no such option{_meant(name, options)}'


def _path(text: str) -> Path:
    """Return a file or folder that has a name: an empty one would mean the folder one is in."""
    if not text.strip():
        raise argparse.ArgumentTypeError("is empty; give the name of a file or folder")
    return Path(text)


def _reworded(message: str) -> str:
    choice = _CHOICE.fullmatch(message)
    if choice is not None:
        option, value = choice[1], choice[2].strip("'\"")
        known = [name.strip().strip("'") for name in choice[3].split(",")]
        if option == "COMMAND":
            return f'"{value}": no such command{_meant(value, known)}'
        return f'{option} "{value}": must be {", ".join(known[:-1])} or {known[-1]}'
    for pattern, words in _WORDS:
        found = re.fullmatch(pattern, message)
        if found is not None:
            return found.expand(words)
    return message


def _meant(word: str, known: Sequence[Any]) -> str:
    from limbfe.case.messages import nearest

    close = nearest(word, known)
    return f'; did you mean "{close}"?' if close else ""
