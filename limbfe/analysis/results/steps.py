"""The draw step by step with its surface results, for films and sliders."""

from __future__ import annotations

from limbfe.analysis.bow.drawn import Pose
from limbfe.analysis.bow.solve import SolvedBow, pose_of
from limbfe.analysis.wood.stress import SurfaceField, surface_field
from limbfe.analysis.wood.stretched import worked_wood


def surface_steps(solved: SolvedBow) -> tuple[tuple[Pose, SurfaceField], ...]:
    """Return pose and surface results of every state from brace to full draw."""
    model = solved.model
    steps = []
    for state, plastic in zip((solved.braced, *solved.states), solved.plastic, strict=True):
        strains = state.strains.reshape(-1, 6)
        skin, _ = worked_wood(model.stations, solved.section, strains, plastic)
        name = "braced" if state is solved.braced else "drawn"
        steps.append((pose_of(name, model, state), surface_field(model.stations, skin)))
    return tuple(steps)
