"""Woods known by their density only: the rest is that of an average wood as dense."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from limbfe.units import Quantity, Sentence, join
from limbfe.wood.moisture import adjust_density
from limbfe.wood.source import Flag, Source, computed_source, read_flag
from limbfe.wood.table import Figure, Kind, SpeciesRow, plain, read_rules, read_toml, rule_source

_MOISTURE = 0.12
_SATURATION = Source(
    text="25 %, as FPL, Wood Handbook, FPL-GTR-190 (2010), ch. 5, takes it for most woods",
    flag=Flag.MEMORY_GOOD,
)
_CONIFER = re.compile(
    r"\b(softwood|cedar|cypress|fir|hemlock|juniper|larch|pine|redwood|spruce|tamarack|yew)\b"
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TypicalWood:
    """A wood of which only the density is known.

    Attributes
    ----------
    name, latin : str
    kind : {"hardwood", "softwood"}
    density : Figure, kg/m3 at 12 % moisture
    aliases : tuple of str
    note : str
        What else to say of it.
    """

    name: str
    latin: str
    kind: Kind
    density: Figure
    aliases: tuple[str, ...] = ()
    note: str = ""


@cache
def typical_woods() -> tuple[TypicalWood, ...]:
    """Return the woods of by_density.toml, in its order."""
    return tuple(
        TypicalWood(
            name=name,
            latin=entry["latin"],
            kind=entry.get("kind", "hardwood"),
            density=Figure(
                value=float(entry["density"]),
                source=Source(
                    text=f"typical density of air-dry {name}",
                    flag=read_flag({"flag": "memory", **entry}, name),
                ),
            ),
            aliases=tuple(entry["aliases"]),
        )
        for name, entry in read_toml("by_density.toml").items()
    )


def unlisted_wood(name: str, density: float, moisture: float | None, note: str = "") -> TypicalWood:
    """Return a wood of any name from its density (kg/m3) at a moisture (fraction; None: 12 %)."""
    at_12 = adjust_density(density, at=_MOISTURE if moisture is None else moisture, to=_MOISTURE)
    return TypicalWood(
        name=name.strip(),
        latin="no species of the table",
        kind="softwood" if _CONIFER.search(plain(name)) else "hardwood",
        density=Figure(value=at_12, source=Source(text="density as given", flag=Flag.GIVEN)),
        note=note,
    )


def row_by_density(wood: TypicalWood) -> SpeciesRow:
    """Return the row of an average wood as dense as this one.

    Notes
    -----
    Bending modulus, bending strength and crushing strength are ``factor x G^power`` with the
    specific gravity G of ovendry mass on the volume at 12 % moisture, for all woods together.  The
    scatter of single species about it (in rules.toml, from this table's own hardwoods) is added,
    as variances, to the scatter within a species.

    References
    ----------
    US Army TM 5-852-4, Table 2-2, Specific gravity-strength relation (courtesy Forest Products
    Laboratory).
    """
    gravity = wood.density.value / (1000.0 * (1.0 + _MOISTURE))
    rule = rule_source("density_regression")
    laws: Mapping[str, list[float]] = read_rules()["density_regression"]["laws"]
    dry = {"density": wood.density}
    for key, (factor, power) in laws.items():
        kind, scale = ("modulus", 1e9) if key == "bending_modulus" else ("stress", 1e6)
        unit = Quantity(kind, scale * factor, figures=3)
        text = Sentence("{} x {:.3f}^{:g}: {}", unit, gravity, power, rule.text)
        value = scale * factor * gravity**power
        dry[key] = Figure(value=value, source=computed_source(text, wood.density.source, rule))
    return SpeciesRow(
        name=wood.name,
        latin=wood.latin,
        kind=wood.kind,
        aliases=wood.aliases,
        moisture=_MOISTURE,
        saturation=Figure(value=0.25, source=_SATURATION),
        dry=MappingProxyType(dry),
        green=MappingProxyType({}),
        elastic=MappingProxyType({}),
        cov=MappingProxyType(_scatter()),
        elastic_fallback=wood.kind,
        published_tension=None,
        by_density=True,
        notes=(_note(wood), wood.note) if wood.note else (_note(wood),),
    )


def _scatter() -> dict[str, Figure]:
    within, between = read_rules()["cov"], read_rules()["density_scatter"]["cov"]
    rules = rule_source("cov"), rule_source("density_scatter")
    text = join("; ", (rule.text for rule in rules))
    return {
        key: Figure(
            value=round(math.hypot(within[key], scatter), 3), source=computed_source(text, *rules)
        )
        for key, scatter in between.items()
    }


def _note(wood: TypicalWood) -> Sentence:
    cov = read_rules()["density_scatter"]["cov"]
    low, high = (math.exp(2.0 * sign * cov["E_L"]) for sign in (-1.0, 1.0))
    return Sentence(
        "no figures of {} were found, so all but its density is that of an average {} of {} at "
        "12 % moisture; single kinds have {:.2f} to {:.2f} times its stiffness (two standard "
        "deviations), so measure E_L on an offcut",
        wood.name,
        wood.kind,
        Quantity("density", wood.density.value, figures=3),
        low,
        high,
    )
