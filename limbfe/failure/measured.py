"""What pieces with knots kept of their bending load when they were broken.

Norway spruce from Graubuenden, 1,678 planed lamellae of 100 by 30 mm broken in bending, the widest
knot on either face over the width, breaking load over that of clear pieces of the same density
(lukas1spl, Sawn-Timber-Lamellae-Analysis, data of 2024/25; ratios derived from the raw data).
Where along the piece the knot lies is not known, so the means are upper bounds; state and number of
the knots are mixed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SHARE = np.array([0.0, 0.05, 0.078, 0.13, 0.179, 0.228, 0.278, 0.329, 0.378, 0.45, 0.54, 0.74])
MEAN = np.array([1.0, 0.983, 0.970, 0.909, 0.883, 0.833, 0.768, 0.732, 0.707, 0.620, 0.584, 0.593])
DEVIATION = np.array(
    [0.119, 0.120, 0.127, 0.123, 0.133, 0.138, 0.167, 0.167, 0.175, 0.197, 0.233, 0.258]
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """Load that measured pieces with such knots kept, over that of clear ones.

    Attributes
    ----------
    share : float
        Width of the knot over that of the limb.
    mean, deviation : float
        Of the pieces' ratios; the deviation holds that of clear pieces.
    drilled : bool
        Whether it is an empty drilled hole, which counts as a knot twice as wide.
    """

    share: float
    mean: float
    deviation: float
    drilled: bool = False

    @property
    def extra(self) -> float:
        """Coefficient of variation that the knots add to that of clear pieces."""
        clear = DEVIATION[0] / MEAN[0]
        return float(np.sqrt(max((self.deviation / self.mean) ** 2 - clear**2, 0.0)))


def kept_by_measured(share: float, *, drilled: bool = False) -> Kept:
    """Return what measured pieces kept with knots of that share of the width.

    Straight between the classes of the source; wider than its widest as that.  An empty drilled
    hole counts as a knot twice as wide.
    """
    as_wide = 2.0 * share if drilled else share
    return Kept(
        share=share,
        mean=float(np.interp(as_wide, SHARE, MEAN)),
        deviation=float(np.interp(as_wide, SHARE, DEVIATION)),
        drilled=drilled,
    )
