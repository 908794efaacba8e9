"""Everything one analysis needs to know: the stave, how it is strung, held and drawn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from limbfe.stave.stave import Stave
from limbfe.wood.duration import HELD
from limbfe.wood.source import Assumption

LEAST_BRACE = 0.04
"""Below this brace height (m) the string lies at the hand and the line of pull has no direction."""

HoldKind = Literal["hand", "clamp", "tiller"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stringing:
    """The string and how it braces the bow.

    Attributes
    ----------
    stiffness : float, N
        Axial stiffness EA.
    mass : float, kg
    nock_offset : float, m
        How far towards the back the string acts from mid-thickness at the nocks.
    brace_height : float or None, m
        From the belly at the middle of the grip to the string; None when `length` is given.
    length : float or None, m
        Unstretched; None when `brace_height` is given.
    strength : float or None, N
        Force at which the straight yarns break; None if not known.
    strung : float or None, s
        How long the bow stays strung, for the strength used at brace; None if not asked.
    """

    stiffness: float
    mass: float
    nock_offset: float
    brace_height: float | None
    length: float | None
    strength: float | None = None
    strung: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Holding:
    """How the grip is held, and where the arrow passes; places along the bow (m).

    Attributes
    ----------
    kind : {"hand", "clamp", "tiller"}
    hand_at, arrow_at : float, m
        Where the hand presses, and where the arrow passes.
    """

    kind: HoldKind
    hand_at: float
    arrow_at: float

    @property
    def at(self) -> float:
        """Where the bow is held (m): where the hand presses, else mid-grip."""
        return self.hand_at if self.kind == "hand" else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """How far the bow is drawn.

    Attributes
    ----------
    length : float, m
        From the back at the middle of the grip to the string.
    steps : int
        Number of states from brace to full draw.
    held : float, s
        How long full draw is held; the stave's strengths hold for it.
    """

    length: float
    steps: int
    held: float = HELD


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Analysis:
    """How finely the bow is computed.

    Attributes
    ----------
    elements_per_limb : int
        Beam elements in each limb.
    fineness : float
        Multiplies the number of section elements in each direction.  At 0.75, what a case takes
        when it gives none, torsion stiffness is within 1.4e-4, at 1 within 5e-5, at 0.5 within 7e-4
        (rectangles, against the series of Saint-Venant).
    """

    elements_per_limb: int
    fineness: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shooting:
    """What is shot, and what the shot loses.

    Attributes
    ----------
    arrow : float or None, kg
        None where no arrow is given.
    shaft_diameter, arrow_length : float or None, m
    drag_coefficient : float or None
        Of the flying arrow, on the shaft's cross-section.
    tip_mass, serving : float, kg
        Of each nock's overlay, and of what is wound round the string where the arrow sits.
    loss_factor : float or None
        Of the wood along the grain, at any frequency; None for that of the wood's table.
    string_loss_factor : float
        Of the string, at the slowest vibration of the braced bow; it grows with the frequency.
    string_diameter : float or None, m
        For its drag in the air; None leaves that out.
    hand_mass, hand_stiffness : float or None, kg, N/m
        What moves with the grip, and the arm behind it; None for a grip held fast.
    """

    arrow: float | None = None
    shaft_diameter: float | None = None
    arrow_length: float | None = None
    drag_coefficient: float | None = None
    tip_mass: float = 0.0
    serving: float = 0.0
    loss_factor: float | None = None
    string_loss_factor: float = 0.0
    string_diameter: float | None = None
    hand_mass: float | None = None
    hand_stiffness: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BowSetup:
    """One bow and what is done to it, in SI units.

    Attributes
    ----------
    title, question : str
        What the case is called and what it asks.
    assumptions : tuple of Assumption
        One line for every value the case did not give, with where it came from.
    stave : Stave
        The wood and where it is.
    stringing : Stringing
    holding : Holding
    drawing : Drawing
    analysis : Analysis
    shooting : Shooting
    """

    title: str
    question: str
    assumptions: tuple[Assumption, ...]
    stave: Stave
    stringing: Stringing
    holding: Holding
    drawing: Drawing
    analysis: Analysis
    shooting: Shooting = Shooting()


def adjust(setup: BowSetup, **changes: Any) -> BowSetup:
    """Return a setup with other values; a mapping changes the named fields of its group.

    ``adjust(setup, stave=other, drawing={"steps": 6})``
    """
    for name, change in changes.items():
        if isinstance(change, Mapping):
            changes[name] = replace(getattr(setup, name), **change)
    return replace(setup, **changes)
