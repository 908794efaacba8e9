"""Tables of a whole bow, judged."""

from __future__ import annotations

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.analysis.bow.drawn import KeptSet
from limbfe.analysis.results.assessment import Assessment
from limbfe.analysis.wood.hot_spots import HotSpot
from limbfe.report.answer import answer, next_step
from limbfe.report.draw import assumed, cautions, foot, head
from limbfe.report.draw_limits import breaking_sentence
from limbfe.report.tables import (
    PRESSED,
    add_number,
    after_draw,
    defect_table,
    draw_table,
    first_words,
    plain_table,
    set_words,
    smoothness_words,
    strain_words,
    string_table,
    strung_length,
    upper_limb_words,
)
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave
from limbfe.units import UnitSystem, say

_ROWS = 4
"""Of the draw, on one screen: brace, full draw and two between."""


def assessment_tables(
    assessment: Assessment, units: UnitSystem, *, every: bool = False, assumptions: bool = False
) -> RenderableType:
    """Return an assessment for the terminal: tables first, then the answer and what to do next.

    Parameters
    ----------
    assessment : Assessment
    units : UnitSystem
    every : bool
        All tables, with every step and hot spot, and all cautions in full.
    assumptions : bool
        With every value that the case did not give.
    """
    bow = assessment.drawn
    parts: list[RenderableType] = [
        *first_words(bow.when_braced, units),
        *head(bow),
        draw_table(bow, units, 7 if every else _ROWS),
        *string_table(bow, units),
    ]
    if every:
        parts += [Text(smoothness_words(bow, units)), Text("")]
        parts += [*after_draw(bow, units), *upper_limb_words(bow, units)]
    elif bow.kept is not None:
        parts += [Text(f"{set_words(bow.kept, units)}."), Text("")]
    if every:
        parts.append(hot_spot_table(assessment.hot_spots, units))
    if every and assessment.clear_limb is not None:
        parts.append(Text(breaking_sentence(assessment.clear_limb, units)))
    parts.append(station_table(assessment, units))
    if assessment.zones:
        braced = strung_length(bow)
        parts.append(defect_table(assessment.zones, units, braced))
        parts.extend(
            Text(f"{zone.kind} {zone.name}: {say(zone.advice, units)}")
            for zone in assessment.zones
            if every or zone.verdict != "sound"
        )
    if assumptions:
        parts.extend(assumed(bow, units))
    parts.extend(cautions(bow, units, whole=every))
    parts += [
        Text(""),
        Text(answer(assessment, units).sentence, style="bold"),
        Text(verdict_sentence(assessment, units)),
        Text(f"Next: {next_step(assessment, units)}", style="bold"),
        *foot(bow, every=every, assumptions=assumptions),
    ]
    return Group(*parts)


def verdict_sentence(assessment: Assessment, units: UnitSystem) -> str:
    """Return the answer in a few sentences."""
    weight = units.force(float(assessment.drawn.curve.force[-1]))
    length = units.length(float(assessment.drawn.curve.draw_length[-1]))
    spot = assessment.hot_spots[0]
    where = f"{units.length(spot.at)} up the {spot.limb} limb, {spot.face}"
    sentence = "".join(f"{say(one, units)}. " for one in assessment.drawn.when_braced)
    sentence += f"Draws {weight} at {length}{_short_set(assessment.drawn.kept, units)}. "
    sentence += f"Clear wood is worked hardest {where}: {spot.how_hard}."
    worst = [d for d in assessment.zones if d.verdict != "sound"]
    for defect in worst:
        sentence += f" {defect.kind.capitalize()} {defect.name}: {defect.verdict}."
    if assessment.zones and not worst:
        sentence += " Every knot and patch of decay is judged sound at this draw."
    if assessment.brace_strength_used is not None:
        sentence += (
            f" Left strung as long as the case says, clear wood uses "
            f"{assessment.brace_strength_used:.0%} of its strength at brace."
        )
    return sentence


def _short_set(kept: KeptSet | None, units: UnitSystem) -> str:
    """Return the set after rest for a sentence, nothing where it is not known."""
    if kept is None:
        return ""
    words = f" and keeps a set of {units.rough_length(kept.mean)}"
    if kept.low is None or kept.high is None:
        return words
    return f"{words} (likely {units.rough_length(kept.low)} to {units.rough_length(kept.high)})"


def hot_spot_table(spots: tuple[HotSpot, ...], units: UnitSystem) -> Table:
    """Return the places where clear wood is worked hardest."""
    table = plain_table("Where clear wood works hardest at full draw")
    table.add_column("where")
    for heading in ("depth", "stress", "strain"):
        add_number(table, heading)
    table.add_column("mode")
    table.add_column("strength\nused", justify="right")
    for spot in spots:
        table.add_row(
            f"{spot.limb} {units.length(spot.at)}, {spot.face}",
            units.length(spot.depth),
            units.stress(spot.stress),
            f"{spot.strain:.2%}",
            spot.mode,
            f"{spot.strength_used:.0%}",
        )
    table.caption = f"in compression: {PRESSED}"
    return table


def station_table(assessment: Assessment, units: UnitSystem) -> Table:
    """Return the user's own stations with what full draw does there."""
    stave, limb = assessment.setup.stave, assessment.limb
    shapes = shape_at(stave, stave.x)
    sapwood = stave.sapwood_wood is not None
    table = plain_table(f"Stations at full draw ({units.scale('length')[1]})")
    headings = ["station", "width", "thick", *["sap"] * sapwood]
    for heading in (*headings, "back\nstrain", "belly\nstrain", "yielded", "strength\nused"):
        table.add_column(heading, justify="right", no_wrap=True)
    alike = _limbs_alike(stave)
    for k in reversed(range(len(stave.x) // 2 if alike else 0, len(stave.x))):
        x = float(stave.x[k])
        side = "grip" if x == 0.0 else "both" if alike else "upper" if x > 0 else "lower"
        places = [x, -x] if alike else [x]
        used, back, squeeze, deep = (
            float(max(np.interp(places, limb.x, values)))
            for values in (
                limb.strength_used,
                limb.back_strain,
                -limb.belly_strain,
                limb.yielded_depth,
            )
        )
        table.add_row(
            f"{side} {units.number('length', abs(x))}",
            units.number("length", float(shapes.width[k])),
            units.number("length", float(shapes.thickness[k])),
            *[units.number("length", float(shapes.sapwood[k]))] * sapwood,
            strain_words(back),
            strain_words(-squeeze),
            units.number("length", deep),
            f"{'#' * round(4 * min(used, 1.5)):<6}{used:5.0%}",
        )
    table.caption = "yielded: how deep the belly is past its limit, where it keeps a set"
    if alike:
        table.caption += "; both limbs are measured alike: the worse of the two"
    return table


def _limbs_alike(stave: Stave) -> bool:
    """Return whether both limbs have the same stations, width, thickness and sapwood."""
    shapes = shape_at(stave, stave.x)
    columns = (shapes.width, shapes.thickness, shapes.sapwood)
    mirrored = np.array_equal(stave.x, -stave.x[::-1])
    return mirrored and all(np.array_equal(column, column[::-1]) for column in columns)
