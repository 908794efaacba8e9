"""SI values as the reader wants to see them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from limbfe.units.parse import unit_size

UnitName = Literal["metric", "imperial"]
_SLIP = 1e9
_INCH = 0.0254
_DIVISIONS = ((3.0, 64), (math.inf, 16))
"""Below so many inches a length is read to such parts of one: 64ths on a limb's thickness and
width, 16ths along it (common practice)."""


def ruler_inches(metres: float, parts: int | None = None) -> str:
    """Return a length as a ruler shows it: inches and a fraction in lowest terms.

    Parameters
    ----------
    metres : float
    parts : int, optional
        Of an inch, a power of two; by default 64 below 3 in, 16 beyond.

    Examples
    --------
    >>> ruler_inches(0.0254 * 5 / 16), ruler_inches(0.0254 * 0.329), ruler_inches(-0.0254 * 1.25)
    ('5/16', '21/64', '-1 1/4')
    >>> ruler_inches(0.7112), ruler_inches(0.00001), ruler_inches(0.0254 * 0.375, parts=4)
    ('28', '0', '1/2')
    """
    inches = abs(metres) / _INCH
    if not inches < _SLIP:
        return f"{metres / _INCH:.3g}"
    if parts is None:
        parts = next(parts for below, parts in _DIVISIONS if inches < below)
    # half a part goes up, as on paper; the nudge keeps what is a half from a rounded conversion
    whole, rest = divmod(math.floor(inches * parts + 0.5 + 1e-9), parts)
    divisor = math.gcd(rest, parts)
    fraction = f"{rest // divisor}/{parts // divisor}" if rest else ""
    words = f"{whole or ''} {fraction}".strip() or "0"
    return f"-{words}" if metres < 0.0 and words != "0" else words


class _Scale:
    """How a kind of value is shown: in `unit`, whose SI size is `factor`.

    `digits` decimals are shown, one fewer from `coarse_from` up, and an exponent for what only a
    slip can be.
    """

    def __init__(
        self, unit: str, digits: int, coarse_from: float = math.inf, parsed: str | None = None
    ) -> None:
        # `parsed` is how the unit is written in full where `unit` is what the trade says
        size = unit_size(parsed or unit)
        assert size is not None
        self.factor, self.unit = size[0], unit
        self.digits, self.coarse_from = digits, coarse_from

    def number(self, value: float) -> str:
        """Return SI in the unit, without its name."""
        number = value / self.factor
        digits = self.digits - 1 if abs(number) >= self.coarse_from else self.digits
        text = f"{number:.{digits}f}" if abs(number) < _SLIP else f"{number:.3g}"
        return text.lstrip("-") if float(text) == 0.0 else text


_SCALES: dict[UnitName, dict[str, _Scale]] = {
    "metric": {
        "length": _Scale("mm", 1, 100.0),
        "fine length": _Scale("mm", 2),
        "shaving": _Scale("mm", 1),
        "rough length": _Scale("mm", 0),
        "tool length": _Scale("mm", 0),
        "draw reach": _Scale("mm", 0),
        "force": _Scale("N", 1, 100.0),
        "stress": _Scale("MPa", 1, 100.0),
        "modulus": _Scale("GPa", 2),
        "energy": _Scale("J", 1),
        "moment": _Scale("N m", 1),
        "mass": _Scale("g", 1),
        "speed": _Scale("m/s", 1),
        "arrow": _Scale("g", 1),
        "momentum": _Scale("N s", 2),
        "distance": _Scale("m", 0),
        "density": _Scale("kg/m3", 0),
        "toughness": _Scale("kJ/m2", 2),
        "angle": _Scale("deg", 1),
        "area": _Scale("mm2", 1),
        "line density": _Scale("g/m", 1),
        "line load": _Scale("N/mm", 1),
        "axial stiffness": _Scale("MN", 3),
        "bending stiffness": _Scale("N m2", 2),
    },
    "imperial": {
        "length": _Scale("in", 2, 10.0),
        "fine length": _Scale("in", 3),
        "shaving": _Scale("in", 3),
        "rough length": _Scale("in", 1),
        "tool length": _Scale("in", 4),
        "draw reach": _Scale("in", 4),
        "force": _Scale("lbf", 1),
        "stress": _Scale("psi", 0),
        "modulus": _Scale("Mpsi", 2),
        "energy": _Scale("ft lbf", 1),
        "moment": _Scale("in lbf", 0),
        "mass": _Scale("oz", 2),
        "speed": _Scale("fps", 0, parsed="ft/s"),
        "arrow": _Scale("gr", 0),
        "momentum": _Scale("lbf s", 3),
        "distance": _Scale("yd", 0),
        "density": _Scale("lb/ft3", 1),
        "toughness": _Scale("lbf/in", 1),
        "angle": _Scale("deg", 1),
        "area": _Scale("in2", 3),
        "line density": _Scale("oz/ft", 2),
        "line load": _Scale("lbf/in", 1),
        "axial stiffness": _Scale("klbf", 1),
        "bending stiffness": _Scale("lbf in2", 0),
    },
}

_RULER: dict[str, int | None] = {
    "length": None, "rough length": 8, "tool length": 16, "draw reach": 16,
}  # fmt: skip
"""Kinds shown in inches as a ruler has them, and the parts of an inch, see `ruler_inches`."""
_OFF_THE_RULER = 0.02
"""Share by which a shaving may miss the 64ths of an inch and be told in them: half a millimetre is
no 1/64 in, it takes a quarter more."""
_STEPS: dict[UnitName, float] = {"metric": 1e-3, "imperial": _INCH / 16}
_ROUNDED: dict[str, Callable[[float], int]] = {"tool length": math.ceil, "draw reach": math.floor}
"""Lengths shown in whole steps of a tool (m), the way that keeps what is said of them true: what is
at least needed goes up, how far something may be drawn goes down."""


@dataclass(frozen=True, slots=True)
class UnitSystem:
    """Shows SI values in the reader's units, for tables and messages.

    Every method takes SI and returns text.

    Examples
    --------
    >>> METRIC.length(0.0195), IMPERIAL.length(0.0195), IMPERIAL.force(200.0)
    ('19.5 mm', '49/64 in', '45.0 lbf')
    """

    name: UnitName

    def length(self, value: float) -> str:
        """Return metres as mm or as inches on a ruler, `ruler_inches`."""
        return self.show("length", value)

    def rough_length(self, value: float) -> str:
        """Return metres as whole mm or inches to an eighth, for what is known to no more."""
        return self.show("rough length", value)

    def fine_length(self, value: float) -> str:
        """Return metres as mm to a hundredth or inches to a thousandth, for shavings."""
        return self.show("fine length", value)

    def shaving(self, value: float) -> str:
        """Return metres as mm or inches: 64ths where it is so many, decimals where it is not.

        For what is taken off or added where other figures are said to follow from it.

        Examples
        --------
        >>> IMPERIAL.shaving(0.0254 / 64), IMPERIAL.shaving(0.5e-3), METRIC.shaving(0.5e-3)
        ('1/64 in', '0.020 in', '0.5 mm')
        """
        return self.show("shaving", value)

    def force(self, value: float) -> str:
        """Return newtons as N or lbf."""
        return self.show("force", value)

    def stress(self, value: float) -> str:
        """Return pascals as MPa or psi."""
        return self.show("stress", value)

    def modulus(self, value: float) -> str:
        """Return pascals as GPa or Mpsi."""
        return self.show("modulus", value)

    def energy(self, value: float) -> str:
        """Return joules as J or ft lbf."""
        return self.show("energy", value)

    def moment(self, value: float) -> str:
        """Return newton metres as N m or in lbf."""
        return self.show("moment", value)

    def mass(self, value: float) -> str:
        """Return kilograms as g or oz."""
        return self.show("mass", value)

    def density(self, value: float) -> str:
        """Return kg/m3 as kg/m3 or lb/ft3."""
        return self.show("density", value)

    def angle(self, value: float) -> str:
        """Return radians as degrees."""
        return self.show("angle", value)

    def show(self, kind: str, value: float) -> str:
        """Return SI of any kind that `scale` knows, for the rarer ones."""
        return f"{self.number(kind, value)} {_SCALES[self.name][kind].unit}"

    def number(self, kind: str, value: float) -> str:
        """Return SI of a kind without the name of the unit, for tables that have it on top."""
        if kind in _ROUNDED:
            step = _STEPS[self.name]
            # the nudge keeps a whole step whole through a rounded conversion
            up = 1e-6 if _ROUNDED[kind] is math.floor else -1e-6
            value = _ROUNDED[kind](value / step + up) * step
        if kind == "shaving" and self.name == "imperial":
            nearest = round(value / _INCH * 64) * _INCH / 64
            if abs(value - nearest) <= _OFF_THE_RULER * abs(value):
                return ruler_inches(nearest, 64)
        if kind in _RULER and self.name == "imperial":
            return ruler_inches(value, _RULER[kind])
        return _SCALES[self.name][kind].number(value)

    def decimal(self, kind: str, value: float) -> str:
        """Return SI of a kind with its unit in decimals, a length too unless in a tool's steps."""
        if kind in _ROUNDED:
            return self.show(kind, value)
        scale = _SCALES[self.name][kind]
        return f"{scale.number(value)} {scale.unit}"

    def scale(self, kind: str) -> tuple[float, str]:
        """Return the SI size of the unit a kind is shown in, and its name, for axes of plots."""
        found = _SCALES[self.name][kind]
        return found.factor, found.unit


METRIC = UnitSystem("metric")
IMPERIAL = UnitSystem("imperial")


def unit_system(name: UnitName) -> UnitSystem:
    """Return the unit system called `name`."""
    return IMPERIAL if name == "imperial" else METRIC
