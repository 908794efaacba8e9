"""Judgement of one slice: model, windows, strength used over the band."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from limbfe.defect.plane import fibre_stress
from limbfe.defect.recovery import (
    Corners,
    Samples,
    corners_of,
    nodal_stress,
    sample_wood,
    sampled_limb_stress,
    sampled_stress,
)
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, half_extent
from limbfe.defect.strip_solve import StripSolution, StripSystem, factor_strip, solve_strip
from limbfe.defect.submodel import StripModel, build_model
from limbfe.defect.zone import fibre_at, obstacles
from limbfe.errors import GeometryError
from limbfe.failure.bond import bond_used
from limbfe.failure.clear import clear_used
from limbfe.failure.problem import DepthSlice, LocalProblem, ModeOutcome, StressField
from limbfe.failure.slice_windows import (
    FibreStress,
    Places,
    SliceWindows,
    Used,
    build_windows,
    chosen_lengths,
    fibre_axes_stress,
    grain_shear,
    strength_used,
    window_places,
)
from limbfe.failure.window_operators import Ground
from limbfe.frames import Array

SAMPLING = 0.2
"""Distance of the wood samples over the thickness of a window."""
ROUGH = Fineness(near=1e-3, growth=0.5, smoothing=1)
"""Mesh of a trial; against that of a judgement it changes what a trial says by a hundredth."""
MODES = ("fibre", "opening", "sliding", "split", "yield")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stage:
    """A meshed slice with its samples and windows, shared by slices of equal geometry.

    `systems` is filled as knot moduli are asked for.
    """

    model: StripModel
    corners: Corners
    samples: Samples
    ground: Ground
    places: Places
    windows: SliceWindows
    systems: dict[tuple[float, ...], StripSystem]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SliceResult:
    """Outcome of one slice.

    Attributes
    ----------
    piece : DepthSlice
    modes : mapping of str to ModeOutcome
    clear : mapping of str to float
        Strength used without the zone.
    field : StressField or None
        None in rough trials.
    own : ndarray, shape (w, 3), Pa
        The limb's own stress at the wood samples.
    stress : FibreStress
        Total stress there, at the typical end of the band.
    typical : mapping of str to Used
        Every window, at the typical end of the band.
    volume : mapping of str to ndarray, m3
        Volume each window stands for.
    bond : float
    """

    piece: DepthSlice
    modes: Mapping[str, ModeOutcome]
    clear: Mapping[str, float]
    field: StressField | None
    own: Array
    stress: FibreStress
    typical: Mapping[str, Used]
    volume: Mapping[str, Array]
    bond: float


def geometry_key(piece: DepthSlice) -> tuple[object, ...]:
    """Equal for slices that share mesh, material and windows, whatever their strain."""
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


def prepare(problem: LocalProblem, piece: DepthSlice, focus: Ellipse, unglued: bool) -> Stage:
    """Mesh a slice and lay its windows."""
    band = problem.band
    near = problem.element_size or 0.25 * band.fibre_window[0]
    model = build_model(
        strip=piece.strip,
        wood=piece.wood,
        grain=piece.grain,
        knots=piece.knots,
        decays=piece.decays,
        fineness=replace(ROUGH, near=near) if problem.rough else Fineness(near=near),
        unglued=unglued,
        judged=problem.zone,
    )
    corners = corners_of(model)
    lengths = chosen_lengths(piece, band, 0)
    reach = search_reach(focus, lengths.fibre)
    margin = 0.75 * lengths.sliding + lengths.thickness
    low = np.array([focus.x - reach - margin, piece.strip.right.min()])
    high = np.array([focus.x + reach + margin, piece.strip.left.max()])
    sparse = 2.0 if problem.rough else 1.0
    samples = sample_wood(model, corners, sparse * SAMPLING * lengths.thickness, low, high)
    ground = Ground(
        strip=piece.strip,
        solids=tuple(e for e in model.mesh.fitted[: len(piece.knots)] if e is not None),
        flow=obstacles(piece.knots),
        far=piece.grain.angle,
    )
    places = window_places(ground, focus, lengths, reach, sparse)
    return Stage(
        model=model,
        corners=corners,
        samples=samples,
        ground=ground,
        places=places,
        windows=build_windows(piece, samples, ground, lengths, places.across, places.along),
        systems={},
    )


def _system(problem: LocalProblem, stage: Stage, moduli: tuple[float, ...]) -> StripSystem:
    if moduli not in stage.systems:
        stage.systems[moduli] = factor_strip(stage.model, moduli=moduli, ends=problem.ends)
    return stage.systems[moduli]


def search_reach(focus: Ellipse, fibre_window: float) -> float:
    """Return half the length of limb, m, that is searched for the worst window of a zone."""
    half_length, half_width = half_extent(focus)
    return half_length + max(half_width, 2.0 * fibre_window)


def _moduli(problem: LocalProblem, piece: DepthSlice) -> list[tuple[float, ...]]:
    """Knot moduli to be tried, the typical ones first."""
    low, typical, high = problem.band.knot_modulus
    levels = [typical]
    if any(k.modulus is None and k.state == "live" for k in piece.knots):
        levels += [low, high]
    # The press of a loose knot hardly depends on its stiffness: its band is contact or none.
    return [
        tuple(
            k.modulus if k.modulus is not None else level if k.state == "live" else typical
            for k in piece.knots
        )
        for level in levels
    ]


def judge_slice(
    problem: LocalProblem, piece: DepthSlice, focus: Ellipse, stage: Stage
) -> SliceResult:
    """Solve a prepared slice under its strain and find the strength used by mode.

    At the typical end of the problem's band: low and high are the typical value.

    Parameters
    ----------
    problem : LocalProblem
    piece : DepthSlice
    focus : Ellipse
    stage : Stage
        From `prepare`.
    """
    solution = solve_strip(_system(problem, stage, _moduli(problem, piece)[0]), piece.strain)
    own = sampled_limb_stress(stage.samples, stage.model, piece.strain)
    stress = _stress(piece, stage, solution, own)
    used = strength_used(stage.windows, stress, grain_shear(piece, own))
    if len(used["fibre"].value) == 0:
        raise GeometryError(
            f"{problem.zone}: no wood is left beside it at depth z = {piece.z:.4g} m that a window"
            " fits in; reduce its size or leave more width"
        )
    modes = _modes(piece, used, {mode: [_peak(used[mode])] for mode in MODES})
    typical = {mode: outcome.typical for mode, outcome in modes.items()}
    return SliceResult(
        piece=piece,
        modes=modes,
        clear=clear_used(piece, focus, chosen_lengths(piece, problem.band, 0)),
        field=None if problem.rough else _field(piece, stage, solution, typical),
        own=own,
        stress=stress,
        typical=used,
        volume={
            mode: area[used[mode].windows.source] * piece.layer
            for mode, area in (
                ("fibre", stage.places.across_area),
                ("opening", stage.places.along_area),
                ("sliding", stage.places.along_area),
            )
        },
        bond=bond_used(solution, stage.corners, piece.strain, problem.band.bond_window),
    )


def judge_band(problem: LocalProblem, result: SliceResult, stage: Stage) -> SliceResult:
    """Return the outcome of a slice with low and high over the whole of the problem's band.

    Parameters
    ----------
    problem : LocalProblem
    result : SliceResult
        From `judge_slice`.
    stage : Stage
    """
    piece = result.piece
    tried = _moduli(problem, piece)
    solutions = [solve_strip(_system(problem, stage, m), piece.strain) for m in tried[1:]]
    if len(stage.model.joint.wood):
        held = _system(problem, stage, tried[0])
        solutions.append(solve_strip(held, piece.strain, contact=False))
    own_shear = grain_shear(piece, result.own)
    stresses = [result.stress, *(_stress(piece, stage, s, result.own) for s in solutions)]
    used = [
        result.typical,
        *(strength_used(stage.windows, stress, own_shear) for stress in stresses[1:]),
    ]
    peaks = {mode: [_peak(u[mode]) for u in used] for mode in MODES}
    for end in (-1, 1):
        windows = _band_windows(problem, piece, stage, used, end)
        for stress in stresses:
            varied = strength_used(windows, stress, own_shear)
            for mode in MODES:
                if len(varied[mode].value):
                    peaks[mode].append(_peak(varied[mode]))
    return replace(result, modes=_modes(piece, result.typical, peaks))


def _stress(piece: DepthSlice, stage: Stage, solution: StripSolution, own: Array) -> FibreStress:
    total = sampled_stress(stage.samples, solution, stage.corners, piece.strain, own)
    return fibre_axes_stress(stage.samples, total)


def _peak(used: Used) -> float:
    return float(used.value.max(initial=0.0))


def _band_windows(
    problem: LocalProblem,
    piece: DepthSlice,
    stage: Stage,
    used: list[Mapping[str, Used]],
    end: int,
) -> SliceWindows:
    """Windows at one end of the band, round the worst of the typical ones only."""
    lengths = chosen_lengths(piece, problem.band, end)

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
        near_worst(("opening", "sliding", "split"), stage.places.along, 1.5 * lengths.thickness),
    )


def _modes(
    piece: DepthSlice, used: Mapping[str, Used], peaks: Mapping[str, list[float]]
) -> Mapping[str, ModeOutcome]:
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


def _field(
    piece: DepthSlice, stage: Stage, solution: StripSolution, used: Mapping[str, float]
) -> StressField:
    corners, mesh = stage.corners, stage.model.mesh.mesh
    stress = nodal_stress(solution, corners, piece.strain)
    angle, dive = fibre_at(mesh.nodes[corners.node], piece.knots, piece.grain)
    inside = stage.model.inside
    knot_numbers = np.unique(inside[inside >= 0])
    wood = ~np.isin(corners.region - 1, knot_numbers)
    turned = np.where(wood[:, None], fibre_stress(stress, np.where(wood, angle, 0.0)), stress)
    return StressField(
        z=piece.z,
        nodes=mesh.nodes,
        elements=mesh.elements,
        part=inside,
        stress=turned[corners.number],
        angle=angle[corners.number],
        dive=dive[corners.number],
        used=used,
    )
