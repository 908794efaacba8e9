"""One bow among several that were brought to the same figure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.frames import Array
from limbfe.studies.compare.measures import BowMeasures
from limbfe.studies.compare.scaling import Figure, show_figure
from limbfe.studies.compare.slip import Slip
from limbfe.units import METRIC, UnitSystem


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The figure all bows are brought to; no figure leaves them as they stand."""

    figure: Figure | None
    value: float = 0.0

    def words(self, units: UnitSystem = METRIC) -> str:
        """Return the target in words."""
        if self.figure is None:
            return "each as it stands"
        return f"all brought to {show_figure(self.figure, self.value, units)}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ComparedBow:
    """One bow at the common figure.

    Attributes
    ----------
    number : int
        Place in the order the cases were given, from 1.
    name, title : str
        The file's stem and the case's title.
    factor : float
        On the thickness of the case's limbs.
    measures : BowMeasures
    stored : float, J
        What the limbs give back: the work of an exercised draw less what it loses; 0
        where the bow cannot be strung again after its first.
    speed : float, m/s
        Of an arrow of ten grains a pound of draw weight.
    slip : Slip
    when_braced : tuple of str
        Where it breaks or gives way while it is braced.
    x, width, thickness : ndarray, shape (n,), m
        The upper limb as it was drawn, from the grip's middle to the nock.
    """

    number: int
    name: str
    title: str
    factor: float
    measures: BowMeasures
    stored: float
    speed: float
    slip: Slip
    when_braced: tuple[str, ...] = ()
    x: Array
    width: Array
    thickness: Array

    def figure(self, name: str) -> float:
        """Return one of the figures of `JUDGED`."""
        apart = {
            "thickness_change": self.factor - 1.0,
            "stored": self.stored,
            "speed": self.speed,
            "stored_per_mass": self.stored / self.measures.mass,
            "stored_per_strain": 0.01 * self.stored / self.measures.peak_strain,
            "slip_strain": self.slip.strain_change,
            "slip_weight": self.slip.weight_change,
        }
        return apart[name] if name in apart else float(getattr(self.measures, name))

    def to_dict(self) -> dict[str, Any]:
        """Return the figures with the unit in every key."""
        measures = self.measures
        return {
            "number": self.number,
            "name": self.name,
            "title": self.title,
            "when_braced": list(self.when_braced),
            "thickness_factor": self.factor,
            "draw_weight_N": measures.draw_weight,
            "draw_length_mm": 1e3 * measures.draw_length,
            "mass_g": 1e3 * measures.mass,
            "mass_outer_third_g": 1e3 * measures.mass_outer_third,
            "peak_strain": measures.peak_strain,
            "mean_strain": measures.mean_strain,
            "evenness": measures.evenness,
            "energy_J": measures.energy,
            "stored_J": self.stored,
            "stored_per_mass_J_per_kg": self.figure("stored_per_mass"),
            "stored_per_strain_J_per_percent": self.figure("stored_per_strain"),
            "arrow_speed_m_per_s": self.speed,
            "early_force": measures.early_force,
            "string_angle_deg": float(np.degrees(measures.string_angle)),
            "set_mm": 1e3 * measures.set_depth,
            "strength_used": measures.strength_used,
            "slip_at_mm": 1e3 * self.slip.at,
            "slip_strain_change": self.slip.strain_change,
            "slip_weight_change": self.slip.weight_change,
        }


def told_apart(bows: Sequence[ComparedBow]) -> dict[int, str]:
    """Return what each bow (by number) is called: its title, with its file where two have one."""
    titles = [bow.title for bow in bows]
    return {
        bow.number: f"{bow.title} ({bow.name})" if titles.count(bow.title) > 1 else bow.title
        for bow in bows
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A bow that could not be brought to the figure, and why."""

    number: int
    name: str
    title: str
    reason: str
