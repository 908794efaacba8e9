"""The list to carry to the bench: where to take wood next."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from limbfe.studies.take.results import RULER, TILLER, Line, Taking, out_of_tiller
from limbfe.units import UnitSystem, ruler_inches, say

PARTS = {
    2: "half",
    3: "a third",
    4: "a quarter",
    5: "a fifth",
    6: "a sixth",
    7: "a seventh",
    8: "an eighth",
}
"""Of a line, in as many rounds."""
ROUND = {"metric": 0.01, "imperial": 0.0127}
"""Draw lengths are said down to so much, m."""


def take_text(taking: Taking, units: UnitSystem) -> RenderableType:
    """Return the list in the order to do it, and when to stop."""
    before = taking.before
    head = (
        f"Take wood here: {units.force(before.draw_weight)} now, {units.force(taking.target)} "
        f"wanted at {units.length(taking.draw_length)}"
    )
    now = f"{tiller_words(before.tiller, units)} now"
    parts: list[RenderableType] = [
        Text(""),
        Text(head, style="bold"),
        Text(f"{now[0].upper()}{now[1:]}; wanted: {tiller_goal(units)}."),
    ]
    if taking.readings:
        parts.append(Text(f"The bow as the readings in {taking.readings} say it is."))
    for k, line in enumerate(taking.lines):
        parts.append(Padding(Text(f"{k + 1}. {line_words(line, taking, units)}"), (0, 0, 0, 2)))
    parts += [Text(sentence) for sentence in end_words(taking, units)]
    return Group(*parts)


def line_words(line: Line, taking: Taking, units: UnitSystem) -> str:
    """Return one thing to do, and, of lines done one after the other, the bow it leaves."""
    face = "belly" if line.side == "belly" else "both sides, each"
    inner, outer = line.fades
    fades = [units.length(one) for one in (inner, outer) if one is not None]
    cut = (
        f"{line.limb.capitalize()} limb, {face}: {tool_words(line, taking.step, units)} off from "
        f"{units.length(line.start)} to {units.length(line.end)}, fading out to "
        f"{' and '.join(fades)}."
    )
    if taking.in_turns:  # what it would leave alone is on no way that shall be gone
        return cut
    return (
        f"{cut} Leaves {units.force(line.left.draw_weight)}, "
        f"{tiller_words(line.left.tiller, units)}; hardest worked wood "
        f"{line.left.strength_used:.0%}."
    )


def tool_words(line: Line, step: float, units: UnitSystem) -> str:
    """Return how much comes off in steps of the tool: "3/64 in" or "2 x 0.5 mm"."""
    if units.name == "imperial":
        return f"{ruler_inches(line.amount, 64)} in"
    return f"{1e3 * step:g} mm" if line.steps == 1 else f"{line.steps} x {1e3 * step:g} mm"


def tiller_words(tiller: float, units: UnitSystem) -> str:
    """Return the tiller of the braced bow in words."""
    if abs(tiller) < 5e-4:
        return "limbs equally far from the string"
    limb = "upper" if tiller > 0.0 else "lower"
    return f"{limb} limb {units.length(abs(tiller))} further from the string when braced"


def tiller_goal(units: UnitSystem) -> str:
    """Return in words where the limbs of the braced bow shall stand."""
    most = TILLER[1]
    said = f"{ruler_inches(most, 8)} in" if units.name == "imperial" else f"{1e3 * most:g} mm"
    return f"equal, or the upper up to {said} further"


def turn_words(taking: Taking, units: UnitSystem) -> list[str]:
    """Return how lines are done in turns, and what every round leaves; nothing of others."""
    count = len(taking.turns)
    if not count:
        return []
    said = [
        f"Not one line after the other, which would leave the limbs up to "
        f"{units.length(taking.way_out)} out of tiller, but in {count} rounds: in each "
        f"{PARTS[count]} of every line, with a scraper, in this order. So they are at most "
        f"{units.length(taking.turns_out)} out of it on the way."
    ]
    for k, left in enumerate(taking.turns):
        used = f"; hardest worked wood {left.strength_used:.0%}" if k == count - 1 else ""
        said.append(
            f"Round {k + 1} leaves {units.force(left.draw_weight)}, "
            f"{tiller_words(left.tiller, units)}{used}."
        )
    return said


def end_words(taking: Taking, units: UnitSystem) -> list[str]:
    """Return when to stop, how far to draw then, and what was left out."""
    said = []
    above, part = taking.stop - taking.target, "round" if taking.in_turns else "line"
    if taking.lines:
        exercise = ROUND[units.name] * int(taking.exercise_to / ROUND[units.name] + 1e-6)
        said += turn_words(taking, units)
        said.append(
            f"Stop at {units.force(taking.stop)}, {units.force(above)} above the target, then "
            f"exercise to {units.length(exercise)}: no further than where it pulls "
            f"{units.force(taking.target)}. Weigh it after every {part} and stop sooner if it "
            f"comes down faster. Look at the tiller as often: {tiller_goal(units)}."
        )
    elif not taking.reason:
        said.append(
            f"Take nothing off: it is within {units.force(above)} of the target, which exercise "
            "and finishing take off."
        )
    if not taking.reason and out_of_tiller(taking.after.tiller) > RULER:
        said.append(
            f"The limbs stay uneven, {tiller_words(taking.after.tiller, units)}: to even them "
            "takes more wood than the weight has to spare."
        )
    if taking.reason:
        reason = say(taking.reason, units)
        said.append(f"{reason[0].upper()}{reason[1:]}.")
    for zone in taking.harder:
        said.append(
            f"{zone.name[0].upper()}{zone.name[1:]} stays sound, worked {zone.after:.0%} of its "
            f"strength ({zone.before:.0%} now)."
        )
    if taking.kept_off:
        said.append(
            f"No wood is taken at {', '.join(taking.kept_off)}: assess the bow before it is drawn "
            "further."
        )
    return said
