"""How wood properties change with moisture."""

from __future__ import annotations

import math

from limbfe.errors import MaterialError
from limbfe.units import Sentence
from limbfe.wood.source import computed_source
from limbfe.wood.table import Figure, SpeciesRow, read_rules, rule_source

LOWEST, HIGHEST = 0.05, 0.30
"""Moisture contents (fraction) between which the adjustment is used.  Properties rise as wood
dries down to about 5 % (C. C. Gerhards, Wood and Fiber 14 (1982), abstract)."""

_DRY, _STANDARD, _DAMP = 0.06, 0.12, 0.20
# Which line of the table of changes a property follows.
_LINES = {
    "bending_modulus": "E_L",
    "E_L": "E_L",
    "E_R": "E_across",
    "E_T": "E_across",
    "G_LR": "G",
    "G_LT": "G",
    "G_RT": "G",
}


def power_law(dry: float, green: float, *, at: float, saturation: float, moisture: float) -> float:
    """Return a property at any moisture from its dry and green values.

    Parameters
    ----------
    dry, green : float
        The property at moisture `at` and above `saturation`.
    at, saturation, moisture : float
        Moisture contents, all in one unit.

    Returns
    -------
    float
        ``P = P_dry (P_dry / P_green)^((at - M) / (saturation - at))``, and the green value from
        `saturation` up.

    References
    ----------
    FPL, Wood Handbook, FPL-GTR-190 (2010), ch. 5, moisture adjustment (from memory; the handbook
    writes it for 12 %).

    Examples
    --------
    >>> power_law(81.4, 49.6, at=12, saturation=25, moisture=12)
    81.4
    """
    if moisture >= saturation:
        return green
    exponent = (at - moisture) / (saturation - at)
    return float(dry * (dry / green) ** exponent)


def table_factor(name: str, moisture: float, saturation: float) -> float:
    """Return a property at a moisture (fraction) over its value at 12 %.

    Parameters
    ----------
    name : str
        A property that the table of approximate changes covers; fracture energies, Poisson's
        ratios and density are not in it.
    moisture, saturation : float
        Fractions; above `saturation` nothing changes any more.

    Returns
    -------
    float
        Exponential in the moisture on either side of 12 %, as the power law is, through the
        table's values at 6 % and 20 %, and on beyond them.
    """
    drier, damper = read_rules()["moisture_change"][_LINES.get(name, name)]
    m = min(moisture, saturation)
    if m <= _STANDARD:
        return math.exp(math.log1p(drier) * (_STANDARD - m) / (_STANDARD - _DRY))
    return math.exp(math.log1p(damper) * (m - _STANDARD) / (_DAMP - _STANDARD))


def adjust_moisture(row: SpeciesRow, name: str, moisture: float) -> Figure:
    """Return one of a row's figures at another moisture.

    Parameters
    ----------
    row : SpeciesRow
    name : str
        A key of ``row.dry`` other than the density.
    moisture : float
        Fraction.

    Returns
    -------
    Figure
        By the power law when the row has a green value, otherwise by the table of approximate
        changes.  Below the row's own moisture a modulus takes the lesser of the two: the law, made
        to join green and dry, gives woods that stiffen much in drying 2 to 3 per cent a point,
        where the handbook's table has 1.5 and spruce was measured at 0.7 (Maas and Wittel,
        wood-rheology, 2026).

    Raises
    ------
    MaterialError
        If the moisture lies outside the range of the adjustment.
    """
    dry = row.dry[name]
    if math.isclose(moisture, row.moisture, rel_tol=0.0, abs_tol=1e-12):
        return dry
    check_moisture(moisture)
    green, saturation = row.green.get(name), row.saturation
    way = f"adjusted from {100 * row.moisture:g} % to {100 * moisture:g} % moisture"
    ends = (table_factor(name, m, saturation.value) for m in (moisture, row.moisture))
    by_table = dry.value * next(ends) / next(ends)
    if green is not None:
        law = {"at": row.moisture, "saturation": saturation.value, "moisture": moisture}
        value = power_law(dry.value, green.value, **law)
        if name != "bending_modulus" or value <= by_table or moisture > row.moisture:
            rule = rule_source("power_law")
            text = Sentence(
                "{}; {} by {} with the green value ({}), reached at {:g} %",
                dry.source.text,
                way,
                rule.text,
                green.source.text,
                100 * saturation.value,
            )
            used = (dry.source, green.source, rule, saturation.source)
            return Figure(value=value, source=computed_source(text, *used))
    rule = rule_source("moisture_change")
    text = Sentence("{}; {} by {}", dry.source.text, way, rule.text)
    return Figure(value=by_table, source=computed_source(text, dry.source, rule))


def adjust_density(density: float, *, at: float, to: float) -> float:
    """Return the density of wood at another moisture.

    Parameters
    ----------
    density : float, kg/m3
    at, to : float
        Moisture contents, fractions.

    Returns
    -------
    float, kg/m3

    Notes
    -----
    ``density = 1000 G (1 + M)`` with ``G = G_b / (1 - 0.265 a G_b)``, ``a = (0.30 - M) / 0.30``
    below 30 % moisture, ``G_b`` the specific gravity on green volume.

    References
    ----------
    FPL, Wood Handbook, FPL-GTR-190 (2010), ch. 4, density and specific gravity (from memory).
    """
    gravity = density / (1000.0 * (1.0 + at))
    basic = gravity / (1.0 + 0.265 * _drying(at) * gravity)
    return 1000.0 * (1.0 + to) * basic / (1.0 - 0.265 * _drying(to) * basic)


def check_moisture(moisture: float) -> None:
    """Refuse a moisture content the adjustment does not cover (MaterialError)."""
    if not LOWEST <= moisture <= HIGHEST:
        raise MaterialError(
            f"moisture = {100 * moisture:g} %: table values can be adjusted from {100 * LOWEST:g} "
            f"to {100 * HIGHEST:g} %; correct it, or give every property yourself"
        )


def _drying(moisture: float) -> float:
    return max(0.0, (0.30 - moisture) / 0.30)
