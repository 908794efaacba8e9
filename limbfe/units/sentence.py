"""Sentences that hold quantities, put into words when it is known who reads them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial
from string import Formatter
from typing import NoReturn

from limbfe.units.show import IMPERIAL, METRIC, UnitSystem


class _Unsaid:
    """Something with quantities in it, which a reader's units are still to be chosen for."""

    __slots__ = ()

    def __str__(self) -> str:
        return say(self, None)

    def __format__(self, spec: str) -> NoReturn:
        raise TypeError("belongs into a Sentence: an f-string would fix its units")


@dataclass(frozen=True, slots=True)
class Quantity(_Unsaid):
    """An SI value in a sentence.

    Attributes
    ----------
    kind : str
        As `UnitSystem.show` takes it.
    value : float
    figures : int or None
        Significant figures; by default as many decimals as tables show.

    Examples
    --------
    >>> say(Length(0.09), METRIC), say(Quantity("modulus", 11.27e9, figures=3), IMPERIAL)
    ('90 mm', '1.63 Mpsi')
    """

    kind: str
    value: float
    figures: int | None = None


def both(kind: str, value: float, figures: int | None = None) -> str:
    """Return SI in metric units with inches and pounds in brackets, for errors and files.

    Nobody knows who will read those; any other text is a `Sentence`.

    Examples
    --------
    >>> both("energy", 51.2)
    '51.2 J (37.8 ft lbf)'
    """
    return str(Quantity(kind, value, figures))


both_lengths, both_forces = partial(both, "length"), partial(both, "force")
Length = partial(Quantity, "length")
ToolLength, DrawReach = partial(Quantity, "tool length"), partial(Quantity, "draw reach")
Force = partial(Quantity, "force")


@dataclass(frozen=True, slots=True, init=False)
class Sentence(_Unsaid):
    """Text and quantities in turn.

    Parameters
    ----------
    template : str
        With a ``{}``, ``{name}`` or ``{:.1%}`` for every value.
    *values, **named
        Quantities, sentences, or what `format` takes.

    Examples
    --------
    >>> set_words = Sentence("a set of {}, {:.0%} more", Length(0.0904), 0.1)
    >>> say(set_words, IMPERIAL), str(set_words)
    ('a set of 3 9/16 in, 10% more', 'a set of 90.4 mm (3.56 in), 10% more')
    """

    parts: tuple[str | Quantity, ...]

    def __init__(self, template: str, *values: object, **named: object) -> None:
        parts: list[str | Quantity] = []
        following = iter(values)
        for text, field, spec, _ in Formatter().parse(template):
            parts.append(text)
            if field is None:
                continue
            value = named[field] if field else next(following)
            if isinstance(value, Sentence):
                parts.extend(value.parts)
            else:
                parts.append(value if isinstance(value, Quantity) else format(value, spec or ""))
        object.__setattr__(self, "parts", tuple(part for part in parts if part != ""))


Words = str | Sentence
"""What a message, caution or advice is below `report`."""


def join(separator: str, items: Iterable[Words | Quantity]) -> Sentence:
    """Return sentences one after the other.

    Examples
    --------
    >>> str(join("; ", ["draw less", Sentence("up to {}", Length(0.5))]))
    'draw less; up to 500 mm (19.7 in)'
    """
    items = list(items)
    return Sentence(separator.join(["{}"] * len(items)), *items)


def say(words: object, units: UnitSystem | None) -> str:
    """Return a sentence in the reader's units; in both systems where no reader is known.

    Files that outlive their reader (``results.json``) and exceptions in Python are for all readers.
    """
    if isinstance(words, Sentence):
        return "".join(say(part, units) for part in words.parts)
    if not isinstance(words, Quantity):
        return str(words)
    if units is None:
        metric, imperial = (_shown(words, system, decimal=True) for system in (METRIC, IMPERIAL))
        return f"{metric} ({imperial})"
    return _shown(words, units)


def _shown(words: Quantity, units: UnitSystem, *, decimal: bool = False) -> str:
    if words.figures is not None:
        factor, unit = units.scale(words.kind)
        return f"{float(f'{words.value / factor:.{words.figures}g}'):.10g} {unit}"
    text = (units.decimal if decimal else units.show)(words.kind, words.value)
    return text.removesuffix(".0 mm") + " mm" if text.endswith(".0 mm") else text
