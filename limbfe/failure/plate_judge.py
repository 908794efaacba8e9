"""Judgement of a zone whose layers one plate strains together."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from limbfe.defect.limb_state import limb_stress
from limbfe.defect.plate.body import (
    BodyMesh,
    Member,
    PlateBody,
    body_plate,
    member_profiles,
    mesh_body,
    under,
)
from limbfe.defect.plate.layer import (
    Layer,
    Raster,
    Span,
    lay_raster,
    layer_loss,
    layer_mean,
    layer_remaining,
    layer_stress,
    node_strains,
    sample_layer,
)
from limbfe.defect.plate.plate import PlateAnswer, solve_plate
from limbfe.defect.plate.soften import mesh_softened
from limbfe.defect.plate.wood import Course, Held, Pressed
from limbfe.defect.recovery import Corners, mesh_corners
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, clearance
from limbfe.errors import ConvergenceError
from limbfe.failure.clear import clear_used
from limbfe.failure.layer_judge import (
    MODES,
    SAMPLING,
    Laid,
    LayerResult,
    band_windows,
    between_windows,
    check_room,
    geometry_key,
    laid_links,
    layer_modes,
    may_lead,
    peak,
    sampled_reach,
    search_reach_of,
    spread_of,
    together,
    window_volume,
)
from limbfe.failure.layer_windows import (
    Decayed,
    FibreStress,
    build_windows,
    chosen_lengths,
    diving_fibre_stress,
    grain_shear,
    strength_used,
    window_places,
)
from limbfe.failure.plate_field import layer_bond, layer_field
from limbfe.failure.problem import DepthLayer, LocalProblem, trace_of
from limbfe.failure.window_operators import Ground
from limbfe.frames import Array
from limbfe.memory import give_back
from limbfe.stave.zone_label import ZoneLabel

ELEMENT = 0.35
"""Side of a plate's elements at the zone over the shortest window along the fibres."""
GROWTH, TRIAL_GROWTH = 0.3, 0.5
AT_ONCE = 20_000
"""Samples of a layer whose stress is worked out together."""
DEPTHS, DEPTHS_IN_DECAY = 2, 8
"""Points through a layer at which its stress is taken, and where decay ends within it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LaidLayer(Laid):
    """A layer of a plate with its samples and windows."""

    layer: Layer


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlateStage:
    """A meshed plate with its layers, shared by problems of equal geometry.

    `body` is the problem's: its wood is crushed as its load does it.  `answers` is filled as knot
    moduli and members are asked for.
    """

    body: PlateBody
    meshed: BodyMesh
    corners: Corners
    raster: Raster
    layers: tuple[LaidLayer, ...]
    answers: dict[tuple[object, ...], PlateAnswer]


def plate_key(problem: LocalProblem, unglued: bool) -> tuple[object, ...]:
    """Equal for problems that share a plate, whatever loads it."""
    keys = tuple((geometry_key(piece), piece.span) for piece in problem.layers)
    return ("plate", unglued, problem.element_size, problem.member, keys)


def prepare_plate(problem: LocalProblem, unglued: bool) -> PlateStage:
    """Mesh the plate of a problem and lay the windows of its layers.

    Parameters
    ----------
    problem : LocalProblem
        With a body.
    unglued : bool
        Take filled knots as loose, as after failure of their bond.
    """
    body = problem.body
    if unglued:
        knots = tuple(
            replace(k, state="dead") if k.state == "filled" else k for k in body.wood.knots
        )
        body = replace(body, wood=replace(body.wood, knots=knots))
    quick = problem.member == "quick"
    near = problem.element_size or ELEMENT * problem.band.fibre_window[0]
    fineness = Fineness(near=near, growth=TRIAL_GROWTH if quick else GROWTH)
    # What is crushed is found anew for the answer; trials take it from the bow's sections.
    lay = mesh_body if quick else mesh_softened
    try:
        meshed = lay(body, fineness)
    except ConvergenceError as error:
        raise ConvergenceError(f"{problem.zone}: {error}", residuals=error.residuals) from error
    # Solved before the windows are laid: both take most of the memory, so one after the other.
    typical = _carried(problem, meshed)[0]
    answers: dict[tuple[object, ...], PlateAnswer] = {
        (typical, problem.member): solve_plate(body_plate(meshed, typical, problem.member))
    }
    if not quick:
        give_back()
    corners = mesh_corners(meshed.mesh.mesh)
    boxes = [_box(problem, piece) for piece in problem.layers]
    low, high = np.min([b[0] for b in boxes], axis=0), np.max([b[1] for b in boxes], axis=0)
    lengths = chosen_lengths(problem.layers[0], problem.band, 0)
    sparse = spread_of(problem, max(search_reach_of(problem, piece) for piece in problem.layers))
    raster = lay_raster(meshed, corners, sparse * SAMPLING * lengths.thickness, low, high)
    return PlateStage(
        body=problem.body,
        meshed=meshed,
        corners=corners,
        raster=raster,
        layers=tuple(_lay(problem, piece, meshed, raster) for piece in problem.layers),
        answers=answers,
    )


def _loaded_anew(problem: LocalProblem, stage: PlateStage) -> PlateStage:
    """Return the plate of a trial under the load of another draw: mesh and windows stay."""
    body = problem.body
    meshed = under(stage.meshed, body)
    crushed = body.wood.softening is not None
    return replace(stage, body=body, meshed=meshed, answers={} if crushed else stage.answers)


def _box(problem: LocalProblem, piece: DepthLayer) -> tuple[Array, Array]:
    """Return what is sampled of a layer: all that any of its windows takes in."""
    focus = trace_of(piece, problem.zone)
    assert focus is not None
    far = sampled_reach(problem, piece)
    return (
        np.array([focus.x - far, piece.strip.right.min()]),
        np.array([focus.x + far, piece.strip.left.max()]),
    )


def _lay(problem: LocalProblem, piece: DepthLayer, meshed: BodyMesh, raster: Raster) -> LaidLayer:
    focus = trace_of(piece, problem.zone)
    assert focus is not None
    span = Span(*piece.span)
    wood = meshed.body.wood
    depths = DEPTHS_IN_DECAY if piece.decays else DEPTHS
    layer = sample_layer(meshed, raster, span, depths)
    lengths = chosen_lengths(piece, problem.band, 0)
    reach = search_reach_of(problem, piece)
    # As they lie, as the samples have them: the mesh moves rims that nearly touch an edge.
    solids = tuple(k.ellipse for k in piece.knots if _within(piece, k.ellipse))
    ground = Ground(
        strip=piece.strip,
        solids=solids,
        flow=tuple(k.ellipse for k in piece.knots if k.diverts),
        far=piece.grain.angle,
    )
    places = window_places(ground, focus, lengths, reach, spread_of(problem, reach))
    names = [decay.label for decay in wood.decays]

    def gone(name: ZoneLabel | str, at: Array) -> Array:
        return layer_loss(meshed, span, [str(n) for n in names].index(str(name)), at, depths)

    whats = ("tension", "compression", "shear", "across") if wood.decays else ()
    decayed = Decayed(left=layer_remaining(meshed, layer, *whats), gone=gone)
    return LaidLayer(
        samples=layer.samples,
        ground=ground,
        places=places,
        windows=build_windows(
            piece, layer.samples, ground, lengths, places.across, places.along, decayed
        ),
        decayed=decayed,
        layer=layer,
    )


def _within(piece: DepthLayer, ellipse: Ellipse) -> bool:
    _, right_depth, _, left_depth = clearance(piece.strip, ellipse)
    return min(right_depth, left_depth) > 0.0


def judge_plate(
    problem: LocalProblem, stages: dict[tuple[object, ...], PlateStage], unglued: bool
) -> tuple[LayerResult, ...]:
    """Judge every layer of a plate, with the band; see `limbfe.failure.local.judge_zone`."""
    key = plate_key(problem, unglued)
    stage = stages.get(key)
    if stage is None or stage.body is not problem.body:
        # the answer finds by itself what is crushed, and lays its windows after that
        if stage is not None and problem.member == "quick":
            stage = _loaded_anew(problem, stage)
        else:
            stage = prepare_plate(problem, unglued)
        stages[key] = stage
    tried = _carried(problem, stage.meshed)
    full = _strained(problem, stage, tried[0], problem.member)
    results = [
        _judge_layer(problem, piece, laid, stage, full)
        for piece, laid in zip(problem.layers, stage.layers, strict=True)
    ]
    if problem.rough or not problem.banded:
        return tuple(results)
    quick = [_strained(problem, stage, moduli, "quick") for moduli in tried] if tried[1:] else []
    worst = {mode: max(r.modes[mode].typical for r in results) for mode in MODES}
    return tuple(
        _judge_band(problem, r, laid, stage, quick) if may_lead(r, worst) else r
        for r, laid in zip(results, stage.layers, strict=True)
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strained:
    """A plate under a problem's load: displacements of its nodes, shape (n, 2 K + 1), and strain of
    every u_k at region nodes and raster points, (n, K 3)."""

    moved: Array
    nodal: Array
    raster: Array


def _carried(problem: LocalProblem, meshed: BodyMesh) -> list[tuple[Held, ...]]:
    """What the knots hold, to be tried, the typical first.

    A loose knot presses and holds nothing.  The band has it grown in as well.
    """
    knots = meshed.body.wood.knots
    low, typical, high = problem.band.knot_modulus

    def moduli(level: float, held: bool) -> tuple[Held, ...]:
        def one(course: Course) -> Held:
            if course.state == "missing":
                return None
            if course.state == "dead" and not held:
                return Pressed(course.modulus or typical, course.diverts)
            return course.modulus or (level if course.state == "live" else typical)

        return tuple(one(course) for course in knots)

    tried = [moduli(typical, held=False)]
    if any(k.modulus is None and k.state == "live" for k in knots):
        tried += [moduli(low, held=False), moduli(high, held=False)]
    if any(k.state == "dead" for k in knots):
        tried.append(moduli(typical, held=True))
    return tried


def _strained(
    problem: LocalProblem, stage: PlateStage, moduli: tuple[Held, ...], member: Member
) -> Strained:
    body = problem.body
    key = (moduli, member)
    if key not in stage.answers:
        stage.answers[key] = solve_plate(body_plate(stage.meshed, moduli, member))
    answer = stage.answers[key]
    moved = answer.displacement @ body.resultants
    nodal = node_strains(answer.plate, stage.corners, moved)
    return Strained(moved=moved, nodal=nodal, raster=stage.raster.interpolation @ nodal)


def _stress(stage: PlateStage, laid: LaidLayer, strains: Strained, member: Member) -> FibreStress:
    """Mean stress through a layer in the axes of the diving fibre.

    A part of the samples at a time: at every depth it takes thirty numbers on the way, a long patch
    of rot has a million and a half of depths, and only the mean is kept.
    """
    layer, profiles = laid.layer, member_profiles(stage.meshed, member)
    names = FibreStress.__dataclass_fields__
    parts: list[dict[str, Array]] = []
    for start in range(0, len(layer.rows), AT_ONCE):
        some = slice(start, start + AT_ONCE)
        stress = layer_stress(layer, profiles, strains.raster, some)
        at = diving_fibre_stress(stress, layer.dive[some])
        parts.append({name: layer_mean(layer, getattr(at, name), some) for name in names})
    means = {name: np.concatenate([part[name] for part in parts]) for name in names}
    return FibreStress(**{name: layer.samples.extended(one) for name, one in means.items()})


def _judge_layer(
    problem: LocalProblem,
    piece: DepthLayer,
    laid: LaidLayer,
    stage: PlateStage,
    strains: Strained,
) -> LayerResult:
    focus = trace_of(piece, problem.zone)
    assert focus is not None
    own = limb_stress(piece.strip, piece.wood, piece.grain, piece.strain, laid.samples.points)
    stress = _stress(stage, laid, strains, problem.member)
    shear = grain_shear(piece, own)
    used = strength_used(laid.windows, stress, shear)
    check_room(problem, piece, len(used["fibre"].value))
    worst = used
    if not problem.rough:
        between = between_windows(problem, piece, laid, used)
        worst = together(used, strength_used(between, stress, shear))
    modes = layer_modes(piece, worst, {mode: [peak(worst[mode])] for mode in MODES})
    typical = {mode: outcome.typical for mode, outcome in modes.items()}
    return LayerResult(
        piece=piece,
        modes=modes,
        clear=clear_used(piece, focus, chosen_lengths(piece, problem.band, 0)),
        field=None
        if problem.rough or not problem.banded
        else layer_field(
            stage.meshed,
            stage.corners,
            laid.layer,
            piece,
            (strains.moved, strains.nodal),
            typical,
            problem.member,
        ),
        own=own,
        stress=stress,
        typical=used,
        worst=worst,
        volume=window_volume(piece, laid, used),
        bond=layer_bond(
            stage.meshed,
            stage.raster,
            laid.layer,
            piece,
            strains.raster,
            problem.band.bond_window,
            problem.member,
        ),
        links=laid_links(problem, piece, laid, used),
    )


def _judge_band(
    problem: LocalProblem,
    result: LayerResult,
    laid: LaidLayer,
    stage: PlateStage,
    quick: list[Strained],
) -> LayerResult:
    """Outcome of a layer over the band: knot moduli by the quick member, in proportion."""
    piece = result.piece
    own_shear = grain_shear(piece, result.own)
    spread = {mode: [1.0] for mode in MODES}
    varied_stress = [_stress(stage, laid, strains, "quick") for strains in quick]
    varied = [strength_used(laid.windows, stress, own_shear) for stress in varied_stress]
    for one in varied[1:]:
        for mode in MODES:
            base = peak(varied[0][mode])
            spread[mode].append(peak(one[mode]) / base if base > 0.0 else 1.0)
    used = [result.typical, *varied[1:]]
    peaks = {mode: [peak(result.worst[mode])] for mode in MODES}
    grid = {mode: peak(result.typical[mode]) for mode in MODES}
    for end in (-1, 1):
        windows = band_windows(problem, piece, laid, used, end)
        again = strength_used(windows, result.stress, own_shear)
        for mode in MODES:
            if len(again[mode].value):
                between = peaks[mode][0] / grid[mode] if grid[mode] > 0.0 else 1.0
                peaks[mode].append(between * peak(again[mode]))
    both = {
        mode: [peaks[mode][0], *(p * s for p in peaks[mode] for s in spread[mode])]
        for mode in MODES
    }
    return replace(result, modes=layer_modes(piece, result.worst, both))
