"""The string on the limbs through a shot: where it comes down, and how much of it lies there."""

from __future__ import annotations

from dataclasses import dataclass

from limbfe.beam.shot.shoot import Shot

SEEN = 1e-6
"""Less of the string than this (m) does not count as lying on a limb."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LyingInShot:
    """The string on one limb in a shot.

    Attributes
    ----------
    since : float, s
        Since the release, when it first lies there; 0 where it does at full draw.
    at_leaving : float or None, m
        How much of it does as the arrow leaves.
    most, most_at : float, m, s
        The most of it that ever does, and when.
    """

    since: float
    at_leaving: float | None
    most: float
    most_at: float

    def to_dict(self) -> dict[str, float | None]:
        """Return the contract's part."""
        return {
            "from_ms": 1e3 * self.since,
            "at_leaving_mm": None if self.at_leaving is None else 1e3 * self.at_leaving,
            "most_mm": 1e3 * self.most,
            "most_at_ms": 1e3 * self.most_at,
        }


def lying_in_shot(shot: Shot) -> tuple[LyingInShot | None, LyingInShot | None]:
    """Return what lies on the lower and the upper limb; None where the string never does."""
    lower, upper = (_one(shot, limb) for limb in range(2))
    return lower, upper


def _one(shot: Shot, limb: int) -> LyingInShot | None:
    lies = shot.touching[:, limb]
    if not (lies > SEEN).any():
        return None
    k = int(lies.argmax())
    return LyingInShot(
        since=float(shot.time[int((lies > SEEN).argmax())]),
        at_leaving=None if shot.left is None else float(lies[shot.left]),
        most=float(lies[k]),
        most_at=float(shot.time[k]),
    )
