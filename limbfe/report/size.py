"""The table to carry to the bench: how much to take off at every station."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.report.tables import defect_table
from limbfe.studies.sized import Sized
from limbfe.units import IMPERIAL, METRIC, UnitSystem

THIRTY_SECOND = 0.0254 / 32.0
TENTH = 1e-4
UNTOUCHED = 5e-5
"""A difference (m) smaller than this is none."""


def size_tables(sized: Sized, units: UnitSystem) -> RenderableType:
    """Return what was found, the bench table, and what to look at afterwards."""
    parts: list[RenderableType] = [
        Text(sized.source.title, style="bold"),
        Text(""),
        Text(size_sentence(sized, units)),
        Text(""),
        bench_table(sized, units),
    ]
    if sized.zones:
        parts.append(defect_table(sized.zones, units))
        parts.extend(_zone_words(sized))
    return Group(*parts)


def size_sentence(sized: Sized, units: UnitSystem) -> str:
    """Return what the sized bow does, in two or three sentences."""
    draw, after = units.length(sized.draw_length), sized.after
    sentence = (
        f"Will draw {both_forces(after.force)} at {draw}; as it stands it draws "
        f"{both_forces(sized.before.force)}. "
    )
    if sized.factor is not None:
        sentence += f"Every thickness outside the stiff grip times {sized.factor:.3f}. "
    elif sized.spread is not None:
        level = float(after.peaks(sized.x)[sized.level].mean())
        count = int(sized.level.sum())
        sentence += (
            f"At {count} stations clear wood works at {level:.0%} of its strength, "
            f"alike within {sized.spread:.1%}. "
        )
    worst = int(np.argmax(after.used))
    x = float(after.x[worst])
    limb = "upper" if x > 0 else "lower"
    sentence += (
        f"Clear wood is worked hardest {units.length(abs(x))} up the {limb} limb: "
        f"{after.used[worst]:.0%} (now {sized.before.used.max():.0%})."
    )
    if after.used[worst] >= 1.0:
        sentence += " Past 100% the belly is crushed: the bow keeps a set and loses weight by it."
    return sentence


def bench_table(sized: Sized, units: UnitSystem) -> Table:
    """Return station, width, thickness now and to reach, and the shaving still to take."""
    _, length = units.scale("length")
    _, force = units.scale("force")
    table = Table(
        title=f"At the bench, upper tip to lower tip ({length})",
        title_justify="left",
        box=SIMPLE_HEAD,
        padding=(0, 1, 0, 0),
        pad_edge=False,
    )
    table.add_column("station", no_wrap=True)
    sizes, shavings = ("width", "thick\nnow", "to\nreach"), ("off,\nmm", "1/32\nin")
    for heading in (*sizes, *shavings, f"0.1 mm\nis, {force}", "strength\nnow, then"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    used = (sized.before.peaks(sized.x), sized.after.peaks(sized.x))
    for k in reversed(range(len(sized.x))):
        x = float(sized.x[k])
        limb = "upper" if x > 0 else "lower" if x < 0 else "grip "
        row = [f"{limb} {_bare(abs(x), units):>4}"]
        columns = (sized.width, sized.blank, sized.thickness)
        row += [_bare(float(values[k]), units) for values in columns]
        row += shaving_words(float(sized.shaving[k]))
        if sized.free[k] or sized.left_for[k]:
            row += [_worth(sized, k, units), f"{used[0][k]:4.0%} {used[1][k]:4.0%}"]
        else:
            row += ["", ""]
        table.add_row(*row, _remark(sized, k))
    table.caption = (
        "Off: the shaving still to take, from the belly, rounded to the careful side.  0.1 mm is: "
        "what it does to the draw weight at this station.  Strength: used in clear wood around it."
    )
    return table


def _bare(length: float, units: UnitSystem) -> str:
    """Return a length without its unit, which stands in the heading."""
    return units.length(length).split()[0]


def shaving_words(shaving: float) -> tuple[str, str]:
    """Return a shaving in tenths of a millimetre and in halves of 1/32 in, rounded down.

    Examples
    --------
    >>> shaving_words(0.00159), shaving_words(-0.0002), shaving_words(0.0)
    (('1.5', '2'), ('-0.2', '-1/2'), ('-', '-'))
    """
    if abs(shaving) < UNTOUCHED:
        return "-", "-"
    tenths = math.floor(shaving / TENTH + 1e-6)
    halves = math.floor(2.0 * shaving / THIRTY_SECOND + 1e-6)
    sign, whole, half = "-" if halves < 0 else "", abs(halves) // 2, abs(halves) % 2
    words = " ".join(part for part in (str(whole) if whole else "", "1/2" if half else "") if part)
    return f"{tenths / 10.0:.1f}", f"{sign}{words}" if words else "0"


def sized_heading(sized: Sized) -> tuple[str, ...]:
    """Return the comment on top of a sized case file."""
    how = "thickness evened by" if sized.method == "even" else "thickness scaled by"
    return (
        f"{how} limbfe size to {both_forces(sized.weight)} at {METRIC.length(sized.draw_length)}, "
        f"from {sized.source.path.name}",
    )


def both_forces(force: float) -> str:
    """Return a draw weight in newtons and pounds-force."""
    return f"{METRIC.force(force)} ({IMPERIAL.force(force)})"


def _worth(sized: Sized, k: int, units: UnitSystem) -> str:
    factor, _ = units.scale("force")
    worth = round(float(sized.worth[k]) * TENTH / factor, 2) + 0.0
    return f"{worth:.2f}"


def _remark(sized: Sized, k: int) -> str:
    if sized.left_for[k]:
        return f"for {sized.left_for[k]}"
    if not sized.free[k]:
        in_grip = abs(sized.x[k]) <= 0.5 * sized.case.file.grip.stiff_length + 1e-9
        return "stiff grip" if in_grip else "stiff tip"
    if sized.shaving[k] < -UNTOUCHED:
        return "short of wood"
    if sized.method == "even" and not sized.level[k]:
        return "least thick"
    return ""


def _zone_words(sized: Sized) -> Iterator[RenderableType]:
    for zone in sized.zones:
        if zone.verdict != "sound":
            yield Text(f"{zone.kind} {zone.name}: {zone.advice}")
