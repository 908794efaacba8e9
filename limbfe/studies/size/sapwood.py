"""How thick the sapwood may stay at the tips, and what thinning it there changes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.errors import CaseError, ConvergenceError
from limbfe.frames import Array
from limbfe.rows import Row, flat_row
from limbfe.studies.compare.measures import OUTER, bow_mass
from limbfe.studies.size.recut import check_draw, columns_of, recut
from limbfe.studies.size.trial import draw_trial, unheard
from limbfe.units import IMPERIAL, Length, Sentence, Words
from limbfe.version import __version__

LEFT = (1.0, 0.75, 0.5, 0.25, 0.0)
"""Shares of the sapwood that are left when it is thinned."""
SHARES = (0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.9)
"""Shares of the limb's thickness that are sapwood, when thickness is kept."""

SLACK = 1.005
"""Strength used this little above the limit is the limit: the meshes differ by as much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SapwoodRow:
    """One bow with other sapwood in the outer thirds of its limbs.

    Attributes
    ----------
    share : float
        Of the sapwood there is, or of the limb's thickness.
    sapwood, thickness : float, m
        Mean over the stations of the outer thirds, tips included.
    force : float, N
        Draw weight.
    used_outer, used_inner : float
        Highest strength used in clear wood in the outer thirds, and in the rest.
    mass_outer : float, kg
        Of both outer thirds together.
    """

    share: float
    sapwood: float
    thickness: float
    force: float
    used_outer: float
    used_inner: float
    mass_outer: float

    def to_dict(self) -> dict[str, float]:
        """Return plain numbers with the unit in every key."""
        return {
            "share": self.share,
            "sapwood_mm": self.sapwood * 1e3,
            "thickness_mm": self.thickness * 1e3,
            "draw_weight_N": self.force,
            "draw_weight_lbf": self.force / IMPERIAL.scale("force")[0],
            "strength_used_outer": self.used_outer,
            "strength_used_inner": self.used_inner,
            "mass_outer_g": self.mass_outer * 1e3,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class GivesWay:
    """Tips too thin: the share of the sapwood that is left, how thick that is (m), and what the bow
    does.
    """

    share: float
    sapwood: float
    words: str

    def to_dict(self) -> dict[str, float | str]:
        """Return plain numbers and text with the unit in every key."""
        return {"share": self.share, "sapwood_mm": self.sapwood * 1e3, "why": self.words}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SapwoodStudy:
    """What sapwood does at the tips.

    Attributes
    ----------
    source : Case
    draw_length : float, m
    thinned : tuple of SapwoodRow
        Sapwood taken off the back, the limb thinner by as much; the first as it stands.
    kept : tuple of SapwoodRow
        Other depths of sapwood in limbs of the present thickness.
    limit : float
        Strength used the outer thirds may reach: 1, or what the hardest worked place of the bow
        reaches now.
    may_stay : float or None
        Largest share of the thickness that may be sapwood by that limit; None when no share
        that was tried goes beyond it.
    thin_to : float or None
        Least share of the sapwood that must be left, by that limit, when it is thinned; None when
        all of it may go.
    gives_way : GivesWay or None
        The first bow that cannot be strung or drawn as it is thinned; no thinner one is looked at.
    """

    source: Case
    draw_length: float
    thinned: tuple[SapwoodRow, ...]
    kept: tuple[SapwoodRow, ...]
    limit: float
    may_stay: float | None
    thin_to: float | None
    gives_way: GivesWay | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers and text with the unit in every key."""
        return {
            "case": self.source.title,
            "version": __version__,
            "method": "sapwood",
            "draw_length_mm": self.draw_length * 1e3,
            "thinned": [row.to_dict() for row in self.thinned],
            "same_thickness": [row.to_dict() for row in self.kept],
            "limit_strength_used": self.limit,
            "share_of_thickness_that_may_stay": self.may_stay,
            "share_of_sapwood_to_leave": self.thin_to,
            "gives_way": None if self.gives_way is None else self.gives_way.to_dict(),
        }

    def rows(self) -> list[Row]:
        """Return every bow that was looked at, a row each."""
        return [
            {"way": way, **flat_row(row.to_dict())}
            for way in ("thinned", "kept")
            for row in getattr(self, way)
        ]


def study_sapwood(
    case: Case, draw_length: float | None = None, *, tell: Callable[[Words], None] = unheard
) -> SapwoodStudy:
    """Return what thinning or leaving the sapwood in the outer thirds of the limbs does.

    Parameters
    ----------
    case : Case
    draw_length : float, m, optional
        The case's own when left out.
    tell : callable
        Told in words what is being solved.

    Raises
    ------
    CaseError
        If the case has no sapwood there, or the tips are too thin to go without it.
    ConvergenceError
        If the bow as it stands, or one of its thickness with other sapwood, has no equilibrium.
    """
    length = case.file.draw.length if draw_length is None else draw_length
    check_draw(case, length)
    columns = columns_of(case)
    x, thickness, sapwood = (columns[name] for name in ("station", "thickness", "sapwood"))
    outer = np.abs(x) > OUTER * np.where(x < 0.0, -x[0], x[-1])
    if not np.any(sapwood[outer] > 0.0):
        raise CaseError(
            f"{case.path}: --sapwood: there is no sapwood in the outer thirds of the limbs; give "
            "the column sapwood in [limb.upper] and [limb.lower]"
        )

    def row(share: float, sap: Array, thick: Array) -> SapwoodRow:
        tell(Sentence("sapwood at the tips {} deep", Length(float(sap[outer].mean()))))
        cut = recut(case, {"sapwood": sap, "thickness": thick}, length)
        return _look(cut, outer, share)

    thinned: list[SapwoodRow] = []
    gives_way = None
    for share in LEFT:
        gone = np.where(outer, (1.0 - share) * sapwood, 0.0)
        try:
            thinned.append(row(share, sapwood - gone, thickness - gone))
        except ConvergenceError as error:
            if not thinned:
                raise
            left = float((sapwood - gone)[outer].mean())
            gives_way = GivesWay(share=share, sapwood=left, words=str(error))
            break
    room = thickness - columns["backing"]
    kept = [row(s, np.where(outer, s * room, sapwood), thickness) for s in SHARES]
    limit = SLACK * max(1.0, thinned[0].used_inner, thinned[0].used_outer)
    thin_to = _crossing(thinned, limit)
    if thin_to is None and gives_way is not None:
        thin_to = thinned[-1].share
    return SapwoodStudy(
        source=case,
        draw_length=length,
        thinned=tuple(thinned),
        kept=tuple(kept),
        limit=limit,
        may_stay=_crossing(kept, limit),
        thin_to=thin_to,
        gives_way=gives_way,
    )


def _look(case: Case, outer: NDArray[np.bool_], share: float) -> SapwoodRow:
    trial = draw_trial(build_setup(case), coarse=False)
    columns = columns_of(case)
    ends = columns["station"][[0, -1]]
    far = np.abs(trial.x) > OUTER * np.where(trial.x < 0.0, -ends[0], ends[1])
    return SapwoodRow(
        share=share,
        sapwood=float(columns["sapwood"][outer].mean()),
        thickness=float(columns["thickness"][outer].mean()),
        force=trial.force,
        used_outer=float(trial.used[far].max()),
        used_inner=float(trial.used[~far].max()),
        mass_outer=bow_mass(trial.solved.model)[1],
    )


def _crossing(rows: Sequence[SapwoodRow], limit: float) -> float | None:
    """Return the share at which the outer thirds first pass the limit, None when they do not."""
    if rows[0].used_outer > limit:
        return rows[0].share
    for low, high in pairwise(rows):
        if high.used_outer > limit:
            used = (low.used_outer, high.used_outer)
            return float(np.interp(limit, used, (low.share, high.share)))
    return None
