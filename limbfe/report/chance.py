"""The chances of a bow on one screen, each number with its band, and what its picture shows."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from limbfe.analysis.bow.cautions import STANDING_CAUTIONS
from limbfe.failure.reliability import Share
from limbfe.report.tables import first_words, listing
from limbfe.studies.chance.results import Chance, Spread
from limbfe.studies.chance.told import MODEL_ITSELF
from limbfe.units import UnitSystem, Words, say
from limbfe.view.study.chance import ChancePicture

_WAYS = {
    "any": "fails in any way",
    "clear_wood": "  breaks in clear wood",
    "rupture": "  breaks at a knot or patch",
    "split": "  splits at a knot or patch",
    "frets": "wrinkles (frets) may show",
}
_LIKELY, _DOUBTED = 0.2, 0.05
"""Chances of failure from which a bow is told not to bear the draw, and to be watched."""
_SHOWN = 5
_CAUTION = (
    "A bow that breaks hurts people: every figure is an estimate. Wear eye protection, keep "
    "everyone out of line, go up in small steps; --assumptions lists all that was taken to vary."
)


def chance_screen(found: Chance, units: UnitSystem, *, assumptions: bool = False) -> RenderableType:
    """Return the answer on one screen of 80 columns; with `assumptions` what varies besides."""
    parts: list[RenderableType] = [
        *first_words(found.when_braced, units),
        Text(found.title, style="bold"),
        Text(_answer(found, units), style=_style(found)),
        *_told(found, units),
        Text(""),
        _chances(found),
        Text(""),
        _bow(found, units),
        Text(""),
        _by_draw(found, units),
        Text(""),
        *_first(found),
        *_next(found, units),
        *_local(found),
        Text(_certain(found), style="dim"),
        *(Text(f"{say(one, units)}.", style="bold") for one in _own_cautions(found)),
        Text(_CAUTION),
    ]
    if assumptions:
        lines = (one.words() for one in found.assumptions)
        parts += list(listing("What varies, and where it is from", lines, units))
        parts += list(listing("Cautions", found.cautions, units))
    return Group(*parts)


def _own_cautions(found: Chance) -> Iterator[Words]:
    """Yield the cautions that are of this bow, not those that hold for every one."""
    for one in found.cautions:
        if one not in STANDING_CAUTIONS and one != MODEL_ITSELF:
            yield one


def _answer(found: Chance, units: UnitSystem) -> str:
    draw, one = units.length(found.draw_length), found.chances["any"]
    if found.held is None:
        start = f"Of 100 bows like this, {hundred(one)} fail by {draw} of draw"
    else:
        held = units.length(found.held)
        start = (
            f"It has held {held}: of 100 bows like this that did, {hundred(one)} fail by {draw} "
            f"(of all, {_number(100 * _all_at(found))}; {_number(100 * found.surviving.value)} "
            f"in 100 hold {held})"
        )
    if one.high >= _LIKELY:
        return f"{start}. Do not draw it that far."
    if one.high >= _DOUBTED:
        return f"{start}. That is too many to trust it."
    return f"{start}."


def _told(found: Chance, units: UnitSystem) -> Iterator[RenderableType]:
    """Yield what readings of this bow say, and how it stood before them."""
    if found.told is None:
        return
    told, name = found.told, Path(found.told.file).name
    woods = "; ".join(
        f"E_L of {one.wood} {1e-9 * one.value:.1f} GPa ({1e-9 * one.low:.1f} to "
        f"{1e-9 * one.high:.1f}), in the case {1e-9 * one.case:.1f}"
        for one in told.moduli
    )
    low, high = (units.number("force", end) for end in (told.draw_weight.p5, told.draw_weight.p95))
    yield Text(
        f"As {told.readings} readings tell ({name}): {woods}. Before them 9 of 10 would have drawn "
        f"{low} to {high} {units.scale('force')[1]}, and {hundred(told.any)} of 100 failed."
    )


def _all_at(found: Chance) -> float:
    table = found.by_draw
    return float(np.interp(found.draw_length, table["draw_length"], table["all"]))


def _style(found: Chance) -> str:
    high = found.chances["any"].high
    return "bold red" if high >= _LIKELY else "bold yellow" if high >= _DOUBTED else "bold"


def _number(value: float) -> str:
    """Return a number of bows in 100, with as many figures as mean something."""
    if value <= 0.0:
        return "0"
    if value >= 10.0:
        return f"{value:.0f}" if value < 99.5 or value >= 100.0 else f"{value:.1f}"
    if value >= 0.1:
        return f"{value:.2g}"
    return f"{value:.1g}"


def hundred(share: Share) -> str:
    """Return a chance as bows in 100 with its band."""
    low, value, high = (_number(100.0 * one) for one in (share.low, share.value, share.high))
    return f"{value} ({low} to {high})"


def _table(*headings: str) -> Table:
    """Return a table of lines close together: all of the answer has to fit on one screen."""
    table = Table(box=SIMPLE_HEAD, pad_edge=False, collapse_padding=True, show_edge=False)
    table.add_column(headings[0])
    for heading in headings[1:]:
        table.add_column(heading, justify="right", no_wrap=True)
    return table


def _chances(found: Chance) -> Table:
    table = _table("of 100 such bows, at that draw", "bows", "95 in 100 sure: between")
    for name, words in _WAYS.items():
        if name in ("rupture", "split") and not found.zones:
            continue
        share = found.chances[name]
        band = f"{_number(100 * share.low)} and {_number(100 * share.high)}"
        mark = " *" if name in found.rare else ""
        table.add_row(words + mark, _number(100 * share.value), band)
    return table


def _bow(found: Chance, units: UnitSystem) -> Table:
    table = _table("what they are", "this case", "mean", "9 of 10 between", "figures off by")
    for name, kind, spread in (
        ("draw weight", "force", found.draw_weight),
        ("set, rested", "rough length", found.kept),
        (f"speed of {units.show('arrow', found.arrow)} of arrow", "speed", found.speed),
    ):
        if spread is None:
            continue
        low, high = (units.number(kind, one) for one in (spread.p5, spread.p95))
        table.add_row(
            f"{name}, {units.scale(kind)[1]}",
            units.number(kind, spread.own),
            units.number(kind, spread.mean),
            f"{low} and {high}",
            units.decimal(kind.removeprefix("rough "), _off(spread)),
        )
    return table


def _off(spread: Spread) -> float:
    return max(0.5 * (high - low) for low, high in spread.off.values())


def _by_draw(found: Chance, units: UnitSystem) -> Table:
    by = found.by_draw
    middle = int(np.abs(by["draw_length"] - found.draw_length).argmin())
    last = len(by["any"]) - 1
    pick = sorted({0, middle // 2, middle, (middle + last) // 2, last})
    unit = units.scale("length")[1]
    table = _table(
        f"failed by a draw of, {unit}",
        *(units.number("rough length", float(by["draw_length"][k])) for k in pick),
    )
    table.add_row("of 100 such bows", *(_number(100 * by["any"][k]) for k in pick))
    table.add_row(
        "between",
        *(f"{_number(100 * by['any_low'][k])}-{_number(100 * by['any_high'][k])}" for k in pick),
    )
    return table


def _first(found: Chance) -> Iterator[RenderableType]:
    if not found.first:
        return
    told = sorted(found.first.items(), key=lambda one: -one[1].value)[:3]
    words = "; ".join(
        f"{name} {100 * one.value:.0f} % ({100 * one.low:.0f} to {100 * one.high:.0f})"
        for name, one in told
    )
    yield Text(f"Fails first: {words}.")


def _next(found: Chance, units: UnitSystem) -> Iterator[RenderableType]:
    if not found.steps:
        return
    lines: dict[str, list[str]] = {}
    for one in found.steps:
        lines.setdefault(say(one.what, units), []).append(f"{one.of} {one.less:.0%}")
    yield Text("Measure next, and the share of the doubt it takes away on average:")
    for what, shares in list(lines.items())[:_SHOWN]:
        yield Padding(Text(f"- {what}: {', '.join(shares)}"), (0, 0, 0, 2))


def _local(found: Chance) -> Iterator[RenderableType]:
    """Yield what bows judged on local models of their own say beside the tables."""
    local = found.local
    if local is None:
        return
    words = (
        f"{local.bows} bows with local models of their own: {hundred(local.fails)} of 100 break or "
        f"split at a knot or patch; by tables, of the same bows, {hundred(local.by_tables)}. "
        f"Strength used there: {np.exp(local.bias):.2f} of the tables', +- {local.off:.0%}."
    )
    if local.lost:
        words += f" {local.lost} more could not be judged and are left out."
    yield Text(words)


def _certain(found: Chance) -> str:
    quick = found.quick
    words = (
        f"{found.samples} quick bows, found through {quick['drawn']:.0f} drawn in full, off those "
        f"by {quick['draw_weight']:.1%} in draw weight, {quick['strength_used']:.1%} in strength "
        f"used (counted as scatter); seed {found.seed}."
    )
    if found.rare:
        off = ", ".join(f"{one:.0%}" for one in found.rare.values())
        words += f" * by subset simulation, itself off by {off} (1 sd)."
    return words


def chance_picture(found: Chance) -> ChancePicture:
    """Return what the picture shows."""
    return ChancePicture(
        title=found.title,
        draw_length=found.draw_length,
        held=found.held,
        fan=found.fan,
        place=found.place,
        starts=found.starts,
        by_draw=found.by_draw,
    )
