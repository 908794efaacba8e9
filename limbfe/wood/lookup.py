"""A wood by the name it goes by: a row of the table, or an average wood of its density."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cache

from limbfe.errors import MaterialError
from limbfe.wood.by_density import TypicalWood, row_by_density, typical_woods, unlisted_wood
from limbfe.wood.table import SpeciesRow, plain, species_rows

GENERIC = ("hardwood", "softwood")
"""Names that stand for any wood of the kind; they need a density."""


def species_names() -> tuple[str, ...]:
    """Return the names of the woods with figures of their own, in alphabetical order."""
    return tuple(sorted((row.name for row in species_rows()), key=str.lower))


def find_species(
    name: str, *, density: float | None = None, moisture: float | None = None
) -> SpeciesRow:
    """Return the row of a species.

    Parameters
    ----------
    name : str
        Its name or another name it goes by; case, hyphens and underscores do not matter.
    density : float, kg/m3, optional
        Of a wood without figures of its own, at `moisture` (fraction; None: 12 %).  With it any
        name will do, "hardwood" and "softwood" too.

    Returns
    -------
    SpeciesRow
        Of the table; else one made from the density, typical or given.

    Raises
    ------
    MaterialError
        If the wood is unknown and no density is given, or if several kinds go by the name; the
        message names what can be written instead.

    Examples
    --------
    >>> find_species("Robinia").name
    'black locust'
    >>> find_species("plum").by_density
    True
    """
    bare = re.sub(r"[ _-]+wood$", "", name.strip(), flags=re.IGNORECASE)
    if plain(name) not in _spellings() and (plain(bare) in _spellings() or _kinds(plain(bare))):
        name = bare
    row = _rows_by_name().get(plain(name))
    if row is not None:
        return row
    typical = _typical_by_name().get(plain(name))
    kinds = _kinds(plain(name))
    if typical is None and kinds:
        raise MaterialError(f'species = "{name}": there are several; name one: {_quoted(kinds)}')
    if density is not None:
        return row_by_density(_given(name, typical, density, moisture))
    if typical is not None:
        return row_by_density(typical)
    raise MaterialError(_unknown(name))


def _given(
    name: str, typical: TypicalWood | None, density: float, moisture: float | None
) -> TypicalWood:
    """Return a wood of a given density, with what is known of it by its name."""
    if typical is None:
        near = [] if plain(name) in GENERIC else _nearest(plain(name))
        note = f'"{name}" is not in the table; nearest: {_quoted(near)}' if near else ""
        return unlisted_wood(name, density, moisture, note)
    given = unlisted_wood(typical.name, density, moisture)
    return replace(typical, density=given.density)


def _unknown(name: str) -> str:
    """Return what to write instead of a name that says nothing."""
    if plain(name) in GENERIC:
        return f'species = "{name}": needs a density to go by; add density = "700 kg/m3", or yours'
    near = _nearest(plain(name))
    hint = f"nearest: {_quoted(near)}; " if near else ""
    return (
        f'species = "{name}": not in the table; {hint}`limbfe woods` lists all, or add the density '
        'you weighed, such as density = "700 kg/m3", to take it for an average hardwood (write '
        '"softwood" for a conifer)'
    )


def _nearest(name: str) -> list[str]:
    """Return known names that share a word with this one, else those spelt alike."""
    known = _spellings()
    words = set(name.split())
    shared = [key for key in known if words & set(key.split())]
    near = difflib.get_close_matches(name, shared, n=4, cutoff=0.0)
    return [known[key] for key in near or difflib.get_close_matches(name, known, n=3)]


def _kinds(name: str) -> list[str]:
    """Return the names of which this is the last word: the kinds of elm, say."""
    names = (*species_names(), *(wood.name for wood in typical_woods()))
    return [one for one in names if plain(one).split()[-1] == name]


@cache
def _rows_by_name() -> Mapping[str, SpeciesRow]:
    return {plain(one): row for row in species_rows() for one in (row.name, *row.aliases)}


@cache
def _typical_by_name() -> Mapping[str, TypicalWood]:
    return {plain(one): wood for wood in typical_woods() for one in (wood.name, *wood.aliases)}


@cache
def _spellings() -> Mapping[str, str]:
    """Return every known name as it is written, by its plain form."""
    woods: tuple[SpeciesRow | TypicalWood, ...] = (*species_rows(), *typical_woods())
    return {plain(one): one for wood in woods for one in (wood.name, *wood.aliases)}


def _quoted(names: Iterable[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)
