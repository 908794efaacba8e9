"""What a bow is sized to."""

from __future__ import annotations

from dataclasses import dataclass

LARGEST_ALLOWANCE = 0.1
"""A blank thicker (m) than its case by more than this is a slip of the pen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A draw weight, and the wood there is for it.

    Attributes
    ----------
    weight : float, N
        At `draw_length`.
    draw_length : float, m
    allowance : float, m
        How much thicker the blank still is than the case says.
    tip : float, m, optional
        No station becomes thinner, where strength used is to be even.  When left out, the tips
        keep the thickness they have, and no station becomes thinner than the thinnest is; stiff
        tips, thicker than the limb, are left alone.  Of a rough blank the tips come off with the
        rest.
    """

    weight: float
    draw_length: float
    allowance: float = 0.0
    tip: float | None = None
