"""Whether the string holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from limbfe.errors import MaterialError
from limbfe.units import both_forces

if TYPE_CHECKING:
    from limbfe.analysis.solve import SolvedBow

SAFE_STRING = 4.0
"""Breaking force of a string over the draw weight, at the least: common practice, for the shock of
the shot and the wear at nocks and arrow."""


def check_string(solved: SolvedBow) -> None:
    """Refuse a bow whose string breaks before it is drawn.

    Raises
    ------
    MaterialError
        If the straight yarns, which hold more than loops and knots do, break at less than the
        string bears braced or drawn.
    """
    strength = solved.model.setup.string_strength
    if strength is None:
        return
    for state in (solved.braced, *solved.states):
        tension = float(state.string_tension.max())
        if tension > strength:
            when = "when braced"
            if state is not solved.braced:
                when = f"at a draw of {1e3 * state.draw_length:.0f} mm"
            raise MaterialError(
                f"[string]: breaks at {both_forces(strength)} and bears {both_forces(tension)} "
                f"{when}; give it more strands, or a stronger material"
            )


def string_warning(solved: SolvedBow) -> tuple[str, ...]:
    """Return what a string means that is weaker than common practice wants it."""
    strength, weight = solved.model.setup.string_strength, solved.full_draw.draw_force
    if strength is None or strength >= SAFE_STRING * weight:
        return ()
    return (
        f"the string breaks at {both_forces(strength)}, {strength / weight:.1f} times the draw "
        f"weight; common practice wants {SAFE_STRING:.0f} times: give it more strands",
    )
