"""From sampled bows to the figures that are told."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.cautions import STANDING_CAUTIONS
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.when_braced import when_braced
from limbfe.errors import CaseError
from limbfe.failure.indices import Index, variance_indices
from limbfe.failure.reliability import SURE, Share, counted_share, subset_simulation
from limbfe.frames import Array
from limbfe.studies.chance.advice import steps
from limbfe.studies.chance.asked import Asked
from limbfe.studies.chance.assumed import chance_assumptions
from limbfe.studies.chance.bows import FULL
from limbfe.studies.chance.design import QuickBow
from limbfe.studies.chance.quick import CLEAR, Bows, Chances, quick_bows
from limbfe.studies.chance.results import Chance, Local, ReadModulus, Spread, Told
from limbfe.units import Sentence, Words, both_lengths

MODEL_ITSELF = (
    "no bow of wood was measured for this: the spread is that of the wood, of the measures and "
    "of the strength calculation, not of what the model of a bow may itself be wrong by"
)
ROUGH = 0.1
"""Error of the quick bow, as a share, from which it is said."""
_BATCH = 2000
_RARE = 50
"""Failures among the samples below which a chance is found by subset simulation."""
_FAR = 1e3
_FEW = 200
"""Survivors below which nothing is told of them."""
_INDEX_SAMPLES = 4096
_LENGTHS = 49
_BEFORE = 20_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Own:
    """The bow of the case, the strength that its clear wood uses in tension, and the speed (m/s) of
    an arrow (kg), None where its shot cannot be followed."""

    solved: SolvedBow
    force: float
    kept: float
    tension: float
    arrow: float
    speed: float | None


def sampled(chances: Chances, samples: int, seed: int) -> Bows:
    """Return so many quick bows, batch by batch, each with its own stream."""
    count = -(-samples // _BATCH)
    streams = np.random.SeedSequence(seed).spawn(count)
    parts = [
        quick_bows(
            chances,
            np.random.default_rng(stream).standard_normal(
                (min(_BATCH, samples - k * _BATCH), chances.columns)
            ),
        )
        for k, stream in enumerate(streams)
    ]
    return Bows(
        **{
            one.name: np.concatenate([getattr(part, one.name) for part in parts])
            for one in fields(Bows)
        }
    )


def in_batches(chances: Chances, u: Array) -> Iterator[Bows]:
    """Yield the quick bows of many samples, so that they fit into memory."""
    for k in range(0, len(u), _BATCH):
        yield quick_bows(chances, u[k : k + _BATCH])


def told(
    title: str,
    asked: Asked,
    own: Own,
    chances: Chances,
    words: tuple[Words, ...],
    local: Local | None = None,
) -> Chance:
    """Return the figures of sampled bows.

    Parameters
    ----------
    title : str
    asked : Asked
    own : Own
    chances : Chances
    words : tuple of Words
        Cautions of the zones.
    local : Local, optional

    Raises
    ------
    CaseError
        If hardly any bow would have borne what it is said to have held.
    """
    bows = sampled(chances, asked.samples, asked.seed)
    first, everyone = bows.first, np.ones(asked.samples, dtype=bool)
    kept = everyone if asked.held is None else first > asked.held
    surviving = counted_share(int(kept.sum()), asked.samples)
    if kept.sum() < _FEW:
        raise CaseError(
            f"held {both_lengths(asked.held or 0.0)}: of {asked.samples} bows that this wood may "
            f"make only {int(kept.sum())} would have borne that; the case does not describe this "
            "bow: measure it again, fit it, or take more samples"
        )
    chances_at, rare = _at_draw(chances, bows, kept, asked)
    indices = _indices(chances, asked)
    wood = own.solved.model.setup.stave.heartwood
    return Chance(
        title=title,
        samples=asked.samples,
        seed=asked.seed,
        zones=tuple(table.name for table in chances.zones),
        draw_length=chances.full,
        held=asked.held,
        told=_told_by(chances, own, asked),
        surviving=surviving,
        draw_weight=spread_of(bows.force[kept, FULL], own.force),
        kept=spread_of(bows.kept[kept], own.kept),
        arrow=own.arrow,
        speed=None if chances.speed is None else spread_of(bows.speed[kept], chances.speed),
        chances=chances_at,
        rare=rare,
        by_draw=_by_draw(chances, first, kept, bows.archer),
        first=_first(chances, bows, kept),
        place=chances.x,
        starts=_starts(chances, bows, kept),
        fan=_fan(chances, bows.force[kept]),
        indices=indices,
        steps=steps(chances, indices),
        quick=_quick(chances.bow),
        when_braced=when_braced(own.solved),
        cautions=(
            *own.solved.warnings,
            *words,
            *_cautions(chances, asked),
            *STANDING_CAUTIONS,
        ),
        assumptions=tuple(chance_assumptions(wood, chances.inputs)),
        local=local,
    )


def _told_by(chances: Chances, own: Own, asked: Asked) -> Told | None:
    """Return what readings say beside what was known before them."""
    known = chances.known
    if known is None or known.fit is None:
        return None
    fit, (mean, off) = known.fit, known.of_fit(chances.inputs)
    before = sampled(replace(chances, known=None), min(asked.samples, _BEFORE), asked.seed)
    failed = int((before.first <= chances.full + before.archer).sum())
    return Told(
        file=fit.readings.file,
        readings=len(fit.readings.rows),
        moduli=tuple(
            ReadModulus(
                wood=one.wood,
                case=one.case,
                value=one.case * float(np.exp(log)),
                low=one.case * float(np.exp(log - SURE * sd)),
                high=one.case * float(np.exp(log + SURE * sd)),
            )
            for one, log, sd in zip(fit.moduli, mean, off, strict=False)
        ),
        draw_weight=spread_of(before.force[:, FULL], own.force),
        any=counted_share(failed, len(before.first)),
    )


def _cautions(chances: Chances, asked: Asked) -> Iterator[Words]:
    bow = chances.bow
    yield MODEL_ITSELF
    if max(bow.error["links"][FULL], bow.error["force"][FULL]) > ROUGH:
        yield (
            "the quick bows are rough: this bow's belly is worked so hard that bows alike differ "
            "much; draw more of them in full (bows)"
        )
    if chances.known is not None and chances.known.fit is not None:
        yield from chances.known.fit.warnings
    if bow.failed:
        yield Sentence(
            "of {} bows drawn in full {} could not be drawn: {}; as weak a belly counts as broken",
            bow.drawn + bow.failed, bow.failed, bow.reason,
        )  # fmt: skip
    if asked.held is not None:
        yield (
            "what it has held counts only if that did not hurt it: with a new crack, fret or "
            "lifted splinter it is no longer the bow that held"
        )
    if asked.held is not None and asked.held >= chances.full:
        yield "it has held more than it is asked to: what is left is wear, which is not counted"


def spread_of(values: Array, own: float) -> Spread:
    """Return the spread of a quantity over bows, with bounds on its mean and percentiles."""
    order = np.sort(values)
    n = len(order)

    def percentile(share: float) -> float:
        return float(np.quantile(order, share))

    def bounds(share: float) -> tuple[float, float]:
        off = SURE * np.sqrt(n * share * (1.0 - share))
        ranks = np.clip([n * share - off, n * share + off], 0, n - 1).astype(int)
        return float(order[ranks[0]]), float(order[ranks[1]])

    # from the case's own figure, which is met exactly where nothing scatters
    mean, sd = own + float((order - own).mean()), float((order - own).std())
    half = SURE * sd / np.sqrt(n)
    return Spread(
        own=own,
        mean=mean,
        sd=sd,
        p5=percentile(0.05),
        p50=percentile(0.5),
        p95=percentile(0.95),
        off={"mean": (mean - half, mean + half), "p5": bounds(0.05), "p95": bounds(0.95)},
    )


def _at_draw(
    chances: Chances, bows: Bows, kept: NDArray[np.bool_], asked: Asked
) -> tuple[dict[str, Share], dict[str, float]]:
    """Return the chances at full draw, and the scatter of those found as rare ones."""
    draw = chances.full + bows.archer
    ends = {
        "any": bows.first,
        "split": bows.split.min(axis=1, initial=np.inf),
        "rupture": bows.zone.min(axis=1, initial=np.inf),
        "clear_wood": bows.limb.min(axis=1),
        "frets": bows.frets,
    }
    counts = {name: int(((at <= draw) & kept).sum()) for name, at in ends.items()}
    found = {name: counted_share(count, int(kept.sum())) for name, count in counts.items()}
    rare: dict[str, float] = {}
    if counts["any"] < _RARE and asked.spread.scatter > 0.0:
        rng = np.random.default_rng(np.random.SeedSequence([asked.seed, 1]))
        estimate = subset_simulation(_margin(chances, asked), chances.columns, rng)
        found["any"] = _of_those(estimate.share, counted_share(int(kept.sum()), len(kept)))
        if np.isfinite(estimate.scatter):
            rare["any"] = estimate.scatter
    return found, rare


def _margin(chances: Chances, asked: Asked) -> Callable[[Array], Array]:
    """Return the logarithm of strength used of samples, far below for what would not have held."""

    def margin(u: Array) -> Array:
        parts = []
        for bows in in_batches(chances, u):
            held = True if asked.held is None else bows.first > asked.held
            parts.append(np.where(held, bows.used, -_FAR))
        return np.concatenate(parts)

    return margin


def _of_those(share: Share, kept: Share) -> Share:
    """Return the share among those kept, of a share of all that are kept and fail."""
    return Share(
        value=share.value / kept.value,
        low=share.low / kept.high,
        high=min(share.high / kept.low, 1.0),
    )


def _by_draw(
    chances: Chances, first: Array, kept: NDArray[np.bool_], archer: Array
) -> dict[str, Array]:
    lengths = np.linspace(chances.lengths[1], chances.lengths[-1], _LENGTHS)
    lengths = np.unique(np.append(lengths, chances.full))
    those, of = first - archer, int(kept.sum())
    shares = [counted_share(int(((those <= at) & kept).sum()), of) for at in lengths]
    return {
        "draw_length": lengths,
        "any": np.array([one.value for one in shares]),
        "any_low": np.array([one.low for one in shares]),
        "any_high": np.array([one.high for one in shares]),
        "all": np.array([(those <= at).mean() for at in lengths]),
    }


def _first(chances: Chances, bows: Bows, kept: NDArray[np.bool_]) -> dict[str, Share]:
    """Return which way of failing comes first, of the bows that fail as far as they are drawn."""
    names = [
        *(f"clear wood: {name}" for name in CLEAR),
        *(f"{table.kind} {table.name}: breaks" for table in chances.zones),
        *(f"{table.kind} {table.name}: splits" for table in chances.zones),
    ]
    ends = np.concatenate([bows.limb, bows.zone, bows.split], axis=1)[kept]
    ends = ends[ends.min(axis=1) <= chances.lengths[-1]]
    count = np.bincount(ends.argmin(axis=1), minlength=len(names))
    return {
        name: counted_share(int(n), len(ends)) for name, n in zip(names, count, strict=True) if n
    }


def _starts(chances: Chances, bows: Bows, kept: NDArray[np.bool_]) -> Array:
    """Return the share of breaks of clear wood in tension that start at each station."""
    breaks = kept & (bows.limb[:, 0] <= chances.lengths[-1])
    count = np.bincount(bows.where[breaks], minlength=len(chances.x))
    return np.asarray(count / max(int(breaks.sum()), 1))


def _fan(chances: Chances, force: Array) -> dict[str, Array]:
    low, middle, high = np.quantile(force, [0.05, 0.5, 0.95], axis=0)
    return {"draw_length": chances.lengths, "low": low, "middle": middle, "high": high}


def _indices(chances: Chances, asked: Asked) -> dict[str, dict[str, Index]]:
    if asked.spread.scatter == 0.0:
        return {}
    rng = np.random.default_rng(np.random.SeedSequence([asked.seed, 2]))
    first, second = rng.standard_normal((2, _INDEX_SAMPLES, chances.columns))

    def model(u: Array) -> dict[str, Array]:
        parts = list(in_batches(chances, u))
        return {
            "draw weight": np.concatenate([part.force[:, FULL] for part in parts]),
            "failure": np.concatenate([part.used for part in parts]),
        }

    return variance_indices(model, chances.groups, first, second, chances.exchanged)


def _quick(bow: QuickBow) -> dict[str, float]:
    return {
        "draw_weight": float(bow.error["force"][FULL]),
        "strength_used": float(bow.error["links"][FULL]),
        "set_mm": 1e3 * float(bow.error["set"][0]),
        "drawn": float(bow.drawn),
        "failed": float(bow.failed),
    }
