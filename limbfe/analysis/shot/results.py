"""What a shot is told by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from limbfe.analysis.bow.cautions import STANDING_CAUTIONS
from limbfe.analysis.bow.setup import Shooting
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.shot.cautions import HELD, LIMITS, graver, milder
from limbfe.analysis.shot.clear_wood import ClearWood
from limbfe.analysis.shot.flight import Flights
from limbfe.analysis.shot.lying import LyingInShot, lying_in_shot
from limbfe.analysis.shot.reshaping import Reshaped
from limbfe.analysis.shot.reversal import Reversal
from limbfe.analysis.shot.strains import LimbStrains, reaching
from limbfe.beam.shot.modes import Modes
from limbfe.beam.shot.shoot import Shot
from limbfe.rows import Row
from limbfe.stave.named_zones import Zone, zones_of
from limbfe.units import Length, Sentence, Words, unit_factor

FOOT = unit_factor("ft", "length")
SHAFT, DRAG = 8e-3, 3.0
"""Diameter of a wooden shaft (m; 5/16 in, common practice) and its drag coefficient with feathers:
2.5 to 4 (common practice); bare shafts have 1.5 to 2.6 in wind tunnels (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Undamped:
    """Speed (m/s) and efficiency of the same shot without losses in wood and string."""

    speed: float
    efficiency: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Costs:
    """Change of the arrow's speed, m/s; None for a string without mass.

    Attributes
    ----------
    tip : with a gram more at each tip
    arrow : with a gram more of arrow
    string : with a gram more of string, the mean from half to one and a half times the string: its
        own waves let the speed fall in steps
    half_string : with a string half as heavy
    """

    tip: float
    string: float | None
    arrow: float
    half_string: float | None

    def to_dict(self) -> dict[str, float | None]:
        """Return the contract's part."""
        return {
            "gram_at_each_tip_m_per_s": self.tip,
            "gram_of_string_m_per_s": self.string,
            "gram_of_arrow_m_per_s": self.arrow,
            "string_half_as_heavy_m_per_s": self.half_string,
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AtZone:
    """What the limb does in a shot where a knot or patch lies; strains of the middle line.

    Attributes
    ----------
    name : str
    back_drawn, back : float
        At full draw, and the most from the release on.
    belly_stretched : float
        The most beyond its unstrung length, after the release.
    """

    name: str
    back_drawn: float
    back: float
    belly_stretched: float

    def to_dict(self) -> dict[str, Any]:
        """Return the contract's part."""
        return {
            "name": self.name,
            "back_strain_drawn": self.back_drawn,
            "back_strain_max": self.back,
            "belly_stretched_max": self.belly_stretched,
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShotResult:
    """One shot; without an arrow what only an arrow has is None.

    Attributes
    ----------
    arrow : float, kg
    shot : Shot
        Every step.
    strains : LimbStrains
    clear : ClearWood
    work : float, J
        Of drawing the exercised bow from brace.
    efficiency : float
        The arrow's energy over `work`.
    undamped : Undamped or None
    time : float or None, s
        From the release until the arrow leaves.
    nock_at_leaving : float or None, m
        Where the arrow leaves, from the back of the grip.
    tension_at_leaving, tension_least, tension_max, tension_max_after : float, N
        Of the string where the arrow leaves, and anywhere in it until then and from then on.
    hand_momentum : float, N s
        What the grip was pushed with until then, towards the target positive.
    drift : float
        Error of the energy over `work`; with losses, what they took by the end (negative).
    flights : Flights or None
    """

    arrow: float
    shot: Shot
    strains: LimbStrains
    clear: ClearWood
    work: float
    efficiency: float
    undamped: Undamped | None
    time: float | None
    nock_at_leaving: float | None
    tension_at_leaving: float | None
    tension_least: float
    tension_max: float
    tension_max_after: float
    hand_momentum: float
    drift: float
    flights: Flights | None

    @property
    def string_lies(self) -> tuple[LyingInShot | None, LyingInShot | None]:
        """The string on the lower and the upper limb; None where it never lies there."""
        return lying_in_shot(self.shot)

    @property
    def virtual_mass(self) -> float | None:
        """Mass (kg) that would have to fly with the arrow to take all of the work; no constant."""
        return None if self.time is None else self.arrow * (1.0 / self.efficiency - 1.0)

    def extremes(self) -> dict[str, float]:
        """Return the greatest strains, until the arrow leaves and from then on."""
        strains, left = self.strains, self.shot.left or 0
        end = left + 1 if self.time is not None else len(self.shot.time)
        return {
            "back_strain_max": float(strains.back[:end].max()),
            "belly_strain_max": float(-strains.belly[:end].min()),
            "back_strain_max_after": float(strains.back[left:].max()),
            "belly_strain_max_after": float(-strains.belly[left:].min()),
            "belly_stretched_max": float(strains.stretched[left:].max()),
        }

    def at_zones(self, zones: Sequence[Zone]) -> tuple[AtZone, ...]:
        """Return what the limb does at those of the zones that lie where it bends."""
        strains, found = self.strains, []
        for zone in zones:
            k = reaching(strains, zone)
            if k.any():
                found.append(
                    AtZone(
                        name=zone.name,
                        back_drawn=float(strains.back_drawn[k].max()),
                        back=float(strains.back[:, k].max()),
                        belly_stretched=float(strains.stretched[:, k].max()),
                    )
                )
        return tuple(found)

    def to_dict(self) -> dict[str, Any]:
        """Return the contract's part."""
        speed = None if self.time is None else self.shot.speed
        lower, upper = (None if one is None else one.to_dict() for one in self.string_lies)
        undamped = self.undamped
        return {
            "arrow_mass_g": 1e3 * self.arrow,
            "speed_m_per_s": speed,
            "speed_fps": None if speed is None else speed / FOOT,
            "efficiency": None if speed is None else self.efficiency,
            "speed_undamped_m_per_s": None if undamped is None else undamped.speed,
            "efficiency_undamped": None if undamped is None else undamped.efficiency,
            "work_of_drawing_J": self.work,
            "time_ms": _thousand(self.time),
            "nock_at_leaving_mm": _thousand(self.nock_at_leaving),
            "string_tension_at_leaving_N": self.tension_at_leaving,
            "string_tension_least_N": self.tension_least,
            "string_tension_max_N": self.tension_max,
            "string_tension_max_after_N": self.tension_max_after,
            **self.extremes(),
            "clear_wood": self.clear.to_dict(),
            "virtual_mass_g": _thousand(self.virtual_mass),
            "hand_momentum_Ns": self.hand_momentum,
            "energy_drift": self.drift,
            "string_lies": {"upper": upper, "lower": lower},
            "flight": None if self.flights is None else self.flights.to_dict(),
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shots:
    """Shots of one exercised bow.

    Attributes
    ----------
    solved : SolvedBow
    work : float, J
        Of drawing it from brace: efficiencies are shares of this.
    loss_factor : float
        Of the wood, as it was taken; 0 undamped.
    modes : Modes
        Of the braced bow, grip held, no arrow.
    shots : tuple of ShotResult
    dry : ShotResult or None
    reversals : tuple of Reversal
        Knots and patches that are pulled on the belly, by the shot that does it most.
    when_braced : tuple of str or Sentence
        Where the bow breaks or gives way while it is braced.
    costs : Costs or None
        For the first arrow.
    reshaped : tuple of Reshaped
        What changes of the limbs do, for the only arrow.
    """

    solved: SolvedBow
    work: float
    loss_factor: float
    modes: Modes
    shots: tuple[ShotResult, ...]
    dry: ShotResult | None
    reversals: tuple[Reversal, ...]
    when_braced: tuple[Words, ...]
    costs: Costs | None
    reshaped: tuple[Reshaped, ...]

    @property
    def weight(self) -> float:
        """Draw weight, N."""
        return self.solved.full_draw.draw_force

    @property
    def verdicts(self) -> tuple[Words, ...]:
        """What comes before all: a bow that breaks braced, a string, a dry shot, wood, a knot."""
        return graver(self)

    @property
    def cautions(self) -> tuple[Words, ...]:
        """What the figures warn of."""
        held = () if self.shooting.hand_mass is not None else (HELD,)
        own = (*self.verdicts, *milder(self), *self.solved.warnings)
        return (*own, *held, *LIMITS, *STANDING_CAUTIONS)

    @property
    def shooting(self) -> Shooting:
        """What the case says of the shot."""
        return self.solved.model.setup.shooting

    @property
    def assumptions(self) -> tuple[Words, ...]:
        """What the case does not say of the shot, with what was taken."""
        shooting = self.shooting
        words: list[Words] = []
        if shooting.loss_factor is None and self.loss_factor > 0.0:
            words.append(
                f"[shot] loss_factor: {self.loss_factor:.4f}, the loss tangent of wood bent along "
                "the grain at its moisture (from memory, fair)"
            )
        if shooting.string_loss_factor == 0.0:
            words.append("[shot] string_loss_factor: the string loses nothing to itself")
        if shooting.tip_mass == 0.0:
            words.append("[tips] mass: nothing sits on the tips beside their wood")
        if shooting.serving == 0.0:
            words.append("[string] serving: nothing is wound round the string")
        if self.shots and shooting.shaft_diameter is None:
            words.append(
                Sentence("[arrow] shaft_diameter: {} (common practice)", Length(SHAFT)),
            )
        if self.shots and shooting.drag_coefficient is None:
            words.append(
                f"[arrow] drag_coefficient: {DRAG:g} on the shaft's cross-section, feathers "
                "included: 2.5 to 4 (common practice)"
            )
        if shooting.string_diameter is None:
            words.append("[string] diameter: air drag of the string is left out")
        words.append("air drag of the limbs is left out")
        return tuple(words)

    def to_dict(self) -> dict[str, Any]:
        """Return the results contract: plain numbers and text, with the unit in every key."""
        solved = self.solved
        any_shot = (self.shots or (self.dry,))[0]
        assert any_shot is not None
        zones = zones_of(solved.model.setup.stave)
        told = [_with_zones(one, zones) for one in self.shots]
        one = {"arrow_mass_g": told[0]["arrow_mass_g"], "shot": told[0]} if len(told) == 1 else {}
        given = (*solved.model.setup.assumptions,)
        return {
            "case": solved.model.setup.title,
            **one,
            **({"shots": told} if len(told) > 1 else {}),
            **({} if self.dry is None else {"dry": _with_zones(self.dry, zones)}),
            "full_draw": {
                "draw_weight_N": self.weight,
                "back_strain_max": float(any_shot.strains.back_drawn.max()),
                "belly_strain_max": float(-any_shot.strains.belly_drawn.min()),
            },
            "reversal": [one.to_dict() for one in self.reversals],
            "costs": None if self.costs is None else self.costs.to_dict(),
            "reshaped": [one.to_dict() for one in self.reshaped],
            "frequencies_at_brace_Hz": self.modes.frequency.tolist(),
            "when_braced": [str(words) for words in self.when_braced],
            "cautions": [str(words) for words in self.cautions],
            "assumptions": [*(str(line.words()) for line in given), *map(str, self.assumptions)],
        }

    def rows(self) -> list[Row]:
        """Return a row for every arrow."""
        rows = [one.to_dict() for one in self.shots]
        for row in rows:
            del row["flight"], row["string_lies"], row["clear_wood"]
        return rows


def _with_zones(one: ShotResult, zones: Sequence[Zone]) -> dict[str, Any]:
    return {**one.to_dict(), "at_zones": [at.to_dict() for at in one.at_zones(zones)]}


def _thousand(value: float | None) -> float | None:
    return None if value is None else 1e3 * value
