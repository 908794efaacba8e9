"""The built-in species table: rows of published figures, each with its source."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any, Literal, get_args

from limbfe.errors import MaterialError
from limbfe.units import Words
from limbfe.wood.source import Source, read_flag

Kind = Literal["hardwood", "softwood", "monocot"]
_UNITS = {"density": 1.0, "bending_modulus": 1e9}
_STRESS = 1e6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Figure:
    """One number in SI units and where it comes from."""

    value: float
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpeciesRow:
    """What the table knows of one species.

    Attributes
    ----------
    name, latin : str
    kind : {"hardwood", "softwood", "monocot"}
    aliases : tuple of str
        Other names it is found by.
    moisture : float
        Moisture (fraction) at which the dry figures hold.
    saturation : Figure
        Moisture (fraction) above which the green figures hold.
    dry, green : mapping of str to Figure, SI
        By property name; ``bending_modulus`` in place of ``E_L``.
    elastic : mapping of str to Figure
        Moduli as fractions of E_L, and Poisson's ratios.
    cov : mapping of str to Figure
        Coefficients of variation published for this species.
    elastic_fallback : str
        Which set of ratios stands in for those the row lacks.
    published_tension : Figure or None
        For comparison only.
    notes : tuple of str
        Disagreements between sources and other cautions.
    by_density : bool
        True if all but the density is that of an average wood as dense.
    """

    name: str
    latin: str
    kind: Kind
    aliases: tuple[str, ...]
    moisture: float
    saturation: Figure
    dry: Mapping[str, Figure]
    green: Mapping[str, Figure]
    elastic: Mapping[str, Figure]
    cov: Mapping[str, Figure]
    elastic_fallback: str
    published_tension: Figure | None
    notes: tuple[Words, ...]
    by_density: bool = False


@cache
def species_rows() -> tuple[SpeciesRow, ...]:
    """Return the built-in species, in the order of species.toml."""
    data = read_toml("species.toml")
    return tuple(read_row(key, entry, data["source"]) for key, entry in data["species"].items())


@cache
def read_rules() -> Mapping[str, Any]:
    """Return the rules and figures that hold for all species, as written in rules.toml."""
    return MappingProxyType(read_toml("rules.toml"))


def rule_source(*keys: str) -> Source:
    """Return the source of a rule in rules.toml."""
    entry: Mapping[str, Any] = read_rules()
    for key in keys:
        entry = entry[key]
    return Source(text=entry["text"], flag=read_flag(entry))


def read_toml(name: str) -> dict[str, Any]:
    """Return a data file of this package."""
    return tomllib.loads(resources.files("limbfe.wood").joinpath(name).read_text("utf-8"))


def plain(name: str) -> str:
    """Return a name without capitals, hyphens and underscores."""
    return " ".join(name.lower().replace("-", " ").replace("_", " ").split())


_ROW_KEYS = (
    "name",
    "latin",
    "kind",
    "aliases",
    "moisture",
    "saturation",
    "elastic_fallback",
    "notes",
    "dry",
)
_DRY_KEYS = ("density", "bending_modulus", "bending_strength", "compression_strength")
_GROUPS = {"dry": True, "green": True, "elastic": False, "cov": False}
"""Groups of figures, and whether they carry a unit."""


def read_row(key: str, entry: Mapping[str, Any], sources: Mapping[str, Any]) -> SpeciesRow:
    """Return one species as its table in species.toml describes it.

    Parameters
    ----------
    key : str
        The row is ``[species.key]``.
    entry : mapping
        Its content.
    sources : mapping
        The file's ``[source.*]`` tables by name.

    Raises
    ------
    MaterialError
        If a key is missing, unknown or wrong; the message names the row and the key.
    """
    where = f"species.toml: [species.{key}]"
    _check_keys(entry, _ROW_KEYS, (*_GROUPS, "published_tension"), where)
    _check_keys(
        {key: None for key in _DRY_KEYS if key in entry["dry"]}, _DRY_KEYS, (), f"{where}: dry"
    )
    if entry["kind"] not in get_args(Kind):
        raise MaterialError(f'{where}: kind = "{entry["kind"]}": use {_listed(get_args(Kind))}')
    fallbacks = read_rules()["elastic_fallback"]
    if entry["elastic_fallback"] not in fallbacks:
        raise MaterialError(
            f'{where}: elastic_fallback = "{entry["elastic_fallback"]}": use {_listed(fallbacks)}'
        )
    figures = {
        group: MappingProxyType(
            {
                name: _figure(
                    item,
                    sources,
                    _UNITS.get(name, _STRESS) if scaled else 1.0,
                    f"{where}: {group}.{name}",
                )
                for name, item in entry.get(group, {}).items()
            }
        )
        for group, scaled in _GROUPS.items()
    }
    tension = entry.get("published_tension")
    return SpeciesRow(
        name=entry["name"],
        latin=entry["latin"],
        kind=entry["kind"],
        aliases=tuple(entry["aliases"]),
        moisture=entry["moisture"] / 100.0,
        saturation=_figure(entry["saturation"], sources, 0.01, f"{where}: saturation"),
        dry=figures["dry"],
        green=figures["green"],
        elastic=figures["elastic"],
        cov=figures["cov"],
        elastic_fallback=entry["elastic_fallback"],
        published_tension=None
        if tension is None
        else _figure(tension, sources, _STRESS, f"{where}: published_tension"),
        notes=tuple(entry["notes"]),
    )


def _figure(item: Mapping[str, Any], sources: Mapping[str, Any], unit: float, where: str) -> Figure:
    _check_keys(item, ("value", "source", "flag"), ("confidence",), where)
    if item["source"] not in sources:
        raise MaterialError(
            f'{where}: source = "{item["source"]}": there is no [source.{item["source"]}]; add it'
        )
    entry = sources[item["source"]]
    origin = Source(
        text=entry["text"],
        flag=read_flag(item, where),
        address=entry.get("address", entry.get("via", "")),
    )
    return Figure(value=item["value"] * unit, source=origin)


def _check_keys(
    table: Mapping[str, Any], needed: tuple[str, ...], other: tuple[str, ...], where: str
) -> None:
    missing = [key for key in needed if key not in table]
    if missing:
        raise MaterialError(f"{where}: lacks {', '.join(missing)}; add it")
    unknown = [key for key in table if key not in (*needed, *other)]
    if unknown:
        raise MaterialError(
            f"{where}: unknown key {', '.join(unknown)}; use {', '.join((*needed, *other))}"
        )


def _listed(words: Iterable[str]) -> str:
    return "one of " + ", ".join(f'"{word}"' for word in words)
