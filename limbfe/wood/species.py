"""From a species and what the user measured to one wood with every property."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping

from limbfe.errors import MaterialError
from limbfe.units import Sentence, Words
from limbfe.wood.elasticity import Elasticity
from limbfe.wood.lookup import find_species
from limbfe.wood.moisture import check_moisture
from limbfe.wood.resolve import fill_from_row, tension_notes
from limbfe.wood.source import GIVEN, Flag, Source, computed_source
from limbfe.wood.strength import Strength
from limbfe.wood.table import Figure, SpeciesRow, read_rules, rule_source
from limbfe.wood.wood import ELASTIC_PROPERTIES, PROPERTIES, Wood

_STRENGTH_FIELDS = {
    "tension": "tension_strength",
    "compression": "compression_strength",
    "compression_proportional_limit": "compression_proportional_limit",
    "compression_plateau": "compression_plateau",
    "shear": "shear_strength",
    "bending": "bending_strength",
    "tension_across": "tension_strength_across",
    "compression_across": "compression_strength_across",
    "toughness_fibre": "toughness_fibre",
    "toughness_opening": "toughness_opening",
    "toughness_sliding": "toughness_sliding",
}
# Whose coefficient of variation stands in for one that is not tabulated.
_COV_STANDS_FOR = {
    "E_R": "E_L",
    "E_T": "E_L",
    "G_LR": "E_L",
    "G_LT": "E_L",
    "G_RT": "E_L",
    "compression_proportional_limit": "compression_strength",
    "compression_plateau": "compression_strength",
    "toughness_fibre": "toughness",
    "toughness_opening": "toughness",
    "toughness_sliding": "toughness",
}


def make_wood(
    *,
    name: str,
    species: str | None,
    moisture: float | None,
    given: Mapping[str, float],
    cov: Mapping[str, float],
) -> Wood:
    """Return a wood with every property, each with its source.

    Parameters
    ----------
    name : str
        What the case calls this wood; used in messages.
    species : str or None
        A wood of the built-in table; any name if the density is given; None when every property
        is given.
    moisture : float or None
        Moisture content, fraction.  None leaves the row's figures at their own moisture and says
        so under ``sources["moisture"]``.
    given : mapping of str to float, SI
        The user's own values by the names in `PROPERTIES`.  They win over the row and are never
        adjusted for moisture.
    cov : mapping of str to float
        The user's own coefficients of variation, fractions.

    Returns
    -------
    Wood

    Raises
    ------
    MaterialError
        If the species or a property's name is unknown, a property is neither given nor in the row,
        or the values are impossible.

    Notes
    -----
    What a row lacks follows from what it has: E_L from the bending modulus, the other moduli from
    published ratios, tension strength from bending and compression strength, the proportional
    limit from the crushing strength, shear strength and strength across the grain from the
    specific gravity.  Every such step is written in the property's source.
    """
    try:
        return _build_wood(name, species, moisture, given, cov)
    except MaterialError as error:
        raise MaterialError(f"wood.{name}: {error}") from error


def _build_wood(
    name: str,
    species: str | None,
    moisture: float | None,
    given: Mapping[str, float],
    cov: Mapping[str, float],
) -> Wood:
    _check_names(given)
    _check_positive(given)
    _check_names(cov, key="cov = { ")
    figures = {key: Figure(value=float(value), source=GIVEN) for key, value in given.items()}
    notes: tuple[Words, ...] = ()
    row = None
    if species is not None:
        row = find_species(species, density=given.get("density"), moisture=moisture)
    if row is not None:
        if moisture is not None and set(PROPERTIES) - set(figures):
            check_moisture(moisture)
        own = figures
        figures = fill_from_row(row, row.moisture if moisture is None else moisture, own)
        notes = (*row.notes, *tension_notes(row, own, figures))
    missing = [key for key in PROPERTIES if key not in figures]
    if missing:
        raise MaterialError(
            f"neither a species nor a value for {', '.join(missing)}; give them, or name a species "
            "to take them from"
        )
    sources = {key: figures[key].source for key in PROPERTIES}
    if row is not None and moisture is None:
        moisture = row.moisture
        sources["moisture"] = Source(
            text=f"the table's own moisture for {row.name}", flag=Flag.ASSUMED
        )
    scatter = _resolve_cov(row, cov)
    _check_stiffest(figures)
    return Wood(
        name=name,
        species=None if row is None else row.name,
        moisture=moisture,
        density=figures["density"].value,
        elasticity=Elasticity(**{key: figures[key].value for key in ELASTIC_PROPERTIES}),
        strength=Strength(
            **{field: figures[key].value for field, key in _STRENGTH_FIELDS.items()},
            cov={key: figure.value for key, figure in scatter.items()},
        ),
        sources=sources,
        cov_sources={key: figure.source for key, figure in scatter.items()},
        notes=notes,
        by_density=row is not None and row.by_density,
    )


def _check_names(names: Iterable[str], key: str = "") -> None:
    for name in names:
        if name not in PROPERTIES:
            near = [key for key in PROPERTIES if key.lower() == name.lower()]
            near = near or difflib.get_close_matches(name, PROPERTIES, n=1)
            hint = f'; did you mean "{near[0]}"?' if near else ""
            raise MaterialError(
                f"{key}{name}: not a property of wood{hint}; use one of {', '.join(PROPERTIES)}"
            )


def _check_positive(given: Mapping[str, float]) -> None:
    for name, value in given.items():
        if not math.isfinite(value) or (value <= 0.0 and not name.startswith("nu")):
            raise MaterialError(f"{name} = {value:g}: must be finite and above zero")


def _check_stiffest(figures: Mapping[str, Figure]) -> None:
    along = figures["E_L"].value
    for name in ("E_R", "E_T"):
        across = figures[name].value
        if across > along:
            raise MaterialError(
                f"{name} = {across / 1e9:.3g} GPa: is above E_L = {along / 1e9:.3g} GPa, the "
                "stiffness along the grain, and no wood is stiffer across; were they exchanged?"
            )


def _resolve_cov(row: SpeciesRow | None, given: Mapping[str, float]) -> dict[str, Figure]:
    """Return the coefficient of variation of each property that has one."""
    general, table = rule_source("cov"), read_rules()["cov"]
    out: dict[str, Figure] = {}
    for key in PROPERTIES:
        stand_in = _COV_STANDS_FOR.get(key, key)
        if key in given:
            out[key] = Figure(value=float(given[key]), source=GIVEN)
        elif row is not None and stand_in in row.cov:
            figure = row.cov[stand_in]
            source = _stand_in_source(figure.source, key, stand_in)
            out[key] = Figure(value=figure.value, source=source)
        elif stand_in in table:
            source = _stand_in_source(general, key, stand_in)
            out[key] = Figure(value=float(table[stand_in]), source=source)
    return out


def _stand_in_source(source: Source, key: str, stand_in: str) -> Source:
    if stand_in in (key, "toughness"):
        return source
    text = Sentence("taken as that of {}: {}", stand_in, source.text)
    return computed_source(text, source, Source(text=text, flag=Flag.ASSUMED))
