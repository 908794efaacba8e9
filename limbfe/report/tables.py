"""Tables for the terminal."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from limbfe.report.limits import breaking_sentence
from limbfe.stave.profile import shape_at
from limbfe.units import reader_units

if TYPE_CHECKING:
    from limbfe.analysis.long_string import LongStringPull
    from limbfe.analysis.results import Assessment, DefectResult, DrawnBow, HotSpot, Tip
    from limbfe.analysis.section_report import SectionReport
    from limbfe.units import UnitSystem

VERDICT_STYLE = {
    "sound": "green",
    "watch": "yellow",
    "expect a split": "bold red",
    "expect rupture": "bold red",
}


FIRST = "what comes first"
"""Heading over the way in which a knot or decay fails, or would fail, before any other."""
CRUSHED = "how far the wood is shortened, over the strain at which it crushes"
"""What strength used of crushed wood is."""
ASSUMED = "Assumed, because the case does not say (sources in results.json and with --json)"


def assessment_tables(assessment: Assessment, units: UnitSystem) -> RenderableType:
    """Return everything a bowyer reads first: verdict, forces, hot spots, defects, stations."""
    # Imported here: a draw, whose tables are in this module too, needs no verdicts.
    from limbfe.report.answer import answer

    parts: list[RenderableType] = [
        Text(assessment.setup.title, style="bold"),
        Text(assessment.setup.question, style="italic"),
        Text(""),
        Text(answer(assessment, units).sentence, style="bold"),
        Text(verdict_sentence(assessment, units)),
        Text(""),
        draw_table(assessment, units),
        *_after(assessment, units),
        *upper_limb_words(assessment, units),
        hot_spot_table(assessment.hot_spots, units),
    ]
    if assessment.defects:
        braced = float(assessment.curve.draw_length[0])
        parts.append(defect_table(assessment.defects, units, braced))
        parts.extend(_advice(assessment.defects, units))
    parts.append(station_table(assessment, units))
    parts.extend(listing(ASSUMED, _short(assessment.assumptions), units))
    parts.extend(listing("Cautions", assessment.cautions, units))
    return Group(*parts)


def verdict_sentence(assessment: Assessment, units: UnitSystem) -> str:
    """Return the answer in a few sentences."""
    weight = units.force(float(assessment.curve.force[-1]))
    length = units.length(float(assessment.curve.draw_length[-1]))
    spot = assessment.hot_spots[0]
    where = f"{units.length(spot.at)} up the {spot.limb} limb, {spot.face}"
    sentence = f"Draws {weight} at {length}. Clear wood is worked hardest {where}: {spot.how_hard}."
    worst = [d for d in assessment.defects if d.verdict != "sound"]
    for defect in worst:
        sentence += f" {defect.kind.capitalize()} {defect.name}: {defect.verdict}."
    if assessment.defects and not worst:
        sentence += " Every knot and patch of decay is judged sound at this draw."
    if assessment.brace_strength_used is not None:
        sentence += (
            f" Left strung as long as the case says, clear wood uses "
            f"{assessment.brace_strength_used:.0%} of its strength at brace."
        )
    if assessment.clear_limb is not None:
        sentence += f" {breaking_sentence(assessment.clear_limb, units)}"
    return sentence


def draw_tables(bow: DrawnBow, units: UnitSystem) -> RenderableType:
    """Return what a draw shows without looking at the wood."""
    parts: list[RenderableType] = [
        Text(bow.setup.title, style="bold"),
        Text(""),
        draw_table(bow, units),
        *_after(bow, units),
        tip_table(bow, units),
        tiller_table(bow, units),
        *upper_limb_words(bow, units)[:1],
    ]
    parts.extend(listing(ASSUMED, _short(bow.assumptions), units))
    parts.extend(listing("Cautions", bow.cautions, units))
    return Group(*parts)


def tip_table(bow: DrawnBow, units: UnitSystem) -> Table:
    """Return where the tips stand at full draw and how far they twist."""
    table = Table(title="Tips at full draw", title_justify="left")
    for heading in ("limb", "towards the archer", "to the right", "up or down", "twist"):
        table.add_column(heading, justify="right")
    tips: dict[str, Tip] = {"upper": bow.upper_tip, "lower": bow.lower_tip}
    for limb, tip in tips.items():
        x, y, z = (float(value) for value in tip.position)
        table.add_row(
            limb, units.length(x), units.length(y), units.length(abs(z)), units.angle(tip.twist)
        )
    return table


def tiller_table(bow: DrawnBow, units: UnitSystem) -> Table:
    """Return the trade's measures at brace and at full draw.

    A bow in the hand turns until the pull meets the hand, so that its balance is none to show.
    """
    table = Table(title="Tiller", title_justify="left")
    headings = ["", "upper limb further from string", "string right of grip"]
    table.caption = "half-way along the limbs"
    held = bow.setup.hold != "hand"
    if held:
        headings.append("pull above where it is held")
        table.caption += "; the pull is taken where it crosses the grip"
    for heading in headings:
        table.add_column(heading, justify="right")
    for name, tiller in (("braced", bow.tiller_braced), ("drawn", bow.tiller_drawn)):
        if tiller is not None:
            row = [name, units.length(tiller.tiller), units.length(tiller.track)]
            if held:
                row.append("-" if tiller.balance is None else units.length(tiller.balance))
            table.add_row(*row)
    return table


def upper_limb_words(bow: DrawnBow, units: UnitSystem) -> tuple[Text, ...]:
    """Return which end to make the upper limb, and why."""
    found = bow.upper_limb
    if found is None:
        return ()
    advice = {
        "upper": "Keep the upper limb above",
        "lower": "Turn the bow over, the lower end up",
        "either": "Either end may be the upper limb",
    }[found.favoured]
    return (Text(f"{advice}: {reader_units(found.reason, units)}."), Text(""))


def draw_table(bow: DrawnBow, units: UnitSystem) -> Table:
    """Return brace and full draw with the steps between."""
    curve = bow.curve
    table = Table(title="Brace and draw", title_justify="left")
    for heading in ("draw length", "draw weight", "string tension", "work put in"):
        table.add_column(heading, justify="right")
    steps = np.unique(np.linspace(0, len(curve.force) - 1, 7).round().astype(int))
    for k in steps:
        table.add_row(
            units.length(float(curve.draw_length[k])) + (" (brace)" if k == 0 else ""),
            units.force(float(curve.force[k])),
            units.force(float(curve.tension[k].mean())),
            units.energy(float(curve.energy[k])),
        )
    table.caption = (
        f"brace height {units.length(bow.brace_height)}, "
        f"string {units.length(bow.string_length)} long"
    )
    return table


def _after(bow: DrawnBow, units: UnitSystem) -> Iterator[Table]:
    """Yield the bow let down and drawn again beside its first draw."""
    after = bow.after
    if after is None:
        return
    table = Table(title="First draw, and again on the same string", title_justify="left")
    for heading in ("", "brace height", "draw weight", "work put in", "lost in the belly"):
        table.add_column(heading, justify="right")
    rows = (
        ("first", bow.brace_height, bow.curve, after.energy_lost),
        ("second", after.brace_height, after.curve, after.energy_lost_again),
    )
    for name, height, curve, lost in rows:
        table.add_row(
            name,
            units.length(height),
            units.force(float(curve.force[-1])),
            units.energy(float(curve.energy[-1])),
            units.energy(lost),
        )
    lower, upper = (units.length(float(v)) for v in after.set_at_tips)
    table.caption = f"set: upper tip {upper}, lower tip {lower}; the first includes bracing"
    if after.brace_height > bow.brace_height:
        table.caption += "; limbs with a set stretch the string less, so it braces higher"
    yield table


def hot_spot_table(spots: tuple[HotSpot, ...], units: UnitSystem) -> Table:
    """Return the places where clear wood is worked hardest."""
    table = Table(title="Where clear wood works hardest at full draw", title_justify="left")
    for heading in ("limb", "from the grip", "face", "across", "depth", "stress", "strain"):
        table.add_column(heading, justify="right" if heading not in ("limb", "face") else "left")
    table.add_column("mode")
    table.add_column("strength used", justify="right")
    for spot in spots:
        table.add_row(
            spot.limb,
            units.length(spot.at),
            spot.face,
            units.length(spot.across),
            units.length(spot.depth),
            units.stress(spot.stress),
            f"{spot.strain:.2%}",
            spot.mode,
            f"{spot.strength_used:.0%}",
        )
    if any(spot.mode == "compression" and spot.strength_used >= 1.0 for spot in spots):
        table.caption = f"strength used past 100% in compression: {CRUSHED}"
    return table


def defect_table(
    defects: tuple[DefectResult, ...], units: UnitSystem, braced: float = 0.0
) -> Table:
    """Return every knot and patch of decay with its verdict; `braced` is a draw length, m."""
    # As above.
    from limbfe.failure.verdict import MODE_NAMES

    table = Table(title="Knots and decay", title_justify="left")
    headings = ("strength used", "chance to fail", "splits at", "breaks at")
    for heading in ("name", "where", "verdict", FIRST, *headings):
        table.add_column(heading)
    for defect in defects:
        table.add_row(
            f"{defect.kind} {defect.name}",
            f"{defect.limb}, {units.length(defect.at)}",
            Text(defect.verdict, style=VERDICT_STYLE[defect.verdict]),
            defect.mode,
            band_words(defect),
            f"{defect.failure_probability:.0%}",
            draw_length_words(defect.draw_length_at_split, units, braced),
            draw_length_words(defect.draw_length_at_rupture, units, braced),
        )
    if any(defect.mode == MODE_NAMES["yield"] for defect in defects):
        table.caption = f"strength used of crushing: {CRUSHED}"
    return table


def station_table(assessment: Assessment, units: UnitSystem) -> Table:
    """Return the user's own stations with what full draw does there."""
    stave, limb = assessment.setup.stave, assessment.limb
    shapes = shape_at(stave, stave.x)
    table = Table(title="Stations at full draw", title_justify="left")
    for heading in ("limb", "station", "width", "thickness", "sapwood"):
        table.add_column(heading, justify="right")
    for heading in ("back strain", "belly strain", "yielded", "strength used"):
        table.add_column(heading, justify="right")
    for k in reversed(range(len(stave.x))):
        x = float(stave.x[k])
        used = float(np.interp(x, limb.x, limb.strength_used))
        table.add_row(
            "upper" if x > 0 else "lower" if x < 0 else "grip",
            units.length(abs(x)),
            units.length(float(shapes.width[k])),
            units.length(float(shapes.thickness[k])),
            units.length(float(shapes.sapwood[k])),
            strain_words(float(np.interp(x, limb.x, limb.back_strain))),
            strain_words(float(np.interp(x, limb.x, limb.belly_strain))),
            units.length(float(np.interp(x, limb.x, limb.yielded_depth))),
            f"{'#' * round(10 * min(used, 1.5)):<15} {used:4.0%}",
        )
    table.caption = "yielded: how deep wood is crushed from the belly"
    return table


def band_words(defect: DefectResult) -> str:
    """Return strength used with its band, where the band is wider than the rounding."""
    low, used, high = (
        f"{value:.0%}"
        for value in (defect.strength_used_low, defect.strength_used, defect.strength_used_high)
    )
    return used if low == high else f"{used} ({low} to {high})"


def strain_words(strain: float) -> str:
    """Return a strain in per cent with its sign; none for a zero."""
    text = f"{100.0 * strain:+.2f}"
    return f"{text if float(text) != 0.0 else text[1:]}%"


def draw_length_words(value: float | None, units: UnitSystem, braced: float) -> str:
    """Return the draw length at which a zone fails; one that fails by then does so at brace."""
    if value is None:
        return "beyond this draw"
    return "at brace" if value <= braced else units.length(value)


def _advice(defects: tuple[DefectResult, ...], units: UnitSystem) -> Iterator[RenderableType]:
    for defect in defects:
        yield Text(f"{defect.kind} {defect.name}: {reader_units(defect.advice, units)}")
    yield Text("")


def _short(assumptions: tuple[str, ...]) -> tuple[str, ...]:
    """Return every assumption without its source: what was taken, and how it is known."""
    lines = []
    for line in assumptions:
        subject, _, rest = line.partition(": ")
        value, _, rest = rest.partition(": ")
        if rest and not any(letter.isdigit() for letter in value):
            value = f"{value}: {rest.partition(': ')[0]}"
        flag = re.search(r" \(([a-z ,]+)\)$", line)
        value = value.removesuffix(flag[0]) if flag else value
        lines.append(f"{subject}: {value}" + (f" ({flag[1]})" if flag else ""))
    return tuple(lines)


def listing(title: str, lines: tuple[str, ...], units: UnitSystem) -> Iterator[RenderableType]:
    """Yield a heading and a dash before every line; nothing when there is none."""
    if lines:
        yield Text("")
        yield Text(title, style="bold")
        for line in lines:
            yield Padding(Text(f"- {reader_units(line, units)}"), (0, 0, 0, 2))


def section_table(report: SectionReport, units: UnitSystem) -> Table:
    """Return the named properties of one section."""
    limb = "upper" if report.x > 0 else "lower"
    title = f"Section of the {limb} limb at {units.length(abs(report.x))}"
    table = Table(title=title, title_justify="left", show_header=False)
    (flat, cross), (_, edge) = report.bending_stiffness
    right, back = (units.length(float(v)) for v in report.tension_centre)
    shear_right, shear_back = (units.length(float(v)) for v in report.shear_centre)
    rows = {
        "width, thickness": f"{units.length(report.width)}, {units.length(report.thickness)}",
        "sapwood at mid-width": units.length(report.sapwood),
        "area": units.show("area", report.area),
        "mass per length": units.show("line density", float(report.mass[0, 0])),
        "axial stiffness EA": units.show("axial stiffness", report.axial_stiffness),
        "bending stiffness, flatwise": units.show("bending stiffness", float(flat)),
        "bending stiffness, sideways": units.show("bending stiffness", float(edge)),
        "coupling of the two": units.show("bending stiffness", float(cross)),
        "torsion stiffness GJ": units.show("bending stiffness", report.torsion_stiffness),
        "weak axis turned by": units.angle(report.weak_axis),
        "tension centre": f"{right} to the right, {back} towards the back",
        "shear centre": f"{shear_right} to the right, {shear_back} towards the back",
    }
    for name, value in rows.items():
        table.add_row(name, value)
    table.caption = "centres are counted from mid-width and mid-thickness"
    return table


def pull_table(pulled: LongStringPull, units: UnitSystem) -> RenderableType:
    """Return what a pull on a long string shows of each limb."""
    table = Table(title=f"Pulled with {units.force(pulled.force)}", title_justify="left")
    for heading in ("limb", "tip moved", "bends most at", "strain there"):
        table.add_column(heading, justify="right")
    for k, limb in ((1, "upper"), (0, "lower")):
        moved, most = float(pulled.tip_movement[k]), float(pulled.bends_most_at[k])
        strain = f"{float(pulled.strain_there[k]):.2%}"
        table.add_row(limb, units.length(moved), units.length(most), strain)
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
    table.caption = "limbs taken as elastic: past the belly's limit they bend further"
    return Group(table, Text(words), *listing("Cautions", pulled.cautions, units))
