"""The exceptions limbfe raises on purpose; anything else that escapes is a bug."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


class LimbfeError(Exception):
    """Base of every error limbfe raises on purpose."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong in a case file.

    Attributes
    ----------
    loc : tuple of str or int
        Tables, keys and positions in lists that lead to it; empty if it has no such place.
    words : str
        What is allowed and what to do, without the place.
    missing : bool
        Whether it is that something needed is not there.
    line : int or None
        Of the file, where it cannot be read as TOML.
    """

    loc: tuple[str | int, ...] = ()
    words: str
    missing: bool = False
    line: int | None = None


class CaseError(LimbfeError):
    """A case file that cannot be used: names file, field, value and remedy.

    Attributes
    ----------
    faults : tuple of Fault
        The same by place, for whoever shows each beside its field; the one that the message is
        about comes first.  Empty where the places are not known.
    """

    def __init__(self, message: str, *, faults: tuple[Fault, ...] = ()) -> None:
        super().__init__(message)
        self.faults = faults


class GeometryError(LimbfeError):
    """A shape that cannot exist or cannot be meshed."""


class MaterialError(LimbfeError):
    """Wood constants that are missing or physically impossible."""


class ConvergenceError(LimbfeError):
    """An equilibrium that was not found.

    Attributes
    ----------
    draw_length : float or None
        Draw length (m, from the back at the middle of the grip) last reached in equilibrium.
    iteration : int
        Newton iterations spent on the state that failed.
    residuals : tuple of float
        Residual norms of that state, one per iteration.
    last_state : object
        The last converged state, or None.
    """

    def __init__(
        self,
        message: str,
        *,
        draw_length: float | None = None,
        iteration: int = 0,
        residuals: tuple[float, ...] = (),
        last_state: Any = None,
    ) -> None:
        super().__init__(message)
        self.draw_length = draw_length
        self.iteration = iteration
        self.residuals = residuals
        self.last_state = last_state
