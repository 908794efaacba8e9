"""The table to carry to the bench: how much to take off at every station."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.report.tables import defect_table, first_words
from limbfe.stave.recurve import recurved
from limbfe.studies.size.sized import Sized
from limbfe.units import (
    METRIC,
    UnitName,
    UnitSystem,
    both_forces,
    both_lengths,
    ruler_inches,
    say,
    unit_factor,
)

INCH = unit_factor("in", "length")
STEPS: dict[UnitName, float] = {"metric": 1e-4, "imperial": INCH / 64.0}
"""What shavings are read to, m: a tenth of a millimetre, 1/64 in."""
FREED = 0.75
"""Of a floor that governs: a thickness of the tips to try next."""
UNEVEN = 0.7
"""Strength used, mean of the stations over the most, below which limbs are called uneven."""
UNTOUCHED = 5e-5
"""A difference (m) smaller than this is none."""


def size_tables(sized: Sized, units: UnitSystem) -> RenderableType:
    """Return the bench table, what to look at afterwards, and what was found."""
    parts: list[RenderableType] = [
        *first_words(sized.when_braced, units),
        Text(sized.source.title, style="bold"),
        Text(""),
        bench_table(sized, units),
    ]
    if sized.zones:
        solved = sized.after.solved
        braced = max(one.braced.draw_length for one in (solved, solved.first_pull))
        parts.append(defect_table(sized.zones, units, braced))
        parts.extend(_zone_words(sized, units))
    parts += [Text(""), Text(size_sentence(sized, units)), Text(_shoots(sized, units))]
    return Group(*parts)


def size_sentence(sized: Sized, units: UnitSystem) -> str:
    """Return what the sized bow does, in two or three sentences."""
    draw, after = units.length(sized.wanted.draw_length), sized.after
    before = sized.before
    sentence = f"Will draw {units.force(after.force)} at {draw}; as it stands it "
    sentence += (
        "is too stiff for that. " if before is None else f"draws {units.force(before.force)}. "
    )
    if sized.factor is not None:
        sentence += f"Every thickness outside the stiff grip times {sized.factor:.3f}. "
    elif sized.spread is not None:
        level = float(after.peaks(sized.x)[sized.level].mean())
        count = int(sized.level.sum())
        sentence += f"At {count} stations clear wood works at {level:.0%} of its strength, "
        sentence += (
            f"alike within {sized.spread:.1%}. " if not _floored(sized) else "and only there. "
        )
        sentence += _floored(sized, units)
    if sized.method == "even" and np.any(_recurve(sized)):
        now, then = (one[_recurve(sized)] for one in (sized.thickness_now, sized.thickness))
        how = (
            "left as thick as the case has them"
            if np.allclose(then, now, atol=UNTOUCHED)
            else f"taken down less than even strain would, to {np.mean(then / now):.2f} of the "
            "blank, as one factor on the whole limb would"
        )
        sentence += (
            f"The recurves are {how}, base and all: stiff, they work less, hold their bend, stand "
            "sideways and pull as levers; --tip lets them get thinner. "
        )
    sentence += _uneven(sized)
    worst = int(np.argmax(after.used))
    x = float(after.x[worst])
    limb = "upper" if x > 0 else "lower"
    sentence += (
        f"Clear wood is worked hardest {units.length(abs(x))} up the {limb} limb: "
        f"{after.used[worst]:.0%}"
    )
    sentence += "." if before is None else f" (as it is, {before.used.max():.0%} at most)."
    if after.used[worst] >= 1.0:
        sentence += (
            " Past 100% the wood is bent further than a bar of it bears: expect wrinkles (frets) "
            "and a break."
        )
    return sentence


def _shoots(sized: Sized, units: UnitSystem) -> str:
    """Return how fast the sized bow shoots, by the arrow of the case or by the usual one."""
    speed, arrow = sized.speed(), units.show("arrow", sized.arrow)
    given = sized.after.solved.model.setup.shooting.arrow is not None
    of = arrow if given else f"{arrow} (ten grains a pound)"
    if speed is None:
        return (
            f"How fast an arrow of {of} would leave it was not found: its shot does not converge."
        )
    return f"An arrow of {of} would leave it at {units.show('speed', speed)}."


def _uneven(sized: Sized) -> str:
    """Return how to shape limbs that one factor leaves bending in one place."""
    used = sized.after.peaks(sized.x)[sized.free]
    if sized.method != "scale" or not used.size or used.mean() > UNEVEN * used.max():
        return ""
    return (
        "One factor keeps the limbs' shape, and these bend far more in one place than in others; "
        "--even takes each station down by its own. "
    )


def _floored(sized: Sized, units: UnitSystem = METRIC) -> str:
    """Return what holds more than two stations thicker than the rest, and what frees them."""
    held = sized.at_floor
    if sized.method != "even" or not held.any():
        return ""
    floor = float(sized.floor[held].min())
    step = 1e-3 if units.name == "metric" else INCH / 16.0
    freed = step * max(1, math.floor(FREED * floor / step))
    return (
        f"It is not even: at {int(held.sum())} more stations the least thickness of "
        f"{units.length(floor)} governs, which is that of the tips, and the bow bends too much "
        f'where it does not; give --tip "{units.length(freed)}" or less to free them, or narrow '
        "the limbs there. "
    )


def bench_table(sized: Sized, units: UnitSystem) -> Table:
    """Return station, width, thickness now and to reach, and the shaving still to take."""
    _, length = units.scale("length")
    _, force = units.scale("force")
    step = STEPS[units.name]
    step_words = units.length(step)
    table = Table(
        title=f"At the bench, upper tip to lower tip ({length})",
        title_justify="left",
        box=SIMPLE_HEAD,
        padding=(0, 1, 0, 0),
        pad_edge=False,
    )
    table.add_column("station", no_wrap=True)
    sizes = ("width", "thick\nnow", "to\nreach", f"off,\n{length}")
    then, now = sized.after.peaks(sized.x), sized.used_now
    strength = "strength\nthen" if now is None else "strength\nnow, then"
    for heading in (*sizes, f"{step_words}\nis, {force}", strength):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    as_it_stands = [""] * len(then) if now is None else [f"{used:4.0%}" for used in now]
    for k in reversed(range(len(sized.x))):
        x = float(sized.x[k])
        limb = "upper" if x > 0 else "lower" if x < 0 else "grip "
        row = [f"{limb} {units.number('length', abs(x)):>4}"]
        row.append(units.number("length", float(sized.width[k])))
        blank, shaving = float(sized.blank[k]), float(sized.shaving[k])
        reach = blank - _off(shaving, units)
        row += [thickness_words(one, units) for one in (blank, reach)]
        row.append(shaving_words(shaving, units))
        if sized.free[k] or sized.left_for[k]:
            row += [
                _worth(sized, k, units),
                f"{as_it_stands[k]} {then[k]:4.0%}",
            ]
        else:
            row += ["", ""]
        table.add_row(*row, _remark(sized, k))
    table.caption = (
        "Off: the shaving still to take, from the belly, rounded to the careful side, and the "
        "thickness to reach with it.  "
        f"{step_words} is: what it does to the draw weight at this station.  Strength: used in "
        "clear wood around it."
    )
    return table


def thickness_words(thickness: float, units: UnitSystem) -> str:
    """Return a thickness to a tenth of a millimetre or to 1/64 in."""
    return units.number("length", thickness) if units.name == "metric" else inches_64(thickness)


def inches_64(length: float) -> str:
    """Return a thickness to 1/64 in whatever its size, so that its shaving can be read off it."""
    return ruler_inches(length, 64)


def shaving_words(shaving: float, units: UnitSystem) -> str:
    """Return a shaving in tenths of a millimetre or 64ths of an inch, rounded down.

    Examples
    --------
    >>> from limbfe.units import IMPERIAL, METRIC
    >>> [shaving_words(shaving, METRIC) for shaving in (0.00159, -0.0002, 0.0)]
    ['1.5', '-0.2', '-']
    >>> [shaving_words(shaving, IMPERIAL) for shaving in (0.00159, 0.0042, -0.0002)]
    ['1/16', '5/32', '-1/64']
    """
    if abs(shaving) < UNTOUCHED:
        return "-"
    off = _off(shaving, units)
    return inches_64(off) if units.name == "imperial" else f"{1e3 * off:.1f}"


def _off(shaving: float, units: UnitSystem) -> float:
    """Return a shaving (m) in whole steps, rounded down; what is left of the wood follows it."""
    if abs(shaving) < UNTOUCHED:
        return shaving
    step = STEPS[units.name]
    return step * math.floor(shaving / step + 1e-6)


def sized_heading(sized: Sized) -> tuple[str, ...]:
    """Return the comment on top of a sized case file."""
    how = "thickness evened by" if sized.method == "even" else "thickness scaled by"
    weight, length = both_forces(sized.wanted.weight), both_lengths(sized.wanted.draw_length)
    return (f"{how} limbfe size to {weight} at {length}, from {sized.source.path.name}",)


def _worth(sized: Sized, k: int, units: UnitSystem) -> str:
    factor, _ = units.scale("force")
    worth = round(float(sized.worth[k]) * STEPS[units.name] / factor, 2) + 0.0
    return f"{worth:.2f}"


def _recurve(sized: Sized) -> NDArray[np.bool_]:
    return recurved(sized.after.solved.model.setup.stave) & ~sized.free


def _remark(sized: Sized, k: int) -> str:
    if sized.left_for[k]:
        return f"for {sized.left_for[k]}"
    if not sized.free[k]:
        in_grip = abs(sized.x[k]) <= sized.case.file.grip.half + 1e-9
        return "stiff grip" if in_grip else "recurve" if _recurve(sized)[k] else "stiff tip"
    if sized.shaving[k] < -UNTOUCHED:
        return "short of wood"
    if sized.method == "even" and not sized.level[k]:
        return "least thick" if 0 < k < len(sized.x) - 1 else ""
    return ""


def _zone_words(sized: Sized, units: UnitSystem) -> Iterator[RenderableType]:
    for zone in sized.zones:
        if zone.verdict != "sound":
            yield Text(f"{zone.kind} {zone.name}: {say(zone.advice, units)}")
