"""The whole line for one bow: solve, recover stress, find hot spots, judge defects."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from limbfe.analysis.cautions import model_assumptions, wood_warnings
from limbfe.analysis.cycles import drawn_twice
from limbfe.analysis.defects import (
    JudgedZone,
    LocalModel,
    find_zone,
    judge_one,
    judge_zones,
)
from limbfe.analysis.hot_spots import find_hot_spots
from limbfe.analysis.limb_load import LimbLoad, limb_load, resultants_at
from limbfe.analysis.limits import breaking_draw
from limbfe.analysis.model import LimbModel
from limbfe.analysis.results import Assessment, DefectResult, LimbField
from limbfe.analysis.settings import BowSetup
from limbfe.analysis.solve import SolvedBow, known_loading, set_depth, solve_bow
from limbfe.analysis.stress import (
    WoodStress,
    clear_stations,
    stress_inside,
    stress_on_skin,
    surface_field,
)
from limbfe.analysis.traces import zone_label
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array, read_only
from limbfe.section.inelastic import FibreSection
from limbfe.stave.outline import belly_z
from limbfe.wood.duration import load_duration_factor


def assess_bow(setup: BowSetup) -> Assessment:
    """Brace and draw the bow, then judge its wood, its knots and its decay.

    Raises
    ------
    ConvergenceError
        If there is no braced state or the draw cannot be finished.
    """
    return assess_solved(solve_bow(setup))


def assess_solved(solved: SolvedBow) -> Assessment:
    """Judge a bow that has been solved."""
    return assess_closely(solved)[0]


def assess_closely(solved: SolvedBow) -> tuple[Assessment, tuple[JudgedZone, ...]]:
    """Judge a bow that has been solved, and keep the local models of its knots and patches.

    Parameters
    ----------
    solved : SolvedBow

    Returns
    -------
    assessment : Assessment
    zones : tuple of JudgedZone
        In the order of the case; each with the slices round it, for close-ups.

    Raises
    ------
    GeometryError
        If the wood round a knot or patch cannot be meshed.
    ConvergenceError
        If the bow has no second draw, or an advised change none at all.
    """
    model = solved.model
    load = limb_load(solved)
    inside = load.inside
    skin = stress_on_skin(model, load.strains, inside)
    bow = drawn_twice(solved)
    hot_spots = find_hot_spots(model, skin, inside)
    shared = {item.name: getattr(bow, item.name) for item in fields(bow)}
    shared["assumptions"] = (*bow.assumptions, *model_assumptions(model.setup.stave))
    shared["cautions"] = (*wood_warnings(hot_spots), *bow.cautions)
    zones = judge_zones(model, load, *known_loading(solved))
    clear = None
    try:
        clear = breaking_draw(solved)
    except ConvergenceError as error:
        caution = f"how far clear wood could be drawn was not found: {error}"
        shared["cautions"] = (caution, *shared["cautions"])
    assessment = Assessment(
        **shared,
        limb=_limb_field(solved, load, skin),
        surface=surface_field(model, skin),
        set_depth=set_depth(solved),
        hot_spots=hot_spots,
        defects=tuple(zone.result for zone in zones),
        brace_strength_used=brace_strength_used(solved),
        clear_limb=clear,
    )
    return assessment, zones


def look_at_defect(solved: SolvedBow, name: str) -> tuple[DefectResult, LocalModel]:
    """Return the verdict on one knot or patch with the local model behind it.

    Raises
    ------
    CaseError
        If there is no zone of that name.
    GeometryError
        If nothing of it is left in the limb.
    """
    model = solved.model
    zone = find_zone(model, name)
    judged = judge_one(model, limb_load(solved), *known_loading(solved), zone)
    if judged.local is None:
        raise GeometryError(
            f"{zone_label(zone)}: nothing of it is left in the limb; there is no local model to "
            "show"
        )
    return judged.result, judged.local


def limb_field(solved: SolvedBow) -> LimbField:
    """Return strains and strength used along the limb at full draw, its defects left unjudged."""
    load = limb_load(solved)
    return _limb_field(solved, load, stress_on_skin(solved.model, load.strains, load.inside))


def _limb_field(solved: SolvedBow, load: LimbLoad, skin: WoodStress) -> LimbField:
    model, strains = solved.model, load.strains
    resultants = load.resultants.copy()
    grip = np.abs(model.x) < model.setup.stave.stiff_length / 2.0
    resultants[grip] = resultants_at(model, load, model.x[grip])
    axial = skin.strain[..., 0]
    worst = np.maximum(skin.used.worst.max(axis=1), load.inside.used.worst.max(axis=1))
    clear = clear_stations(model)
    worst = np.interp(model.x, model.x[clear], worst[clear])
    return LimbField(
        x=model.x,
        curvature=read_only(strains[:, 4]),
        moment=read_only(resultants[:, 4]),
        resultants=read_only(resultants),
        strains=read_only(strains),
        back_strain=read_only(np.interp(model.x, model.x[clear], axial.max(axis=1)[clear])),
        belly_strain=read_only(np.interp(model.x, model.x[clear], axial.min(axis=1)[clear])),
        strength_used=read_only(worst),
        residual_curvature=read_only(solved.residual[:, 4]),
        yielded_depth=read_only(yielded_depth(model, solved.section, strains, solved.plastic[-1])),
    )


def brace_strength_used(solved: SolvedBow) -> float | None:
    """Return the most that clear wood uses of its strength while strung; None if not asked for.

    The strengths of the stave, and with them the law by which the braced belly yielded, are those
    of full draw, held for its own time; what the belly gives way to while strung is left out.
    """
    model, setup = solved.model, solved.model.setup
    if setup.strung is None:
        return None
    strains = solved.braced.strains.reshape(-1, 6)
    inside = stress_inside(model, solved.section, strains, solved.plastic[0])
    limb = np.abs(model.x) >= setup.stave.stiff_length / 2.0
    worst = np.maximum(
        stress_on_skin(model, strains, inside).used.worst.max(axis=1),
        inside.used.worst.max(axis=1),
    )
    drawn = 1.0 if setup.held is None else float(load_duration_factor(setup.held))
    used = float(worst[limb & clear_stations(model)].max())
    return used * drawn / float(load_duration_factor(setup.strung))


def yielded_depth(model: LimbModel, section: FibreSection, strains: Array, plastic: Array) -> Array:
    """Return how deep crushed wood reaches from the belly at every station, shape (S,), m.

    From the deepest crushed integration point on to where the plane section's strain falls to the
    limit of that point's wood, at most to the next point that is not crushed; carried over from the
    clear wood on both sides across a knot, whose wood does not yield.

    Parameters
    ----------
    model : LimbModel
    section : FibreSection
    strains : ndarray, shape (S, 6)
        Beam strains of the first draw.
    plastic : ndarray, shape (S, m, q)
        How far every fibre is crushed by them.
    """
    stations = np.arange(len(model.x))
    y, z, modulus, limit, pressed = (
        values.reshape(len(stations), -1)
        for values in (
            model.points[..., 0],
            model.points[..., 1],
            section.law.modulus,
            section.law.start.min(axis=0),
            plastic,
        )
    )
    depth = np.where(pressed > 0.0, z - belly_z(model.shapes, y), 0.0)
    deepest = (stations, depth.argmax(axis=1))
    next_up = np.where((pressed == 0.0) & (z > z[deepest][:, None]), z, np.inf).min(axis=1)
    strain = strains[:, 0] + z[deepest] * strains[:, 4] - y[deepest] * strains[:, 5]
    over = -strain - (limit / modulus)[deepest]
    bends = (depth[deepest] > 0.0) & (strains[:, 4] > 0.0) & (over > 0.0)
    reached = depth[deepest]
    further = over[bends] / strains[bends, 4]
    reached[bends] += np.minimum(further, (next_up - z[deepest])[bends])
    clear = clear_stations(model)
    out: Array = np.interp(model.x, model.x[clear], reached[clear])
    return out
