"""Every knot and patch: local model, verdict, the draw length it holds to, and advice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from limbfe.analysis.model import LimbModel
from limbfe.analysis.results import DefectResult
from limbfe.analysis.stress import WoodStress, zone_extent
from limbfe.analysis.traces import (
    Plane,
    Surroundings,
    plane_of,
    surroundings,
    zone_label,
    zone_slices,
)
from limbfe.defect.strip import Strip
from limbfe.errors import CaseError
from limbfe.failure.local import judge_zone
from limbfe.failure.probability import Scatter
from limbfe.failure.problem import Band, DepthSlice, LocalOutcome, LocalProblem, ModeOutcome
from limbfe.failure.verdict import MODE_NAMES, judge, sound_factor, verdict_numbers
from limbfe.frames import Array
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Knot
from limbfe.wood.wood import Wood

SEED = 20261125
FIBRE_SPECIMEN = 2.9e-6
SPLIT_SPECIMEN = 3.2e-5
"""Stressed volumes (m3) behind the tabulated strengths: necked part of the tension specimen along
the grain and the throat of the one across it, ASTM D143 (from memory)."""
MODEL_SCATTER = 0.1
WITHIN_PIECE = 0.6
"""Joint Committee on Structural Safety, Probabilistic Model Code, part 3.5 (2006): model
uncertainty 0.05 to 0.10; 0.6 of the variance of log strength lies within a piece."""
ADVICE_ELEMENT = 1e-3
"""Element side (m) at the zone when several widths are tried for advice: twice the judgement's."""
WIDEST = 2.0
"""Advice on width looks no further than this many times the width there."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LocalModel:
    """The plane models behind one verdict, as they are drawn in close-ups.

    Attributes
    ----------
    problem : LocalProblem
    outcome : LocalOutcome
    plane : {"flat", "side"}
        Slices parallel to the back, or upright between back and belly.
    """

    problem: LocalProblem
    outcome: LocalOutcome
    plane: Plane


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JudgedZone:
    """A knot or patch, and the local model of it; None where nothing loads the zone."""

    result: DefectResult
    local: LocalModel | None


def judge_defects(
    model: LimbModel,
    inside: WoodStress,
    strains: Array,
    loading: Array,
    lengths: Array,
) -> tuple[DefectResult, ...]:
    """Return the verdicts of `judge_zones` alone."""
    return tuple(zone.result for zone in judge_zones(model, inside, strains, loading, lengths))


def judge_zones(
    model: LimbModel,
    inside: WoodStress,
    strains: Array,
    loading: Array,
    lengths: Array,
) -> tuple[JudgedZone, ...]:
    """Judge every knot and patch of a drawn bow.

    Parameters
    ----------
    model : LimbModel
    inside : WoodStress
        Stress in the sections at full draw.
    strains : ndarray, shape (S, 6)
        Beam strains at full draw.
    loading : ndarray, shape (k, S, 6)
        Beam strains of every state known, from brace on and beyond full draw.
    lengths : ndarray, shape (k,), m
        Their draw lengths, increasing.
    """
    stave = model.setup.stave
    zones: tuple[Knot | Decay, ...] = (*stave.knots, *stave.decays)
    return tuple(judge_one(model, inside, strains, loading, lengths, zone) for zone in zones)


def find_zone(model: LimbModel, name: str) -> Knot | Decay:
    """Return the knot or patch of a name.

    Raises
    ------
    CaseError
        If there is none; names those there are.
    """
    stave = model.setup.stave
    zones: tuple[Knot | Decay, ...] = (*stave.knots, *stave.decays)
    for zone in zones:
        if zone.name == name:
            return zone
    known = ", ".join(zone.name for zone in zones) or "none"
    raise CaseError(f'"{name}": no knot or patch of that name in this case; it has: {known}')


def local_problem(
    model: LimbModel,
    inside: WoodStress,
    strains: Array,
    zone: Knot | Decay,
    clear_of: Knot | Decay | None = None,
) -> tuple[LocalProblem | None, Surroundings]:
    """Return what the plane models need of a zone; None where no slice meets it.

    Parameters
    ----------
    model : LimbModel
    inside : WoodStress
    strains : ndarray, shape (S, 6)
    zone : Knot or Decay
    clear_of : Knot or Decay, optional
        The zone that stood in the same place when the bow was drawn, if it was another.
    """
    x, reach = zone_extent(zone)
    if clear_of is not None:
        reach = max(reach, zone_extent(clear_of)[1])
    around = surroundings(model, strains, x, reach)
    slices = zone_slices(model, inside, around, zone)
    if not slices:
        return None, around
    problem = LocalProblem(
        zone=zone_label(zone),
        slices=slices,
        band=Band(),
        scatter=_scatter(model.setup.stave.heartwood),
    )
    return problem, around


def judge_one(
    model: LimbModel,
    inside: WoodStress,
    strains: Array,
    loading: Array,
    lengths: Array,
    zone: Knot | Decay,
) -> JudgedZone:
    """Judge one knot or patch; see `judge_zones`."""
    x, _ = zone_extent(zone)
    if abs(x) <= model.setup.stave.stiff_length / 2.0:
        return _unloaded(zone, "it lies in the stiff grip, which does not bend; leave it")
    problem, around = local_problem(model, inside, strains, zone)
    if problem is None:
        return _unloaded(zone, "nothing of it is left in the limb; leave it")
    outcome = judge_zone(problem, np.random.default_rng(SEED))
    plane = plane_of(zone)

    def length_at(factor: float, mode: str) -> float | None:
        share = _share_of_load(around, loading, outcome.modes[mode], plane)
        return _draw_length_at(factor, share, lengths)

    result = DefectResult(
        name=zone.name,
        kind="knot" if isinstance(zone, Knot) else "decay",
        limb=zone.limb,
        at=abs(x),
        draw_length_at_split=length_at(outcome.split[1], "split"),
        draw_length_at_rupture=length_at(outcome.rupture[1], "fibre"),
        advice=_advice(model, zone, problem, outcome, length_at),
        **verdict_numbers(outcome),
    )
    local = LocalModel(problem=problem, outcome=outcome, plane=plane)
    return JudgedZone(result=result, local=local)


def _scatter(wood: Wood) -> Scatter:
    cov = wood.strength.cov
    measured = wood.sources["E_L"].flag == "given" and "E_L" not in wood.cov_sources
    return Scatter(
        modulus=0.0 if measured else cov["E_L"],
        tension=cov["tension_strength"],
        tension_across=cov["tension_strength_across"],
        shear=cov["shear_strength"],
        compression=cov["compression_strength"],
        model=MODEL_SCATTER,
        volume_fibre=FIBRE_SPECIMEN,
        volume_split=SPLIT_SPECIMEN,
        within=WITHIN_PIECE,
    )


def _share_of_load(around: Surroundings, loading: Array, place: ModeOutcome, plane: Plane) -> Array:
    """Return the strain at a mode's worst place in every state over that of the judged one.

    Returns
    -------
    ndarray, shape (k,)
        Never falling, so that a load factor has one draw length.
    """
    y, z = (place.y, place.z) if plane == "flat" else (place.z, place.y)
    across = np.array([1.0, 0.0, 0.0, 0.0, z, -y])
    strain = (loading[:, around.index] @ across).mean(axis=1)
    share: Array = np.maximum.accumulate(strain / float((around.strains @ across).mean()))
    return share


def _draw_length_at(factor: float, share: Array, lengths: Array) -> float | None:
    """Return where a share of the load is reached; None beyond the states that are known."""
    if factor > share[-1]:
        return None
    return float(np.interp(factor, share, lengths))


def _unloaded(zone: Knot | Decay, advice: str) -> JudgedZone:
    result = DefectResult(
        name=zone.name,
        kind="knot" if isinstance(zone, Knot) else "decay",
        limb=zone.limb,
        at=abs(zone_extent(zone)[0]),
        verdict="sound",
        mode=MODE_NAMES["none"],
        strength_used=0.0,
        strength_used_low=0.0,
        strength_used_high=0.0,
        draw_length_at_split=None,
        draw_length_at_rupture=None,
        strength_ratio=1.0,
        failure_probability=0.0,
        advice=advice,
    )
    return JudgedZone(result=result, local=None)


def _advice(
    model: LimbModel,
    zone: Knot | Decay,
    problem: LocalProblem,
    outcome: LocalOutcome,
    length_at: Callable[[float, str], float | None],
) -> str:
    """Return what would make the zone sound, worked out by calculation."""
    verdict = judge(outcome)
    crushed = outcome.modes["yield"].typical >= 1.0
    if verdict == "sound":
        return "leave it as it is"
    parts = []
    if crushed:
        parts.append(
            "the belly there is pressed past its crushing strength: it yields and takes a set "
            "rather than breaking"
        )
    factor = sound_factor(outcome)
    if factor < 1.0:
        worse = max(("fibre", "split"), key=lambda mode: outcome.modes[mode].typical)
        length = length_at(factor, worse)
        if length is not None and length > lengths_at_brace(model):
            parts.append(f"it is sound up to a draw of {1e3 * length:.0f} mm")
        else:
            parts.append("it is not sound even at brace")
        parts.append(_width_advice(problem, outcome))
        if isinstance(zone, Knot) and zone.state in ("missing", "dead"):
            parts.append(_filling_advice(problem, outcome))
    if verdict == "expect rupture":
        parts.append("do not draw this bow to the length that was asked for")
    elif not parts:
        parts.append("its band reaches failure: exercise the bow slowly and look at it often")
    return "; ".join(part for part in parts if part)


def lengths_at_brace(model: LimbModel) -> float:
    """Return the draw length of the braced bow, zero when only its string length is given."""
    height = model.setup.brace_height
    grip = int(np.argmin(np.abs(model.x)))
    return 0.0 if height is None else height + float(model.shapes.thickness[grip])


def _worst_slice(problem: LocalProblem, outcome: LocalOutcome) -> DepthSlice:
    fibre, split = outcome.modes["fibre"], outcome.modes["split"]
    z = fibre.z if fibre.typical >= split.typical else split.z
    return min(problem.slices, key=lambda piece: abs(piece.z - z))


def _width_advice(problem: LocalProblem, outcome: LocalOutcome) -> str:
    """Return the width that makes the zone sound, by solving the worst slice wider."""
    piece = _worst_slice(problem, outcome)
    alone = replace(problem, slices=(piece,), scatter=None, element_size=ADVICE_ELEMENT)

    def used(scale: float) -> float:
        wider = replace(alone, slices=(_widened(piece, scale),))
        return 1.0 / sound_factor(judge_zone(wider))

    low, high = 1.0, WIDEST
    here, there = used(low), used(high)
    width = float(np.interp(outcome.modes["fibre"].x, piece.strip.x, piece.strip.left))
    width -= float(np.interp(outcome.modes["fibre"].x, piece.strip.x, piece.strip.right))
    if there > 1.0:
        return f"even {WIDEST:.0f} times the width there would not make it sound"
    for _ in range(2):
        middle = low + (high - low) * (here - 1.0) / (here - there)
        value = used(middle)
        if value > 1.0:
            low, here = middle, value
        else:
            high, there = middle, value
    return f"leaving the limb {1e3 * (high - 1.0) * width:.0f} mm wider there would make it sound"


def _widened(piece: DepthSlice, scale: float) -> DepthSlice:
    """Return a slice of a wider limb under the same moment: strain falls as width grows."""
    middle = 0.5 * (piece.strip.left + piece.strip.right)
    half = 0.5 * scale * (piece.strip.left - piece.strip.right)
    strain = piece.strain
    return replace(
        piece,
        strip=Strip(x=piece.strip.x, right=middle - half, left=middle + half),
        strain=replace(
            strain,
            axial=strain.axial / scale,
            axial_slope=strain.axial_slope / scale,
            bending=strain.bending / scale**3,
            bending_slope=strain.bending_slope / scale**3,
            shear=strain.shear / scale,
        ),
    )


def _filling_advice(problem: LocalProblem, outcome: LocalOutcome) -> str:
    """Return what filling the hole would change, by solving the worst slice with a filler."""
    piece = _worst_slice(problem, outcome)
    filled = replace(
        piece,
        knots=tuple(
            replace(knot, state="filled", modulus=2.5e9, bond_tension=40e6, bond_shear=20e6)
            if knot.name == problem.zone
            else knot
            for knot in piece.knots
        ),
    )
    alone = replace(problem, scatter=None, element_size=ADVICE_ELEMENT)
    before = judge_zone(replace(alone, slices=(piece,)))
    after = judge_zone(replace(alone, slices=(filled,)))
    old, new = 1.0 / sound_factor(before), 1.0 / sound_factor(after)
    if new > 0.9 * old:
        return "filling it with epoxy changes next to nothing"
    return f"filling it with epoxy (2.5 GPa) would take {1.0 - new / old:.0%} off the stress"
