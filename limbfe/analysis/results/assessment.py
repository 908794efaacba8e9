"""What an assessment hands on: read-only arrays in SI, and the JSON contract."""

from __future__ import annotations

from dataclasses import dataclass
from os import PathLike
from typing import Any

from limbfe.analysis.bow.drawn import DrawnBow, as_list
from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.results.vtu import write_vtu
from limbfe.analysis.wood.draw_limits import BreakingDraw
from limbfe.analysis.wood.hot_spots import HotSpot
from limbfe.analysis.wood.limb_field import LimbField
from limbfe.analysis.wood.stress import SurfaceField
from limbfe.analysis.zones.verdicts import JudgedZone
from limbfe.analysis.zones.zone_verdict import ZoneVerdict
from limbfe.frames import Array
from limbfe.rows import Row, rows_of_columns


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assessment:
    """One bow from rest to full draw, with what the draw does to its wood.

    Attributes
    ----------
    drawn : DrawnBow
    limb : LimbField
    surface : SurfaceField
    hot_spots : tuple of HotSpot, hardest worked first
    judged : tuple of JudgedZone
        Every knot and patch in the order of the case, with the local model of it.
    brace_strength_used : float or None
        The most that clear wood uses of its strength while the bow stays strung, if the case says
        how long.
    clear_limb : BreakingDraw or None
        How far clear wood can be drawn; None where that was not asked, or not found, as a caution
        then says.
    """

    drawn: DrawnBow
    limb: LimbField
    surface: SurfaceField
    hot_spots: tuple[HotSpot, ...]
    judged: tuple[JudgedZone, ...]
    brace_strength_used: float | None = None
    clear_limb: BreakingDraw | None = None

    @property
    def zones(self) -> tuple[ZoneVerdict, ...]:
        """The verdict on every knot and patch."""
        return tuple(zone.result for zone in self.judged)

    @property
    def set_depth(self) -> float:
        """How far the tips stay behind after a night's rest (m), mean of both limbs."""
        kept = self.drawn.kept
        assert kept is not None
        return kept.mean

    @property
    def setup(self) -> BowSetup:
        """The bow and what is done to it."""
        return self.drawn.setup

    def to_dict(self) -> dict[str, Any]:
        """Return the whole contract: JSON-ready lists, numbers and text, units in the keys."""
        limb = self.limb
        return {
            **self.drawn.to_dict(),
            "limb": {
                "station_mm": as_list(limb.x, 1e3),
                "curvature_1_per_m": as_list(limb.curvature),
                "moment_Nm": as_list(limb.moment),
                "back_strain": as_list(limb.back_strain),
                "belly_strain": as_list(limb.belly_strain),
                "strength_used": self._judged(limb.strength_used),
                "residual_curvature_1_per_m": as_list(limb.residual_curvature),
                "yielded_depth_mm": as_list(limb.yielded_depth, 1e3),
            },
            "brace_strength_used": self.brace_strength_used,
            "clear_limb": None if self.clear_limb is None else self.clear_limb.to_dict(),
            "hot_spots": [spot.to_dict() for spot in self.hot_spots],
            "defects": [zone.to_dict() for zone in self.zones],
        }

    def rows(self) -> list[Row]:
        """Return the limb at full draw, a row a station; every zone has a `to_dict` of its own."""
        return rows_of_columns(self.to_dict()["limb"])

    def _judged(self, values: Array) -> list[float | None]:
        """Return values along the limb, None in the stiff grip, whose wood is not judged."""
        bends = self.setup.stave.bends(self.limb.x)
        return [float(value) if here else None for here, value in zip(bends, values, strict=True)]

    def to_vtu(self, path: str | PathLike[str]) -> None:
        """Write the drawn limb with its surface results for other viewers (through meshio)."""
        rest, *_, drawn = self.drawn.poses
        write_vtu(path, self.surface, rest, drawn)
