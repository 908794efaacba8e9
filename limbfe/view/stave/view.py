"""What the pictures of a stave show."""

from __future__ import annotations

from dataclasses import dataclass

from limbfe.log.laid import LaidLimb
from limbfe.log.line import Line
from limbfe.log.log import Log


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StaveView:
    """A stave with the bow laid in it.

    Attributes
    ----------
    title : str
    log : Log
    laid : LaidLimb
        Of the best layout.
    line : Line
    others : tuple of Line
        Of the other layouts.
    stages : tuple of (name, side, belly)
        Of roughing, m.
    gone : frozenset of str
        Knots and patches that are cut away.
    """

    title: str
    log: Log
    laid: LaidLimb
    line: Line
    others: tuple[Line, ...]
    stages: tuple[tuple[str, float, float], ...]
    gone: frozenset[str]
