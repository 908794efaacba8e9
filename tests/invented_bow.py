"""An invented, unsymmetric bow of circular arcs: enough of an assessment to be drawn."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.analysis.bow.drawn import DrawCurve, DrawnBow, FirstPull, KeptSet, Pose, Tip
from limbfe.analysis.bow.setup import Analysis, BowSetup, Drawing, Holding, Stringing
from limbfe.analysis.results.assessment import Assessment
from limbfe.analysis.wood.hot_spots import HotSpot
from limbfe.analysis.wood.limb_field import LimbField
from limbfe.analysis.wood.stress import SurfaceField
from limbfe.analysis.zones.close_up import CloseUp, Panel, Window, ZoneRim
from limbfe.analysis.zones.verdicts import JudgedZone
from limbfe.analysis.zones.zone_verdict import ZoneVerdict
from limbfe.failure.measured import kept_by_measured
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Knot
from limbfe.stave.stave import Grain, Outline, Stave
from limbfe.wood.decay import DecayEffect
from limbfe.wood.elasticity import Elasticity
from limbfe.wood.source import GIVEN
from limbfe.wood.strength import Strength
from limbfe.wood.wood import PROPERTIES, Wood

LOWER, UPPER, HALF_GRIP = -0.84, 0.87, 0.05
CURVATURES = {"unstrung": (-0.05, -0.07), "braced": (0.42, 0.40), "drawn": (1.55, 1.45)}
ARROW_AT = 0.03


@dataclass(frozen=True, kw_only=True)
class Shape:
    """Width and thickness of the invented limb (m)."""

    width: Any
    thickness: Any


def shape(x: Any) -> Shape:
    run = np.clip((np.abs(x) - HALF_GRIP) / 0.82, 0.0, 1.0)
    return Shape(width=0.034 - 0.022 * run**1.6, thickness=0.026 - 0.013 * run)


def turning(x: Any, name: str) -> Any:
    """Angle between the limb's axis and the vertical (rad)."""
    lower, upper = CURVATURES[name]
    return np.where(
        x < 0, lower * np.minimum(x + HALF_GRIP, 0.0), upper * np.maximum(x - HALF_GRIP, 0.0)
    )


def arc_position(x: Any, name: str) -> Any:
    """Closed form: a straight stiff grip, then one circular arc in each limb."""
    x = np.asarray(x, dtype=float)
    k, theta = np.where(x < 0, *CURVATURES[name]), turning(x, name)
    stiff = np.clip(x, -HALF_GRIP, HALF_GRIP)
    return np.stack([(1 - np.cos(theta)) / k, np.zeros_like(x), stiff + np.sin(theta) / k], -1)


def frames(x: Any, name: str) -> Any:
    theta = np.asarray(turning(np.asarray(x, dtype=float), name))
    s, c = np.sin(theta), np.cos(theta)
    zero, one = np.zeros_like(s), np.ones_like(s)
    rows = [[s, zero, -c], [zero, one, zero], [c, zero, s]]
    return np.moveaxis(np.array(rows), (0, 1), (-2, -1))


def make_pose(name: str, draw_length: float, *, per_limb: int = 40) -> Pose:
    x = np.concatenate(
        [np.linspace(LOWER, -HALF_GRIP, per_limb), [0.0], np.linspace(HALF_GRIP, UPPER, per_limb)]
    )
    positions = arc_position(x, name)
    tips = positions[[0, -1]]
    string = np.empty((0, 3))
    if name != "unstrung":
        pulled = [draw_length - shape(0.0).thickness / 2, 0.0, ARROW_AT]
        string = np.stack([tips[0], pulled, tips[1]])
    return Pose(
        name=name,
        draw_length=draw_length,
        node_x=x,
        positions=positions,
        rotations=frames(x, name),
        string=string,
    )


def make_surface(per_limb: int = 60, around: int = 36) -> SurfaceField:
    """Flat back with sapwood, half-elliptic belly; strain of bending about mid-thickness."""
    x = np.concatenate([np.linspace(LOWER, -0.004, per_limb), np.linspace(0.004, UPPER, per_limb)])
    bow = shape(x)
    turn = np.linspace(0.0, np.pi, around)
    y = np.concatenate([np.cos(turn), np.linspace(-1, 1, around // 2 + 2)[1:-1]])
    z = np.concatenate([0.5 - np.sin(turn), np.full(around // 2, 0.5)])
    ring = np.stack([bow.width[:, None] * y / 2, bow.thickness[:, None] * z], axis=-1)
    lower, upper = CURVATURES["drawn"]
    run = np.clip(np.abs(x) - HALF_GRIP, 0, None)
    kappa = np.where(x < 0, lower, upper) * np.minimum(run / 0.06, 1.0)
    strain = ring[..., 1] * (kappa * (0.52 - 0.25 * run))[:, None]
    stress = strain * 10.5e9 * 0.6
    strength = np.where(strain > 0, 128e6, 62e6)
    bump = 1 + 0.35 * np.exp(-(((x - 0.31) / 0.03) ** 2))[:, None] * (ring[..., 1] > 0)
    return SurfaceField(
        x=x,
        ring=ring,
        layer=np.where(ring[..., 1] > bow.thickness[:, None] / 2 - 0.005, 1.0, 0.0),
        axial_strain=strain,
        axial_stress=stress,
        strength_used=np.abs(stress) / strength * bump,
    )


def make_limb(surface: SurfaceField) -> LimbField:
    kappa = np.abs(surface.axial_strain).max(axis=1) / 0.012
    zeros = np.zeros((len(surface.x), 6))
    moment = 75.0 * (0.95 - np.abs(surface.x))
    resultants = zeros + np.array([-280.0, 4.0, 35.0, 0.4, 0.0, -1.5])
    resultants[:, 4] = moment
    return LimbField(
        x=surface.x,
        curvature=kappa,
        moment=moment,
        resultants=resultants,
        strains=zeros,
        back_strain=surface.axial_strain.max(axis=1),
        belly_strain=surface.axial_strain.min(axis=1),
        strength_used=surface.strength_used.max(axis=1),
        residual_curvature=0.12 * kappa,
        yielded_depth=0.002 * kappa,
    )


def make_wood(name: str, E_L: float) -> Wood:
    return Wood(
        name=name,
        species=None,
        moisture=None,
        density=640.0,
        elasticity=Elasticity(
            E_L=E_L, E_R=1.4e9, E_T=0.8e9, G_LR=0.9e9, G_LT=0.7e9, G_RT=0.2e9,
            nu_LR=0.36, nu_LT=0.44, nu_RT=0.6,
        ),
        strength=Strength(
            tension=128e6, compression=52e6, compression_proportional_limit=44e6,
            compression_plateau=47e6, shear=11e6,
            bending=100e6, tension_across=6e6, compression_across=9e6, toughness_fibre=2e4,
            toughness_opening=350.0, toughness_sliding=900.0, cov={},
        ),
        sources=dict.fromkeys(PROPERTIES, GIVEN),
    )  # fmt: skip


def make_knots() -> tuple[Knot, ...]:
    t_a, t_c = shape(0.31).thickness, shape(-0.42).thickness
    return (
        Knot(
            name="A", limb="upper", x=0.31, face="back", entry=np.array([0.31, -0.005, t_a / 2]),
            direction=np.array([0.0, 0.28, -0.96]), length=0.021, radius=0.0045,
            far_radius=0.0025, state="live",
        ),
        Knot(
            name="C", limb="lower", x=-0.42, face="back", entry=np.array([-0.42, 0.009, t_c / 2]),
            direction=np.array([0.0, 0.0, -1.0]), length=0.018, radius=0.004,
            far_radius=0.0015, state="dead",
        ),
    )  # fmt: skip


def make_decays() -> tuple[Decay, ...]:
    t = shape(-0.64).thickness
    effect = DecayEffect(
        E=0.7, G=0.7, density=0.95, tension=0.5, compression=0.6, shear=0.6, across=0.5,
        toughness=0.3,
    )  # fmt: skip
    return (
        Decay(
            name="B", limb="lower", face="belly", center=np.array([-0.64, 0.002, -t / 2]),
            semi_axes=np.array([0.0225, 0.0035, 0.005]), effect=effect, stage="incipient",
            rot="brown",
        ),
    )  # fmt: skip


def make_stave() -> Stave:
    columns = np.array([LOWER, -0.65, -0.45, -0.3, -0.11, 0.0, 0.11, 0.3, 0.5, 0.7, UPPER])
    bow, zeros = shape(columns), np.zeros_like(columns)
    return Stave(
        x=columns, width=bow.width, thickness=bow.thickness, sapwood=zeros + 0.005,
        lean=zeros + 0.08, backing=zeros, reflex=zeros, sideways=zeros, twist=zeros,
        outline=Outline(crown=np.inf, belly="round", belly_corner=0.0),
        grain=Grain(ring_radius=0.11, run_out=0.02, sideways_grain=0.0, spiral=0.0),
        heartwood=make_wood("heartwood", 10.5e9),
        sapwood_wood=make_wood("sapwood", 9.4e9), backing_wood=None, knots=make_knots(),
        decays=make_decays(), stiff_length=2 * HALF_GRIP,
    )  # fmt: skip


def make_setup() -> BowSetup:
    return BowSetup(
        title="Wych elm longbow, course stave 4",
        question="Does the knot above the grip survive 28 in?",
        assumptions=(),
        stave=make_stave(),
        stringing=Stringing(
            stiffness=4e4, mass=0.007, nock_offset=0.0, brace_height=0.15, length=None
        ),
        holding=Holding(kind="hand", hand_at=-0.02, arrow_at=ARROW_AT),
        drawing=Drawing(length=0.711, steps=30),
        analysis=Analysis(elements_per_limb=40, fineness=1),
    )


def make_defects() -> tuple[ZoneVerdict, ...]:
    def one(name: str, kind: Any, limb: Any, at: float, used: float, verdict: Any) -> ZoneVerdict:
        return ZoneVerdict(
            name=name, kind=kind, limb=limb, at=at, verdict=verdict, mode="opening split",
            strength_used=used, strength_used_low=0.82 * used, strength_used_high=1.25 * used,
            wrinkling_used=0.6 * used,
            draw_length_at_split=0.66, draw_length_at_rupture=None,
            strength_ratio=0.8, tension_ratio=0.7, limb_failure_probability=0.05,
            split_length=None, split_course="none",
            kept=kept_by_measured(0.2) if kind == "knot" else None,
            failure_probability=0.12, advice="leave 4 mm more width beside it",
        )  # fmt: skip

    return (
        one("A", "knot", "upper", 0.31, 0.93, "watch"),
        one("C", "knot", "lower", 0.42, 0.58, "sound"),
        one("B", "decay", "lower", 0.64, 1.12, "expect rupture"),
    )


def unmodelled(verdicts: Iterable[ZoneVerdict]) -> tuple[JudgedZone, ...]:
    """Return zones as an assessment holds them, without local models."""
    return tuple(JudgedZone(result=one, local=None) for one in verdicts)


def make_hot_spots() -> tuple[HotSpot, ...]:
    def one(limb: Any, at: float, face: Any, used: float, mode: Any) -> HotSpot:
        return HotSpot(
            limb=limb, at=at, across=-0.004, depth=0.0, face=face, stress=1e8 * used,
            strain=0.01 * used, mode=mode, strength_used=used,
        )  # fmt: skip

    return (
        one("upper", 0.31, "back", 0.94, "tension"),
        one("upper", 0.26, "belly", 0.91, "compression"),
        one("lower", 0.22, "belly", 0.97, "compression"),
        one("lower", 0.21, "back", 0.52, "tension"),
    )


def make_first_pull(draw: Any, force: Any, tension: Any) -> FirstPull:
    stronger = force * (1.0 + 0.3 * (draw[-1] - draw) / (draw[-1] - draw[0]))
    energy = np.concatenate([[0.0], np.cumsum(np.diff(draw) * (stronger[1:] + stronger[:-1]) / 2)])
    curve = DrawCurve(
        draw_length=draw, travel=draw - draw[0], force=stronger, tension=tension, energy=energy
    )
    return FirstPull(string_length=1.655, curve=curve, crushed=3.0)


def make_set() -> KeptSet:
    return KeptSet(
        at_once=np.array([0.018, 0.012]), rested=np.array([0.014, 0.008]), low=0.006, high=0.021,
        residual=np.zeros((4, 6)), unstrung=make_pose("unstrung", 0.0),
    )  # fmt: skip


def make_assessment() -> Assessment:
    poses = (
        make_pose("unstrung", 0.0),
        make_pose("braced", 0.15 + shape(0.0).thickness),
        make_pose("drawn", 0.711),
    )
    surface = make_surface()
    draw = np.linspace(poses[1].draw_length, 0.711, 31)
    rise = (draw - draw[0]) / (draw[-1] - draw[0])
    force = 205.0 * (1.15 * rise - 0.3 * rise**2 + 0.15 * rise**3)
    tension = np.stack([320 + 180 * rise, 325 + 176 * rise], axis=1)
    energy = np.concatenate([[0.0], np.cumsum(np.diff(draw) * (force[1:] + force[:-1]) / 2)])
    tips = poses[2].positions[[0, -1]]
    return Assessment(
        drawn=DrawnBow(
            setup=make_setup(), poses=poses, brace_height=0.15, string_length=1.66,
            brace_tension=320.0, brace_energy=9.0,
            curve=DrawCurve(
                draw_length=draw, travel=draw - draw[0], force=force, tension=tension, energy=energy
            ),
            lower_tip=Tip(position=tips[0], twist=0.01),
            upper_tip=Tip(position=tips[1], twist=-0.02),
            kept=make_set(), first_pull=make_first_pull(draw, force, tension), lost=0.8,
            cautions=(), assumptions=(),
        ),
        limb=make_limb(surface), surface=surface, hot_spots=make_hot_spots(),
        judged=unmodelled(make_defects()),
    )  # fmt: skip


def make_close_up() -> CloseUp:
    """A round knot of 9 mm in a strip 30 mm wide, with potential flow of the fibres round it.

    The flow past a circle: L. M. Milne-Thomson, Theoretical Hydrodynamics, the complex velocity
    1 - a^2 / w^2 (from memory).
    """
    radius, middle = 0.0045, np.array([0.31, -0.004])
    edge_x = np.linspace(0.25, 0.37, 25)
    right = 0.015 - 0.03 * (edge_x - 0.25)
    x, share = np.meshgrid(np.linspace(0.25, 0.37, 161), np.linspace(-1.0, 1.0, 61), indexing="ij")
    points = np.stack([x, share * (0.015 - 0.03 * (x - 0.25))], axis=-1).reshape(-1, 2)
    corner = np.arange(160 * 61).reshape(160, 61)[:, :-1].ravel()
    triangles = np.concatenate(
        [
            np.stack([corner, corner + 61, corner + 62], axis=-1),
            np.stack([corner, corner + 62, corner + 1], axis=-1),
        ]
    )
    w = (points - middle) @ np.array([1.0, 1j])
    flow = 1.0 - radius**2 / np.where(np.abs(w) > 1e-6, w, 1e-6) ** 2
    angle = np.where(np.abs(w) > radius, -np.angle(flow), 0.0)
    near = np.exp(-(((np.abs(w) - radius) / 0.006) ** 2))
    turn = np.linspace(0.0, 2.0 * np.pi, 60, endpoint=False)
    loop = middle + radius * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    box = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [0.0015, 0.001]
    turned = np.angle(w)
    fields = {
        "breaking the fibres": 0.45 + 0.35 * near * np.abs(np.sin(turned)),
        "splitting open": 0.2 + 0.9 * near * np.abs(np.cos(turned)),
        "splitting by sliding": 0.15 + 0.5 * near * np.abs(np.sin(2 * turned)),
    }
    windows = (
        Window(corners=middle + np.array([0, 0.0056]) + box, strength_used=0.74),
        Window(corners=middle + np.array([0.0062, 0]) + box, strength_used=0.93),
        None,
    )
    panels = tuple(
        Panel(
            mode=mode, height=height, points=points, triangles=triangles, fibre_angle=angle,
            used=used, edge_x=edge_x, left_edge=-right, right_edge=right,
            zones=(ZoneRim(name="A", kind="knot", loop=loop, hole=False),), window=window,
        )
        for (mode, used), height, window in zip(
            fields.items(), (0.009, 0.009, -0.004), windows, strict=True
        )
    )  # fmt: skip
    return CloseUp(title="Knot A, upper limb, back", plane="flat", panels=panels)
