"""Everything one analysis needs to know: the stave, how it is strung, held and drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from limbfe.stave.stave import Stave

LEAST_BRACE = 0.04
"""Below this brace height (m) the string lies at the hand and the line of pull has no direction."""

HoldKind = Literal["hand", "clamp", "tiller"]
CompressionLaw = Literal["bilinear", "plastic", "glos"]
"""How wood is crushed along the grain: straight to the proportional limit, more softly to the
crushing strength, then level; straight to the crushing strength, then level; or the softening curve
of Glos, which bends from the start."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BowSetup:
    """One bow and what is done to it, in SI units.

    Attributes
    ----------
    title, question : str
        What the case is called and what it asks.
    stave : Stave
        The wood and where it is.
    string_stiffness : float
        Axial stiffness EA of the string (N).
    string_mass : float
        Mass of the string (kg).
    nock_offset : float
        How far towards the back the string acts from mid-thickness at the nocks (m).
    brace_height : float or None
        From the belly at the middle of the grip to the string (m); None when `string_length`
        is given.
    string_length : float or None
        Unstretched length of the string (m); None when `brace_height` is given.
    hold : {"hand", "clamp", "tiller"}
        How the grip is held.
    hand_at, arrow_at : float
        Where the hand presses and where the arrow passes, along the bow (m).
    draw_length : float
        From the back at the middle of the grip to the string (m).
    draw_steps : int
        Number of states from brace to full draw.
    elements_per_limb : int
        Beam elements in each limb.
    fineness : float
        Multiplies the number of section elements in each direction.  At 0.75, what a case takes
        when it gives none, torsion stiffness is within 1.4e-4, at 1 within 5e-5, at 0.5 within 7e-4
        (rectangles, against the series of Saint-Venant).
    assumptions : tuple of str
        One line for every value the case did not give, with where it came from.
    compression_law : {"bilinear", "plastic", "glos"}
    held : float or None
        How long full draw is held (s); the stave's strengths hold for it.  None: for a test of
        some minutes.
    strung : float or None
        How long the bow stays strung (s), for the strength used at brace; None if not asked.
    string_strength : float or None
        Force at which the string's straight yarns break (N); None if not known.
    """

    title: str
    question: str
    stave: Stave
    string_stiffness: float
    string_mass: float
    nock_offset: float
    brace_height: float | None
    string_length: float | None
    hold: HoldKind
    hand_at: float
    arrow_at: float
    draw_length: float
    draw_steps: int
    elements_per_limb: int
    fineness: float
    assumptions: tuple[str, ...]
    compression_law: CompressionLaw = "bilinear"
    held: float | None = None
    strung: float | None = None
    string_strength: float | None = None
