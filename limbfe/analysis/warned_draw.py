"""What is said of a bow that is drawn without being assessed.

Apart from the assessment, so that the command which only draws need not load the local models.
"""

from __future__ import annotations

from dataclasses import replace

from limbfe.analysis.bow.drawn import DrawnBow
from limbfe.analysis.bow.exercise import exercise
from limbfe.analysis.bow.kept import told_draw
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.hot_spots import find_hot_spots, wood_warnings
from limbfe.analysis.wood.limb_load import drawn_stress
from limbfe.analysis.wood.when_braced import when_braced


def warned_draw(solved: SolvedBow) -> DrawnBow:
    """Return a bow once exercised, with a caution where its clear wood is past its strength."""
    solved = exercise(solved)
    inside, skin = drawn_stress(solved)
    bow = told_draw(solved)
    warnings = wood_warnings(find_hot_spots(solved.model.stations, skin, inside))
    cautions = (*warnings, *bow.cautions)
    return replace(bow, cautions=cautions, when_braced=when_braced(solved))
