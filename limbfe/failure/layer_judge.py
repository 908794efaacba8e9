"""Judgement of one layer: model, windows, strength used over the band."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from limbfe.defect.recovery import (
    Samples,
)
from limbfe.defect.strip import Ellipse, half_extent
from limbfe.errors import GeometryError
from limbfe.failure.layer_windows import (
    Decayed,
    FibreStress,
    LayerWindows,
    Places,
    Used,
    build_windows,
    chosen_lengths,
)
from limbfe.failure.links import Links, plane_links
from limbfe.failure.problem import DepthLayer, LocalProblem, ModeOutcome, StressField, trace_of
from limbfe.failure.window_operators import Ground, Windows
from limbfe.fem.spatial import cKDTree
from limbfe.frames import Array

SAMPLING = 0.2
"""Distance of the wood samples over the thickness of a window."""
SPARSE = 2.0
"""Times the distance of samples and windows in a trial."""
LONG = 0.08
"""Half length of limb searched, m, past which samples and windows lie further apart as it grows:
what is long changes slowly, and memory would grow with it to some GB."""
FIBRE_WINDOWS = 2.0
"""Windows along the fibres past a zone's end within which the worst one is looked for, at least."""
WORST_NEAR = 1.5
"""Thicknesses of a window round the worst ones within which the ends of the band are tried."""
NEAR_WORST = 0.7
"""A layer whose strength used stays below this part of the worst layer's in every mode is not
tried over the band: its band would have to be half as wide again as theirs to lead."""
BETWEEN = 9
"""Windows each way tried between the places of the grid next to one of the worst.  A search still
finer gains 1 to 3 % that samples so far apart make and other samples would not: it finds their
error, and strength used would no longer grow evenly with a knot."""
FEW, NEARLY_WORST = 3, 0.9
"""How many of the worst windows of a mode are looked at so, and from which part of the worst on."""
BETWEEN_REACH = 1.25
"""Distances of windows past the places searched that are sampled: those between lie one further,
and take in a sample, a fifth; the rest is to spare."""
MODES = ("fibre", "opening", "sliding", "split", "yield")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """Wood samples of a layer, and the windows laid on them."""

    samples: Samples
    ground: Ground
    places: Places
    windows: LayerWindows
    decayed: Decayed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LayerResult:
    """Outcome of one layer.

    Attributes
    ----------
    piece : DepthLayer
    modes : mapping of str to ModeOutcome
    clear : mapping of str to float
        Strength used without the zone.
    field : StressField or None
        None in trials.
    own : ndarray, shape (w + e, 3), Pa
        The limb's own stress at the samples.
    stress : FibreStress
        Total stress there, at the typical end of the band.
    typical : mapping of str to Used
        Every window, at the typical end of the band.
    worst : mapping of str to Used
        With those between them.
    volume : mapping of str to ndarray, m3
        Volume each window stands for.
    bond : float
    links : Links
    """

    piece: DepthLayer
    modes: Mapping[str, ModeOutcome]
    clear: Mapping[str, float]
    field: StressField | None
    own: Array
    stress: FibreStress
    typical: Mapping[str, Used]
    worst: Mapping[str, Used]
    volume: Mapping[str, Array]
    bond: float
    links: Links


def geometry_key(piece: DepthLayer) -> tuple[object, ...]:
    """Equal for layers that share mesh, material and windows, whatever their strain."""
    strip = piece.strip

    def fields(thing: object) -> tuple[object, ...]:
        names = type(thing).__dataclass_fields__  # type: ignore[attr-defined]
        values = (getattr(thing, name) for name in names)
        return tuple(fields(v) if isinstance(v, Ellipse) else v for v in values)

    return (
        strip.x.tobytes(),
        strip.right.tobytes(),
        strip.left.tobytes(),
        fields(piece.wood),
        fields(piece.strength),
        fields(piece.grain),
        tuple(fields(k) for k in piece.knots),
        tuple(fields(d) for d in piece.decays),
    )


def search_reach(focus: Ellipse, fibre_window: float) -> float:
    """Return half the length of limb, m, that is searched for the worst window of a zone."""
    half_length, half_width = half_extent(focus)
    return half_length + max(half_width, FIBRE_WINDOWS * fibre_window)


def spread_of(problem: LocalProblem, reach: float) -> float:
    """Return how many times as far apart as usual samples and windows lie."""
    return (SPARSE if problem.member == "quick" else 1.0) * max(1.0, reach / LONG)


def laid_links(
    problem: LocalProblem, piece: DepthLayer, laid: Laid, used: Mapping[str, Used]
) -> Links:
    """Return the weakest links of a layer."""
    focus = trace_of(piece, problem.zone)
    assert focus is not None
    reach = search_reach(focus, chosen_lengths(piece, problem.band, 0).fibre)
    return plane_links(piece, focus, reach, used["fibre"], laid.samples, laid.ground)


def check_room(problem: LocalProblem, piece: DepthLayer, windows: int) -> None:
    """Refuse (GeometryError) a depth at which no window finds wood beside the zone."""
    if windows == 0:
        raise GeometryError(
            f"{problem.zone}: no wood is left beside it at depth z = {piece.z:.4g} m that a window"
            " fits in; reduce its size or leave more width"
        )


def window_volume(piece: DepthLayer, stage: Laid, used: Mapping[str, Used]) -> Mapping[str, Array]:
    """Return the volume (m3) each window stands for, by mode."""
    return {
        mode: area[used[mode].windows.source] * piece.layer
        for mode, area in (
            ("fibre", stage.places.across_area),
            ("opening", stage.places.along_area),
            ("sliding", stage.places.along_area),
        )
    }


def peak(used: Used) -> float:
    """Return the strength used in the worst window; 0 without any."""
    return float(used.value.max(initial=0.0))


def between_windows(
    problem: LocalProblem, piece: DepthLayer, stage: Laid, used: Mapping[str, Used]
) -> LayerWindows:
    """Windows between those that were laid, round the worst of them.

    The worst window lies anywhere between the places of a regular grid, which moves as a patch or
    a knot grows; off a rim, too, since beside a knot's end it is the course of the fibres that
    leads.
    """
    lengths = chosen_lengths(piece, problem.band, 0)
    pitch = spread_of(problem, search_reach_of(problem, piece)) * lengths.thickness
    step = np.linspace(-1.0, 1.0, BETWEEN) * pitch
    around = np.stack(np.meshgrid(step, step, indexing="ij"), axis=-1).reshape(-1, 2)

    def places(modes: tuple[str, ...]) -> Array:
        worst = [_apart(used[mode], 2.0 * pitch) for mode in modes]
        found: Array = (np.vstack(worst)[:, None] + around).reshape(-1, 2)
        return found

    return build_windows(
        piece,
        stage.samples,
        stage.ground,
        lengths,
        places(("fibre", "yield")),
        places(("opening", "sliding", "split")),
        stage.decayed,
    )


def _apart(used: Used, distance: float) -> Array:
    """Return the middles of the worst few windows that lie apart, shape (n, 2), m."""
    found: list[Array] = []
    for k in np.argsort(-used.value):
        centre = used.windows.centre[k]
        if used.value[k] < NEARLY_WORST * used.value.max() or len(found) == FEW:
            break
        if all(np.hypot(*(centre - one)) > distance for one in found):
            found.append(centre)
    return np.array(found).reshape(-1, 2)


def search_reach_of(problem: LocalProblem, piece: DepthLayer) -> float:
    """Return half the length of limb, m, that is searched on a layer of a problem."""
    focus = trace_of(piece, problem.zone)
    assert focus is not None
    return search_reach(focus, chosen_lengths(piece, problem.band, 0).fibre)


def sampled_reach(problem: LocalProblem, piece: DepthLayer) -> float:
    """Return half the length of limb, m, that is sampled on a layer.

    Every window laid lies on it with all its length, and those looked at between them.
    """
    reach, lengths = search_reach_of(problem, piece), chosen_lengths(piece, problem.band, 0)
    pitch = spread_of(problem, reach) * lengths.thickness
    half = max(lengths.fibre, 0.5 * lengths.opening, 0.5 * lengths.sliding)
    return reach + BETWEEN_REACH * pitch + half


def band_windows(
    problem: LocalProblem,
    piece: DepthLayer,
    stage: Laid,
    used: list[Mapping[str, Used]],
    end: int,
) -> LayerWindows:
    """Windows at one end of the band, round the worst of the typical ones only.

    Those that are longer than the typical ones do not lie so far out that they leave the samples.
    """
    lengths = chosen_lengths(piece, problem.band, end)
    focus = trace_of(piece, problem.zone)
    assert focus is not None
    room = sampled_reach(problem, piece) - 0.5 * max(lengths.opening, lengths.sliding)
    inside = np.abs(stage.places.along[:, 0] - focus.x) <= room

    def near_worst(modes: tuple[str, ...], centres: Array, within: float) -> Array:
        worst = []
        for mode in modes:
            for one in used:
                order = np.argsort(-one[mode].value)[:6]
                worst.append(one[mode].windows.centre[order])
        spots = np.vstack(worst)
        if len(spots) == 0:
            return centres
        close: Array = centres[cKDTree(spots).query(centres)[0] <= within]
        return close

    return build_windows(
        piece,
        stage.samples,
        stage.ground,
        lengths,
        near_worst(("fibre", "yield"), stage.places.across, lengths.fibre),
        near_worst(
            ("opening", "sliding", "split"),
            stage.places.along[inside],
            WORST_NEAR * lengths.thickness,
        ),
        stage.decayed,
    )


def may_lead(result: LayerResult, worst: Mapping[str, float]) -> bool:
    """Return whether a layer may lead over the band, `worst` being the typical ones by mode."""
    return any(result.modes[mode].typical >= NEAR_WORST * worst[mode] > 0.0 for mode in MODES)


def together(first: Mapping[str, Used], second: Mapping[str, Used]) -> Mapping[str, Used]:
    """Return two sets of windows as one, their places told apart."""
    places = 1 + max(int(one.windows.source.max(initial=-1)) for one in first.values())

    def both(one: Used, two: Used) -> Used:
        a, b = one.windows, two.windows
        windows = Windows(
            centre=np.concatenate([a.centre, b.centre]),
            angle=np.concatenate([a.angle, b.angle]),
            length=np.concatenate([a.length, b.length]),
            source=np.concatenate([a.source, b.source + places]),
        )
        return Used(value=np.concatenate([one.value, two.value]), windows=windows)

    return {mode: both(first[mode], second[mode]) for mode in MODES}


def layer_modes(
    piece: DepthLayer, used: Mapping[str, Used], peaks: Mapping[str, list[float]]
) -> Mapping[str, ModeOutcome]:
    """Return the outcome by mode, from every window and the peaks over the band."""
    mixes = {"opening": 0.0, "sliding": 0.5 * np.pi, "split": _mix(used)}
    modes = {mode: _mode(mode, piece.z, used[mode], peaks[mode]) for mode in MODES}
    return {**modes, **{mode: replace(modes[mode], mix=mix) for mode, mix in mixes.items()}}


def _mode(mode: str, z: float, used: Used, peaks: list[float]) -> ModeOutcome:
    if len(used.value) == 0:
        return ModeOutcome(
            mode=mode,
            low=0.0,
            typical=0.0,
            high=max(peaks),
            x=np.nan,
            y=np.nan,
            z=z,
            high_y=np.nan,
            high_z=z,
            angle=np.nan,
            length=np.nan,
        )
    worst = int(np.argmax(used.value))
    windows = used.windows
    return ModeOutcome(
        mode=mode,
        low=min(peaks),
        typical=peaks[0],
        high=max(peaks),
        x=float(windows.centre[worst, 0]),
        y=float(windows.centre[worst, 1]),
        z=z,
        high_y=float(windows.centre[worst, 1]),
        high_z=z,
        angle=float(windows.angle[worst]),
        length=float(windows.length[worst]),
    )


def _mix(used: Mapping[str, Used]) -> float:
    """Return the angle between opening and sliding in the window that leads the split, rad."""
    split = used["split"]
    if not len(split.value):
        return 0.0
    place = split.windows.source[np.argmax(split.value)]
    opening, sliding = (
        float(one.value[one.windows.source == place][0])
        for one in (used["opening"], used["sliding"])
    )
    return float(np.arctan2(sliding, opening))
