"""What `lay` answers: layouts, the best first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.case.schema import Case
from limbfe.case.sheet_schema import Sheet
from limbfe.frames import Array
from limbfe.log.fate import KnotFate, Stage
from limbfe.log.laid import LaidLimb
from limbfe.log.line import Line
from limbfe.log.log import Log
from limbfe.rows import Row
from limbfe.stave.stave import Stave
from limbfe.studies.lay.patches import LaidPatch
from limbfe.units import Words
from limbfe.version import __version__


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """One way to lay the bow in the stave.

    Attributes
    ----------
    line : Line
    cost : float
        What the search minimised; once assessed, with the strength used that was found then, that
        of clear wood too.
    laid : LaidLimb
    bow : Stave
        The finished limb: sizes as wanted, the back as the stave has it.
    knots : tuple of KnotFate
        In the order of the sheet.
    patches : tuple of LaidPatch
        What is left of the rot.
    in_edge : tuple of str
        Names of the knots that an edge cuts where the limb is worked: trusted by no bowyer
        (common practice), so that the layout ranks no better than one to watch.
    used : mapping of str to float
        Strength used by every knot and patch that stays, and that of gone knots whose swirl stays.
    verdicts : mapping of str to str
        Of every knot and patch that was assessed.
    gravity : int
        Of the worst of them, 0 for sound.
    worst_used : float
        The largest of those and of clear wood.
    assessed : bool
        Whether the whole bow was drawn and judged; else figures are of the table or a first look.
    draw_weight : float or None, N
    case_text : str
        The complete case, as `laid.toml`.
    problem : str
        Why the case could not be assessed; empty if it could.
    reasons : tuple of Words
    waste : float, m3
        Of the sound wood between the cuts.
    """

    line: Line
    cost: float
    laid: LaidLimb
    bow: Stave
    knots: tuple[KnotFate, ...]
    patches: tuple[LaidPatch, ...]
    in_edge: tuple[str, ...]
    used: dict[str, float]
    verdicts: dict[str, str]
    gravity: int
    worst_used: float
    assessed: bool
    draw_weight: float | None
    case_text: str
    problem: str
    reasons: tuple[Words, ...]
    waste: float

    def to_dict(self, length: float) -> dict[str, Any]:
        """Return the contract; `length` is that of the stave, m."""
        laid, order = self.laid, np.argsort(self.laid.x)
        butt, top = self.line.nocks

        def mm(values: Array) -> list[float]:
            return [round(float(v) * 1e3, 4) for v in values[order]]

        def slope(values: Array) -> list[float]:
            return [round(float(v), 6) for v in np.tan(values[order])]

        return {
            "upper_end": self.line.upper_end,
            "cut_butt_mm": butt * 1e3,
            "cut_top_mm": (length - top) * 1e3,
            "grip_mm": self.line.grip * 1e3,
            "grip_off_line_mm": self.line.grip_off * 1e3,
            "line": {"station_mm": mm(laid.x), "offset_mm": mm(laid.offset)},
            "spare": {
                "station_mm": mm(laid.x),
                "left_mm": mm(laid.left),
                "right_mm": mm(laid.right),
                "depth_mm": mm(laid.depth),
                "width_mm": mm(laid.width),
                "thickness_mm": mm(laid.thickness),
                "left_share": slope(np.arctan(laid.left / laid.width)),
                "right_share": slope(np.arctan(laid.right / laid.width)),
                "depth_share": slope(np.arctan(laid.depth / laid.thickness)),
            },
            "grain_slope": {
                "station_mm": mm(laid.x),
                "sideways": slope(laid.sideways_slope),
                "run_out": slope(laid.run_out),
            },
            "knots": [
                {
                    "name": knot.name,
                    "fate": knot.fate,
                    "gone_at_cut": knot.gone_at or None,
                    "diameter_mm": _mm(knot.diameter),
                    "edge_mm": _mm(knot.edge),
                    "swirl_stays": knot.swirl,
                    "strength_used": self.used.get(knot.name),
                    "verdict": self.verdicts.get(knot.name),
                    "at_cuts": [
                        {
                            "cut": at.stage,
                            "fate": at.fate,
                            "diameter_mm": _mm(at.diameter),
                            "edge_mm": _mm(at.edge),
                        }
                        for at in knot.shown
                    ],
                }
                for knot in self.knots
            ],
            "decay": [
                {
                    "name": patch.name,
                    "face": patch.face,
                    "width_mm": patch.width * 1e3,
                    "depth_mm": patch.depth * 1e3,
                    "strength_used": self.used.get(patch.name),
                    "verdict": self.verdicts.get(patch.name),
                }
                for patch in self.patches
            ],
            "worst_strength_used": self.worst_used,
            "draw_weight_N": self.draw_weight,
            "waste_cm3": self.waste * 1e6,
            "assessed": self.assessed,
            "reasons": [str(reason) for reason in self.reasons],
        }


def _mm(length: float | None) -> float | None:
    return None if length is None else length * 1e3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LaidOut:
    """A stave and the layouts of a bow in it.

    Attributes
    ----------
    sheet : Sheet
    log : Log
    bow : Case
        The wanted bow, sized where a draw weight was asked for.
    wanted : Stave
        Its sizes.
    stages : tuple of Stage
    layouts : tuple of Layout
        The best first.
    assumptions, cautions : tuple of Words
    notes : tuple of str
        Those of the cautions that are of the trial knots.
    """

    sheet: Sheet
    log: Log
    bow: Case
    wanted: Stave
    stages: tuple[Stage, ...]
    layouts: tuple[Layout, ...]
    assumptions: tuple[Words, ...]
    cautions: tuple[Words, ...]
    notes: tuple[str, ...] = ()

    @property
    def best(self) -> Layout:
        """The first layout."""
        return self.layouts[0]

    def to_dict(self) -> dict[str, Any]:
        """Return the whole contract, units in the keys."""
        return {
            "stave": self.sheet.title,
            "version": __version__,
            "layouts": [one.to_dict(self.log.length) for one in self.layouts],
            "assumptions": [str(one) for one in self.assumptions],
            "cautions": [str(one) for one in self.cautions],
        }

    def rows(self) -> list[Row]:
        """Return the best layout station by station, butt to top, m."""
        laid = self.best.laid
        names = ("x", "offset", "left", "right", "depth", "width", "thickness")
        return [
            {f"{name}_m": float(getattr(laid, name)[k]) for name in names}
            for k in np.argsort(laid.x)
        ]
