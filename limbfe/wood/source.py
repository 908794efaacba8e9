"""Where a figure comes from and how far it can be trusted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

from limbfe.errors import MaterialError
from limbfe.units import Sentence, Words


class Flag(Enum):
    """How far a figure can be trusted, the surest first; the value is what a reader is told.

    ``MEMORY``: recalled, not checked in print.  ``PRACTICE``: what makers of bows commonly count
    on, from no measurement in print.  ``ASSUMED``: a choice of this program, no figure was found.
    """

    GIVEN = "given"
    READ = "published figure"
    DERIVED = "computed from published or given figures"
    MEMORY_GOOD = "well-known value, not looked up in print"
    MEMORY_FAIR = "typical value, not looked up in print"
    MEMORY_LOW = "rough value, not looked up in print"
    PRACTICE = "common practice"
    ASSUMED = "estimate, no published figure found"

    @property
    def word(self) -> str:
        """The flag as tables of wood and JSON have it: ``"read"``, ``"memory fair"``."""
        return self.name.lower().replace("_", " ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """The origin of one figure.

    Attributes
    ----------
    text : str or Sentence
        Author, title, year, table or equation; for a computed figure, the rule and its inputs.
    flag : Flag
        A computed figure with a weaker ingredient carries that ingredient's flag.
    address : str
        Web address where it was read, its own or that of a copy, if any.
    """

    text: Words
    flag: Flag
    address: str = ""


GIVEN = Source(text="given", flag=Flag.GIVEN)


@dataclass(frozen=True, slots=True)
class Assumption:
    """A value that the case does not give.

    Attributes
    ----------
    subject : str
        What it is a value of.
    value : str or Sentence
        What was taken.
    source : Source or None
        Where it comes from; None for the program's own way where a case is silent.
    """

    subject: str
    value: Words
    source: Source | None = None

    def words(self, *, short: bool = False) -> Sentence:
        """Return it in one line with its source, or `short` with nothing but how far to trust it.

        Examples
        --------
        >>> epoxy = Source(text="an epoxy", flag=Flag.MEMORY_FAIR)
        >>> str(Assumption("filling", "E = 2.5 GPa", epoxy).words())
        'filling: E = 2.5 GPa: an epoxy (typical value, not looked up in print)'
        """
        line = Sentence("{}: {}", self.subject, self.value)
        if self.source is None:
            return line
        if short:
            return Sentence("{} ({})", line, self.source.flag.value)
        return Sentence("{}: {}", line, origin(self.source))

    def to_dict(self) -> dict[str, str]:
        """Return the parts as text."""
        source = self.source or Source(text="", flag=Flag.ASSUMED)
        return {
            "subject": self.subject,
            "value": str(self.value),
            "source": str(source.text),
            "flag": source.flag.word,
        }


def origin(source: Source) -> Sentence:
    """Return a source with its flag in words.

    Examples
    --------
    >>> str(origin(Source(text="a table", flag=Flag.MEMORY_LOW)))
    'a table (rough value, not looked up in print)'
    """
    return Sentence("{} ({})", source.text, source.flag.value)


def read_flag(entry: Mapping[str, Any], where: str = "source") -> Flag:
    """Return the flag of an entry of a table of wood: ``flag``, and for memory ``confidence``.

    Raises
    ------
    MaterialError
        If there is no such flag.
    """
    word = " ".join(str(entry[key]) for key in ("flag", "confidence") if key in entry)
    flag = next((flag for flag in Flag if flag.word == word), None)
    if flag is None:
        raise MaterialError(
            f'{where}: flag = "{word}": use one of {", ".join(flag.word for flag in Flag)}, where '
            'the second word of a memory is its confidence = "good", "fair" or "low"'
        )
    return flag


def weakest_flag(flags: Iterable[Flag]) -> Flag:
    """Return the flag of a figure computed from figures with these flags.

    Given and read figures make a derived one; anything weaker stays as weak.

    Examples
    --------
    >>> weakest_flag([Flag.READ, Flag.MEMORY_FAIR]).name, weakest_flag([Flag.READ]).name
    ('MEMORY_FAIR', 'DERIVED')
    """
    return max((Flag.DERIVED, *flags), key=list(Flag).index)


def computed_source(text: Words, *used: Source) -> Source:
    """Return the source of a figure computed from others, as weak as the weakest of them."""
    return Source(
        text=text,
        flag=weakest_flag(source.flag for source in used),
        address=" ".join(dict.fromkeys(source.address for source in used if source.address)),
    )
