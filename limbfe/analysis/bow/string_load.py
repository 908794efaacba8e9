"""Whether the string holds."""

from __future__ import annotations

from limbfe.beam import BowState
from limbfe.errors import MaterialError
from limbfe.units import Force, Sentence, Words, both_forces, both_lengths

SAFE_STRING = 4.0
"""Breaking force of a string over the draw weight, at the least: common practice, for the shock of
the shot and the wear at nocks and arrow."""


def check_string(strength: float | None, states: tuple[BowState, ...]) -> None:
    """Refuse a bow whose string breaks before it is drawn.

    Parameters
    ----------
    strength : float or None, N
        Force at which the string breaks; None if not known.
    states : tuple of BowState
        The braced one first.

    Raises
    ------
    MaterialError
        If the straight yarns, which hold more than loops and knots do, break at less than the
        string bears braced or drawn.
    """
    if strength is None:
        return
    for k, state in enumerate(states):
        tension = float(state.string_tension.max())
        if tension > strength:
            when = f"at a draw of {both_lengths(state.draw_length)}" if k else "when braced"
            raise MaterialError(
                f"[string]: breaks at {both_forces(strength)} and bears {both_forces(tension)} "
                f"{when}; give it more strands, or a stronger material"
            )


def string_warning(strength: float | None, weight: float) -> tuple[Words, ...]:
    """Return what a string means that is weaker, for a draw weight, than common practice wants."""
    if strength is None or strength >= SAFE_STRING * weight:
        return ()
    return (
        Sentence(
            "the string breaks at {}, {:.1f} times the draw weight; common practice wants {:.0f} "
            "times: give it more strands",
            Force(strength),
            strength / weight,
            SAFE_STRING,
        ),
    )
