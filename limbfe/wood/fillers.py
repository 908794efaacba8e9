"""What holes are filled with, by name."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from limbfe.errors import MaterialError
from limbfe.wood.source import Source, computed_source, read_flag

_FIGURES = ("E", "tension", "shear")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FillerRow:
    """A filler of the built-in table.

    Attributes
    ----------
    name : str
    E : float, Pa
        Young's modulus.
    tension, shear : float, Pa
        Strength of the filler or of its bond to the wood, whichever is less.
    source : Source
        Of all three, as weak as the weakest.
    """

    name: str
    E: float
    tension: float
    shear: float
    source: Source


def filler_names() -> tuple[str, ...]:
    """Return the names of the built-in fillers."""
    return tuple(row.name for row in dict.fromkeys(_by_name().values()))


def find_filler(name: str) -> FillerRow:
    """Return a filler by its name or another it goes by; capitals and hyphens do not matter.

    Raises
    ------
    MaterialError
        If there is no such filler; the message names those there are.

    Examples
    --------
    >>> find_filler("Epoxy").E, find_filler("glue and wood dust").name
    (2500000000.0, 'wood dust and glue')
    """
    known, word = _by_name(), " ".join(name.lower().replace("-", " ").split())
    if word in known:
        return known[word]
    near = difflib.get_close_matches(word, known, n=1)
    hint = f'did you mean "{near[0]}"? ' if near else ""
    names = ", ".join(f'"{one}"' for one in filler_names())
    raise MaterialError(
        f"is no filler of the table; {hint}use one of {names}, or give your own as "
        '{ E = "2.5 GPa", tension = "40 MPa", shear = "20 MPa" }'
    )


@cache
def _by_name() -> Mapping[str, FillerRow]:
    text = resources.files("limbfe.wood").joinpath("fillers.toml").read_text("utf-8")
    rows: dict[str, FillerRow] = {}
    for name, entry in tomllib.loads(text).items():
        rows |= dict.fromkeys((name, *entry["aliases"]), _row(name, entry))
    return rows


def _row(name: str, entry: Mapping[str, Any]) -> FillerRow:
    sources = (
        Source(text=f"{key}: {entry[key]['text']}", flag=read_flag(entry[key], f"{name}: {key}"))
        for key in _FIGURES
    )
    parts = tuple(sources)
    return FillerRow(
        name=name,
        **{key: 1e6 * float(entry[key]["value"]) for key in _FIGURES},
        source=computed_source("; ".join(str(part.text) for part in parts), *parts),
    )
