"""One bow of the design, drawn in full: its sections solved, its belly yielding, exercised."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.exercise import STAGES, exercise
from limbfe.analysis.bow.given import ZoneGive
from limbfe.analysis.bow.kept import kept_set
from limbfe.analysis.bow.model import LimbModel
from limbfe.analysis.bow.nodes import node_positions
from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.bow.stations import Stations, solve_stations
from limbfe.analysis.bow.yielding import draw_pressed, draw_with_yield, yielding_sections
from limbfe.analysis.shot.speed import arrow_speed
from limbfe.analysis.wood.hot_spots import SKIN_MODES
from limbfe.analysis.wood.limb_wood import LimbWood, limb_wood
from limbfe.analysis.wood.stress import WoodStress, clear_stations, look_at
from limbfe.analysis.wood.stretched import link_parts
from limbfe.beam import BowState, gauss_positions
from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.errors import ConvergenceError
from limbfe.frames import Array, read_only
from limbfe.section.yielding.pressing import pressed_section
from limbfe.stave.stave import Stave, with_columns
from limbfe.studies.chance.inputs import field_nodes, hats
from limbfe.wood.bar import HOLDS, WRINKLES
from limbfe.wood.weakest_link import SHAPE
from limbfe.wood.wood import Wood

BEYOND = (1.08, 1.16, 1.25)
"""Shares of the way from brace to full draw, beyond it."""
WAY = (0.0, *STAGES, *BEYOND)
"""Shares of that way at which a bow is looked at."""
FULL = WAY.index(1.0)
BY_STATION = ("links", "crush", "shear", "across", "wrinkle")
"""What clear wood is asked for at every station: tension as links, of which the root is handed on;
how far the belly is crushed; shear; stress across the grain; wrinkles."""
_TINY = 1e-12
_ELEMENTS, _FINENESS = 12, 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Change:
    """How a bow of the design differs from that of the case, all of it 0 for the case itself.

    Attributes
    ----------
    crushing : float
        Logarithm of crushing strength over stiffness, as factors on the case's.
    string : float
        Of the string's stiffness over that of the wood.
    contrast : float
        Of sapwood over heartwood.
    amplitude : ndarray, shape (k,)
        Of what the sections bear at given strains, at the nodes of `field_nodes`.
    thickness : ndarray, shape (k,), m
        Error there.

    Notes
    -----
    A bow whose wood, belly's law and string are all k times as stiff takes the same shapes under k
    times the force, so stiffness itself is in none of these.
    """

    crushing: float
    string: float
    contrast: float
    amplitude: Array
    thickness: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Site:
    """Where the strain at a knot or patch is read.

    Attributes
    ----------
    stations : ndarray of int, shape (2,)
    y, z : float, m
    """

    stations: Array
    y: float
    z: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """One bow to draw and to shoot an arrow (kg) with: a task of `run_tasks`."""

    case: Case
    change: Change
    sites: tuple[Site, ...]
    give: ZoneGive
    arrow: float


def drawn_in_full(plan: Plan) -> dict[str, Any]:
    """Draw one bow of the design.

    Returns
    -------
    dict
        ``reached`` (shares of the way that have equilibrium), and for each of these logarithms of
        ``force`` and, of the strain at every site, ``sites``; by Gauss station of ``links``,
        ``crush``, ``shear``, ``across`` and ``wrinkle``, all at the modulus of the case; ``set``
        (m); ``speed``, logarithm of the arrow's (m/s), None where its shot cannot be followed.

    Raises
    ------
    ConvergenceError
        If there is no brace or no full draw.
    """
    setup = design_setup(plan.case)
    bow = changed_bow(setup, plan.change, plan.give)
    states = look_through(bow, setup.stave)
    return {
        "reached": len(states.looks),
        "force": [float(np.log(max(one.force, _TINY))) for one in states.looks],
        "sites": [[_site(site, one.strains) for site in plan.sites] for one in states.looks],
        "set": states.kept,
        "speed": _log_speed(bow.solved, plan.arrow),
        **{
            name: [_logs(getattr(one, name), SHAPE if name == "links" else 1.0)
                   for one in states.looks]
            for name in BY_STATION
        },
    }  # fmt: skip


def _log_speed(solved: SolvedBow, arrow: float) -> float | None:
    try:
        return float(np.log(arrow_speed(solved, arrow)))
    except ConvergenceError:
        return None


def _logs(values: Array, power: float) -> list[float]:
    """Return logarithms of strength used, short enough for a journal."""
    return [float(f"{one:.7g}") for one in np.log(np.maximum(values, _TINY**power)) / power]


def design_setup(case: Case) -> BowSetup:
    """Return a case's bow as finely as the design needs it: only ratios are taken from it.

    Against 40 elements and the fineness of a case, ratios of draw weight move by 0.0005, of
    strength used in tension by 0.0003, of the set by a fiftieth.
    """
    setup = build_setup(case)
    analysis = setup.analysis
    return adjust(
        setup,
        analysis={
            "elements_per_limb": min(analysis.elements_per_limb, _ELEMENTS),
            "fineness": min(analysis.fineness, _FINENESS),
        },
    )


def _site(site: Site, strains: Array) -> float:
    strain = (strains[site.stations] @ [1.0, 0.0, 0.0, 0.0, site.z, -site.y]).mean()
    return float(np.log(max(abs(float(strain)), _TINY)))


def changed_stave(stave: Stave, change: Change) -> Stave:
    """Return the stave with its wood and thickness changed, what varies along the limb apart."""
    error = hats(field_nodes(stave), stave.x) @ change.thickness
    sapwood = stave.sapwood_wood
    out = replace(
        stave,
        heartwood=_wood(stave.heartwood, 0.0, change.crushing),
        sapwood_wood=sapwood and _wood(sapwood, change.contrast, change.crushing),
        backing_wood=stave.backing_wood and _wood(stave.backing_wood, 0.0, change.crushing),
    )
    return with_columns(out, thickness=stave.thickness + error) if error.any() else out


def _wood(wood: Wood, stiffer: float, crushing: float) -> Wood:
    """Return a wood with its moduli and with its belly's strength changed (logarithms)."""
    if stiffer == 0.0 and crushing == 0.0:
        return wood
    s, e = wood.strength, wood.elasticity
    moduli = {name: getattr(e, name) * np.exp(stiffer) for name in
              ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")}  # fmt: skip
    belly = {name: getattr(s, name) * np.exp(stiffer + crushing) for name in
             ("compression", "compression_proportional_limit", "compression_plateau")}  # fmt: skip
    return replace(wood, elasticity=replace(e, **moduli), strength=replace(s, **belly))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChangedBow:
    """A changed bow, exercised, with its sections as the chance of its links needs them."""

    solved: SolvedBow
    stations: Stations
    amplitude: Array


def changed_bow(setup: BowSetup, change: Change, give: ZoneGive) -> ChangedBow:
    """Return a changed bow, exercised in few steps.

    Sections are solved with the wood of the case; what varies along the limb multiplies all that
    they bear, which is exact: a section of wood k times as stiff and as strong in crushing is the
    section of the same fields with k times the stress.
    """
    string = setup.stringing.stiffness * float(np.exp(change.string))
    setup = adjust(
        setup,
        stave=changed_stave(setup.stave, change),
        stringing={"stiffness": string},
        drawing={"steps": 2},
    )
    node_x = node_positions(setup)
    stations = solve_stations(setup, gauss_positions(node_x).ravel())
    factor = np.exp(hats(field_nodes(setup.stave), stations.x) @ change.amplitude)
    sections = stations.sections
    scaled = replace(
        sections,
        K=read_only(factor[:, None, None] * sections.K),
        compliance=read_only(sections.compliance / factor[:, None, None]),
    )
    varied = replace(stations, sections=scaled)
    model = LimbModel(node_x=node_x, stations=varied, zones=give)
    section = yielding_sections(stations)
    section = replace(section, solution=scaled, weights=factor[:, None, None] * section.weights)
    full = setup.drawing.length

    def plan(start: float) -> tuple[list[float], list[float]]:
        return [start + share * (full - start) for share in STAGES], []

    drawn = draw_with_yield(model.bow, setup.stringing, section, plan)
    first = SolvedBow(
        model=model,
        braced=drawn.braced,
        states=drawn.states,
        beyond=(),
        section=section,
        plastic=read_only(drawn.plastic),
        residual=read_only(drawn.residual),
        warnings=drawn.cautions,
    )
    return ChangedBow(solved=exercise(first), stations=stations, amplitude=factor)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """A bow in one state.

    Attributes
    ----------
    force : float, N
    links : ndarray, shape (S,)
        Every station's part in the sum over all weakest links.
    crush, shear, across, wrinkle : ndarray, shape (S,)
        Strength used by clear wood at every station's worst place, as
        `limbfe.analysis.wood.draw_limits`.
    strains : ndarray, shape (S, 6)
    """

    force: float
    links: Array
    crush: Array
    shear: Array
    across: Array
    wrinkle: Array
    strains: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Looks:
    """A bow on its way, and its set (m)."""

    looks: tuple[Look, ...]
    kept: float


def look_through(bow: ChangedBow, wood: Stave) -> Looks:
    """Return a bow at every share of `WAY` it can be drawn to.

    Parameters
    ----------
    bow : ChangedBow
    wood : Stave
        The volumes behind the strengths are those of its woods.
    """
    solved, stations = bow.solved, bow.stations
    setup = stations.setup
    judged = clear_stations(stations) & stations.bends
    kept = {name: getattr(wood, name) for name in ("heartwood", "sapwood_wood", "backing_wood")}
    named = replace(stations, setup=replace(setup, stave=replace(setup.stave, **kept)))
    parts = link_parts(named, solved.section) / bow.amplitude[:, None]
    points = limb_wood(stations, solved.section)
    looks = [_look(points, parts, judged, state, plastic) for state, plastic in _states(solved)]
    return Looks(looks=tuple(looks), kept=kept_set(solved, bounds=False).mean)


def _states(solved: SolvedBow) -> list[tuple[BowState, Array]]:
    """Return the states of `WAY`: each drawn to for the first time, but full draw once exercised.

    The string is taken up after every stage up to full draw, as a bow is exercised; what lies
    beyond is drawn from there in one go.
    """
    first, turns = solved.first_pull, solved.turns
    if turns:
        stages = list(turns[1 : 2 * len(STAGES) : 2])
    else:
        stages = list(zip(first.states, first.plastic[1:], strict=True))
    stages[-1] = (solved.full_draw, solved.plastic[-1])
    states = [(first.braced, first.plastic[0]), *stages]
    start, full = first.braced.draw_length, solved.full_draw.draw_length
    drawn = draw_pressed(
        solved.model.bow,
        solved.full_draw,
        [start + share * (full - start) for share in BEYOND],
        pressed_section(solved.section, solved.plastic[-1]),
    )
    beyond = zip(drawn.states, drawn.pressed[1:], strict=False)
    return [*states, *((state, pressed.plastic) for state, pressed in beyond)]


def _look(
    points: LimbWood, parts: Array, judged: NDArray[np.bool_], state: BowState, plastic: Array
) -> Look:
    strains = state.strains.reshape(-1, 6)
    skin, inside = look_at(points, strains, plastic)
    used = np.where(parts > 0.0, inside.used.tension, 0.0)

    def worst(stress: WoodStress, share: Array) -> Array:
        return np.asarray(np.where(stress.clear & judged[:, None], share, 0.0).max(axis=1))

    def mode(name: str) -> Array:
        stress = skin if name in SKIN_MODES else inside
        return worst(stress, getattr(stress.used, name))

    return Look(
        force=state.draw_force,
        links=(parts * used**SHAPE).sum(axis=1),
        crush=worst(skin, skin.shortened / HOLDS),
        shear=mode("shear"),
        across=mode("across"),
        wrinkle=worst(skin, skin.used.compression / WRINKLES),
        strains=strains,
    )
