"""Tables of a pull on a long string."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.report.tables import add_number, first_words, listing, plain_table
from limbfe.units import ruler_inches
from limbfe.view.study.pull import ALIKE

if TYPE_CHECKING:
    from limbfe.analysis.bow.flex import Flex
    from limbfe.analysis.bow.long_string import LongStringPull
    from limbfe.units import UnitSystem

_SHOWN = (1, 3, 5, 7, 9)
"""Tenths of the force, from 0, at which the stations are shown: all ten do not fit on a screen."""


def pull_tables(pulled: LongStringPull, units: UnitSystem) -> RenderableType:
    """Return what a pull on a long string shows of each limb, and the answer last."""
    cautions = pulled.cautions[len(pulled.when_braced) :]
    return Group(
        *first_words(pulled.when_braced, units),
        _tips(pulled, units),
        _stations(pulled.flex, units),
        _beside_even(pulled.flex, units),
        *listing("Cautions", cautions, units),
        Text(""),
        Text(_answer(pulled, units), style="bold"),
    )


def _tips(pulled: LongStringPull, units: UnitSystem) -> Table:
    flex, unit = pulled.flex, units.scale("length")[1]
    table = plain_table(f"The tips, pulled with {units.force(pulled.force)}")
    add_number(table, "share", "force", f"string to back, {unit}")
    add_number(table, f"upper tip, {unit}", f"lower tip, {unit}")
    for k, force in enumerate(flex.force):
        lower, upper = (float(one) for one in flex.tips[k])
        table.add_row(
            f"{10 * (k + 1)} %",
            units.force(float(force)),
            *(_down(one, units) for one in (float(flex.draw_length[k]), upper, lower)),
        )
    return table


def _stations(flex: Flex, units: UnitSystem) -> Table:
    unit = units.scale("length")[1]
    table = plain_table(f"How far every station comes down ({unit})")
    add_number(table, "station")
    for k in _SHOWN:
        add_number(table, f"at {10 * (k + 1)} %")
    for k in reversed(range(len(flex.x))):
        down = (_down(float(flex.down[step, k]), units) for step in _SHOWN)
        table.add_row(_name(float(flex.x[k]), units), *down)
    return table


def _beside_even(flex: Flex, units: UnitSystem) -> Table:
    """Return the limbs at the whole force beside limbs of this outline that bend evenly."""
    unit = units.scale("length")[1]
    table = plain_table(f"Beside limbs of this outline that bend evenly ({unit})")
    add_number(table, "station", "comes down", "even limb", "bends, of even")
    add_number(table, "stiffness to other limb")
    table.add_column("")
    for k in reversed(range(len(flex.x))):
        other = float(flex.stiffness[k])
        table.add_row(
            _name(float(flex.x[k]), units),
            _down(float(flex.down[-1, k]), units),
            _down(float(flex.even_down[k]), units),
            f"{flex.bending[k]:.0%}",
            "-" if np.isnan(other) else _change(other - 1.0),
            _remark(100.0 * float(flex.bending[k])),
        )
    lower, upper = (f"{strain:.2%}" for strain in flex.even_strain)
    table.caption = (
        "an even limb: as wide, its tip as far down, its skin strained alike all along (upper "
        f"{upper}, lower {lower}), its tips half as thick as its thickest place or as they are"
    )
    return table


def _down(moved: float, units: UnitSystem) -> str:
    """Return a movement as it is read beside the tiller: to whole sixteenths or tenths of a mm."""
    return ruler_inches(moved, 16) if units.name == "imperial" else units.number("length", moved)


def _change(share: float) -> str:
    """Return a difference in per cent with its sign; none for a zero."""
    text = f"{share:+.0%}"
    return text if round(100.0 * share) else text[1:]


def _remark(bending: float) -> str:
    if bending > 100.0 + ALIKE:
        return "weak"
    return "stiff" if bending < 100.0 - ALIKE else ""


def _name(x: float, units: UnitSystem) -> str:
    return f"{'upper' if x > 0.0 else 'lower'} {units.number('length', abs(x))}"


def _answer(pulled: LongStringPull, units: UnitSystem) -> str:
    lower, upper = (float(v) for v in pulled.tip_movement)
    if pulled.stiffer == "neither":
        words = "Both limbs bend alike; either may be the upper one."
    else:
        ratio = max(lower, upper) / min(lower, upper)
        words = (
            f"The {pulled.stiffer} limb is the stiffer: the other tip moves {ratio - 1.0:.0%} "
            "further. Common practice makes the stiffer limb the lower one, which the hand loads "
            "more."
        )
    for k, limb in ((1, "upper"), (0, "lower")):
        most, strain = float(pulled.bends_most_at[k]), float(pulled.strain_there[k])
        words += f" The {limb} limb bends most at {units.length(most)} ({strain:.2%} at the skin)."
    return f"{words} Limbs are taken as elastic: past the belly's limit they bend further."
