"""A seeded family of random bows that could be made, for sweeps."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, TypeVar

import numpy as np

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.setup import Analysis, BowSetup, Drawing, Holding, Stringing, adjust
from limbfe.analysis.bow.solve import SolvedBow, set_depth, solve_elastic
from limbfe.errors import ConvergenceError, LimbfeError
from limbfe.frames import Array
from limbfe.stave.stave import Belly, Grain, Outline, Stave
from limbfe.wood.species import make_wood

Name = TypeVar("Name", bound=str)
SEED = 80_811
SPECIES = (
    "rock elm",
    "winged elm",
    "European ash",
    "white ash",
    "black locust",
    "Osage orange",
    "Pacific yew",
    "yew",
    "shagbark hickory",
    "pignut hickory",
    "sugar maple",
    "northern red oak",
)
"""Woods of the built-in table that bows are made of (common practice)."""
STATIONS = 13
"""Stations of each limb; columns run smoothly between them."""
ATTEMPTS = 40
SIZING_STEPS = 5
CLOSE_ENOUGH = 0.02
"""Thickness is scaled until the back's strain is this near to what was drawn."""
LIGHTEST, HEAVIEST = 100.0, 310.0
"""Draw weights (N) a bow of the family may have: 22 to 70 lbf."""
DEEPEST_SET = 0.085
"""A bow that keeps more set (m) than this after its first draw would be made anew."""
WIDTHS = {True: (0.028, 0.042), False: (0.034, 0.066)}
"""Widths at the base (m) of slender, round-bellied limbs and of broad ones."""
DRAW_STEPS, ELEMENTS, FINENESS = 8, 12, 0.5
"""Coarser than a case's defaults; what that costs is measured in ``tests/studies``."""

WidthLaw = Literal["parallel", "pyramid", "convex"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BowPlan:
    """What is drawn at random for one bow, SI.

    Attributes
    ----------
    species : str
    moisture : float
        Fraction of the dry mass.
    length : float
        Nock to nock along the back.
    lower : float
        Length of the lower limb over that of the upper.
    draw_length, brace_height : float
    strain : float
        Largest strain on the back at full draw of the bow without yielding.
    stiff_length : float
        Of the grip.
    draw_weight : float
        Of the bow without yielding, as near as a fitting width allows.
    law : {"parallel", "pyramid", "convex"}
        How the width falls towards the tip.
    straight : float
        Share of the limb over which a "parallel" limb keeps its width.
    tip : float
        Width of the tip over that of the base.
    taper : float
        How much of the even-strain taper the thickness has: 1 is all of it, less leaves the
        outer limb stiff.
    waves : tuple of float
        Amplitudes of two waves of thickness along each limb: a tiller is never quite even.
    reflex : float
        Of both tips, unstrung.
    belly : {"flat", "corner", "round"}
    crown : float
        Height of the back's arch over the thickness at the base; 0 for a flat back.
    sapwood : float
        Thickness of the sapwood over that of the limb at the base; 0 for none.
    sapwood_stiffness : float
        Modulus of the sapwood over that of the heartwood.
    ring_radius : float
    """

    species: str
    moisture: float
    length: float
    lower: float
    draw_length: float
    brace_height: float
    strain: float
    stiff_length: float
    draw_weight: float
    law: WidthLaw
    straight: float
    tip: float
    taper: float
    waves: tuple[float, float, float, float]
    reflex: float
    belly: Belly
    crown: float
    sapwood: float
    sapwood_stiffness: float
    ring_radius: float


@lru_cache(maxsize=4)
def random_bow(number: int, seed: int = SEED) -> SolvedBow:
    """Return one bow of the family, drawn; the same number is always the same bow.

    Plans are drawn from the number's own random stream until one gives a bow that can be made:
    it braces, stays stable, and has a draw weight and a set within the family's bounds.

    Parameters
    ----------
    number : int
        From 0.
    seed : int

    Raises
    ------
    ConvergenceError
        If none of `ATTEMPTS` plans can be made.
    """
    rng = np.random.default_rng([seed, number])
    for _ in range(ATTEMPTS):
        plan = draw_plan(rng)
        try:
            solved = exercised_bow(_sized(plan, f"bow {number}: {plan.species}"), beyond=False)
        except LimbfeError:
            # A plan that cannot be built or drawn is no bow; the next one is taken.
            continue
        if LIGHTEST <= solved.full_draw.draw_force <= HEAVIEST and set_depth(solved) <= DEEPEST_SET:
            return solved
    raise ConvergenceError(
        f"bow {number} of the family: none of {ATTEMPTS} plans can be made; use another seed"
    )


def draw_plan(rng: np.random.Generator) -> BowPlan:
    """Draw the plan of one bow.

    Notes
    -----
    The ranges are what wooden bows are commonly made to (common practice): 1.60 to 1.82 m from
    nock to nock, 1.75 to 1.95 m with a slender limb, drawn to 0.35 to 0.41 of that, 130 to 290 N
    before yielding.  The back is strained to 0.5 to 0.8 of the strain at which its clear wood
    breaks, or to 1.7 to 2.7 times that at which its belly starts to yield, whichever is less.
    The sapwood's modulus lies between 0.8 and 1 times the heartwood's: a range to be swept, since
    no ratio of the two was found in print.
    """
    species = str(rng.choice(SPECIES))
    moisture = float(rng.uniform(0.08, 0.12))
    wood = make_wood(name="whole", species=species, moisture=moisture, given={}, cov={})
    breaking = wood.strength.tension / wood.elasticity.E_L
    yielding = wood.strength.compression_proportional_limit / wood.elasticity.E_L
    slender = bool(rng.random() < 0.35)
    length = float(rng.uniform(1.75, 1.95) if slender else rng.uniform(1.60, 1.82))
    return BowPlan(
        species=species,
        moisture=moisture,
        length=length,
        lower=float(rng.uniform(0.96, 1.0)),
        draw_length=float(rng.uniform(0.35, 0.41)) * length,
        brace_height=float(rng.uniform(0.135, 0.170)),
        strain=float(min(rng.uniform(0.5, 0.8) * breaking, rng.uniform(1.7, 2.7) * yielding)),
        stiff_length=float(rng.choice([0.0, rng.uniform(0.08, 0.20)])),
        draw_weight=float(rng.uniform(130.0, 290.0)),
        law=_choose(rng, ("parallel", "pyramid", "convex")),
        straight=float(rng.uniform(0.3, 0.65)),
        tip=float(rng.uniform(0.25, 0.45)),
        taper=float(rng.uniform(0.7, 1.0)),
        waves=_four(rng.normal(0.0, 0.015, 4)),
        reflex=float(rng.choice([0.0, rng.uniform(-0.02, 0.05)])),
        belly="round" if slender else _choose(rng, ("flat", "corner")),
        crown=float(rng.choice([0.0, rng.uniform(0.1, 0.35)])),
        sapwood=float(rng.choice([0.0, rng.uniform(0.15, 0.40)])),
        sapwood_stiffness=float(rng.uniform(0.8, 1.0)),
        ring_radius=float(rng.uniform(0.08, 0.25)),
    )


def _choose(rng: np.random.Generator, names: tuple[Name, ...]) -> Name:
    return names[int(rng.integers(len(names)))]


def _four(values: Array) -> tuple[float, float, float, float]:
    a, b, c, d = (float(value) for value in values)
    return a, b, c, d


def _sized(plan: BowPlan, title: str) -> BowSetup:
    """Return the bow of a plan, thickness scaled to its strain and width to its draw weight.

    Raises
    ------
    ConvergenceError
        If the strain is not met.
    """
    limb = 0.5 * (plan.length - plan.stiff_length)
    # Limbs bent into arcs move their tips by about this share of the draw.
    thickness = 2.0 * plan.strain * limb**2 / (0.8 * plan.draw_length)
    narrowest, widest = WIDTHS[plan.belly == "round"]
    width = 0.5 * (narrowest + widest)
    for _ in range(SIZING_STEPS):
        setup = build_bow(plan, width, thickness, title)
        strain, weight = _elastic_measures(setup)
        fitting = float(np.clip(width * plan.draw_weight / weight, narrowest, widest))
        if max(abs(strain / plan.strain - 1.0), abs(width / fitting - 1.0)) < CLOSE_ENOUGH:
            return setup
        scale = plan.strain / strain
        thickness *= scale
        width = float(np.clip(fitting / scale**3, narrowest, widest))
    raise ConvergenceError(f"{title}: strain {strain:.4f} where {plan.strain:.4f} was aimed at")


def build_bow(plan: BowPlan, width: float, thickness: float, title: str) -> BowSetup:
    """Return the bow of a plan with a width and a thickness (m) at the base of its limbs.

    Raises
    ------
    GeometryError
        If such a limb cannot exist.
    """
    return BowSetup(
        title=title,
        question="",
        stave=_stave(plan, width, thickness),
        stringing=Stringing(
            stiffness=40e3, mass=7e-3, nock_offset=0.0, brace_height=plan.brace_height, length=None
        ),
        holding=Holding(kind="hand", hand_at=-0.015, arrow_at=0.03),
        drawing=Drawing(length=plan.draw_length, steps=DRAW_STEPS),
        analysis=Analysis(elements_per_limb=ELEMENTS, fineness=FINENESS),
        assumptions=(),
    )


def limb_share(stave: Stave, x: Array) -> Array:
    """Return how far out on the bending limb stations lie: 0 at its base, 1 at the nock.

    Parameters
    ----------
    stave : Stave
    x : ndarray, shape (n,), m

    Returns
    -------
    ndarray, shape (n,)
        Negative inside the grip.
    """
    base = limb_base(stave.stiff_length)
    length = np.where(x < 0.0, -stave.x[0], stave.x[-1])
    share: Array = (np.abs(x) - base) / (length - base)
    return share


def limb_base(stiff_length: float) -> float:
    """Return where the limbs' taper starts, m from the middle of the grip."""
    return max(0.5 * stiff_length, 0.03)


def _elastic_measures(setup: BowSetup) -> tuple[float, float]:
    """Return the largest strain on the back of the elastic bow, and its draw weight (N)."""
    solved = solve_elastic(adjust(setup, drawing={"steps": 1}))
    strains = solved.full_draw.strains.reshape(-1, 6)
    back = strains[:, 0] + 0.5 * solved.model.stations.shapes.thickness * strains[:, 4]
    return float(back.max()), float(solved.full_draw.draw_force)


def _stave(plan: BowPlan, width: float, thickness: float) -> Stave:
    upper = plan.length / (1.0 + plan.lower)
    sides = [(-1.0, plan.length - upper, plan.waves[:2]), (1.0, upper, plan.waves[2:])]
    base = limb_base(plan.stiff_length)
    share = np.linspace(0.0, 1.0, STATIONS)
    columns: dict[str, list[Array]] = {name: [] for name in ("x", "width", "thickness", "share")}
    for sign, length, waves in sides:
        order = slice(None, None, int(sign))
        columns["x"].append((sign * (base + share * (length - base)))[order])
        columns["width"].append((width * _width_law(plan, share))[order])
        columns["thickness"].append((thickness * _thickness_law(plan, share, waves))[order])
        columns["share"].append(share[order])
    x, w, t, s = (_with_grip(plan, name, parts) for name, parts in columns.items())
    sag = plan.crown * thickness
    crown = np.inf if sag == 0.0 else sag / 2.0 + width**2 / (8.0 * sag)
    heart = make_wood(
        name="heartwood", species=plan.species, moisture=plan.moisture, given={}, cov={}
    )
    sapwood_wood = None
    if plan.sapwood > 0.0:
        sapwood_wood = make_wood(
            name="sapwood",
            species=plan.species,
            moisture=plan.moisture,
            given={"E_L": plan.sapwood_stiffness * heart.elasticity.E_L},
            cov={},
        )
    none, zero = np.zeros_like(x), np.array(0.0)
    return Stave(
        x=x,
        width=w,
        thickness=t,
        sapwood=plan.sapwood * thickness * (1.0 - 0.3 * s) if plan.sapwood > 0.0 else none,
        lean=none,
        backing=none,
        reflex=plan.reflex * s**2,
        sideways=none,
        twist=none,
        outline=Outline(
            crown=np.array(crown),
            belly=plan.belly,
            belly_corner=0.15 * float(t.min()) if plan.belly == "corner" else 0.0,
        ),
        grain=Grain(
            ring_radius=np.array(plan.ring_radius), run_out=zero, sideways_grain=zero, spiral=zero
        ),
        heartwood=heart,
        sapwood_wood=sapwood_wood,
        backing_wood=None,
        knots=(),
        decays=(),
        stiff_length=plan.stiff_length,
    )


def _with_grip(plan: BowPlan, name: str, parts: list[Array]) -> Array:
    """Return one column over the whole bow, with the grip's middle between the limbs."""
    lower, upper = parts
    if name in ("x", "share"):
        middle = 0.0
    elif name == "width":
        middle = min(float(lower[-1]), 0.032) if plan.stiff_length > 0.0 else float(lower[-1])
    else:
        middle = (1.5 if plan.stiff_length > 0.0 else 1.04) * float(lower[-1])
    return np.concatenate([lower, [middle], upper])


def _width_law(plan: BowPlan, share: Array) -> Array:
    """Return the width along the limb over that at its base."""
    if plan.law == "pyramid":
        return 1.0 - (1.0 - plan.tip) * share
    if plan.law == "convex":
        return 1.0 - (1.0 - plan.tip) * share**2
    outer = np.maximum(share - plan.straight, 0.0) / (1.0 - plan.straight)
    law: Array = 1.0 - (1.0 - plan.tip) * outer
    return law


def _thickness_law(plan: BowPlan, share: Array, waves: tuple[float, ...]) -> Array:
    """Return the thickness along the limb over that at its base.

    Even strain asks ``w t^2`` to go with the moment, which falls nearly as 1 - share (the lever
    arm of the string about each station of a limb drawn into an arc).
    """
    moment = np.maximum(1.0 - share, 0.0) * (1.0 + 0.35 * share)
    even = np.sqrt(moment / _width_law(plan, share))
    law = np.maximum(even**plan.taper, 0.5)
    law = law * (1.0 + waves[0] * np.sin(np.pi * share) + waves[1] * np.sin(2.0 * np.pi * share))
    return np.asarray(law)
