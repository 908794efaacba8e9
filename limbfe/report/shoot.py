"""Words and tables of a shot."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.box import SIMPLE
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.analysis.bow.cautions import STANDING_CAUTIONS
from limbfe.analysis.shot.flight import DISTANCES, drop_at
from limbfe.analysis.shot.results import FOOT
from limbfe.analysis.shot.shot import shaft_of
from limbfe.failure.clear_chance import in_hundred
from limbfe.failure.criteria import MODES
from limbfe.report.draw import ASSUMED, SAFETY
from limbfe.report.tables import add_number, listing, plain_table
from limbfe.stave.named_zones import zones_of
from limbfe.units import IMPERIAL, METRIC, say

if TYPE_CHECKING:
    from limbfe.analysis.shot.clear_wood import ClearWood
    from limbfe.analysis.shot.flight import Flights
    from limbfe.analysis.shot.reshaping import Reshaped
    from limbfe.analysis.shot.results import Costs, ShotResult, Shots
    from limbfe.analysis.shot.reversal import Reversal
    from limbfe.units import UnitSystem, Words


def shot_tables(shots: Shots, units: UnitSystem, *, assumptions: bool = False) -> RenderableType:
    """Return what a shot shows: verdicts first, then tables and cautions, the answer last."""
    solved = shots.solved
    parts: list[RenderableType] = [
        Text(f"{say(words, units).rstrip('.')}.", style="bold red") for words in shots.verdicts
    ]
    parts += [Text(solved.model.setup.title, style="bold"), Text(_opening(shots, units))]
    if len(shots.shots) == 1:
        parts += [Text(""), *_one(shots.shots[0], units)]
        parts += _zones(shots, shots.shots[0])
        flown = shots.shots[0].flights
        parts += () if flown is None else (_by_angle(flown, units), _drops(shots, units))
    elif shots.shots:
        parts.append(_many(shots, units))
    if shots.dry is not None:
        parts += [Text(""), Text("Let go without an arrow", style="bold red")]
        parts += [_loads(shots.dry, units), *_lying(shots.dry, units)]
        parts += _zones(shots, shots.dry)
    if shots.costs is not None:
        parts.append(_costs(shots.costs, shots.shots[0], units))
    if shots.reshaped:
        parts.append(_reshaped(shots.reshaped, units))
    parts.append(Text(_frequencies(shots)))
    given = [line.words(short=True) for line in solved.model.setup.assumptions]
    left_open = (*shots.assumptions, *given)
    if assumptions:
        parts += [*listing(ASSUMED, left_open, units)]
    parts += [*listing("Cautions", _below(shots), units), Text("")]
    parts += [Text(line, style="bold") for line in _answer(shots, units)]
    parts.append(Text(SAFETY))
    if not assumptions:
        more = f"--assumptions shows the {len(left_open)} things the case left open."
        parts.append(Text(more, style="dim"))
    return Group(*parts)


def _answer(shots: Shots, units: UnitSystem) -> Iterator[str]:
    if len(shots.shots) == 1:
        one = shots.shots[0]
        yield (
            f"An arrow of {_arrow(one.arrow, units)} leaves at {_speed(one.shot.speed, units)} "
            f"with {100 * one.efficiency:.1f} % of the work of drawing."
        )
    elif shots.shots:
        first, last = shots.shots[0], shots.shots[-1]
        yield (
            f"From {_arrow(first.arrow, units)} to {_arrow(last.arrow, units)} the arrow leaves at "
            f"{_speed(first.shot.speed, units)} to {_speed(last.shot.speed, units)}."
        )


def _below(shots: Shots) -> Iterator[Words]:
    """Yield the cautions that do not stand on top already."""
    for words in shots.cautions[len(shots.verdicts) :]:
        if words not in STANDING_CAUTIONS:
            yield words


def _opening(shots: Shots, units: UnitSystem) -> str:
    full = shots.solved.full_draw
    wood = (
        f"loss factor of the wood {shots.loss_factor:.3f}"
        if shots.loss_factor
        else "no losses in the wood"
    )
    return (
        f"{units.force(shots.weight)} at {units.length(full.draw_length)}, work of drawing "
        f"{units.energy(shots.work)} (exercised, from brace); {wood}."
    )


def _speed(value: float, units: UnitSystem) -> str:
    return _in_both("speed", value, units)


def _arrow(mass: float, units: UnitSystem) -> str:
    return _in_both("arrow", mass, units)


def _in_both(kind: str, value: float, units: UnitSystem) -> str:
    """Return speeds and arrows in both systems, as the trade tells them; the reader's first."""
    first, second = (IMPERIAL, METRIC) if units.name == "imperial" else (METRIC, IMPERIAL)
    return f"{first.show(kind, value)} ({second.show(kind, value)})"


def _one(one: ShotResult, units: UnitSystem) -> Iterator[RenderableType]:
    """Yield what one arrow does."""
    assert one.time is not None
    assert one.undamped is not None
    assert one.nock_at_leaving is not None
    table = _table()
    table.add_row(
        "without losses",
        f"{_speed(one.undamped.speed, units)}, {100 * one.undamped.efficiency:.1f} %",
    )
    table.add_row("virtual mass, of this arrow", _arrow(one.virtual_mass or 0.0, units))
    table.add_row("time on the string", f"{1e3 * one.time:.1f} ms")
    table.add_row("leaves, from the back of the grip", units.length(one.nock_at_leaving))
    table.add_row("push of the hand till then", units.show("momentum", one.hand_momentum))
    yield table
    yield _loads(one, units)
    yield from _lying(one, units)


def _table() -> Table:
    table = Table(box=SIMPLE, show_header=False, pad_edge=False)
    table.add_column("what")
    table.add_column("value", justify="right")
    return table


def _loads(one: ShotResult, units: UnitSystem) -> Table:
    """Return what string and limbs bear, at full draw, in the shot and after it."""
    found, strains = one.extremes(), one.strains
    table = Table(title="What string and limbs bear", title_justify="left", box=SIMPLE)
    table.add_column("greatest anywhere")
    headings = ("at full draw", "in the shot" if one.time else "let go", "after it")
    for heading in headings[: 3 if one.time else 2]:
        table.add_column(heading, justify="right")
    rows = [
        (
            "string tension",
            units.force(float(one.shot.tension[0].max())),
            units.force(one.tension_max),
            units.force(one.tension_max_after),
        ),
        (
            "back stretched",
            _percent(float(strains.back_drawn.max())),
            _percent(found["back_strain_max"]),
            _percent(found["back_strain_max_after"]),
        ),
        (
            "belly shortened",
            _percent(float(-strains.belly_drawn.min())),
            _percent(found["belly_strain_max"]),
            _percent(found["belly_strain_max_after"]),
        ),
        ("belly stretched beyond unstrung", "0", "", _percent(found["belly_stretched_max"])),
        *_clear(one.clear),
    ]
    for what, drawn, during, after in rows:
        table.add_row(what, drawn, *((during, after) if one.time else (during or after,)))
    if one.tension_at_leaving is not None:
        table.add_row("tension as the arrow leaves", "", units.force(one.tension_at_leaving), "")
    return table


def _clear(found: ClearWood) -> Iterator[tuple[str, str, str, str]]:
    """Yield the strength used of clear wood, in every way in which it uses some."""
    for mode in MODES:
        parts = (found.drawn, found.during, found.after)
        if any(mode in part for part in parts):
            drawn, during, after = (
                f"{100 * part[mode].spot.strength_used:.0f} %" if mode in part else ""
                for part in parts
            )
            yield f"strength used, {mode}", drawn, during, after
        if mode == "tension" and any(mode in part for part in parts):
            chances = (part[mode].chance if mode in part else None for part in parts)
            drawn, during, after = ("" if one is None else in_hundred(one) for one in chances)
            yield "  of 100 such bows break so", drawn, during, after


def _lying(one: ShotResult, units: UnitSystem) -> Iterator[RenderableType]:
    """Yield how the string comes to lie on the limbs, where it does."""
    if not any(one.string_lies):
        return
    table = plain_table("The string lies on the limbs")
    table.add_column("")
    leaves = () if one.time is None else ("as the arrow leaves",)
    add_number(table, "from", *leaves, "at most", "which is at")
    for name, limb in zip(("lower", "upper"), one.string_lies, strict=True):
        if limb is None:
            table.add_row(name, "never")
            continue
        leaving = () if limb.at_leaving is None else (units.length(limb.at_leaving),)
        table.add_row(
            name,
            f"{1e3 * limb.since:.1f} ms" if limb.since > 0.0 else "full draw",
            *leaving,
            units.length(limb.most),
            f"{1e3 * limb.most_at:.1f} ms",
        )
    yield table


def _zones(shots: Shots, one: ShotResult) -> Iterator[RenderableType]:
    """Yield what the shot does where knots and patches lie: an assessment judges the draw only."""
    found = one.at_zones(zones_of(shots.solved.model.setup.stave))
    if not found:
        return
    table = plain_table("Where knots and patches lie")
    table.add_column("")
    add_number(table, "back at full draw", "most in the shot", "belly stretched")
    table.add_column("judged in the shot")
    flown = one.arrow > 0.0
    turned = {other.name: other for other in shots.reversals if (other.arrow > 0.0) == flown}
    for at in found:
        table.add_row(
            at.name, _percent(at.back_drawn), _percent(at.back), _percent(at.belly_stretched),
            _turned(turned.get(at.name)),
        )  # fmt: skip
    yield table


def _turned(found: Reversal | None) -> str:
    """Return the verdict on a zone that is pulled otherwise than in the draw, briefly."""
    if found is None:
        return "as in the draw"
    if found.strength_used is None:
        return found.verdict
    used = f"{found.verdict}, {100 * found.strength_used:.0f} % used"
    return f"at full draw {used}" if found.at_full_draw else f"{found.face}: {used}"


def _percent(value: float) -> str:
    return f"{100 * value:.2f} %"


def _many(shots: Shots, units: UnitSystem) -> Table:
    table = Table(title="Arrows", title_justify="left", box=SIMPLE)
    force = units.scale("force")[1]
    far = units.scale("distance")[1]
    add_number(
        table, "arrow", "speed", "share", "virtual mass", f"string, {force}", f"after, {force}",
        f"flies, {far}",
    )  # fmt: skip
    for one in shots.shots:
        table.add_row(
            units.show("arrow", one.arrow),
            units.show("speed", one.shot.speed),
            f"{100 * one.efficiency:.1f} %",
            units.show("arrow", one.virtual_mass or 0.0),
            units.number("force", one.tension_max),
            units.number("force", one.tension_max_after),
            "" if one.flights is None else units.number("distance", one.flights.farthest.distance),
        )
    table.caption = (
        "share: of the work of drawing; string, after: its greatest tension; "
        f"flies: as far as it can{_best(shots, units)}"
    )
    return table


def _best(shots: Shots, units: UnitSystem) -> str:
    """Return which of the arrows flies farthest, where that is not the lightest."""
    far = [0.0 if one.flights is None else one.flights.farthest.distance for one in shots.shots]
    best = max(range(len(far)), key=far.__getitem__)
    return f", farthest the {units.show('arrow', shots.shots[best].arrow)}"


def _by_angle(found: Flights, units: UnitSystem) -> Table:
    """Return how far an arrow flies by the angle it is shot at."""
    table = plain_table("Flight in still air, to the height it was shot from")
    table.add_column("shot at", no_wrap=True)
    add_number(table, "range", "highest", "time", "comes down at", "")
    for one, words in (*((f, "") for f in found.by_angle), (found.farthest, " (farthest)")):
        table.add_row(
            f"{math.degrees(one.angle):.0f} deg{words}",
            units.show("distance", one.distance),
            units.show("distance", one.height),
            f"{one.time:.1f} s",
            f"{math.degrees(one.end_angle):.0f} deg",
            units.show("speed", one.end_speed),
        )
    return table


def _drops(shots: Shots, units: UnitSystem) -> Table:
    """Return what an arrow shot level loses on the way, at round distances of the reader's."""
    one = shots.shots[0]
    decay = shaft_of(shots.shooting).decay(one.arrow)
    found = [drop_at(one.shot.speed, far * units.scale("distance")[0], decay) for far in DISTANCES]
    table = plain_table("Shot level")
    add_number(table, "after", "it has dropped", "in", "and flies at")
    for at in found:
        table.add_row(
            units.show("distance", at.distance),
            _drop(at.drop, units),
            f"{at.time:.2f} s",
            units.show("speed", at.speed),
        )
    return table


def _drop(value: float, units: UnitSystem) -> str:
    """Return how far an arrow has dropped: beyond a metre in metres, or feet."""
    if value < 1.0:
        return units.rough_length(value)
    return f"{value:.1f} m" if units.name == "metric" else f"{value / FOOT:.1f} ft"


def _signed(value: float, digits: int) -> str:
    """Return a change with its sign; what rounds to nothing has none."""
    text = f"{value:+.{digits}f}"
    return text.lstrip("+-") if float(text) == 0.0 else text


def _costs(costs: Costs, one: ShotResult, units: UnitSystem) -> Table:
    """Return what a gram costs."""
    table = _table()
    table.title = f"What it costs, with {units.show('arrow', one.arrow)} of arrow"
    table.title_justify = "left"
    rows = (
        ("a gram more at each tip", costs.tip),
        ("a gram more of string", costs.string),
        ("a gram more of arrow", costs.arrow),
        ("a string half as heavy", costs.half_string),
    )
    for what, change in rows:
        if change is not None:
            fps = change / IMPERIAL.scale("speed")[0]
            metric, imperial = f"{_signed(change, 2)} m/s", f"{_signed(fps, 1)} fps"
            told = (imperial, metric) if units.name == "imperial" else (metric, imperial)
            table.add_row(what, "{} ({})".format(*told))
    return table


def _reshaped(changes: tuple[Reshaped, ...], units: UnitSystem) -> Table:
    """Return what other limbs would do, drawn as far at the same brace height."""
    table = plain_table("Other limbs, drawn as far")
    table.add_column("")
    add_number(table, "arrow", "draw weight")
    for one in changes:
        if one.speed is None or one.weight is None:
            table.add_row(say(one.words, units), "cannot be drawn or shot so", "")
            continue
        factor, unit = units.scale("speed")
        newton, force = units.scale("force")
        table.add_row(
            say(one.words, units),
            f"{_signed(one.speed / factor, 2 if units.name == 'metric' else 1)} {unit}",
            f"{_signed(one.weight / newton, 1)} {force}",
        )
    return table


def _frequencies(shots: Shots) -> str:
    found = ", ".join(f"{value:.0f}" for value in shots.modes.frequency[:6])
    return f"Braced and touched, the bow rings at {found} Hz (grip held; string and limbs)."
