"""Readings of draw force and of where the limbs stand, in SI and checked against the bow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from limbfe.analysis.bow.setup import BowSetup
from limbfe.case.messages import nearest
from limbfe.errors import CaseError
from limbfe.frames import Array
from limbfe.stave.profile import shape_at
from limbfe.studies.fit.table import LOGGED, Row
from limbfe.units import Force, Length, Sentence, Words, both_lengths

What = Literal["force", "position"]

BRACED = "braced"
FORCE_SCATTER = (0.01, 1.0)
"""Scatter of a force that the readings do not give: share of the largest reading, least (N)."""
POSITION_SCATTER = 0.002
"""Scatter of a position that the readings do not give, m."""
FEWEST = 3
STRONGEST = 1500.0
"""N; several times the heaviest bow that anybody draws: a larger force has the wrong unit."""
FURTHEST = 0.55
"""Share of the bow's length beyond which no string lets it be drawn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One number that was read off the tiller (SI).

    Attributes
    ----------
    line : int
        Of the file, counted from 1.
    what : {"force", "position"}
    draw_length : float or None, m
        None for the braced bow.
    x : float, m
        Station of a position, negative on the lower limb; not a number for a force.
    value, scatter : float, N or m
        A position is how far the limb's back lies towards the archer, along the pull, from the
        back at the middle of the grip.  The scatter is one standard deviation.
    """

    line: int
    what: What
    draw_length: float | None
    x: float
    value: float
    scatter: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """Everything that was read of one bow.

    Attributes
    ----------
    file : str
    rows : tuple of Reading
        In the order of the file.
    assumptions : tuple of str or Sentence
        What the file did not say.
    """

    file: str
    rows: tuple[Reading, ...]
    assumptions: tuple[Words, ...]

    @property
    def value(self) -> Array:
        """The numbers read, shape (r,), N and m."""
        return np.array([row.value for row in self.rows])

    @property
    def scatter(self) -> Array:
        """Their standard deviations, shape (r,)."""
        return np.array([row.scatter for row in self.rows])


def readings_of(rows: Sequence[Row], setup: BowSetup, file: str) -> Readings:
    """Return the readings in some rows, however few; a row of the log's own columns holds none.

    Raises
    ------
    CaseError
        Naming the line, for readings that cannot be read or cannot be of this bow.
    """
    found: list[Reading] = []
    last = 0.0
    largest = max(
        (force for row in rows if (force := row.number("draw_force")) is not None), default=0.0
    )
    for row in rows:
        if row.words.keys() <= LOGGED and row.words.keys() > {"date"}:
            continue
        drawn = _draw_length(row, setup)
        if drawn is not None and drawn < last - 1e-9:
            raise CaseError(
                f"{row.where('draw_length')}: is shorter than the one above it; sort the rows by "
                "draw length: is a digit missing?"
            )
        last = last if drawn is None else drawn
        new = [*_force(row, drawn, largest), *_positions(row, drawn, setup)]
        if not new:
            raise CaseError(
                f"{row.file}: line {row.line}: holds no reading; give a draw_force, a tip or a "
                "position, or take the line out"
            )
        found += new
    return Readings(file=file, rows=tuple(found), assumptions=_assumed(rows, largest))


def forces_at(draw_lengths: Array) -> Readings:
    """Return readings of the force at draw lengths, shape (k,), to ask a model for them."""
    rows = (
        Reading(line=0, what="force", draw_length=float(d), x=float("nan"), value=0.0, scatter=1.0)
        for d in draw_lengths
    )
    return Readings(file="", rows=tuple(rows), assumptions=())


def _draw_length(row: Row, setup: BowSetup) -> float | None:
    """Return how far the bow is drawn, None for braced."""
    word = row.words.get("draw_length")
    if word is None:
        raise CaseError(
            f"{row.file}: line {row.line}: has no draw_length; give how far the bow was drawn, or "
            f"the word {BRACED}"
        )
    if word.isalpha():
        if word.lower() == BRACED:
            _check_brace(row, setup)
            return None
        raise CaseError(f"{row.where('draw_length')}: must be a number or the word {BRACED}")
    drawn = row.number("draw_length")
    assert drawn is not None
    grip = float(shape_at(setup.stave, [0.0]).thickness[0])
    length = float(setup.stave.x[-1] - setup.stave.x[0])
    brace = setup.stringing.brace_height
    if brace is not None and drawn < brace + grip - 1e-6:
        raise CaseError(
            f"{row.where('draw_length')}: the braced string already stands "
            f"{both_lengths(brace + grip)} from the back of the grip (brace height and "
            "thickness there); draw lengths are measured from the back"
        )
    if not 0.0 < drawn <= FURTHEST * length:
        raise CaseError(
            f"{row.where('draw_length')}: no bow of {both_lengths(length)} is drawn that far; "
            "is the unit right?"
        )
    return drawn


def _check_brace(row: Row, setup: BowSetup) -> None:
    if setup.stringing.brace_height is None:
        raise CaseError(
            f"{row.where('draw_length')}: the case gives the string's length, so its brace height "
            "is not known; measure it and give it as [string] brace_height"
        )


def _force(row: Row, drawn: float | None, largest: float) -> list[Reading]:
    force, scatter = row.number("draw_force"), row.number("force_scatter")
    if force is None:
        if scatter is not None:
            raise CaseError(f"{row.where('force_scatter')}: has no draw_force beside it")
        return []
    if drawn is None:
        raise CaseError(
            f"{row.where('draw_force')}: a braced bow is not pulled; leave the force empty"
        )
    if not 0.0 < force <= STRONGEST:
        reason = (
            "a pull is above zero" if force <= 0.0 else "no bow pulls that hard; is the unit right?"
        )
        raise CaseError(f"{row.where('draw_force')}: {reason}")
    share, least = FORCE_SCATTER
    own = (
        max(share * largest, least) if scatter is None else _positive(row, "force_scatter", scatter)
    )
    return [
        Reading(
            line=row.line, what="force", draw_length=drawn, x=float("nan"), value=force, scatter=own
        )
    ]


def _positions(row: Row, drawn: float | None, setup: BowSetup) -> list[Reading]:
    scatter = row.number("position_scatter")
    own = POSITION_SCATTER if scatter is None else _positive(row, "position_scatter", scatter)
    ends = {"lower_tip": float(setup.stave.x[0]), "upper_tip": float(setup.stave.x[-1])}
    read = [(name, x, value) for name, x in ends.items() if (value := row.number(name)) is not None]
    value = row.number("position")
    if value is not None:
        read.append(("position", _station(row, setup), value))
    elif row.words.keys() & {"limb", "at"}:
        raise CaseError(f"{row.file}: line {row.line}: has limb or at, but no position there")
    if scatter is not None and not read:
        raise CaseError(f"{row.where('position_scatter')}: has no position beside it")
    for name, x, value in read:
        if abs(value) > abs(x):
            raise CaseError(
                f"{row.where(name)}: that place is only {both_lengths(abs(x))} from the middle of "
                "the grip and cannot lie further from it; positions are measured along the pull, "
                "from the back at the grip"
            )
    return [
        Reading(line=row.line, what="position", draw_length=drawn, x=x, value=value, scatter=own)
        for _, x, value in read
    ]


def _station(row: Row, setup: BowSetup) -> float:
    limb = row.words.get("limb", "")
    if limb.lower() not in ("upper", "lower"):
        close = nearest(limb, ("upper", "lower"))
        hint = f'did you mean "{close}"?' if close else "must be upper or lower"
        raise CaseError(f"{row.where('limb')}: {hint}")
    at = row.number("at")
    if at is None:
        raise CaseError(
            f"{row.where('at')}: a position needs how far along the limb it was read, "
            "from the middle of the grip"
        )
    upper = limb.lower() == "upper"
    end = float(setup.stave.x[-1] if upper else -setup.stave.x[0])
    if at > end + 1e-9:
        raise CaseError(
            f"{row.where('at')}: the {limb.lower()} limb ends at {both_lengths(end)}; stations "
            "are measured along the back from the middle of the grip"
        )
    if at <= max(setup.stave.half_grip, 1e-3):
        raise CaseError(
            f"{row.where('at')}: lies in the grip, which does not bend; read beyond "
            f"{both_lengths(setup.stave.half_grip)}"
        )
    return at if upper else -at


def _positive(row: Row, name: str, value: float) -> float:
    if not value > 0.0:
        raise CaseError(f"{row.where(name)}: must be above zero; leave it empty if not known")
    return value


def _assumed(rows: Sequence[Row], largest: float) -> tuple[Words, ...]:
    """Return a line for each scatter that some row does not give."""
    said: list[Words] = []
    share, least = FORCE_SCATTER
    if any("draw_force" in row.words and "force_scatter" not in row.words for row in rows):
        said.append(
            Sentence(
                "scatter of the forces {} where none is given: {:.0%} of the largest [assumed]",
                Force(max(share * largest, least)),
                share,
            )
        )
    places = {"upper_tip", "lower_tip", "position"}
    if any(row.words.keys() & places and "position_scatter" not in row.words for row in rows):
        said.append(
            Sentence(
                "scatter of the positions {} where none is given [assumed]",
                Length(POSITION_SCATTER),
            )
        )
    return tuple(said)


def too_few(readings: Readings) -> bool:
    """Return whether readings hold too little to be fitted."""
    return len(readings.rows) < FEWEST or not any(row.what == "force" for row in readings.rows)


def check_enough(readings: Readings) -> None:
    """Refuse readings that cannot be fitted, for `too_few` says so without a reason.

    Raises
    ------
    CaseError
    """
    if not any(row.what == "force" for row in readings.rows):
        raise CaseError(
            f"{readings.file}: holds no draw_force; where the limbs stand at a given draw says how "
            "stiff one place is beside another, but nothing of how stiff they are: weigh one draw "
            "at least"
        )
    if len(readings.rows) < FEWEST:
        raise CaseError(
            f"{readings.file}: holds {len(readings.rows)} readings; at least {FEWEST} are needed "
            "to tell scatter from stiffness"
        )
