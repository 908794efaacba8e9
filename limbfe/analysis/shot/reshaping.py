"""What a change of the limbs' shape does to the arrow: tips narrower, thinner, more reflex."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.shot.speed import arrow_speed
from limbfe.errors import LimbfeError
from limbfe.stave.reshape import reshaped
from limbfe.stave.stave import Stave
from limbfe.units import Length, Sentence, Words

OFF, REFLEX = 25.4e-3 / 32.0, 25.4e-3 * 3.0 / 8.0
"""What is taken off the tips (1/32 in, 0.8 mm) and added to their reflex (3/8 in, 9.5 mm), m."""
OUTER = 2.0 / 3.0
"""Share of a limb beyond which wood is taken off, more and more towards the nock."""
STEPS, ELEMENTS, FINENESS = 8, 8, 0.5
"""Of a bow that is only compared with another, at the most: the changes of speed are within a
hundredth of those with 12 elements a limb and a fineness of 0.75, those of weight within two."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reshaped:
    """One change of the limbs.

    Attributes
    ----------
    words : Words
    speed : float or None, m/s
        Change of the arrow's speed; None where such a bow cannot be drawn.
    weight : float or None, N
        Change of the draw weight.
    """

    words: Words
    speed: float | None
    weight: float | None

    def to_dict(self) -> dict[str, str | float | None]:
        """Return the contract's part."""
        return {
            "change": str(self.words),
            "speed_m_per_s": self.speed,
            "draw_weight_N": self.weight,
        }


def reshaping(setup: BowSetup, arrow: float) -> tuple[Reshaped, ...]:
    """Return what small changes of the limbs do to the speed of an arrow (kg) and to the weight.

    Each is drawn and exercised anew, as far and at the same brace height.
    """
    quick = adjust(
        setup,
        drawing={"steps": STEPS},
        analysis={
            "elements_per_limb": min(setup.analysis.elements_per_limb, ELEMENTS),
            "fineness": min(setup.analysis.fineness, FINENESS),
        },
    )
    speed, weight = _shot(quick, arrow)
    found = []
    for words, stave in _changes(setup.stave):
        try:
            other = _shot(replace(quick, stave=stave), arrow)
        except LimbfeError:
            found.append(Reshaped(words=words, speed=None, weight=None))
            continue
        found.append(Reshaped(words=words, speed=other[0] - speed, weight=other[1] - weight))
    return tuple(found)


def _shot(setup: BowSetup, arrow: float) -> tuple[float, float]:
    bow = exercised_bow(setup, beyond=False)
    return arrow_speed(bow, arrow), float(bow.full_draw.draw_force)


def _changes(stave: Stave) -> list[tuple[Words, Stave]]:
    """Return staves with a little less or more, where there is that much to take."""
    share = np.where(stave.x >= 0.0, stave.x / stave.x[-1], stave.x / stave.x[0])
    off = OFF * np.clip((share - OUTER) / (1.0 - OUTER), 0.0, 1.0)
    tip = "tips {} {}, nothing at two thirds of the limb"
    changes: list[tuple[Words, Stave]] = []
    if float((stave.width - off).min()) > 0.5 * float(stave.width.min()):
        narrow = reshaped(stave, width=stave.width - off)
        changes.append((Sentence(tip, Length(OFF), "narrower"), narrow))
    if float((stave.thickness - off).min()) > 0.5 * float(stave.thickness.min()):
        thin = reshaped(stave, thickness=stave.thickness - off)
        changes.append((Sentence(tip, Length(OFF), "thinner"), thin))
    bent = replace(stave, reflex=stave.reflex + REFLEX * share**2)
    changes.append((Sentence("{} more reflex at the tips", Length(REFLEX)), bent))
    return changes
