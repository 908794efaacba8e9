"""Numbers as people write them: decimals, fractions, whole numbers with a fraction."""

from __future__ import annotations

import math
import re
import unicodedata

DECIMAL = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
NUMBER = (
    r"(?:(?P<whole>[+-]?[0-9]+)(?:\s+|-))?"
    rf"(?:(?P<top>[+-]?[0-9]+)\s*/\s*(?P<bottom>[0-9]+)|(?P<number>{DECIMAL}))"
)
"""Pattern of a number: ``2.5``, ``3/8``, ``1 3/8`` or ``1-3/8``."""

_FRACTION_SIGNS = "[\u00bc-\u00be\u2150-\u215e]"


class UnitError(ValueError):
    """A value that cannot be read; the message says what is wrong and what to write instead."""


def spell_out(text: str) -> str:
    """Return a text with the one-letter fractions written out.

    Examples
    --------
    >>> spell_out("11½ in")
    '11 1/2 in'
    """
    apart = re.sub(rf"(?<=[0-9])(?={_FRACTION_SIGNS})", " ", text)
    written = re.sub(_FRACTION_SIGNS, lambda sign: unicodedata.normalize("NFKC", sign[0]), apart)
    return written.replace("\u2044", "/")


def is_number(text: str) -> bool:
    """Return whether a text is a number and nothing else."""
    match = re.fullmatch(rf"\s*{NUMBER}\s*", spell_out(text))
    return match is not None and not lacks_fraction(match)


def lacks_fraction(match: re.Match[str]) -> bool:
    """Return whether a match of `NUMBER` is two numbers in a row."""
    return match["whole"] is not None and match["top"] is None


def parse_number(text: str) -> float:
    """Return the number in a text that `is_number`.

    Raises
    ------
    UnitError
        If it is none, or a fraction that cannot be meant.

    Examples
    --------
    >>> parse_number("36 1/2"), parse_number("11-3/4")
    (36.5, 11.75)
    """
    match = re.fullmatch(rf"\s*{NUMBER}\s*", spell_out(text))
    if match is None or lacks_fraction(match):
        raise UnitError("is not a number")
    return matched_number(match)


def matched_number(match: re.Match[str]) -> float:
    """Return the number in a match of `NUMBER`."""
    if match["number"] is not None:
        return float(match["number"])
    bottom = float(match["bottom"])
    if bottom == 0.0:
        raise UnitError("divides by zero")
    fraction = float(match["top"]) / bottom
    if match["whole"] is None:
        return fraction
    if match["top"][0] in "+-":
        raise UnitError('has a sign inside the fraction; write for instance "-1 3/8 in"')
    whole = float(match["whole"])
    return math.copysign(abs(whole) + fraction, -1.0 if match["whole"][0] == "-" else 1.0)
