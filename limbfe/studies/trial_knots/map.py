"""A map of the knots that a bow bears: table of trial knots, read backwards."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.case.schema import Case
from limbfe.frames import Array
from limbfe.log.layout.allowed import FACES, KnotMap, allowed_knots
from limbfe.rows import Row
from limbfe.studies.tasks.run import Tell
from limbfe.studies.trial_knots.table import ClearBow, draw_clear, tabulate
from limbfe.version import __version__

STATES = ("live", "dead", "missing")
SIZES = (0.12, 0.25, 0.4)
"""Of trial knots over the width."""
ASSUMED = (
    "the bow is taken without its own knots and patches, one knot at a time",
    "a knot on the belly comes from the pith where its depth is given, else goes straight through",
    "no knot is called sound with less than half its diameter of wood beside it: common practice "
    "trusts none in an edge, whatever its figure",
    "trial knots lie where the limb works hardest; elsewhere what they use goes with the strain",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MappedKnots:
    """The map of a case.

    Attributes
    ----------
    clear : ClearBow
    map : KnotMap
    notes : tuple of str
        Trial knots that could not be judged.
    """

    clear: ClearBow
    map: KnotMap
    notes: tuple[str, ...]

    @property
    def title(self) -> str:
        """Of the case."""
        return self.clear.case.title

    @property
    def draw_length(self) -> float:
        """For which the map holds, m."""
        return self.clear.case.file.draw.length

    def to_dict(self) -> dict[str, Any]:
        """Return the contract: millimetres, null in the stiff grip, a row a station."""
        found = self.map
        return {
            "case": self.title,
            "version": __version__,
            "draw_length_mm": self.draw_length * 1e3,
            "station_mm": _mm(found.s),
            "across_share": [round(float(v), 4) for v in found.share],
            "width_mm": _mm(found.width),
            "knots": {
                state: {
                    face: {
                        "sound_mm": [_mm(row) for row in found.allowed[state, face].sound],
                        "unbroken_mm": [_mm(row) for row in found.allowed[state, face].unbroken],
                        "looked_at_mm": _mm(found.allowed[state, face].most[:, 0]),
                    }
                    for face in FACES
                }
                for state in found.states
            },
            "assumptions": list(ASSUMED),
            "cautions": list(self.notes),
        }

    def rows(self) -> list[Row]:
        """Return the middle of the face, a row a station, state and face; m."""
        found, k = self.map, len(self.map.share) // 2
        return [
            {
                "s_m": float(found.s[i]),
                "state": state,
                "face": face,
                "sound_m": float(one.sound[i, k]),
                "unbroken_m": float(one.unbroken[i, k]),
            }
            for (state, face), one in found.allowed.items()
            for i in range(len(found.s))
        ]


def _mm(values: Array) -> list[float | None]:
    return [None if np.isnan(v) else round(float(v) * 1e3, 2) for v in values]


def map_knots(case: Case, *, workers: int | None = 1, tell: Tell | None = None) -> MappedKnots:
    """Return the largest live, dead and missing knots that a bow bears at its draw.

    Parameters
    ----------
    case : Case
        Its own knots and patches are left out.
    workers, tell
        See `limbfe.studies.tasks.run.run_tasks`.

    Raises
    ------
    ConvergenceError
        If the bow cannot be drawn.
    LimbfeError
        If no trial knot of a size can be judged.
    """
    clear = draw_clear(case)
    sizes = dict.fromkeys(STATES, SIZES)
    strength = tabulate(clear, sizes, soundness=True, workers=workers, tell=tell)
    return MappedKnots(clear=clear, map=allowed_knots(clear.stave, strength), notes=strength.notes)
