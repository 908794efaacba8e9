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
from limbfe.units import (
    UnitName,
    UnitSystem,
    both_forces,
    both_lengths,
    reader_units,
    unit_factor,
)

INCH = unit_factor("in", "length")
THIRTY_SECOND = INCH / 32.0
STEPS: dict[UnitName, float] = {"metric": 1e-4, "imperial": 1e-2 * INCH}
"""What shavings are read to, m: a tenth of a millimetre, a hundredth of an inch."""
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
        parts.extend(_zone_words(sized, units))
    return Group(*parts)


def size_sentence(sized: Sized, units: UnitSystem) -> str:
    """Return what the sized bow does, in two or three sentences."""
    draw, after = units.length(sized.draw_length), sized.after
    sentence = (
        f"Will draw {units.force(after.force)} at {draw}; as it stands it draws "
        f"{units.force(sized.before.force)}. "
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
        sentence += (
            " Past 100% it says how far the belly is shortened over the strain at which it "
            "crushes: the bow keeps a set and loses weight by it."
        )
    return sentence


def bench_table(sized: Sized, units: UnitSystem) -> Table:
    """Return station, width, thickness now and to reach, and the shaving still to take."""
    _, length = units.scale("length")
    _, force = units.scale("force")
    step = STEPS[units.name]
    step_words = f"{step / units.scale('length')[0]:g} {length}"
    table = Table(
        title=f"At the bench, upper tip to lower tip ({length})",
        title_justify="left",
        box=SIMPLE_HEAD,
        padding=(0, 1, 0, 0),
        pad_edge=False,
    )
    table.add_column("station", no_wrap=True)
    sizes, shavings = ("width", "thick\nnow", "to\nreach"), (f"off,\n{length}", "1/32\nin")
    for heading in (*sizes, *shavings, f"{step_words}\nis, {force}", "strength\nnow, then"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    used = (sized.before.peaks(sized.x), sized.after.peaks(sized.x))
    for k in reversed(range(len(sized.x))):
        x = float(sized.x[k])
        limb = "upper" if x > 0 else "lower" if x < 0 else "grip "
        row = [f"{limb} {_bare(abs(x), units):>4}"]
        row.append(_bare(float(sized.width[k]), units))
        row += [thickness_words(float(t[k]), units) for t in (sized.blank, sized.thickness)]
        row += shaving_words(float(sized.shaving[k]), units)
        if sized.free[k] or sized.left_for[k]:
            row += [_worth(sized, k, units), f"{used[0][k]:4.0%} {used[1][k]:4.0%}"]
        else:
            row += ["", ""]
        table.add_row(*row, _remark(sized, k))
    table.caption = (
        "Off: the shaving still to take, from the belly, rounded to the careful side.  "
        f"{step_words} is: what it does to the draw weight at this station.  Strength: used in "
        "clear wood around it."
    )
    return table


def _bare(length: float, units: UnitSystem) -> str:
    """Return a length without its unit, which stands in the heading."""
    return units.length(length).split()[0]


def thickness_words(thickness: float, units: UnitSystem) -> str:
    """Return a thickness as a calliper reads it, to a tenth of a millimetre or 0.001 in."""
    show = units.length if units.name == "metric" else units.fine_length
    return show(thickness).split()[0]


def shaving_words(shaving: float, units: UnitSystem) -> tuple[str, str]:
    """Return a shaving as a calliper reads it and in halves of 1/32 in, rounded down.

    Examples
    --------
    >>> from limbfe.units import IMPERIAL, METRIC
    >>> shaving_words(0.00159, METRIC), shaving_words(-0.0002, METRIC), shaving_words(0.0, METRIC)
    (('1.5', '2'), ('-0.2', '-1/2'), ('-', '-'))
    >>> shaving_words(0.00159, IMPERIAL)
    ('0.062', '2')
    """
    if abs(shaving) < UNTOUCHED:
        return "-", "-"
    halves = math.floor(2.0 * shaving / THIRTY_SECOND + 1e-6)
    sign, whole, half = "-" if halves < 0 else "", abs(halves) // 2, abs(halves) % 2
    words = " ".join(part for part in (str(whole) if whole else "", "1/2" if half else "") if part)
    unit, _ = units.scale("length")
    parts = 10.0 if units.name == "metric" else 1000.0
    read = math.floor(parts * shaving / unit + 1e-6) / parts
    return f"{read:.{round(math.log10(parts))}f}", f"{sign}{words}" if words else "0"


def sized_heading(sized: Sized) -> tuple[str, ...]:
    """Return the comment on top of a sized case file."""
    how = "thickness evened by" if sized.method == "even" else "thickness scaled by"
    return (
        f"{how} limbfe size to {both_forces(sized.weight)} at {both_lengths(sized.draw_length)}, "
        f"from {sized.source.path.name}",
    )


def _worth(sized: Sized, k: int, units: UnitSystem) -> str:
    factor, _ = units.scale("force")
    worth = round(float(sized.worth[k]) * STEPS[units.name] / factor, 2) + 0.0
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


def _zone_words(sized: Sized, units: UnitSystem) -> Iterator[RenderableType]:
    for zone in sized.zones:
        if zone.verdict != "sound":
            yield Text(f"{zone.kind} {zone.name}: {reader_units(zone.advice, units)}")
