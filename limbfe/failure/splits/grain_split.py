"""A followed split: the ways it may go, and its state at any load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from limbfe.failure.splits.criterion import Split
from limbfe.frames import Array

Course = Literal["none", "stays short", "runs along", "runs out"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line on which the wood may split, to both ends of the zone alike.

    Attributes
    ----------
    start : float, m
        Where it leaves the zone, from the zone's middle along the limb.
    side : float, m
        Place across the limb, from the middle of the strip.
    room : float, m
        Length up to which it runs through wood of its own; infinite past the end of the panel.
    meets : str
        What lies there, in words.
    """

    start: float
    side: float
    room: float = np.inf
    meets: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """One way to split: on some of the lines, the others holding.

    Attributes
    ----------
    split : Split
    lines : tuple of int
    mix : float, rad
        Share of opening and sliding where it is hardest to drive: 0 opening, pi/2 sliding.
    fibres : ndarray, shape (k,)
        Greatest stress of the fibres at the split's lengths over that without a split.
    """

    split: Split
    lines: tuple[int, ...]
    mix: float
    fibres: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GrainSplit:
    """A split along the grain beside a zone; loads in units of the judged one.

    Attributes
    ----------
    ways : tuple of Way
        On all its lines together and on each alone.  A split on one side only cuts no strip free:
        it may be the first to start, but it stops.
    joint : Split or None
        Of the joint between a live knot and the wood.
    short : float, m
        Length up to which it counts as short.
    lines : tuple of Line
    at_edge : bool
        Whether it is that of a sliver at an edge, whose energy no measured piece stands behind.
    """

    ways: tuple[Way, ...]
    joint: Split | None
    short: float
    lines: tuple[Line, ...]
    at_edge: bool = False

    @property
    def start(self) -> float:
        """Load at which a crack is first to be seen: in the wood or at the joint."""
        # the wood at the end of a knot that holds is not yet pulled apart
        return self._first if self.joint is None else max(self.joint.start, 0.0)

    @property
    def opens(self) -> float:
        """Load at which the wood itself splits."""
        return self._first if self.joint is None else max(self._first, self.joint.start)

    @property
    def _first(self) -> float:
        return min(way.split.start for way in self.ways)

    @property
    def leading(self) -> Way:
        """The way that is the first to be longer than short."""
        return min(self.ways, key=self._runs)

    @property
    def run(self) -> float:
        """Load at which it is longer than short."""
        return self._runs(self.leading)

    def _runs(self, way: Way) -> float:
        lengths = way.split.length
        held = way.split.need[(lengths >= way.split.start_length) & (lengths <= self.short)]
        return float(max(self.opens, way.split.start, held.max(initial=0.0)))

    def _at(self, load: float) -> tuple[Way, float]:
        """The way that is longest at a load, and its length."""
        if load < self.opens:
            return self.ways[0], 0.0
        lengths = [way.split.length_at(load) for way in self.ways]
        k = int(np.argmax(lengths))
        return self.ways[k], lengths[k]

    def length_at(self, load: float) -> float:
        """Return the length in the wood at a load, m."""
        return self._at(load)[1]

    def split_lines(self, load: float) -> tuple[tuple[Line, float], ...]:
        """Return the lines that are split at a load, and how far (m)."""
        found = []
        for k, line in enumerate(self.lines):
            of = [way.split.length_at(load) for way in self.ways if k in way.lines]
            if load >= self.opens and max(of) > 0.0:
                found.append((line, min(max(of), line.room)))
        return tuple(found)

    def meets_at(self, load: float) -> str:
        """Return in words what a split has met at a load; empty where nothing."""
        met = [line.meets for line, far in self.split_lines(load) if far >= line.room]
        return met[0] if met else ""

    def fibres_at(self, load: float) -> float:
        """Return the greatest stress of the fibres in its state at a load over that without it.

        Wood that a long split has set free is not credited: more than that of a short one is no
        measured piece's (splits that run are verdict enough).
        """
        way, length = self._at(load)
        at = np.concatenate([[0.0], way.split.length])
        level = np.concatenate([[1.0], way.fibres])
        here = float(np.interp(min(length, self.short), at, level))
        return max(here, float(np.interp(length, at, level)))

    def course_at(self, load: float) -> Course:
        """Return in a word how far it has come at a load."""
        length = self.length_at(load)
        ends = [way.split.end * (1.0 - 1e-9) for way in self.ways]
        far = [way.split.length_at(load) for way in self.ways]
        if length > 0.0 and any(one >= end for one, end in zip(far, ends, strict=True)):
            return "runs out"
        if length > self.short:
            return "runs along"
        return "stays short" if load >= min(self.start, self.opens) else "none"
