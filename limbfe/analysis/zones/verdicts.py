"""Every knot and patch: local model, verdict, the draw length it holds to, and advice."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from limbfe.analysis.bow.model import LimbModel
from limbfe.analysis.piece.traces import plane_of
from limbfe.analysis.wood.known_draws import KnownDraws
from limbfe.analysis.wood.limb_load import LimbLoad
from limbfe.analysis.wood.stress import CLEAR_OF
from limbfe.analysis.zones.advice import advise
from limbfe.analysis.zones.layers import zone_plate
from limbfe.analysis.zones.left_in_limb import FATES, Fate, fate_of, sharing
from limbfe.analysis.zones.own_sections import own_sections, share_at_station
from limbfe.analysis.zones.surroundings import Surroundings, surroundings
from limbfe.analysis.zones.when import (
    Judged,
    OtherDraws,
    When,
    breaks,
    ceases_to_be_sound,
    splits,
)
from limbfe.analysis.zones.zone_verdict import ZoneVerdict
from limbfe.failure.load_ratio import measured
from limbfe.failure.local import judge_zone, one_thread
from limbfe.failure.problem import (
    Band,
    DepthLayer,
    LimbStrength,
    LocalOutcome,
    LocalProblem,
    Place,
)
from limbfe.failure.verdict import MODE_NAMES, verdict_numbers
from limbfe.forks import share_out
from limbfe.frames import Array
from limbfe.memory import give_back
from limbfe.rows import Row, flat_row
from limbfe.stave.knot import Knot, Plane
from limbfe.stave.named_zones import Zone, zones_of
from limbfe.stave.outline import back_z
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave
from limbfe.stave.zone_label import ZoneLabel
from limbfe.units import Sentence, Words, join
from limbfe.wood.bar import belly_law

SEED = 20261125

MEMORY = 0.6e9
"""Bytes that zones judged at a time may take together, beside 0.4e9 of bow and libraries."""
MEMORY_OF_ONE = (0.15e9, 4.2e9, 0.65e9)
"""Bytes for one zone at least, for every metre of it, and at most (measured: 0.15e9 to 0.18e9 for
knots, 0.33e9 and 0.53e9 for patches of 52 and 100 mm, 0.61e9 for longer ones)."""


def _memory(zone: Zone) -> float:
    """Return the bytes it takes to judge a zone."""
    least, a_metre, most = MEMORY_OF_ONE
    return min(least + a_metre * 2.0 * zone.extent[1], most)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LocalModel:
    """The plate behind one verdict, as they are drawn in close-ups.

    Attributes
    ----------
    problem : LocalProblem
    outcome : LocalOutcome
    plane : {"flat", "side"}
        Looked at from the back, or from its side.
    """

    problem: LocalProblem
    outcome: LocalOutcome
    plane: Plane


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JudgedZone:
    """A knot or patch, and the local model of it; None where nothing loads the zone."""

    result: ZoneVerdict
    local: LocalModel | None

    def to_dict(self) -> dict[str, Any]:
        """Return the verdict with its modes and depths, units in the keys."""
        if self.local is None:
            return self.result.to_dict()
        modes = {
            mode: {
                "strength_used_low": one.low,
                "strength_used": one.typical,
                "strength_used_high": one.high,
                "window_mm": _millimetres(one.length),
                "x_mm": _millimetres(one.x),
                "across_mm": _millimetres(one.y),
                "height_mm": _millimetres(one.z),
            }
            for mode, one in self.local.outcome.modes.items()
        }
        return {**self.result.to_dict(), "modes": modes, "depths": self._depths(self.local)}

    def rows(self) -> list[Row]:
        """Return strength used by depth, a row a layer."""
        return [] if self.local is None else [flat_row(one) for one in self._depths(self.local)]

    @staticmethod
    def _depths(local: LocalModel) -> list[dict[str, Any]]:
        return [
            {"height_mm": one.z * 1e3, "strength_used": dict(one.used)}
            for one in local.outcome.fields
        ]


def _millimetres(value: float) -> float | None:
    """Return a length for JSON: None where the whole section decides, which has no window."""
    return None if np.isnan(value) else value * 1e3


def judge_defects(
    model: LimbModel,
    load: LimbLoad,
    known: KnownDraws,
) -> tuple[ZoneVerdict, ...]:
    """Return the verdicts of `judge_zones` alone."""
    zones = judge_zones(model, load, known)
    return tuple(zone.result for zone in zones)


def judge_zones(
    model: LimbModel,
    load: LimbLoad,
    known: KnownDraws,
    *,
    tell: Callable[[Words], None] = lambda words: None,
    found: Callable[[ZoneVerdict], None] = lambda verdict: None,
) -> tuple[JudgedZone, ...]:
    """Judge every knot and patch of a drawn bow.

    Parameters
    ----------
    model : LimbModel
    load : LimbLoad
        At full draw.
    known : KnownDraws
        Of the same bow.
    tell : callable, optional
        Told which of them is being judged.
    found : callable, optional
        Handed every verdict as soon as all that take up the same wood are judged.
    """
    stave = model.setup.stave
    zones = zones_of(stave)
    groups = {zone.label: sharing(stave, zone) for zone in zones}
    alone: dict[ZoneLabel, JudgedZone] = {}
    judged: dict[ZoneLabel, JudgedZone] = {}

    def judge(k: int) -> JudgedZone:
        return judge_one(model, load, known, zones[k])

    def begin(k: int) -> None:
        tell(f"judging {zones[k].label} ({k + 1} of {len(zones)})")

    needs = [_memory(zone) for zone in zones]
    for zone, one in zip(zones, share_out(judge, needs, MEMORY, begin), strict=True):
        alone[zone.label] = one
        if all(other.label in alone for other in groups[zone.label]):
            for other in groups[zone.label]:
                judged[other.label] = _in_common(alone, groups[other.label], other)
                found(judged[other.label].result)
    return tuple(judged[zone.label] for zone in zones)


def judge_among(
    model: LimbModel,
    load: LimbLoad,
    known: KnownDraws,
    zone: Zone,
) -> JudgedZone:
    """Judge one knot or patch with those that take up the same wood; see `judge_zones`."""
    group = sharing(model.setup.stave, zone)
    alone = {one.label: judge_one(model, load, known, one) for one in group}
    return _in_common(alone, group, zone)


def _in_common(
    alone: Mapping[ZoneLabel, JudgedZone], group: tuple[Zone, ...], zone: Zone
) -> JudgedZone:
    """Return a zone's judgement: the worst of those that take up the same wood."""
    own = alone[zone.label]
    if len(group) == 1:
        return own
    worst = max((alone[one.label] for one in group), key=_badness)
    others = tuple(str(one.label) for one in group if one.label != zone.label)
    words = Sentence(
        "it takes up the same wood as {}, so one verdict holds for all of it; {}",
        join(" and ", others),
        worst.result.advice,
    )
    mine = own.result
    result = replace(
        worst.result, name=mine.name, kind=mine.kind, state=mine.state, limb=mine.limb,
        at=mine.at, fate=mine.fate, together=others, advice=words,
    )  # fmt: skip
    return JudgedZone(result=result, local=worst.local)


GRAVITY = ("sound", "watch", "expect a split", "expect rupture")
"""Verdicts, the worst last."""


def _badness(judged: JudgedZone) -> tuple[int, float]:
    return GRAVITY.index(judged.result.verdict), judged.result.strength_used


def local_problem(
    model: LimbModel,
    load: LimbLoad,
    zone: Zone,
    stave: Stave | None = None,
) -> tuple[LocalProblem | None, Surroundings]:
    """Return what the plane models need of a zone; None where no layer meets it.

    Parameters
    ----------
    model : LimbModel
    load : LimbLoad
    zone : Knot or Decay
    stave : Stave, optional
        The stave that the zone lies in, if another stood in its place when the bow was drawn.
    """
    drawn = model.setup.stave
    x, reach = zone.extent
    there = [one.extent[1] for one in zones_of(drawn) if one.name == zone.name]
    reach = max([reach, *there])
    around = surroundings(model, load, x, reach)
    body, layers = zone_plate(model, load, around, zone, stave or drawn)
    if body is None:
        return None, around
    own = own_sections(model, load, around, zone, stave)
    problem = LocalProblem(
        zone=zone.label,
        layers=layers,
        band=Band(),
        sections=own,
        body=body,
        limb=_limb(model, load, around, layers),
    )
    return problem, around


def _limb(
    model: LimbModel, load: LimbLoad, around: Surroundings, layers: tuple[DepthLayer, ...]
) -> LimbStrength:
    """Return what the limb bears without the zone: all its clear wood counts."""
    inside = load.inside
    # stations across a zone are left out: what it does to them is the zone's
    stations = model.stations.x
    apart = np.ones(len(stations), dtype=bool)
    for zone in zones_of(model.setup.stave):
        centre, reach = zone.extent
        apart &= np.abs(stations - centre) > CLEAR_OF * reach
    there = inside.clear & apart[:, None]
    used = np.where(there, inside.used.tension, 0.0)
    x = float(np.mean(around.x))
    shape = shape_at(model.setup.stave, np.array([x]))
    z = float(back_z(shape, np.zeros(1))[0])
    strain = float(around.strains.mean(axis=0) @ [1.0, 0.0, 0.0, 0.0, z, 0.0])
    return LimbStrength(
        used=float(used.max(initial=0.0)),
        back=max(layers[0].wood.E_L * strain, 0.0),
        law=belly_law(model.setup.stave.heartwood),
        depth=float(shape.thickness[0]),
    )


def judge_one(
    model: LimbModel,
    load: LimbLoad,
    known: KnownDraws,
    zone: Zone,
) -> JudgedZone:
    """Judge one knot or patch; see `judge_zones`."""
    with one_thread():
        return _judge_one(model, load, known, zone)


def _judge_one(model: LimbModel, load: LimbLoad, known: KnownDraws, zone: Zone) -> JudgedZone:
    x, _ = zone.extent
    problem, around = local_problem(model, load, zone)
    if problem is None:
        return _unloaded(zone, "no wood of it is left in the finished limb; leave it as it is")
    outcome = judge_zone(problem, np.random.default_rng(SEED))
    give_back()
    plane = plane_of(zone)

    def problem_at(other: LimbLoad) -> LocalProblem:
        made, _ = local_problem(model, other, zone)
        assert made is not None
        return made

    def guess(place: Place) -> Array:
        if place.station is None:
            return _share_of_load(around, known.strains, (place.y, place.z), plane)
        return share_at_station(load, known.strains, place)

    judged = Judged(load=load, problem=problem, outcome=outcome)
    when = OtherDraws(known, judged, problem_at, guess, SEED)
    fate = fate_of(model.setup.stave, zone)
    advice = advise(
        problem,
        outcome,
        lambda place: when.reached(ceases_to_be_sound, place),
        float(known.lengths[0]),
        movable=plane == "flat",
    )
    result = ZoneVerdict(
        name=zone.name,
        kind=zone.kind,
        state=zone.state if isinstance(zone, Knot) else None,
        limb=zone.limb,
        at=abs(x),
        draw_length_at_split=_length(when.reached(splits, outcome.modes["split"].place)),
        draw_length_at_rupture=_length(when.reached(breaks, outcome.modes["fibre"].place)),
        fate=fate,
        advice=_with_fate(fate, _with_means(outcome, advice)),
        kept=measured(problem),
        **verdict_numbers(outcome),
    )
    local = LocalModel(problem=problem, outcome=outcome, plane=plane)
    give_back()
    return JudgedZone(result=result, local=local)


def _with_means(outcome: LocalOutcome, advice: Words) -> Words:
    """Say what a split runs on to, or that it could not be followed and stress alone judged it."""
    followed = outcome.grain_split
    met = "" if followed is None else followed.meets_at(1.0)
    if met:
        return join("; ", (advice, f"its split runs on to {met}"))
    if not outcome.unfollowed:
        return advice
    words = "its split cannot be followed and is judged by stress alone, the more careful way: {}"
    return join("; ", (advice, Sentence(words, outcome.unfollowed.removeprefix("split: "))))


def _with_fate(fate: Fate, advice: Words) -> Words:
    return advice if fate == "whole" else join("; ", (FATES[fate], advice))


def _length(reached: When | None) -> float | None:
    return None if reached is None else reached.length


def _share_of_load(
    around: Surroundings, loading: Array, place: tuple[float, float], plane: Plane
) -> Array:
    """Return the strain at a place of the layers (y, z) in every state over that of the judged one.

    Beside the zone, as a first guess of how its load grows.

    Returns
    -------
    ndarray, shape (k,)
        Never falling.
    """
    y, z = place if plane == "flat" else place[::-1]
    across = np.array([1.0, 0.0, 0.0, 0.0, z, -y])
    strain = (loading[:, around.index] @ across).mean(axis=1)
    share: Array = np.maximum.accumulate(strain / float((around.beside @ across).mean()))
    return share


def _unloaded(zone: Zone, advice: str) -> JudgedZone:
    result = ZoneVerdict(
        name=zone.name,
        kind=zone.kind,
        state=zone.state if isinstance(zone, Knot) else None,
        limb=zone.limb,
        at=abs(zone.extent[0]),
        verdict="sound",
        mode=MODE_NAMES["none"],
        strength_used=0.0,
        strength_used_low=0.0,
        strength_used_high=0.0,
        wrinkling_used=0.0,
        draw_length_at_split=None,
        draw_length_at_rupture=None,
        strength_ratio=1.0,
        tension_ratio=1.0,
        failure_probability=0.0,
        limb_failure_probability=0.0,
        split_length=None,
        split_course="none",
        kept=None,
        advice=advice,
        fate="gone",
    )
    return JudgedZone(result=result, local=None)
