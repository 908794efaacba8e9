"""What a user asks of the study, looked at before anything is computed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, get_args

from limbfe.analysis.bow.setup import HoldKind
from limbfe.case.messages import nearest
from limbfe.case.values import quantity
from limbfe.errors import CaseError
from limbfe.studies.chance.inputs import Errors

SAMPLES, BOWS = 40_000, 128
"""Quick bows, and bows drawn in full, when not said otherwise."""
LEAST_SAMPLES, MOST_SAMPLES = 1000, 2_000_000
LEAST_BOWS, MOST_BOWS = 24, 5000
MOST_LOCAL = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiller:
    """Readings of the bow and how they were taken, as `limbfe.studies.fit` takes them."""

    file: Path
    hold: HoldKind = "tiller"
    first_pull: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """How the study is run.

    Attributes
    ----------
    samples, bows, seed : int
    held : float or None, m
    spread : Errors
    tiller : Tiller or None
        What was read of the bow.
    local : int
        Of so many sampled bows the knots and patches are judged on local models of their own.
    """

    samples: int = SAMPLES
    bows: int = BOWS
    seed: int = 0
    held: float | None = None
    spread: Errors = field(default_factory=Errors)
    tiller: Tiller | None = None
    local: int = 0

    def __post_init__(self) -> None:
        for name, value, least, most in (
            ("samples", self.samples, LEAST_SAMPLES, MOST_SAMPLES),
            ("bows", self.bows, LEAST_BOWS, MOST_BOWS),
            ("seed", self.seed, 0, 2**32 - 1),
            ("local", self.local, 0, MOST_LOCAL),
        ):
            if not least <= value <= most:
                raise CaseError(f"{name} {value}: must lie between {least} and {most}")


_LENGTHS, _PLAIN = ("calliper", "tape", "archer"), "scatter"
_COUNTS = ("samples", "bows", "seed", "local")
_TILLER = ("readings", "hold", "first_pull")


def asked_for(held: float | None, options: Mapping[str, Any]) -> Asked:
    """Return what is asked for, from options as they were given; None stands for the usual.

    Raises
    ------
    CaseError
        Naming the option that is unknown or does not fit.
    """
    known = (*_LENGTHS, *_COUNTS, _PLAIN, *_TILLER)
    for name in options:
        if name not in known:
            near = nearest(name, known)
            hint = f'; did you mean "{near}"?' if near else f"; use one of {', '.join(known)}"
            raise CaseError(f"{name}: chance has no such option{hint}")
    given = {name: value for name, value in options.items() if value is not None}
    counts = {name: _whole(name, given[name]) for name in _COUNTS if name in given}
    errors = {
        name: value
        for name in _LENGTHS
        if (value := quantity(name, given.get(name), "length")) is not None
    }
    if _PLAIN in given:
        errors[_PLAIN] = _number(_PLAIN, given[_PLAIN])
    return Asked(held=held, spread=Errors(**errors), tiller=_tiller(given), **counts)


def _tiller(given: Mapping[str, object]) -> Tiller | None:
    """Return the readings to use; how they were taken without any is a slip."""
    if given.get("readings") is None:
        for name in ("hold", "first_pull"):
            if given.get(name):
                raise CaseError(f"{name}: says how readings were taken; name their file (readings)")
        return None
    words: dict[str, Any] = {"first_pull": bool(given.get("first_pull", False))}
    if "hold" in given:
        if given["hold"] not in get_args(HoldKind):
            kinds = ", ".join(get_args(HoldKind))
            raise CaseError(f"hold {given['hold']}: must be one of {kinds}")
        words["hold"] = given["hold"]
    return Tiller(file=Path(str(given["readings"])), **words)


def _whole(name: str, value: float | str) -> int:
    if isinstance(value, str) or value != int(value):
        raise CaseError(f"{name} {value}: must be a whole number")
    return int(value)


def _number(name: str, value: float | str) -> float:
    if isinstance(value, str):
        raise CaseError(f'{name} "{value}": must be a number')
    return float(value)
