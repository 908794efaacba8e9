"""What stands above and below the tables of a bow on the terminal; the tables of a draw."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.text import Text

from limbfe.analysis.bow.cautions import STANDING_CAUTIONS
from limbfe.report.draw_limits import limits_table
from limbfe.report.tables import (
    after_draw,
    draw_table,
    first_words,
    listing,
    smoothness_words,
    string_table,
    tiller_table,
    tip_table,
    upper_limb_words,
)

if TYPE_CHECKING:
    from limbfe.analysis.bow.drawn import DrawnBow
    from limbfe.analysis.wood.draw_limits import DrawLimits
    from limbfe.units import UnitSystem

ASSUMED = "Assumed, because the case does not say"
SAFETY = (
    "An estimate from typical wood: yours may be weaker. Eye protection on, nobody in line with "
    "the limbs, small steps, an arrow on the string; local rules and an experienced bowyer first."
)
"""The standing cautions in one line; the report has them whole."""


def draw_tables(
    bow: DrawnBow,
    units: UnitSystem,
    *,
    assumptions: bool = False,
    limits: DrawLimits | None = None,
) -> RenderableType:
    """Return what a draw shows without looking at the wood, the draw weight last.

    Before it, where the bow was drawn on, what its clear wood does then.
    """
    parts: list[RenderableType] = [
        *first_words(bow.when_braced, units),
        *head(bow),
        draw_table(bow, units),
        *string_table(bow, units),
        Text(smoothness_words(bow, units)),
        Text(""),
        *after_draw(bow, units),
        tip_table(bow, units),
        tiller_table(bow, units),
        *upper_limb_words(bow, units)[:1],
    ]
    if assumptions:
        parts.extend(assumed(bow, units))
    parts.extend(cautions(bow, units))
    if limits is not None:
        parts.append(limits_table(limits, units))
    weight, length = float(bow.curve.force[-1]), float(bow.curve.draw_length[-1])
    parts += [
        Text(""),
        Text(f"Draws {units.force(weight)} at {units.length(length)}.", style="bold"),
        *foot(bow, every=True, assumptions=assumptions),
    ]
    return Group(*parts)


def head(bow: DrawnBow) -> Iterator[Text]:
    """Yield the case's own words."""
    yield Text(bow.setup.title, style="bold")
    if bow.setup.question:
        yield Text(bow.setup.question, style="italic")
    yield Text("")


def assumed(bow: DrawnBow, units: UnitSystem) -> Iterator[RenderableType]:
    """Yield every value that the case did not give."""
    yield from listing(ASSUMED, (one.words(short=True) for one in bow.assumptions), units)


def cautions(bow: DrawnBow, units: UnitSystem, *, whole: bool = False) -> Iterator[RenderableType]:
    """Yield the cautions of this bow; those of every bow stand in one line at the foot."""
    own = [line for line in bow.cautions if whole or line not in STANDING_CAUTIONS]
    yield from listing("Cautions", own, units)


def foot(bow: DrawnBow, *, every: bool, assumptions: bool) -> Iterator[Text]:
    """Yield what holds for every bow, and which options show more."""
    yield Text(SAFETY)
    more = []
    if not assumptions and bow.assumptions:
        more.append(f"--assumptions shows the {len(bow.assumptions)} things the case left open")
    if not every:
        more.append("--every the other tables")
    if more:
        yield Text(f"{', '.join(more)}.", style="dim")
