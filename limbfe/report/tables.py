"""Tables that several commands print: the draw, knots and patches, a section, a pull."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

import numpy as np
from rich.box import SIMPLE
from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from limbfe.units import Words, say

if TYPE_CHECKING:
    from limbfe.analysis.bow.drawn import DrawnBow, KeptSet, Tip
    from limbfe.analysis.results.section_report import SectionReport
    from limbfe.analysis.zones.zone_verdict import ZoneVerdict
    from limbfe.units import UnitSystem

VERDICT_STYLE = {
    "sound": "green",
    "watch": "yellow",
    "expect a split": "bold red",
    "expect rupture": "bold red",
}


STRUNG = "already when strung"
"""When a zone fails that does not bear the brace height."""
NUMBER_WIDTH = 8
"""Letters of "1779 mm", and one more."""
_HAIRLINE = "a hairline"
"""In the narrow column of what comes first; the line below the table says the rest."""
FIRST = "what comes first"
"""Heading over the way in which a knot or decay fails, or would fail, before any other."""
PRESSED = "how near a bar of the wood is to breaking when its belly is shortened as far"
"""What strength used in compression is."""
WRINKLED = "how far the belly is shortened, over that from which wrinkles (frets) may show"
"""What strength used of the belly in a zone is."""


def tip_table(bow: DrawnBow, units: UnitSystem) -> Table:
    """Return where the tips stand at full draw and how far they twist."""
    table = plain_table("Tips at full draw")
    for heading in ("limb", "towards the archer", "to the right", "up or down", "twist"):
        add_number(table, heading)
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
    table = plain_table("Tiller")
    headings = ["", "upper limb further from string", "string right of grip"]
    table.caption = "half-way along the limbs"
    held = bow.setup.holding.kind != "hand"
    if held:
        headings.append("pull above where it is held")
        table.caption += "; the pull is taken where it crosses the grip"
    for heading in headings:
        add_number(table, heading)
    for name, tiller in (("braced", bow.tiller_braced), ("drawn", bow.tiller_drawn)):
        if tiller is not None:
            row = [name, units.length(tiller.tiller), units.length(tiller.track)]
            if held:
                row.append("-" if tiller.balance is None else units.length(tiller.balance))
            table.add_row(*row)
    return table


STRING_LIES = "The string lies on the limb"
STRING_HEADINGS = ("limb", "at brace", "up to, from the grip", "until drawn to", "presses")
STRING_CAPTION = "along the belly; presses: the hardest at brace"


def string_rows(bow: DrawnBow, units: UnitSystem) -> list[tuple[str, ...]]:
    """Return the rows of `string_table`, none where the string lies on no limb."""
    lower, upper = bow.string_lies
    return [
        (
            limb,
            units.length(one.at_brace),
            units.length(one.leaves_at),
            "all the way" if one.lift_off is None else units.length(one.lift_off),
            units.show("line load", one.pressure),
        )
        for limb, one in (("upper", upper), ("lower", lower))
        if one is not None
    ]


def string_table(bow: DrawnBow, units: UnitSystem) -> Iterator[RenderableType]:
    """Yield where the string lies on the limbs, of a bow on which it does."""
    rows = string_rows(bow, units)
    if not rows:
        return
    table = plain_table(STRING_LIES)
    for heading in STRING_HEADINGS:
        add_number(table, heading)
    for row in rows:
        table.add_row(*row)
    table.caption = STRING_CAPTION
    yield Text("")
    yield table


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
    return (Text(f"{advice}: {say(found.reason, units)}."), Text(""))


def draw_table(bow: DrawnBow, units: UnitSystem, rows: int = 7) -> Table:
    """Return brace and full draw with the steps between, so many rows."""
    curve = bow.curve
    table = plain_table("Brace and draw")
    for heading in ("draw length", "draw weight", "string tension", "work put in"):
        add_number(table, heading)
    steps = np.unique(np.linspace(0, len(curve.force) - 1, rows).round().astype(int))
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
    if bow.force_to_string:
        table.caption += f"; to string it {units.force(bow.force_to_string)} on each tip"
    return table


STACKS, SMOOTH = 0.135, 0.115
"""Shares of the draw weight, added by the last eighth of the draw, that are called so: a choice, a
twelfth of an even rise to either side."""


def smoothness_words(bow: DrawnBow, units: UnitSystem) -> str:
    """Return how smooth the draw is: what its end adds, beside what an even rise would."""
    part, added = bow.curve.last_eighth
    share = added / float(bow.curve.force[-1])
    even = "an even rise would add 12.5%"
    if share > STACKS:
        even += ": it stacks"
    elif share < SMOOTH:
        even += ": it draws smoothly to its end"
    return (
        f"The last eighth of the draw ({units.rough_length(part)}) adds {units.force(added)}, "
        f"{share:.1%} of the draw weight; {even}."
    )


def after_draw(bow: DrawnBow, units: UnitSystem) -> Iterator[RenderableType]:
    """Yield the exercised bow beside its first pull, and the set."""
    first, kept = bow.first_pull, bow.kept
    if first is None or kept is None or bow.lost is None:
        return
    table = plain_table("Once exercised, and at its very first pull")
    for heading in ("", "string", "draw weight", "work put in", "lost of it"):
        add_number(table, heading)
    rows = (
        ("exercised", bow.string_length, bow.curve, bow.lost),
        ("first pull", first.string_length, first.curve, first.crushed),
    )
    for name, string, curve, lost in rows:
        table.add_row(
            name,
            units.length(string),
            units.force(float(curve.force[-1])),
            units.energy(float(curve.energy[-1])),
            units.energy(lost),
        )
    yield table
    yield Text(f"{set_words(kept, units)}.")
    yield Text("")


def set_words(kept: KeptSet, units: UnitSystem) -> str:
    """Return the set in its two parts, with what it may be."""
    say = units.rough_length
    lower, upper = (say(float(v)) for v in kept.rested)
    words = f"set after a night's rest: {say(kept.mean)}"
    if kept.low is not None and kept.high is not None:
        words += f", likely {say(kept.low)} to {say(kept.high)}"
    elif kept.low is not None:
        words += f", likely {say(kept.low)} to far more"
    return f"{words} (upper tip {upper}, lower {lower}); at once {say(float(kept.at_once.mean()))}"


def plain_table(title: str) -> Table:
    """Return a table without a frame, which keeps within 80 columns."""
    return Table(
        title=title, title_justify="left", box=SIMPLE, pad_edge=False, collapse_padding=True
    )


def add_number(table: Table, *headings: str) -> None:
    """Add columns of numbers, which never shrink; their headings break between words instead."""
    for heading in headings:
        table.add_column(_broken(heading), justify="right", no_wrap=True)


def _broken(heading: str) -> str:
    """Return a heading in lines no longer than a number is wide, or than its longest word."""
    lines: list[str] = []
    for word in heading.split(" "):
        if lines and len(f"{lines[-1]} {word}") <= NUMBER_WIDTH:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return "\n".join(lines)


def defect_table(defects: tuple[ZoneVerdict, ...], units: UnitSystem, braced: float = 0.0) -> Table:
    """Return every knot and patch of decay with its verdict; `braced` is a draw length, m."""
    # loads what judges zones, which the other tables do without
    from limbfe.failure.verdict import HAIRLINE, SHORT_SPLIT

    hairlines = (HAIRLINE, SHORT_SPLIT)
    table = plain_table("Knots and decay")
    table.caption_justify = "left"
    for heading in ("where", "verdict", FIRST, "strength used", "chance"):
        table.add_column(heading, no_wrap=heading == "where")
    table.add_column("splits at", justify="right")
    table.add_column("breaks at", justify="right")
    for defect in defects:
        table.add_row(
            f"{defect.words}\n{defect.limb} {units.length(defect.at)}",
            Text(defect.verdict, style=VERDICT_STYLE[defect.verdict]),
            _HAIRLINE if defect.mode in hairlines else defect.mode,
            band_words(defect).replace(" (", "\n("),
            f"{defect.failure_probability:.0%}",
            _in_lines(defect.draw_length_at_split, units, braced) + _hairline(defect),
            _in_lines(defect.draw_length_at_rupture, units, braced),
        )
    notes = [f"{defect.words}: {defect.mode}" for defect in defects if defect.mode in hairlines]
    notes += [f"{defect.words}: {words}" for defect in defects for words in wrinkle_words(defect)]
    notes += [f"{defect.words}: {load_words(defect)}" for defect in defects if defect.kept]
    table.caption = "\n".join(notes) or None
    return table


def wrinkle_words(defect: ZoneVerdict) -> tuple[str, ...]:
    """Return how far a belly is shortened that comes first by its wrinkles."""
    from limbfe.failure.verdict import MODE_NAMES

    if defect.mode != MODE_NAMES["yield"]:
        return ()
    return (f"its belly is shortened to {defect.wrinkling_used:.2f} times where wrinkles may show",)


def _hairline(defect: ZoneVerdict) -> str:
    """Return a second line for a split that stays short, which is no failure."""
    return "\nhairline" if defect.split_course == "stays short" else ""


def load_words(defect: ZoneVerdict) -> str:
    """Return what a zone leaves of the limb's breaking load, beside what measured pieces kept."""
    words = f"{defect.strength_ratio:.0%} of its breaking load without it"
    if defect.kept is None:
        return words
    kept = defect.kept
    pieces = (
        "pieces with knots twice as wide, which weaken as much as a drilled hole,"
        if kept.drilled
        else "measured pieces with such knots"
    )
    return f"{words}; {pieces} kept {kept.mean:.2f} +- {kept.deviation:.2f}"


def split_words(defect: ZoneVerdict, units: UnitSystem) -> str:
    """Return how far a split has come, each way; an opened joint has no length in the wood."""
    if not defect.split_length:
        return "joint open" if defect.split_course == "stays short" else defect.split_course
    return f"{defect.split_course}, {units.length(defect.split_length)} each way"


def band_words(defect: ZoneVerdict) -> str:
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


def strung_length(bow: DrawnBow) -> float:
    """Return the draw length (m) of the braced bow, new or since: by then it fails when strung."""
    curves = [bow.curve, *([] if bow.first_pull is None else [bow.first_pull.curve])]
    return max(float(curve.draw_length[0]) for curve in curves)


def draw_length_words(value: float | None, units: UnitSystem, braced: float) -> str:
    """Return the draw length at which a zone fails; one that fails by then does so at brace."""
    if value is None:
        return "beyond this draw"
    return STRUNG if value <= braced else units.length(value)


def _in_lines(value: float | None, units: UnitSystem, braced: float) -> str:
    """Return it in two lines where it is words, which leaves its neighbours their room."""
    return (
        draw_length_words(value, units, braced)
        .replace(" this ", "\nthis ")
        .replace(" when ", "\nwhen ")
    )


def listing(title: str, lines: Iterable[Words], units: UnitSystem) -> Iterator[RenderableType]:
    """Yield a heading and a dash before every line; nothing when there is none."""
    for k, line in enumerate(lines):
        if k == 0:
            yield Text("")
            yield Text(title, style="bold")
        yield Padding(Text(f"- {say(line, units)}"), (0, 0, 0, 2))


def first_words(words: tuple[Words, ...], units: UnitSystem) -> Iterator[Text]:
    """Yield what stands above everything else: a bow that breaks or gives way when braced."""
    for one in words:
        yield Text(f"{say(one, units)}.", style="bold red")


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
        "centre of stiffness": f"{right} to the right, {back} towards the back",
        "shear centre": f"{shear_right} to the right, {shear_back} towards the back",
    }
    for name, value in rows.items():
        table.add_row(name, value)
    table.caption = "centres are counted from mid-width and mid-thickness"
    return table
