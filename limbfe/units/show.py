"""SI values as the reader wants to see them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

UnitName = Literal["metric", "imperial"]
_SLIP = 1e9


@dataclass(frozen=True, slots=True)
class _Scale:
    """How a kind of value is shown: divided by `factor`, named `unit`.

    `digits` decimals are shown, one fewer from `coarse_from` up, and an exponent for what only a
    slip can be.
    """

    factor: float
    unit: str
    digits: int
    coarse_from: float = math.inf

    def show(self, value: float) -> str:
        number = value / self.factor
        digits = self.digits - 1 if abs(number) >= self.coarse_from else self.digits
        text = f"{number:.{digits}f}" if abs(number) < _SLIP else f"{number:.3g}"
        if float(text) == 0.0:
            text = text.lstrip("-")
        return f"{text} {self.unit}"


_INCH, _POUND_FORCE, _POUND = 0.0254, 4.4482216152605, 0.45359237
_PSI = _POUND_FORCE / _INCH**2
_SCALES: dict[UnitName, dict[str, _Scale]] = {
    "metric": {
        "length": _Scale(1e-3, "mm", 1, 100.0),
        "fine length": _Scale(1e-3, "mm", 2),
        "force": _Scale(1.0, "N", 1, 100.0),
        "stress": _Scale(1e6, "MPa", 1, 100.0),
        "modulus": _Scale(1e9, "GPa", 2),
        "energy": _Scale(1.0, "J", 1),
        "moment": _Scale(1.0, "N m", 1),
        "mass": _Scale(1e-3, "g", 1),
        "density": _Scale(1.0, "kg/m3", 0),
        "toughness": _Scale(1e3, "kJ/m2", 2),
        "angle": _Scale(math.pi / 180.0, "deg", 1),
        "area": _Scale(1e-6, "mm2", 1),
        "line density": _Scale(1e-3, "g/m", 1),
        "axial stiffness": _Scale(1e6, "MN", 3),
        "bending stiffness": _Scale(1.0, "N m2", 2),
    },
    "imperial": {
        "length": _Scale(_INCH, "in", 2, 10.0),
        "fine length": _Scale(_INCH, "in", 3),
        "force": _Scale(_POUND_FORCE, "lbf", 1),
        "stress": _Scale(_PSI, "psi", 0),
        "modulus": _Scale(1e6 * _PSI, "Mpsi", 2),
        "energy": _Scale(12.0 * _INCH * _POUND_FORCE, "ft lbf", 1),
        "moment": _Scale(_INCH * _POUND_FORCE, "in lbf", 0),
        "mass": _Scale(_POUND / 16.0, "oz", 2),
        "density": _Scale(_POUND / (12.0 * _INCH) ** 3, "lb/ft3", 1),
        "toughness": _Scale(_POUND_FORCE / _INCH, "lbf/in", 1),
        "angle": _Scale(math.pi / 180.0, "deg", 1),
        "area": _Scale(_INCH**2, "in2", 3),
        "line density": _Scale(_POUND / 16.0 / (12.0 * _INCH), "oz/ft", 2),
        "axial stiffness": _Scale(1e3 * _POUND_FORCE, "klbf", 1),
        "bending stiffness": _Scale(_POUND_FORCE * _INCH**2, "lbf in2", 0),
    },
}


@dataclass(frozen=True, slots=True)
class UnitSystem:
    """Shows SI values in the reader's units, for tables and messages.

    Every method takes SI and returns text.

    Examples
    --------
    >>> METRIC.length(0.0195), IMPERIAL.length(0.7112), IMPERIAL.force(200.0)
    ('19.5 mm', '28.0 in', '45.0 lbf')
    """

    name: UnitName

    def length(self, value: float) -> str:
        """Return metres as mm or in."""
        return _SCALES[self.name]["length"].show(value)

    def fine_length(self, value: float) -> str:
        """Return metres as mm to a hundredth or inches to a thousandth, for shavings."""
        return _SCALES[self.name]["fine length"].show(value)

    def force(self, value: float) -> str:
        """Return newtons as N or lbf."""
        return _SCALES[self.name]["force"].show(value)

    def stress(self, value: float) -> str:
        """Return pascals as MPa or psi."""
        return _SCALES[self.name]["stress"].show(value)

    def modulus(self, value: float) -> str:
        """Return pascals as GPa or Mpsi."""
        return _SCALES[self.name]["modulus"].show(value)

    def energy(self, value: float) -> str:
        """Return joules as J or ft lbf."""
        return _SCALES[self.name]["energy"].show(value)

    def moment(self, value: float) -> str:
        """Return newton metres as N m or in lbf."""
        return _SCALES[self.name]["moment"].show(value)

    def mass(self, value: float) -> str:
        """Return kilograms as g or oz."""
        return _SCALES[self.name]["mass"].show(value)

    def density(self, value: float) -> str:
        """Return kg/m3 as kg/m3 or lb/ft3."""
        return _SCALES[self.name]["density"].show(value)

    def angle(self, value: float) -> str:
        """Return radians as degrees."""
        return _SCALES[self.name]["angle"].show(value)

    def show(self, kind: str, value: float) -> str:
        """Return SI of any kind that `scale` knows, for the rarer ones."""
        return _SCALES[self.name][kind].show(value)

    def scale(self, kind: str) -> tuple[float, str]:
        """Return the SI size of the unit a kind is shown in, and its name, for axes of plots."""
        found = _SCALES[self.name][kind]
        return found.factor, found.unit


METRIC = UnitSystem("metric")
IMPERIAL = UnitSystem("imperial")


def both(kind: str, value: float, figures: int | None = None) -> str:
    """Return SI in metric units with inches and pounds in brackets, for sentences of all readers.

    `reader_units` leaves the half that a reader asked for.

    Parameters
    ----------
    kind : str
        As `UnitSystem.show` takes it.
    value : float
    figures : int, optional
        Significant figures; by default as many decimals as tables show.

    Examples
    --------
    >>> both("energy", 51.2), both("modulus", 11.27e9, figures=3)
    ('51.2 J (37.8 ft lbf)', '11.3 GPa (1.63 Mpsi)')
    """
    said = []
    for system in (METRIC, IMPERIAL):
        if figures is None:
            said.append(system.show(kind, value))
            continue
        factor, unit = system.scale(kind)
        said.append(f"{float(f'{value / factor:.{figures}g}'):.10g} {unit}")
    return f"{said[0]} ({said[1]})".replace(".0 mm", " mm")


def both_lengths(value: float) -> str:
    """Return metres as `both` does.

    Examples
    --------
    >>> both_lengths(0.0904), both_lengths(0.09)
    ('90.4 mm (3.56 in)', '90 mm (3.54 in)')
    """
    return both("length", value)


def both_forces(value: float) -> str:
    """Return newtons as `both` does.

    Examples
    --------
    >>> both_forces(170.2)
    '170 N (38.3 lbf)'
    """
    return both("force", value)


def _either(system: UnitName) -> str:
    """Return the pattern of a quantity, or of a range of them, in one of the systems."""
    signs = sorted({scale.unit for scale in _SCALES[system].values()}, key=len, reverse=True)
    number = r"[-+]?\d[\d.]*"
    return rf"(?:{number} to )?{number} (?:{'|'.join(map(re.escape, signs))})"


_BOTH = re.compile(rf"({_either('metric')}) \(({_either('imperial')})\)")


def reader_units(text: str, units: UnitSystem) -> str:
    """Return a sentence with every quantity that `both` wrote in the reader's units alone.

    Sentences are made where nobody knows who will read them, and kept with both units.

    Examples
    --------
    >>> reader_units("a set of 82 mm (3.22 in), 2 to 4 mm (0.08 to 0.16 in) wide", IMPERIAL)
    'a set of 3.22 in, 0.08 to 0.16 in wide'
    >>> reader_units("a set of 82 mm (3.22 in)", METRIC)
    'a set of 82 mm'
    """
    return _BOTH.sub(r"\2" if units.name == "imperial" else r"\1", text)


def unit_system(name: UnitName) -> UnitSystem:
    """Return the unit system called `name`."""
    return IMPERIAL if name == "imperial" else METRIC
