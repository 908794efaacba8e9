"""The figures by which one drawn bow is compared with another."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from limbfe.analysis.bow.exercise import exercise
from limbfe.analysis.bow.kept import kept_set, lost_of
from limbfe.analysis.bow.model import LimbModel
from limbfe.analysis.bow.solve import SolvedBow, curve_of, drawn_bow
from limbfe.analysis.wood.limb_field import LimbField, limb_field
from limbfe.beam import BowState
from limbfe.curves import monotone_cubic, spline
from limbfe.frames import Array

OUTER = 2.0 / 3.0
"""Share of a limb's length, counted from the grip's middle, beyond which wood counts as outer."""
EARLY = 0.25
"""Share of the way from brace to full draw at which the early draw force is read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BowMeasures:
    """One bow at full draw, SI.

    Attributes
    ----------
    draw_weight : float, N
    draw_length : float, m
    mass : float, kg
        Of the bow with its handle, without the string.
    mass_outer_third : float, kg
        Of the outer thirds of both limbs together, a limb counted from the grip's middle.
    peak_strain : float
        The largest strain along the limb on back or belly, at full draw, outside the stiff grip
        and in clear wood.
    mean_strain : float
        The larger of the back's and the belly's strain at each station, averaged over the length
        that bends.
    evenness : float
        Mean over peak: 1 when every station is strained alike.
    energy : float, J
        Work of the pull from brace to full draw.
    energy_per_mass : float, J/kg
    energy_per_strain : float, J
        For a peak strain of one per cent: energy over peak strain, times 0.01.
    early_force : float
        Pull a quarter of the way from brace to full draw, over the draw weight; a straight draw
        curve gives 0.25.
    string_angle : float, rad
        Between string and limb tip at full draw, mean of both tips; a bow stacks as it nears and
        passes a right angle (common practice).
    set_depth : float, m
        How far the tips stay behind after the draw.
    strength_used : float
        The worst in clear wood.
    """

    draw_weight: float
    draw_length: float
    mass: float
    mass_outer_third: float
    peak_strain: float
    mean_strain: float
    evenness: float
    energy: float
    energy_per_mass: float
    energy_per_strain: float
    early_force: float
    string_angle: float
    set_depth: float
    strength_used: float

    def to_dict(self) -> dict[str, Any]:
        """Return the figures by name, SI."""
        return asdict(self)


def bow_measures(solved: SolvedBow, limb: LimbField | None = None) -> BowMeasures:
    """Return the figures of a solved bow.

    Parameters
    ----------
    solved : SolvedBow
    limb : LimbField, optional
        From an assessment of the same bow, when there is one; found here otherwise.
    """
    limb = limb_field(solved) if limb is None else limb
    curve = drawn_bow(solved).curve
    mass, outer = bow_mass(solved.model)
    peak, mean = strain_level(solved.model, limb)
    energy = float(curve.energy[-1])
    start, end = curve.draw_length[0], curve.draw_length[-1]
    early = spline(curve.draw_length, curve.force)(start + EARLY * (end - start))
    return BowMeasures(
        draw_weight=float(curve.force[-1]),
        draw_length=float(end),
        mass=mass,
        mass_outer_third=outer,
        peak_strain=peak,
        mean_strain=mean,
        evenness=mean / peak,
        energy=energy,
        energy_per_mass=energy / mass,
        energy_per_strain=0.01 * energy / peak,
        early_force=float(early / curve.force[-1]),
        string_angle=string_angle(solved.full_draw),
        set_depth=kept_set(solved, bounds=False).mean,
        strength_used=float(limb.strength_used[solved.model.stations.bends].max()),
    )


def stored_energy(solved: SolvedBow) -> float:
    """Return what the limbs give back, J: the work of an exercised draw less what it loses."""
    bow = exercise(solved)
    work = float(curve_of(bow.braced, bow.states).energy[-1])
    return work - lost_of(bow, work)


def bow_mass(model: LimbModel) -> tuple[float, float]:
    """Return the bow's mass and that of the outer thirds of its limbs, kg.

    The sections' mass per length, integrated over each beam element by its two Gauss points
    (exact for a taper linear in width and thickness); the mass up to a node is interpolated to
    where the outer third begins.
    """
    pieces = (_share(model) * model.stations.sections.mass[:, 0, 0]).reshape(-1, 2).sum(axis=1)
    up_to = monotone_cubic(model.node_x, np.concatenate([[0.0], np.cumsum(pieces)]))
    low, high = float(model.node_x[0]), float(model.node_x[-1])
    total = float(up_to(high))
    return total, float(up_to(OUTER * low) + total - up_to(OUTER * high))


def strain_level(model: LimbModel, limb: LimbField) -> tuple[float, float]:
    """Return the peak and the mean of the skin's strain over the length that bends."""
    bends = model.stations.bends
    strain = np.maximum(np.abs(limb.back_strain), np.abs(limb.belly_strain))[bends]
    return float(strain.max()), float(np.average(strain, weights=_share(model)[bends]))


def string_angle(state: BowState) -> float:
    """Return the mean angle (rad) between the string and the limb at the two tips.

    Of a string that lies on a limb there is none; that of its free part is taken against the tip.
    """
    leaves, tips = state.free_string[[0, 2]], state.rotations[[0, -1], :, 0]
    string = state.free_string[1] - leaves
    string = string / np.linalg.norm(string, axis=1)[:, None]
    inward = tips * np.array([[1.0], [-1.0]])
    return float(np.arccos(np.clip((string * inward).sum(axis=1), -1.0, 1.0)).mean())


def _share(model: LimbModel) -> Array:
    """Return the length of axis that every Gauss station stands for, shape (S,), m."""
    return np.repeat(model.bow.chain.length / 2.0, 2)
