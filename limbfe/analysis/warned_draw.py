"""What is said of a bow that is drawn without being assessed.

Apart from the assessment, so that the command which only draws need not load the local models.
"""

from __future__ import annotations

from dataclasses import replace

from limbfe.analysis.cautions import wood_warnings
from limbfe.analysis.cycles import drawn_twice
from limbfe.analysis.hot_spots import find_hot_spots
from limbfe.analysis.results import DrawnBow
from limbfe.analysis.solve import SolvedBow
from limbfe.analysis.stress import stress_inside, stress_on_skin


def warned_draw(solved: SolvedBow) -> DrawnBow:
    """Return a bow drawn twice, with a caution where its clear wood is past its strength."""
    strains = solved.full_draw.strains.reshape(-1, 6)
    inside = stress_inside(solved.model, solved.section, strains, solved.plastic[-1])
    skin = stress_on_skin(solved.model, strains, inside)
    bow = drawn_twice(solved)
    warnings = wood_warnings(find_hot_spots(solved.model, skin, inside))
    return replace(bow, cautions=(*warnings, *bow.cautions))
