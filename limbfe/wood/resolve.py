"""What a species row gives directly, and what follows from it."""

from __future__ import annotations

from collections.abc import Mapping

from limbfe.errors import MaterialError
from limbfe.units import Quantity, Sentence, Words
from limbfe.wood.belly import BellyLaw, clear_tension, plateau_stress
from limbfe.wood.moisture import adjust_density, adjust_moisture, table_factor
from limbfe.wood.source import Flag, Source, computed_source
from limbfe.wood.strength import check_share
from limbfe.wood.table import Figure, SpeciesRow, read_rules, rule_source
from limbfe.wood.wood import ELASTIC_PROPERTIES

_STANDARD_MOISTURE = 0.12
_BY_GRAVITY = ("shear_strength", "tension_strength_across", "compression_strength_across")
_TOUGHNESS = ("toughness_fibre", "toughness_opening", "toughness_sliding")
# Above this ratio of bending to compression strength the implied tension strength runs away.
_DOUBTFUL_RATIO = 2.25
_MOST_TENSION = 2.0
"""Tension strength over bending strength that a bar's back is trusted with at most.  Pieces of
hardwood pulled apart bore up to 1.6 times the bending strength of their kind (`published_tension`
of the table), which `limbfe.wood.weakest_link` makes 2.0 for the small volume of a bar's back."""


def fill_from_row(
    row: SpeciesRow, moisture: float, given: Mapping[str, Figure]
) -> dict[str, Figure]:
    """Return the given figures and all that the row adds to them.

    Parameters
    ----------
    row : SpeciesRow
    moisture : float
        Fraction; the row's figures are adjusted to it.
    given : mapping of str to Figure
        By property name; never changed.

    Returns
    -------
    dict of str to Figure
        May still lack properties for which the row has no figure.
    """
    out = dict(given)
    if "density" in row.dry:
        out.setdefault("density", _density(row, moisture))
    if "bending_modulus" in row.dry:
        out.setdefault("E_L", _axial_modulus(row, moisture))
    for key in row.dry:
        if key not in ("density", "bending_modulus"):
            out.setdefault(key, adjust_moisture(row, key, moisture))
    _add_elastic(row, moisture, out)
    _add_by_gravity(row, moisture, given, out)
    _add_limit(row, out)
    _add_plateau(row, given, out)
    _add_tension(row, moisture, given, out)
    for key in _TOUGHNESS:
        rule = rule_source("toughness", _group(row))
        figure = Figure(
            value=float(read_rules()["toughness"][_group(row)][key]),
            source=_for_group(row, rule.text, rule),
        )
        out.setdefault(key, figure)
    return out


def _group(row: SpeciesRow) -> str:
    return "softwood" if row.kind == "softwood" else "hardwood"


def _for_group(row: SpeciesRow, text: Words, *used: Source) -> Source:
    """Return a source that admits when a rule for hardwoods is used for bamboo."""
    if row.kind != "monocot":
        return used[0] if len(used) == 1 and text == used[0].text else computed_source(text, *used)
    text = Sentence("{}; {} treated as a hardwood", text, row.name)
    return computed_source(text, *used, Source(text=text, flag=Flag.ASSUMED))


def _density(row: SpeciesRow, moisture: float) -> Figure:
    dry = row.dry["density"]
    if abs(moisture - row.moisture) < 1e-12:
        return dry
    text = Sentence(
        "{}; moved from {:g} % to {:g} % moisture with the shrinkage of FPL, Wood Handbook, "
        "FPL-GTR-190 (2010), ch. 4",
        dry.source.text,
        100 * row.moisture,
        100 * moisture,
    )
    rule = Source(text="density and moisture", flag=Flag.MEMORY_GOOD)
    return Figure(
        value=adjust_density(dry.value, at=row.moisture, to=moisture),
        source=computed_source(text, dry.source, rule),
    )


def _axial_modulus(row: SpeciesRow, moisture: float) -> Figure:
    """Return E_L: the modulus of a bar in bending, freed from the shear of the test.

    A bar of span l and depth h loaded in the middle of its span goes down by
    ``W l^3 / (48 E I) + 1.2 W l / (4 G A)`` (Timoshenko's beam, shear factor 5/6), so that
    ``E_L = bending modulus x (1 + 1.2 (h / l)^2 E_L / G)``; the load acts along the rings' radius,
    so G is G_LR.
    """
    bending = adjust_moisture(row, "bending_modulus", moisture)
    rule, slenderness = rule_source("elastic_modulus"), read_rules()["elastic_modulus"]["span"]
    factor = 1.0 + 1.2 / slenderness**2 / _elastic_ratio(row, "G_LR").value
    modulus = Quantity("modulus", bending.value, figures=3)
    text = Sentence(
        "{:.3f} x the bending modulus: {}; bending modulus {}: {}",
        factor,
        rule.text,
        modulus,
        bending.source.text,
    )
    return Figure(value=factor * bending.value, source=computed_source(text, bending.source, rule))


def _elastic_ratio(row: SpeciesRow, key: str) -> Figure:
    """Return a modulus over E_L, or a Poisson's ratio: the row's, or what stands in for it."""
    fallback = read_rules()["elastic_fallback"][row.elastic_fallback]
    rule = rule_source("elastic_fallback", row.elastic_fallback)
    return row.elastic.get(key) or Figure(value=float(fallback[key]), source=rule)


def _add_elastic(row: SpeciesRow, moisture: float, out: dict[str, Figure]) -> None:
    """Add Poisson's ratios, and the other moduli once E_L is known."""
    for key in ELASTIC_PROPERTIES[1:]:
        ratio = _elastic_ratio(row, key)
        if key.startswith("nu"):
            out.setdefault(key, ratio)
            continue
        if key in out or "E_L" not in out:
            continue
        change = table_factor(key, moisture, row.saturation.value)
        change /= table_factor("E_L", moisture, row.saturation.value)
        text = Sentence("{:g} E_L: {}", ratio.value, ratio.source.text)
        source = computed_source(text, ratio.source)
        if abs(change - 1.0) > 1e-12:
            table = rule_source("moisture_change")
            moved = "{}; ratio moved to {:g} % moisture by {}"
            text = Sentence(moved, source.text, 100 * moisture, table.text)
            source = computed_source(text, source, table)
        out[key] = Figure(value=ratio.value * change * out["E_L"].value, source=source)


def _add_by_gravity(
    row: SpeciesRow, moisture: float, given: Mapping[str, Figure], out: dict[str, Figure]
) -> None:
    """Add strengths that follow from the specific gravity where the row has none."""
    if "density" not in out:
        return
    density, group = out["density"], _group(row)
    at = moisture if "density" in given else row.moisture
    known = density.value if "density" in given else row.dry["density"].value
    gravity = adjust_density(known, at=at, to=_STANDARD_MOISTURE) / (
        1000.0 * (1.0 + _STANDARD_MOISTURE)
    )
    rule, table = rule_source("specific_gravity", group), rule_source("moisture_change")
    for key in _BY_GRAVITY:
        if key in out:
            continue
        factor, power = read_rules()["specific_gravity"][group][key]
        change = table_factor(key, moisture, row.saturation.value)
        unit = Quantity("stress", 1e6 * factor, figures=3)
        text = Sentence("{} x {:.3f}^{:g}: {}", unit, gravity, power, rule.text)
        used = [density.source, rule]
        if abs(change - 1.0) > 1e-12:
            moved = "{}; moved from 12 % to {:g} % moisture by {}"
            text = Sentence(moved, text, 100 * moisture, table.text)
            used.append(table)
        value = 1e6 * factor * gravity**power * change
        out[key] = Figure(value=value, source=_for_group(row, text, *used))


def _add_limit(row: SpeciesRow, out: dict[str, Figure]) -> None:
    key = "compression_proportional_limit"
    if key in out or "compression_strength" not in out:
        return
    crushing, rule = out["compression_strength"], rule_source("proportional_limit")
    ratio = float(read_rules()["proportional_limit"][_group(row)])
    text = Sentence("{:g} x compression strength: {}", ratio, rule.text)
    source = _for_group(row, text, crushing.source, rule)
    out[key] = Figure(value=ratio * crushing.value, source=source)


def _add_plateau(row: SpeciesRow, given: Mapping[str, Figure], out: dict[str, Figure]) -> None:
    """Add what a crushed belly goes on bearing, from crushing and bending strength."""
    key = "compression_plateau"
    if key in out:
        return
    rule, crushing = rule_source("plateau"), out["compression_strength"]
    bending, compression = _measured_pair(row, given, out)
    share = plateau_stress(compression.value, bending.value) / compression.value
    text = Sentence("{:.2f} x compression strength: {}", share, rule.text)
    source = _for_group(row, text, crushing.source, bending.source, rule)
    out[key] = Figure(value=share * crushing.value, source=source)


def _add_tension(
    row: SpeciesRow, moisture: float, given: Mapping[str, Figure], out: dict[str, Figure]
) -> None:
    """Add the tension strength that bending and compression strength imply."""
    if "tension_strength" in out:
        return
    bending, compression = _measured_pair(row, given, out)
    change, modulus = 1.0, out["E_L"]
    if bending is not out["bending_strength"]:
        change = table_factor("tension_strength", moisture, row.saturation.value)
        change /= table_factor("tension_strength", row.moisture, row.saturation.value)
        if "E_L" not in given:
            modulus = _axial_modulus(row, row.moisture)
    law = _belly_law(out, compression, modulus)
    out["tension_strength"] = _clear_tension_figure(law, bending, compression, moisture, change)


def _belly_law(out: Mapping[str, Figure], compression: Figure, modulus: Figure) -> BellyLaw:
    """Return the law of wood with this crushing strength; limit and plateau in proportion."""
    crushing = out["compression_strength"].value
    for name in ("compression_proportional_limit", "compression_plateau"):
        check_share(name, out[name].value, crushing)
    change = compression.value / crushing
    return BellyLaw(
        modulus=modulus.value,
        crushing=compression.value,
        limit=change * out["compression_proportional_limit"].value,
        plateau=change * out["compression_plateau"].value,
    )


def _measured_pair(
    row: SpeciesRow, given: Mapping[str, Figure], out: Mapping[str, Figure]
) -> tuple[Figure, Figure]:
    """Return bending and compression strength of one moisture: the row's unless one was given."""
    names = ("bending_strength", "compression_strength")
    figures = out if set(names) & set(given) else row.dry
    return figures[names[0]], figures[names[1]]


def tension_notes(
    row: SpeciesRow, given: Mapping[str, Figure], out: Mapping[str, Figure]
) -> tuple[Words, ...]:
    """Return what to know of a computed tension strength that is doubtful; mostly nothing."""
    names = ("bending_strength", "compression_strength", "tension_strength")
    if "tension_strength" in (*given, *row.dry) or not set(names) <= set(out):
        return ()
    bending, compression = _measured_pair(row, given, out)
    if bending.value <= _DOUBTFUL_RATIO * compression.value:
        return ()
    safe, _, tension = (Quantity("stress", out[name].value, figures=3) for name in names)
    return (
        Sentence(
            "the tension strength computed for this wood ({}) is doubtful, because its bending "
            "strength is {:.2f} times its crushing strength; the bending strength is the safe "
            'figure: give tension_strength = "{}" to judge by it',
            tension,
            bending.value / compression.value,
            safe,
        ),
    )


def _clear_tension_figure(
    law: BellyLaw, bending: Figure, compression: Figure, moisture: float, change: float
) -> Figure:
    ratio = bending.value / compression.value
    try:
        needed = clear_tension(law, bending.value)
    except MaterialError as error:
        raise MaterialError(f"tension_strength cannot be computed: {error}") from error
    text: Words = Sentence(
        "from bending strength {} ({}) and compression strength {} ({}): bar that breaks in "
        "tension after yielding in compression",
        Quantity("stress", bending.value, figures=4),
        bending.source.text,
        Quantity("stress", compression.value, figures=4),
        compression.source.text,
    )
    value = min(needed, _MOST_TENSION * bending.value)
    if value < needed:
        text = Sentence(
            "{}; held to {:g} times the bending strength, the most that pieces pulled apart allow",
            text,
            _MOST_TENSION,
        )
    if ratio > _DOUBTFUL_RATIO:
        text = Sentence(
            "{}; their ratio {:.2f} is so high that the result is doubtful, the bending strength "
            "itself is the safe estimate",
            text,
            ratio,
        )
    used = [bending.source, compression.source]
    if abs(change - 1.0) > 1e-12:
        table = rule_source("moisture_change")
        text = Sentence("{}; moved to {:g} % moisture by {}", text, 100 * moisture, table.text)
        used.append(table)
    return Figure(value=value * change, source=computed_source(text, *used))
