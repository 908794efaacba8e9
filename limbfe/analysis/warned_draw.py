"""What is said of a bow that is drawn without being assessed.

Apart from the assessment, so that the command which only draws need not load the local models.
"""

from __future__ import annotations

from dataclasses import replace

from limbfe.analysis.cautions import wood_warnings
from limbfe.analysis.cycles import drawn_twice
from limbfe.analysis.hot_spots import find_hot_spots
from limbfe.analysis.limb_load import drawn_stress
from limbfe.analysis.results import DrawnBow
from limbfe.analysis.solve import SolvedBow


def warned_draw(solved: SolvedBow) -> DrawnBow:
    """Return a bow drawn twice, with a caution where its clear wood is past its strength."""
    inside, skin = drawn_stress(solved)
    bow = drawn_twice(solved)
    warnings = wood_warnings(find_hot_spots(solved.model, skin, inside))
    return replace(bow, cautions=(*warnings, *bow.cautions))
