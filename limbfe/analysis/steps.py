"""The draw step by step with its surface results, for films and sliders."""

from __future__ import annotations

from limbfe.analysis.results import Pose, SurfaceField
from limbfe.analysis.solve import SolvedBow, pose_of
from limbfe.analysis.stress import stress_inside, stress_on_skin, surface_field


def surface_steps(solved: SolvedBow) -> tuple[tuple[Pose, SurfaceField], ...]:
    """Return pose and surface results of every state from brace to full draw."""
    model = solved.model
    steps = []
    for state, plastic in zip((solved.braced, *solved.states), solved.plastic, strict=True):
        strains = state.strains.reshape(-1, 6)
        inside = stress_inside(model, solved.section, strains, plastic)
        skin = stress_on_skin(model, strains, inside)
        name = "braced" if state is solved.braced else "drawn"
        steps.append((pose_of(name, model, state), surface_field(model, skin)))
    return tuple(steps)
