"""What a species row gives directly, and what follows from it."""

from __future__ import annotations

from collections.abc import Mapping

from limbfe.errors import MaterialError
from limbfe.wood.moisture import adjust_density, adjust_moisture, table_factor
from limbfe.wood.source import Source, computed_source
from limbfe.wood.strength import bending_strength, clear_tension
from limbfe.wood.table import Figure, SpeciesRow, read_rules, rule_source
from limbfe.wood.wood import ELASTIC_PROPERTIES

_STANDARD_MOISTURE = 0.12
_BY_GRAVITY = ("shear_strength", "tension_strength_across", "compression_strength_across")
_TOUGHNESS = ("toughness_fibre", "toughness_opening", "toughness_sliding")
# Above this ratio of bending to compression strength the implied tension strength runs away.
_DOUBTFUL_RATIO = 2.25


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


def _for_group(row: SpeciesRow, text: str, *used: Source) -> Source:
    """Return a source that admits when a rule for hardwoods is used for bamboo."""
    if row.kind != "monocot":
        return used[0] if len(used) == 1 and text == used[0].text else computed_source(text, *used)
    assumption = Source(text=f"{text}; {row.name} treated as a hardwood", flag="assumed")
    return computed_source(assumption.text, *used, assumption)


def _density(row: SpeciesRow, moisture: float) -> Figure:
    dry = row.dry["density"]
    if abs(moisture - row.moisture) < 1e-12:
        return dry
    text = (
        f"{dry.source.text}; moved from {100 * row.moisture:g} % to {100 * moisture:g} % moisture "
        "with the shrinkage of FPL, Wood Handbook, FPL-GTR-190 (2010), ch. 4"
    )
    rule = Source(text="density and moisture", flag="memory", confidence="good")
    return Figure(
        value=adjust_density(dry.value, at=row.moisture, to=moisture),
        source=computed_source(text, dry.source, rule),
    )


def _axial_modulus(row: SpeciesRow, moisture: float) -> Figure:
    bending = adjust_moisture(row, "bending_modulus", moisture)
    rule, factor = rule_source("elastic_modulus"), read_rules()["elastic_modulus"]["factor"]
    text = f"{rule.text}; bending modulus {bending.value / 1e9:.3g} GPa: {bending.source.text}"
    return Figure(value=factor * bending.value, source=computed_source(text, bending.source, rule))


def _add_elastic(row: SpeciesRow, moisture: float, out: dict[str, Figure]) -> None:
    """Add Poisson's ratios, and the other moduli once E_L is known."""
    rule = rule_source("elastic_fallback", row.elastic_fallback)
    fallback = read_rules()["elastic_fallback"][row.elastic_fallback]
    for key in ELASTIC_PROPERTIES[1:]:
        ratio = row.elastic.get(key) or Figure(value=float(fallback[key]), source=rule)
        if key.startswith("nu"):
            out.setdefault(key, ratio)
            continue
        if key in out or "E_L" not in out:
            continue
        change = table_factor(key, moisture, row.saturation.value)
        change /= table_factor("E_L", moisture, row.saturation.value)
        source = computed_source(f"{ratio.value:g} E_L: {ratio.source.text}", ratio.source)
        if abs(change - 1.0) > 1e-12:
            table = rule_source("moisture_change")
            text = f"{source.text}; ratio moved to {100 * moisture:g} % moisture by {table.text}"
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
        text = f"{factor:g} MPa x {gravity:.3f}^{power:g}: {rule.text}"
        used = [density.source, rule]
        if abs(change - 1.0) > 1e-12:
            text += f"; moved from 12 % to {100 * moisture:g} % moisture by {table.text}"
            used.append(table)
        value = 1e6 * factor * gravity**power * change
        out[key] = Figure(value=value, source=_for_group(row, text, *used))


def _add_limit(row: SpeciesRow, out: dict[str, Figure]) -> None:
    key = "compression_proportional_limit"
    if key in out or "compression_strength" not in out:
        return
    crushing, rule = out["compression_strength"], rule_source("proportional_limit")
    ratio = float(read_rules()["proportional_limit"][_group(row)])
    text = f"{ratio:g} x compression strength: {rule.text}"
    source = _for_group(row, text, crushing.source, rule)
    out[key] = Figure(value=ratio * crushing.value, source=source)


def _add_tension(
    row: SpeciesRow, moisture: float, given: Mapping[str, Figure], out: dict[str, Figure]
) -> None:
    """Add tension strength from bending and compression, or bending from the other two."""
    if "compression_strength" not in out:
        return
    compression = out["compression_strength"]
    if "bending_strength" not in out and "tension_strength" in out:
        tension = out["tension_strength"]
        text = "from tension and compression strength, bar that yields in compression"
        out["bending_strength"] = Figure(
            value=float(bending_strength(tension.value, compression.value)),
            source=computed_source(text, tension.source, compression.source),
        )
    if "tension_strength" in out or "bending_strength" not in out:
        return
    bending, compression = _measured_pair(row, given, out)
    change = 1.0
    if bending is not out["bending_strength"]:
        change = table_factor("tension_strength", moisture, row.saturation.value)
        change /= table_factor("tension_strength", row.moisture, row.saturation.value)
    out["tension_strength"] = _clear_tension_figure(bending, compression, moisture, change)


def _measured_pair(
    row: SpeciesRow, given: Mapping[str, Figure], out: Mapping[str, Figure]
) -> tuple[Figure, Figure]:
    """Return bending and compression strength of one moisture: the row's unless one was given."""
    names = ("bending_strength", "compression_strength")
    figures = out if set(names) & set(given) else row.dry
    return figures[names[0]], figures[names[1]]


def tension_notes(
    row: SpeciesRow, given: Mapping[str, Figure], out: Mapping[str, Figure]
) -> tuple[str, ...]:
    """Return what to know of a computed tension strength that is doubtful; mostly nothing."""
    names = ("bending_strength", "compression_strength", "tension_strength")
    if "tension_strength" in (*given, *row.dry) or not set(names) <= set(out):
        return ()
    bending, compression = _measured_pair(row, given, out)
    if bending.value <= _DOUBTFUL_RATIO * compression.value:
        return ()
    tension, safe = (f"{out[name].value / 1e6:.0f} MPa" for name in (names[2], names[0]))
    return (
        f"the tension strength computed for this wood ({tension}) is doubtful, because its bending "
        f"strength is {bending.value / compression.value:.2f} times its crushing strength; the "
        f'bending strength is the safe figure: give tension_strength = "{safe}" to judge by it',
    )


def _clear_tension_figure(
    bending: Figure, compression: Figure, moisture: float, change: float
) -> Figure:
    ratio = bending.value / compression.value
    try:
        value = float(clear_tension(bending.value, compression.value))
    except MaterialError as error:
        raise MaterialError(f"tension_strength cannot be computed: {error}") from error
    text = (
        f"from bending strength {bending.value / 1e6:.4g} MPa ({bending.source.text}) and "
        f"compression strength {compression.value / 1e6:.4g} MPa ({compression.source.text}): bar "
        "that breaks in tension after yielding in compression"
    )
    if ratio > _DOUBTFUL_RATIO:
        text += (
            f"; their ratio {ratio:.2f} is so high that the result is doubtful, the bending "
            "strength itself is the safe estimate"
        )
    used = [bending.source, compression.source]
    if abs(change - 1.0) > 1e-12:
        table = rule_source("moisture_change")
        text += f"; moved to {100 * moisture:g} % moisture by {table.text}"
        used.append(table)
    return Figure(value=value * change, source=computed_source(text, *used))
