"""A comparison of bows as a table on the terminal, as CSV and as what its picture shows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.table import Table
from rich.text import Text

from limbfe.report import csv_file
from limbfe.studies.compare.compare import Comparison
from limbfe.studies.compare.compared import ComparedBow, told_apart
from limbfe.studies.compare.ranking import JUDGED
from limbfe.studies.compare.slip import DEPTH, LENGTH
from limbfe.units import Length, Quantity, Sentence, UnitSystem, say
from limbfe.view.study.compare import ComparePicture, Panel, PictureBow

FIRST, COLUMN = 20, 7
"""Width of the headings and of one bow, characters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure as it is shown: short and long name with the unit, its value, decimals."""

    name: str
    heading: str
    title: str
    value: Callable[[ComparedBow], float]
    digits: int


def rows(units: UnitSystem) -> tuple[Row, ...]:
    """Return every figure in the reader's units, in the order of the table."""
    newton, force = units.scale("force")
    gram, mass = units.scale("mass")
    metre, length = units.scale("length")
    joule, energy = units.scale("energy")
    metre_a_second, speed = units.scale("speed")
    radian, angle = units.scale("angle")
    imperial = units.name == "imperial"
    kilogram, whole = (gram * 16.0, "lb") if imperial else (1.0, "kg")
    fine, fine_speed = (1, 0) if imperial else (0, 1)

    def row(name: str, heading: str, unit: str, scale: float, digits: int, title: str = "") -> Row:
        return Row(
            name=name,
            heading=f"{heading}, {unit}" if unit else heading,
            title=f"{title or heading}, {unit}" if unit else title or heading,
            value=lambda bow: bow.figure(name) / scale,
            digits=digits,
        )

    return (
        row("thickness_change", "thicker by", "%", 0.01, 1),
        row("draw_weight", "draw weight", force, newton, fine),
        row("mass", "mass", mass, gram, fine),
        row("mass_outer_third", "outer thirds", mass, gram, fine, "mass of the outer thirds"),
        row("peak_strain", "peak strain", "%", 0.01, 2),
        row("mean_strain", "mean strain", "%", 0.01, 2),
        row("evenness", "mean over peak", "%", 0.01, 0, "evenness: mean over peak"),
        row("energy", "work put in", energy, joule, 1),
        row("stored", "energy stored", energy, joule, 1),
        row("stored_per_mass", "stored/mass", f"{energy}/{whole}", joule / kilogram, 1),
        row("stored_per_strain", "stored/strain", f"{energy}/%", joule, 1),
        row("speed", "arrow speed", speed, metre_a_second, fine_speed),
        row("early_force", "early force", "%", 0.01, 1, "force at a quarter of the draw"),
        row("string_angle", "string angle", angle, radian, 0, "string angle, full draw"),
        row("set_depth", "set", length, metre, 2 if imperial else 0, "set after a night's rest"),
        row("strength_used", "strength used", "%", 0.01, 0),
        row("slip_strain", "slip: strain", "%", 0.01, 0, "strain added by a slip"),
        row("slip_weight", "slip: weight", "%", 0.01, 2),
    )


def compare_tables(comparison: Comparison, units: UnitSystem) -> RenderableType:
    """Return who is who, every figure with the best marked, what is best, and what was left out."""
    parts: list[RenderableType] = [
        *(
            Text(f"{bow.number} {bow.title}: {words}.", style="bold red")
            for bow in comparison.bows
            for words in bow.when_braced
        ),
        Text(f"{len(comparison.bows)} bows, {comparison.target.words(units)}", style="bold"),
        *(Text(f"{bow.number:>4}  {bow.title} ({bow.name})") for bow in comparison.bows),
    ]
    parts.append(_Blocks(comparison=comparison, units=units))
    parts += [Text(say(line, units)) for line in EXPLAINED]
    parts += [Text(""), *(Text(line) for line in comparison.summary)]
    for one in comparison.left_out:
        text = f'Left out: {one.number} "{one.title}" ({one.name}): {one.reason}'
        parts.append(Text(text, style="yellow"))
    parts += [Text(f"Note: {note}.") for note in comparison.notes]
    return Group(*parts)


UNPICTURED = ("stored_per_mass",)
"""Told in the table only: the arrow's speed says more of what a light bow is good for."""
EXPLAINED = (
    "* best, with those as good within half a per cent; none where the bows hardly differ",
    "early force: pull a quarter of the way from brace to full draw, of the draw weight",
    "work put in: from brace to full draw, once exercised; the first draws take more",
    "energy stored: the work of an exercised draw less what it loses",
    "arrow speed: of ten grains (0.65 g) a pound of draw weight, by the case's own string",
    Sentence(
        "slip: what {} off the belly over {} at the worst place adds",
        Quantity("shaving", DEPTH),
        Length(LENGTH),
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Blocks:
    """The table, cut into as many even blocks of bows as the terminal's width asks for."""

    comparison: Comparison
    units: UnitSystem

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Yield the blocks."""
        bows = self.comparison.bows
        most = max(1, (options.max_width - FIRST) // COLUMN)
        count = -(-len(bows) // most)
        for some in np.array_split(np.arange(len(bows)), count):
            yield Text("")
            yield _table(self.comparison, tuple(bows[k] for k in some), self.units)
        yield Text("")


def _table(comparison: Comparison, bows: tuple[ComparedBow, ...], units: UnitSystem) -> Table:
    table = Table(box=None, padding=(0, 0, 0, 1), pad_edge=False, header_style="bold")
    table.add_column("bow", no_wrap=True)
    for bow in bows:
        table.add_column(f"{bow.number} ", justify="right", no_wrap=True)
    for row in rows(units):
        best = comparison.best.get(row.name, ())
        cells = []
        for bow in bows:
            first = bow.number in best
            value = round(row.value(bow), row.digits) + 0.0
            text = f"{value:.{row.digits}f}" + ("*" if first else " ")
            cells.append(Text(text, style="bold green" if first else ""))
        table.add_row(row.heading, *cells)
    return table


def write_csv(comparison: Comparison, path: Path) -> Path:
    """Write one line a bow, units in the headings, those left out at the end; return the path."""
    bows: list[dict[str, Any]] = [bow.to_dict() for bow in comparison.bows]
    headings = [*bows[0], "left_out"]
    bows += [
        {"number": one.number, "name": one.name, "title": one.title, "left_out": one.reason}
        for one in comparison.left_out
    ]
    return csv_file.write_csv(path, headings, ([bow.get(k, "") for k in headings] for bow in bows))


def compare_picture(comparison: Comparison, units: UnitSystem) -> ComparePicture:
    """Return what the picture of a comparison shows."""
    shown = {row.name: row for row in rows(units)}
    called = told_apart(comparison.bows)
    return ComparePicture(
        title=f"{len(comparison.bows)} bows, {comparison.target.words(units)}",
        text=(*comparison.summary, *(f"Note: {note}." for note in comparison.notes)),
        bows=tuple(
            PictureBow(
                number=bow.number,
                title=called[bow.number],
                x=bow.x,
                width=bow.width,
                thickness=bow.thickness,
            )
            for bow in comparison.bows
        ),
        panels=tuple(
            Panel(
                title=shown[judged.name].title,
                values=np.array([shown[judged.name].value(bow) for bow in comparison.bows]),
                digits=shown[judged.name].digits,
                low_is_better=judged.better == "low",
                best=comparison.best.get(judged.name, ()),
            )
            for judged in JUDGED
            if judged.name not in UNPICTURED
        ),
    )
