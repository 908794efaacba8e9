"""Where a figure comes from and how far it can be trusted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

from limbfe.errors import MaterialError

Flag = Literal["read", "memory", "assumed", "given", "derived"]

_WEAKEST_LAST: tuple[Flag, ...] = ("given", "read", "derived", "memory", "assumed")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Source:
    """The origin of one figure.

    Attributes
    ----------
    text : str
        Author, title, year, table or equation; for a computed figure, the rule and its inputs.
    flag : {"read", "memory", "assumed", "given", "derived"}
        ``read``: seen in the source named, or in a reprint of it.  ``memory``: recalled, not
        checked in print.  ``assumed``: a choice of this program, no figure was found.
        ``given``: by the user.  ``derived``: computed from figures that were read or given.
        A computed figure with a weaker ingredient carries that ingredient's flag.
    confidence : str
        For ``memory``: "good", "fair" or "low"; otherwise empty.
    address : str
        Web address where it was read, its own or that of a copy, if any.
    """

    text: str
    flag: Flag
    confidence: str = ""
    address: str = ""

    def __post_init__(self) -> None:
        if self.flag not in get_args(Flag):
            allowed = ", ".join(get_args(Flag))
            raise MaterialError(f'source "{self.text}": flag = "{self.flag}": use one of {allowed}')


def origin(source: Source) -> str:
    """Return a source with its flag in words.

    Examples
    --------
    >>> origin(Source(text="a table", flag="memory", confidence="low"))
    'a table (from memory, low confidence)'
    """
    if source.flag != "memory":
        return f"{source.text} ({source.flag})"
    confidence = f", {source.confidence} confidence" if source.confidence else ""
    return f"{source.text} (from memory{confidence})"


def weakest_flag(flags: Iterable[Flag]) -> Flag:
    """Return the flag of a figure computed from figures with these flags.

    Given and read figures make a derived one; anything remembered or assumed stays so.

    Examples
    --------
    >>> weakest_flag(["read", "memory"])
    'memory'
    >>> weakest_flag(["read", "given"])
    'derived'
    """
    return max(("derived", *flags), key=_WEAKEST_LAST.index)


def computed_source(text: str, *used: Source) -> Source:
    """Return the source of a figure computed from others, as weak as the weakest of them."""
    flag = weakest_flag(s.flag for s in used)
    words = [s.confidence for s in used if s.confidence] if flag == "memory" else []
    addresses = dict.fromkeys(s.address for s in used if s.address)
    return Source(
        text=text,
        flag=flag,
        confidence=max(words, key=("good", "fair", "low").index) if words else "",
        address=" ".join(addresses),
    )
