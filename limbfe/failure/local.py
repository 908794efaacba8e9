"""Judgement of one zone: stress at every depth, windows, strength used by mode."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from functools import cache

import numpy as np
from threadpoolctl import ThreadpoolController

from limbfe.errors import ConvergenceError, GeometryError
from limbfe.failure.beside import beside_knot, in_the_edge, with_split
from limbfe.failure.layer_judge import (
    MODES,
    LayerResult,
)
from limbfe.failure.links import zone_use
from limbfe.failure.load_ratio import at_net_section, knot_share, load_ratio, measured
from limbfe.failure.plate_judge import PlateStage, judge_plate
from limbfe.failure.probability import (
    Beside,
    Demand,
    Demands,
    failure_probability,
)
from limbfe.failure.problem import (
    LocalOutcome,
    LocalProblem,
    ModeOutcome,
    SectionUse,
    StressField,
    ZoneUse,
    factors,
)
from limbfe.wood.weakest_link import joint_use, weibull_shape

StageCache = dict[tuple[object, ...], PlateStage]
"""Meshed and factorised plates by what they depend on, the load left out."""


@cache
def _threads() -> ThreadpoolController:
    """Return the hold on the libraries' threads; to look for the libraries takes a while."""
    return ThreadpoolController()


@contextmanager
def one_thread() -> Iterator[None]:
    """Compute with one thread of a BLAS.

    The matrices are small: more gain nothing, and wait for each other on a busy machine.
    """
    with _threads().limit(limits=1, user_api="blas"):
        yield


def judge_zone(
    problem: LocalProblem,
    rng: np.random.Generator | None = None,
    stages: StageCache | None = None,
) -> LocalOutcome:
    """Judge one zone at the load its layers carry.

    Parameters
    ----------
    problem : LocalProblem
    rng : numpy.random.Generator, optional
        For the chance of failure; none is worked out without it.
    stages : dict, optional
        Filled with meshed plates, and taken from when a trial (`member` "quick") of the same zone
        is judged under another load; an answer finds what it crushes by itself, on a mesh of its
        own.

    Raises
    ------
    GeometryError
        If the zone overlaps another or spans the limb.
    ConvergenceError
        If a layer cannot be solved.
    ValueError
        If a generator is given and a layer does not say how its wood scatters.
    """
    if rng is not None and any(piece.scatter is None for piece in problem.layers):
        raise ValueError("a chance of failure needs the scatter of every layer's wood")
    stages = {} if stages is None else stages
    with one_thread():
        return _judge(problem, rng, stages)


def _judge(
    problem: LocalProblem, rng: np.random.Generator | None, stages: StageCache
) -> LocalOutcome:
    results = judge_plate(problem, stages, unglued=False)
    outcome = _gather(problem, results)
    bond = max(r.bond for r in results)
    if bond > 0.0:
        loose = _gather(problem, judge_plate(problem, stages, unglued=True))
        outcome = _with_bond(problem, outcome, loose, bond)
    outcome = no_milder(problem, outcome)
    outcome = replace(_wrinkled(problem, outcome), in_edge=in_the_edge(problem))
    try:
        followed = beside_knot(problem, outcome.modes["split"].typical)
    except (GeometryError, ConvergenceError) as error:
        # windows judge it then, which is the more careful; the verdict says so
        outcome, followed = replace(outcome, unfollowed=str(error)), None
    if followed is not None:
        outcome = with_split(problem, outcome, followed)
    if rng is not None:
        asked = _demands(problem, results, outcome)
        chance = failure_probability(asked.rupture, asked.splits, asked.scatter, rng, asked.beside)
        outcome = replace(outcome, demands=asked, probability=chance)
    return outcome


def _gather(problem: LocalProblem, results: tuple[LayerResult, ...]) -> LocalOutcome:
    """Worst of the layers, mode by mode."""
    modes: dict[str, ModeOutcome] = {}
    for mode in MODES:
        worst = max(results, key=lambda r: r.modes[mode].typical).modes[mode]
        leading = max(results, key=lambda r: r.modes[mode].high).modes[mode]
        modes[mode] = replace(
            worst,
            low=max(r.modes[mode].low for r in results),
            high=leading.high,
            high_y=leading.y,
            high_z=leading.z,
        )
    fibre, limb = modes["fibre"], problem.limb.used if problem.limb else 0.0
    clear = {mode: max(r.clear[mode] for r in results) for mode in MODES}
    if any(k.name == problem.zone for r in results for k in r.piece.knots):
        use = at_net_section(problem, zone_use(tuple(r.links for r in results), limb))
    else:
        # decay weakens a whole patch alike: its links do not fail apart, and a small one gains
        # nothing
        use = ZoneUse(zone=fibre.typical, sound=clear["fibre"], limb=max(limb, clear["fibre"]))
    scale = use.zone / fibre.typical if fibre.typical > 0.0 else 0.0
    modes["fibre"] = replace(
        fibre,
        low=scale * fibre.low,
        typical=scale * fibre.typical,
        high=scale * fibre.high,
        peak=fibre.typical,
    )
    clear["fibre"] = use.sound
    fields = tuple(r.field for r in results if r.field is not None)
    return _finish(problem, modes, clear, use, fields)


def _finish(
    problem: LocalProblem,
    modes: Mapping[str, ModeOutcome],
    clear: Mapping[str, float],
    use: ZoneUse,
    fields: tuple[StressField, ...],
    tension_ratio: float | None = None,
) -> LocalOutcome:
    # "split" holds opening and sliding together, so it cannot be less than either.
    ways = [modes[mode] for mode in ("split", "opening", "sliding")]
    leading = max(ways, key=lambda one: one.high)
    split = replace(
        max(ways, key=lambda one: one.typical),
        mode="split",
        low=max(one.low for one in ways),
        high=leading.high,
        high_y=leading.high_y,
        high_z=leading.high_z,
        high_station=leading.high_station,
    )
    modes = {**modes, "split": split}
    tension = use.ratio if tension_ratio is None else min(tension_ratio, use.ratio)
    return LocalOutcome(
        zone=problem.zone,
        modes=modes,
        rupture=factors(modes["fibre"]),
        split=factors(split),
        strength_ratio=load_ratio(problem, tension),
        tension_ratio=tension,
        use=use,
        clear=clear,
        bond_used=0.0,
        probability=None,
        fields=fields,
    )


def _with_bond(
    problem: LocalProblem, glued: LocalOutcome, loose: LocalOutcome, bond: float
) -> LocalOutcome:
    """Join the answers with and without the bond of a filling.

    A mode is reached with the bond intact, or when the bond lets go, or later without it.
    """

    def joined(tied: float, free: float) -> float:
        if tied >= bond:
            return tied
        return min(bond, free)

    modes = {}
    for mode, tied in glued.modes.items():
        free = loose.modes[mode]
        place = tied if tied.typical >= min(bond, free.typical) else free
        modes[mode] = replace(
            place,
            low=joined(tied.low, free.low),
            typical=joined(tied.typical, free.typical),
            high=joined(tied.high, free.high),
        )
    fields = glued.fields if bond <= 1.0 else loose.fields
    use = replace(glued.use, zone=joined(glued.use.zone, loose.use.zone))
    return replace(_finish(problem, modes, glued.clear, use, fields), bond_used=bond)


def no_milder(problem: LocalProblem, outcome: LocalOutcome) -> LocalOutcome:
    """Return the outcome, in no way of failing milder than the bow's own sections say.

    The layers carry the strain of a limb that is sound.  Where a zone takes so much of a section
    that the limb bends there as in a hinge, its own strain is many times that.
    """
    modes, clear, ratio = dict(outcome.modes), dict(outcome.clear), 1.0
    use = outcome.use
    for one in problem.sections:
        kind = "fibre" if one.mode == "through" else one.mode
        if one.used > modes[kind].typical:
            clear[kind] = max(one.sound, clear[kind])
            if one.mode == "through":
                # of the limb, which need not break first where the zone lies
                ratio = min(ratio, max(one.sound, use.limb) / one.used)
            elif kind == "fibre" and one.used > one.sound:
                use = replace(use, zone=max(use.zone, one.used))
        modes[kind] = _raised(modes[kind], one)
    if all(modes[kind] is old for kind, old in outcome.modes.items()):
        return outcome
    raised = _finish(problem, modes, clear, use, outcome.fields, ratio)
    return replace(raised, bond_used=outcome.bond_used)


def _wrinkled(problem: LocalProblem, outcome: LocalOutcome) -> LocalOutcome:
    """Return the outcome with the wrinkles of a knot's belly judged across the limb.

    A fret runs across the belly: beside a knot the section there says whether one is due.  Wood of
    some square millimetres that is shortened more is crushed, but it is held by what lies round it.
    """
    own = next((one for one in problem.sections if one.mode == "yield"), None)
    if own is None or knot_share(problem) is None:
        return outcome
    nothing = replace(outcome.modes["yield"], low=0.0, typical=0.0, high=0.0)
    return replace(outcome, modes={**outcome.modes, "yield": _raised(nothing, own)})


def _raised(mode: ModeOutcome, own: SectionUse) -> ModeOutcome:
    raised = mode
    if own.used > mode.low:
        raised = replace(raised, low=own.used)
    if own.used > mode.high:
        raised = replace(
            raised, high=own.used, high_y=own.y, high_z=own.z, high_station=own.station
        )
    if own.used > mode.typical:
        mix = {"opening": 0.0, "sliding": 0.5 * np.pi}.get(own.mode, np.nan)
        raised = replace(
            raised, mode=own.mode, typical=own.used, mix=mix, station=own.station,
            x=own.x, y=own.y, z=own.z, angle=np.nan, length=np.nan,
        )  # fmt: skip
    return raised


def _demands(
    problem: LocalProblem, results: tuple[LayerResult, ...], outcome: LocalOutcome
) -> Demands:
    """Return what the zone asks of the wood; it scatters as on the layer that leads."""
    leading = max(results, key=lambda r: max(r.modes["fibre"].typical, r.modes["split"].typical))
    scatter = leading.piece.scatter
    assert scatter is not None

    def size(mode: str, cov: float) -> float:
        pull = np.concatenate([np.maximum(r.typical[mode].value, 0.0) for r in results])
        volume = np.concatenate([r.volume[mode] for r in results])
        top = float(pull.max(initial=0.0))
        shape = weibull_shape(max(cov * np.sqrt(scatter.within), 0.005))
        # less than the test's gains nothing: windows credit a steep gradient already
        joint = joint_use(pull, volume / scatter.volume_split, shape)
        return max(joint / top, 1.0) if top > 0.0 else 1.0

    opening, sliding = size("opening", scatter.tension_across), size("sliding", scatter.shear)
    fibre, use = outcome.modes["fibre"], outcome.use
    whole = max(use.both, fibre.typical)
    spread = whole / fibre.typical if fibre.typical > 0.0 else 0.0

    def demand(mode: str, **parts: float) -> Demand:
        one = outcome.modes[mode]
        return Demand(low=one.low, typical=one.typical, high=one.high, **parts)

    mix = outcome.modes["split"].mix
    splits: tuple[Demand, ...] = (demand("split", toughness=1.0),)
    if outcome.grain_split is None:
        splits = (
            demand("opening", opening=opening),
            demand("sliding", sliding=sliding),
            demand("split", opening=np.cos(mix) * opening, sliding=np.sin(mix) * sliding),
        )
    rupture = Demand(low=spread * fibre.low, typical=whole, high=spread * fibre.high, fibre=1.0)
    kept = measured(problem)
    extra = 0.0 if kept is None else kept.extra
    return Demands(
        rupture=rupture,
        splits=splits,
        scatter=scatter,
        beside=Beside(clear=min(use.limb, whole), extra=extra),
    )
