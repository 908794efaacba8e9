"""Whether the figures of a wood can be those of a wood."""

from __future__ import annotations

from collections.abc import Iterator

from limbfe.case.assumptions import shown_property
from limbfe.case.build import given_properties
from limbfe.case.messages import Problem, first_found
from limbfe.case.schema import CaseFile
from limbfe.case.wood_tables import WoodsTable, WoodTable
from limbfe.wood.wood import SCATTERED

_RANGES: dict[str, tuple[float, float]] = {
    "E_L": (0.3e9, 60e9),
    "E_R": (5e6, 12e9),
    "E_T": (5e6, 12e9),
    "G_LR": (5e6, 12e9),
    "G_LT": (5e6, 12e9),
    "G_RT": (1e6, 6e9),
    "density": (80.0, 2200.0),
    "tension_strength": (25e6, 600e6),
    "compression_strength": (3e6, 600e6),
    "compression_proportional_limit": (2e6, 600e6),
    "compression_plateau": (2e6, 600e6),
    "shear_strength": (1e6, 80e6),
    "bending_strength": (15e6, 600e6),
    "tension_strength_across": (0.3e6, 100e6),
    "compression_strength_across": (0.3e6, 200e6),
    "toughness_fibre": (0.3e3, 100e3),
    "toughness_opening": (20.0, 30e3),
    "toughness_sliding": (20.0, 60e3),
}
"""Lowest and highest value (SI) of any wood, bamboo, horn, sinew or glass cloth, with room to spare
on both sides (from memory): outside it the figure or its unit is a slip."""


def wood_problems(file: CaseFile) -> Iterator[Problem]:
    """Yield what is wrong with the woods, the most basic first."""
    return first_found(check(file) for check in (_names, _figures, _scatter))


def _names(file: CaseFile) -> Iterator[Problem]:
    wood = file.wood
    if wood.whole is None and wood.heartwood is None:
        yield Problem(
            ("wood",),
            "names no wood; add [wood.whole], or [wood.heartwood] when the sapwood is modelled",
        )
    elif wood.whole is not None and wood.heartwood is not None:
        yield Problem(
            ("wood", "whole"),
            "stands beside [wood.heartwood]; keep one: whole without a sapwood boundary, "
            "heartwood with one",
        )
    elif wood.whole is not None and wood.sapwood is not None:
        yield Problem(
            ("wood", "whole"), "stands beside [wood.sapwood]; call it [wood.heartwood] then"
        )


def _each(file: CaseFile) -> Iterator[tuple[str, WoodTable]]:
    for name in WoodsTable.model_fields:
        table: WoodTable | None = getattr(file.wood, name)
        if table is not None:
            yield name, table


def _figures(file: CaseFile) -> Iterator[Problem]:
    """Refuse figures that no wood has: nearly always a slip of the unit."""
    for wood, table in _each(file):
        for name, value in given_properties(table).items():
            if name not in _RANGES:
                continue
            low, high = _RANGES[name]
            if not low <= value <= high:
                yield Problem(
                    ("wood", wood, name),
                    f"no wood or backing has that: {shown_property(name, low)!s} to "
                    f"{shown_property(name, high)!s} is allowed; {_meant(name, value)}",
                )


def _meant(name: str, value: float) -> str:
    """Return a guess at what was meant: MPa for GPa, GPa for MPa, or kJ/m2 for J/m2."""
    low, high = _RANGES[name]
    meant = value * (1e3 if name.startswith(("E_", "G_")) else 1e-3)
    if low < meant < high and name != "density":
        return f"was {shown_property(name, meant)!s} meant?"
    return "check the number and its unit"


def _scatter(file: CaseFile) -> Iterator[Problem]:
    for wood, table in _each(file):
        known = [
            name
            for name in SCATTERED
            if name != "compression_strength" or wood in ("whole", "heartwood")
        ]
        for name in table.cov:
            if name not in known:
                yield Problem(
                    ("wood", wood, "cov", name),
                    f"acts on nothing; the scatter of {', '.join(known)} is used: drop this one",
                )
