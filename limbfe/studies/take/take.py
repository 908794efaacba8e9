"""Where to take wood next: few strokes, in order, checked on the bow they leave."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.solve import drawn_bow
from limbfe.analysis.rates.derivatives import DrawDerivatives, draw_derivatives
from limbfe.analysis.zones.verdicts import GRAVITY
from limbfe.errors import CaseError, ConvergenceError, GeometryError
from limbfe.stave.named_zones import zones_of
from limbfe.stave.reshape import reshaped
from limbfe.stave.stave import Stave
from limbfe.studies.size.trial import Trial, draw_trial, judge_zones, unheard
from limbfe.studies.take.choose import (
    Stroke,
    Wanted,
    choose,
    in_order,
    taken,
    tiller_change,
)
from limbfe.studies.take.results import (
    EYE,
    RULER,
    Harder,
    Left,
    Line,
    Taking,
    out_of_tiller,
)
from limbfe.studies.take.turns import fewest_turns, most_out
from limbfe.units import Force, Sentence, Words, both_forces

MARGIN = 4.4482216
"""N (1 lbf): stop so far above the target, for what exercise and finishing take off (common
practice)."""
MOST_AT_ONCE = 0.15
"""Share of the draw weight that one list takes off: then read the bow again (common practice)."""
SOUND = GRAVITY[0]
ROUNDS = 8
_BLANK_FROM, _FAR = 2.5, 1.25
"""Times the target from which on a bow is a blank, and from which on one is that no list helps."""
_SLACK = 1.003
"""Strength used this little above the hardest worked place is as hard: meshes differ by as much."""
_NEAR = 0.4
"""Of a tool step along one limb: a weight within that of the stop has reached it."""
_BELOW = 0.2
"""Of the margin, by which the list may end below the stop: no scale on a tiller tells it."""
_WORSE = 1.01
"""Strength that a zone may use of itself afterwards, over what it uses now: what plates scatter."""
_WORTH = 0.2
"""Of the way to the stop, below which a list is not worth the work."""
_HEEDED = 0.6
"""Of how far the tiller was out of what was foreseen: other strokes are out by something else."""
_EVENER = 0.5
"""Of how far the tiller is out, that a list must take off where it cannot take off all."""
_NOT_ONE = (
    "no wood may come off: where any may, every shaving would work some place harder than the "
    "hardest is worked now, or leave the limbs uneven; the command size (--even --mend) thins all "
    "together and judges the knots again; else draw less, or leave the weight"
)
_BLANK = (
    "this is still a blank: every station has to get thinner, and the command size tells how thick "
    "each shall be; come back to this list from there"
)
_NO_MORE = (
    "more may not come off yet: it would work some place harder than the hardest is now, or leave "
    "the limbs uneven"
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Bow:
    """A bow on the way: its trial and what was read off it."""

    trial: Trial
    left: Left


def take_wood(
    setup: BowSetup,
    target: float,
    *,
    step: float = 5e-4,
    readings: str = "",
    tell: Callable[[Words], None] = unheard,
) -> Taking:
    """Return what to take off next.

    Parameters
    ----------
    setup : BowSetup
        The bow as it is: as its case states it, or as its readings say.
    target : float, N
        Draw weight in the end.
    step : float, m
        Of the tool.
    readings : str
        Where the bow's stiffness is from, if not from the case.
    tell : callable
        Told in words what is being solved.

    Raises
    ------
    CaseError
        If the bow draws no more than the target.
    ConvergenceError
        If the bow cannot be braced or drawn as it stands.

    Notes
    -----
    One list takes off at most `MOST_AT_ONCE` of the weight.  What the first-order programme picks
    is drawn again, and the programme told by how much it was out, until the weight lies on the
    stop, from above, the tiller in `TILLER`, and nothing is worked harder than the hardest place
    was.  All of it is that of the exercised bow: set goes on where a limb is weaker, so that the
    tiller changes up to twice as much as that of a first pull.
    """
    tell("the bow as it is")
    now = _draw(setup)
    weight = now.left.draw_weight
    if weight <= target:
        raise CaseError(
            f"draw weight {both_forces(target)}: the bow draws {both_forces(weight)} as it stands; "
            "wood taken off only makes it weaker"
        )
    goal = target + MARGIN
    stop = min(max(goal, (1.0 - MOST_AT_ONCE) * weight), weight)
    found = _Found((), "", ())
    if weight > _BLANK_FROM * target or now.left.strength_used > 1.0:
        found = _Found((), _BLANK, ())
    elif weight > goal:
        tell("what every shaving changes")
        rates = draw_derivatives(now.trial.solved, spots="stations")
        found = _beside_zones(_Search(setup, now, rates, stop, step), tell)
        if not found.strokes and weight > _FAR * target:
            found = replace(found, reason=_BLANK)
    lines = _lines(setup, found.strokes, step, tell)
    turns, turns_out = _turns(setup, now.left, found.strokes, lines, step, tell)
    after, reason = lines[-1].left.draw_weight if lines else weight, found.reason
    if not reason and stop > goal:
        reason = Sentence(
            "this list takes off at most {:.0%} of the weight, with {} still to go: read the bow "
            "again before the next",
            MOST_AT_ONCE,
            Force(after - target),
        )
    last = _draw(_cut(setup, found.strokes, step)) if lines else now
    return Taking(
        title=setup.title,
        target=target,
        stop=stop,
        draw_length=setup.drawing.length,
        exercise_to=_no_further(last.trial, target),
        step=step,
        before=now.left,
        lines=lines,
        reason=reason,
        kept_off=found.kept_off,
        readings=readings,
        turns=turns,
        turns_out=turns_out,
        harder=found.harder,
    )


@dataclass(frozen=True, slots=True)
class _Search:
    """What is looked for: strokes off `setup` down to `stop` (N), in steps of `step` (m)."""

    setup: BowSetup
    now: _Bow
    rates: DrawDerivatives
    stop: float
    step: float

    @property
    def near(self) -> float:
        """How near (N) to the stop counts as there: a part of one tool step along one limb."""
        return 0.5 * _NEAR * self.step * float(self.rates.force["thickness"].sum())


@dataclass(frozen=True, slots=True)
class _Found:
    """The strokes in order, why they end where they do, and the zones that were kept clear of.

    `harder` are the sound ones that work harder afterwards.
    """

    strokes: tuple[Stroke, ...]
    reason: Words
    kept_off: tuple[str, ...]
    harder: tuple[Harder, ...] = ()


def _beside_zones(search: _Search, tell: Callable[[Words], None]) -> _Found:
    """Return strokes that leave every knot and patch sound, or no worse than it is.

    Only over sound ones is wood taken at all.  What is not sound any more afterwards, or is worked
    harder than clear wood is anywhere now, is kept clear of when strokes are looked for again.
    """
    if not zones_of(search.setup.stave):
        return _search(search, (), tell)
    tell("knots and decay as they are")
    before = {zone.name: zone for zone in judge_zones(search.now.trial)}
    closed = {name for name, zone in before.items() if zone.verdict != SOUND}
    while True:
        found = _search(search, tuple(closed), tell)
        if not found.strokes or len(closed) == len(before):
            return found
        tell("knots and decay afterwards")
        cut = _cut(search.setup, found.strokes, search.step)
        after = [zone for zone in judge_zones(_draw(cut).trial) if zone.name not in closed]
        used = {zone.name: before[zone.name].strength_used for zone in after}
        most = search.now.left.strength_used
        worse = {
            zone.name
            for zone in after
            if zone.verdict != SOUND or zone.strength_used > max(most, _WORSE * used[zone.name])
        }
        if not worse:
            harder = tuple(
                Harder(f"{zone.kind} {zone.name}", used[zone.name], zone.strength_used)
                for zone in after
                if zone.strength_used > _WORSE * used[zone.name]
            )
            return replace(found, harder=harder)
        closed |= worse


def _search(search: _Search, keep_off: tuple[str, ...], tell: Callable[[Words], None]) -> _Found:
    """Return the strokes whose bow was drawn and found good, and why they end where they do."""
    now, stop, rates = search.now.left, search.stop, search.rates
    closed, names = _closed(search.setup.stave, keep_off)
    before = max(spot.strength_used for spot in rates.hot_spots)
    aim, most, tiller = stop, _SLACK * before, now.tiller
    best: tuple[Stroke, ...] = ()
    closest, out = now.draw_weight, max(EYE, _EVENER * out_of_tiller(tiller))
    for _ in range(ROUNDS):
        wanted = Wanted(
            weight=now.draw_weight,
            tiller=tiller,
            stop=aim,
            most_used=most,
            step=search.step,
            closed=closed,
        )
        strokes = choose(search.setup.stave, rates, wanted)
        if not strokes:
            break
        tell(Sentence("{} strokes, drawn again", len(strokes)))
        try:
            left = _draw(_cut(search.setup, strokes, search.step)).left
        except ConvergenceError:  # the bow they leave gives way: ask for half as much
            aim = 0.5 * (aim + now.draw_weight)
            continue
        above, harder = left.draw_weight - stop, left.strength_used / now.strength_used - _SLACK
        good, uneven = above >= -_BELOW * MARGIN and harder <= 0.0, out_of_tiller(left.tiller)
        reached = good and uneven <= RULER
        if good and (max(uneven, RULER), left.draw_weight) < (max(out, RULER), closest):
            here = replace(wanted, tiller=now.tiller)
            best = in_order(search.setup.stave, rates, here, strokes)
            closest, out = left.draw_weight, uneven
        if above < 0.0:
            aim += _BELOW * MARGIN - above
        if harder > 0.0:
            most -= before * harder + 1e-3
        if uneven > RULER:
            change = tiller_change(search.setup.stave, rates, strokes, search.step)
            tiller += _HEEDED * (left.tiller - change - tiller)
        if reached or aim > now.draw_weight:
            break
    if now.draw_weight - closest < _WORTH * (now.draw_weight - stop):
        return _Found((), _NOT_ONE, names)
    return _Found(best, _NO_MORE if closest - stop > 2.0 * search.near else "", names)


def _closed(stave: Stave, keep_off: tuple[str, ...]) -> tuple[NDArray[np.bool_], tuple[str, ...]]:
    """Return the stations at which a shaving would reach one of some zones, and their names."""
    x = stave.x
    inner = np.concatenate([[x[0]], x[:-1]])
    outer = np.concatenate([x[1:], [x[-1]]])
    closed, names = np.zeros(len(x), dtype=np.bool_), []
    for zone in zones_of(stave):
        if zone.name in keep_off:
            middle, reach = zone.extent
            closed |= (inner < middle + reach) & (outer > middle - reach)
            names.append(f"{zone.kind} {zone.name}")
    return closed, tuple(names)


def _cut(setup: BowSetup, strokes: Sequence[Stroke], step: float) -> BowSetup:
    """Return the bow after strokes."""
    stave, off = setup.stave, taken(setup.stave, strokes, step)
    if np.any(off["thickness"] >= stave.thickness) or np.any(off["width"] >= stave.width):
        raise GeometryError("take wood: nothing would be left of the limb; measure the case anew")
    left = reshaped(
        stave, thickness=stave.thickness - off["thickness"], width=stave.width - off["width"]
    )
    return replace(setup, stave=left)


def _draw(setup: BowSetup) -> _Bow:
    trial = draw_trial(setup, coarse=True)
    tiller = drawn_bow(trial.solved).tiller_braced
    worst = int(np.where(trial.open, trial.used, 0.0).argmax())
    return _Bow(
        trial=trial,
        left=Left(
            draw_weight=trial.force,
            tiller=0.0 if tiller is None else tiller.tiller,
            strength_used=float(trial.used[worst]),
            worst_at=float(trial.x[worst]),
        ),
    )


def _turns(
    setup: BowSetup,
    now: Left,
    strokes: tuple[Stroke, ...],
    lines: tuple[Line, ...],
    step: float,
    tell: Callable[[Words], None],
) -> tuple[tuple[Left, ...], float]:
    """Return the bow after every round of lines done in turns, and how far out it gets; or none."""
    tillers = [now.tiller, *(line.left.tiller for line in lines)]
    changes = np.diff(tillers).tolist()
    count = fewest_turns(now.tiller, changes)
    if count == 1:
        return (), 0.0
    rounds = []
    for k in range(1, count):
        tell(Sentence("the bow after round {} of {}", k, count))
        rounds.append(_draw(_cut(setup, strokes, step * k / count)).left)
    rounds.append(lines[-1].left)
    return tuple(rounds), most_out(now.tiller, changes, [one.tiller for one in rounds])


def _lines(
    setup: BowSetup,
    strokes: tuple[Stroke, ...],
    step: float,
    tell: Callable[[Words], None],
) -> tuple[Line, ...]:
    """Return the strokes, each with the bow it leaves."""
    x, lines = setup.stave.x, []
    for k, one in enumerate(strokes):
        tell(Sentence("the bow after line {}", k + 1))
        ends = sorted((abs(float(x[one.first])), abs(float(x[one.last]))))
        lines.append(
            Line(
                limb="upper" if x[one.first] > 0.0 else "lower",
                side=one.side,
                start=ends[0],
                end=ends[1],
                fades=_fades(setup.stave, one),
                steps=one.steps,
                amount=one.steps * step,
                left=_draw(_cut(setup, strokes[: k + 1], step)).left,
            )
        )
    return tuple(lines)


def _fades(stave: Stave, one: Stroke) -> tuple[float | None, float | None]:
    """Return how far from the grip a stroke has faded out, inwards and outwards."""
    x = stave.x
    upper = x[one.first] > 0.0
    inner, outer = (one.first - 1, one.last + 1) if upper else (one.last + 1, one.first - 1)
    beyond = outer < 0 or outer >= len(x)
    return abs(float(x[inner])), None if beyond else abs(float(x[outer]))


def _no_further(trial: Trial, target: float) -> float:
    """Return the draw at which a bow pulls the target's weight, or its full draw."""
    curve = drawn_bow(trial.solved).curve
    return float(np.interp(target, curve.force, curve.draw_length))
