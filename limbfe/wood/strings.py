"""Bow strings: stiffness, mass and strength from a fibre and a number of strands."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from limbfe.errors import MaterialError
from limbfe.wood.source import Source, computed_source, read_flag

_FIGURES = ("stiffness", "strength", "tex", "lay_factor")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StringMaterial:
    """What one strand of a bow string is.

    Attributes
    ----------
    name : str
        The fibre.
    strand : str
        What is counted as one strand.
    stiffness : float, N
        EA of one straight strand at working load: force per unit of strain.
    strength : float, N
        Breaking force of one straight strand.
    tex : float, g/km
        Mass per length of one strand.
    lay_factor : float
        Share of the strands' stiffness that the twisted string keeps.
    sources : mapping of str to Source
        One entry for each figure.
    """

    name: str
    strand: str
    stiffness: float
    strength: float
    tex: float
    lay_factor: float
    sources: Mapping[str, Source]

    @property
    def source(self) -> Source:
        """All figures' sources in one, as weak as the weakest."""
        text = "; ".join(f"{key}: {self.sources[key].text}" for key in _FIGURES)
        return computed_source(text, *self.sources.values())


def string_material_names() -> tuple[str, ...]:
    """Return the names of the built-in string materials."""
    return tuple(_materials())


def string_material(name: str) -> StringMaterial:
    """Return a string material of the built-in table.

    Parameters
    ----------
    name : str
        A fibre: a name of the table or another that it knows for it; capitals do not count.

    Raises
    ------
    MaterialError
        If the table has no such material.

    Examples
    --------
    >>> round(string_stiffness(string_material("polyester"), 12))
    44117
    """
    known = _by_name()
    material = known.get(name.strip().lower())
    if material is None:
        near = difflib.get_close_matches(name.strip().lower(), known, n=1)
        hint = f'; did you mean "{near[0]}"?' if near else ""
        raise MaterialError(
            f'string material = "{name}": not in the table{hint}; use one of '
            f"{', '.join(_by_name())}, or give the string's stiffness and mass"
        )
    return material


def string_stiffness(material: StringMaterial, strands: int) -> float:
    """Return the axial stiffness EA of a string, N.

    Parameters
    ----------
    material : StringMaterial
    strands : int

    Raises
    ------
    MaterialError
        If there is no strand.

    Notes
    -----
    That of the straight strands times a factor for the twist.
    """
    _check_strands(strands)
    return material.stiffness * strands * material.lay_factor


def string_mass(material: StringMaterial, strands: int) -> float:
    """Return the mass per length of a string, kg/m, without serving.

    Examples
    --------
    >>> round(1e3 * string_mass(string_material("polyester"), 12), 6)
    4.56
    """
    _check_strands(strands)
    return 1e-6 * material.tex * strands


def string_breaking_force(material: StringMaterial, strands: int) -> float:
    """Return the breaking force of the straight strands, N; loops and knots hold less."""
    _check_strands(strands)
    return material.strength * strands


def _check_strands(strands: int) -> None:
    if strands < 1:
        raise MaterialError(f"string strands = {strands}: at least 1 is needed")


@cache
def _materials() -> Mapping[str, StringMaterial]:
    text = resources.files("limbfe.wood").joinpath("strings.toml").read_text("utf-8")
    return {name: _material(name, entry) for name, entry in tomllib.loads(text).items()}


@cache
def _by_name() -> Mapping[str, StringMaterial]:
    text = resources.files("limbfe.wood").joinpath("strings.toml").read_text("utf-8")
    aliases = {name: entry["aliases"] for name, entry in tomllib.loads(text).items()}
    return {
        key: material for name, material in _materials().items() for key in (name, *aliases[name])
    }


def _material(name: str, entry: Mapping[str, Any]) -> StringMaterial:
    sources = {
        key: Source(text=entry[key]["text"], flag=read_flag(entry[key], f"{name}: {key}"))
        for key in _FIGURES
    }
    return StringMaterial(
        name=name,
        strand=entry["strand"],
        **{key: float(entry[key]["value"]) for key in _FIGURES},
        sources=MappingProxyType(sources),
    )
