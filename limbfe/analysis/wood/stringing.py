"""Getting the string on: what it takes at the tips, and how low and high it can be done."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from limbfe.analysis.bow.model import LimbModel, build_model
from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.string_lies import lying_string, slip_words
from limbfe.analysis.bow.yielding import brace_with_yield, yielding_sections
from limbfe.analysis.wood.when_braced import look_at_zones, past_strength
from limbfe.beam import BowState, force_to_string
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.rows import Row
from limbfe.section.yielding.inelastic import FibreSection
from limbfe.units import Words

STEPS = 5
"""Heights told between the lowest and the highest."""
APART = 0.02
"""First step up or down from the wanted height, as a share of it; doubled from step to step."""
CLOSE = 2e-4
"""The lowest and the highest height are found to this, m."""
MOST = 0.5
"""Heights are looked for up to this share of the bow's length."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strung:
    """A bow strung for the first time.

    Attributes
    ----------
    brace_height, string_length : float, m
    tension : float, N
    force : float or None, N
        Pull on each tip, towards the archer, that lets the string slip on; None if not found.
    lies : (float, float), m
        How much of the string lies on the lower and the upper limb.
    """

    brace_height: float
    string_length: float
    tension: float
    force: float | None
    lies: tuple[float, float]

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        return {
            "brace_height_mm": 1e3 * self.brace_height,
            "string_length_mm": 1e3 * self.string_length,
            "string_tension_N": self.tension,
            "force_to_string_N": self.force,
            "string_lies_mm": {"upper": 1e3 * self.lies[1], "lower": 1e3 * self.lies[0]},
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StringingOn:
    """How a bow can be strung.

    Attributes
    ----------
    wanted : Strung
        To the case's brace height, or the one asked for.
    heights : tuple of Strung
        From the lowest height at which a string stays on, to the highest the wood bears.
    too_low, too_high : str, Sentence or None
        What is wrong below and above these; None where nothing is as far as was looked.
    cautions : tuple of str or Sentence
    """

    wanted: Strung
    heights: tuple[Strung, ...]
    too_low: Words | None
    too_high: Words | None
    cautions: tuple[Words, ...]

    @property
    def span(self) -> tuple[float, float]:
        """The lowest and the highest brace height, m."""
        return self.heights[0].brace_height, self.heights[-1].brace_height

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        low, high = self.span
        return {
            **self.wanted.to_dict(),
            "lowest_brace_height_mm": 1e3 * low,
            "highest_brace_height_mm": 1e3 * high,
            "below_lowest": None if self.too_low is None else str(self.too_low),
            "above_highest": None if self.too_high is None else str(self.too_high),
            "heights": [one.to_dict() for one in self.heights],
            "cautions": [str(words) for words in self.cautions],
        }

    def rows(self) -> list[Row]:
        """Return a row a height."""
        rows = [one.to_dict() for one in self.heights]
        for row in rows:
            lies = row.pop("string_lies_mm")
            row["lies_upper_mm"], row["lies_lower_mm"] = lies["upper"], lies["lower"]
        return rows


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Bow:
    """A model to be braced anew, with the law of its sections."""

    setup: BowSetup
    model: LimbModel
    section: FibreSection

    def at(self, height: float | None) -> tuple[BowState | None, Words | None]:
        """Return the bow braced to a height, None where it stands in none, and what is wrong."""
        stringing = self.setup.stringing
        if height is not None:
            stringing = replace(stringing, brace_height=height, length=None)
        try:
            braced, pressed, _ = brace_with_yield(self.model.bow, stringing, self.section)
        except (ConvergenceError, GeometryError) as error:
            return None, str(error)
        if float(braced.string_tension.min()) <= 0.0:
            return None, "the string hangs loose"
        wrong = past_strength(self.model, self.section, braced, pressed.plastic)
        return braced, wrong[0] if wrong else None

    def strung(self, state: BowState) -> Strung:
        length = float(state.string_lengths.sum())
        return Strung(
            brace_height=state.brace_height,
            string_length=length,
            tension=float(state.string_tension.mean()),
            force=force_to_string(self.model.bow, length),
            lies=(float(state.string_lies[0]), float(state.string_lies[1])),
        )


def string_on(setup: BowSetup, height: float | None = None) -> StringingOn:
    """Return what it takes to string a bow for the first time, and how low and high it can be.

    Parameters
    ----------
    setup : BowSetup
    height : float, m, optional
        Brace height in place of the case's.

    Raises
    ------
    ConvergenceError
        If it cannot be strung as asked; says why.
    """
    model = build_model(setup)
    bow = _Bow(setup=setup, model=model, section=yielding_sections(model.stations))
    wanted, wrong = bow.at(height)
    if wanted is None:
        raise ConvergenceError(f"pull --string: {wrong}")
    at = wanted.brace_height
    most = MOST * bow.model.bow.model.size
    low, too_low = _last(bow, at, -1.0, 0.0, sound=False)
    # a bow that breaks as it is strung to the wanted height has its highest below that
    high, too_high = _last(bow, at if wrong is None else low, 1.0, most, sound=True)
    heights = [bow.at(float(one))[0] for one in np.linspace(low, high, STEPS + 2)]
    strung = tuple(bow.strung(one) for one in heights if one is not None)
    cautions = (*look_at_zones(setup), *slip_words(lying_string(model, wanted, ())))
    return StringingOn(
        wanted=bow.strung(wanted),
        heights=strung,
        too_low=too_low,
        too_high=too_high,
        cautions=(*(() if wrong is None else (wrong,)), *cautions, *_stringer()),
    )


def _stringer() -> tuple[Words, ...]:
    return (
        "the wood counts as elastic while the string is slipped on, and the tips are pulled square "
        "to the unstrung bow; a stringer's own cord runs at an angle, and asks for more",
    )


def _last(
    bow: _Bow, start: float, sign: float, end: float, *, sound: bool
) -> tuple[float, Words | None]:
    """Return the last height, up or down from one that stands, at which the bow does, and why not
    beyond it; with its wood `sound` too."""
    good, step, bad = start, APART * start, end
    why: Words | None = None

    def stands(state: BowState | None, wrong: Words | None) -> bool:
        return state is not None and not (sound and wrong)

    while sign * (end - good) > CLOSE:
        at = good + sign * min(step, abs(end - good))
        state, wrong = bow.at(at)
        if not stands(state, wrong):
            bad, why = at, wrong or why
            break
        good, step = at, 2.0 * step
    else:
        return good, why
    while abs(bad - good) > CLOSE:
        at = 0.5 * (bad + good)
        state, wrong = bow.at(at)
        if stands(state, wrong):
            good = at
        else:
            bad, why = at, wrong or why
    return good, why
