"""What every drawn bow must be read with; what a large set and unknown wood mean."""

from __future__ import annotations

import numpy as np

from limbfe.analysis.bow.drawn import KeptSet
from limbfe.analysis.bow.setup import BowSetup
from limbfe.stave.stave import Stave
from limbfe.units import Length, Quantity, Sentence, Words
from limbfe.wood.toughness import toughness_notes

STANDING_CAUTIONS = (
    "Every verdict is an estimate from typical strengths of clear wood; your wood may be weaker. "
    "Where local rules or an experienced bowyer say otherwise, follow them.",
    "Wear eye protection whenever the bow is bent, and keep everyone, yourself included, out of "
    "line with the limbs.",
    "Never draw further than the bow has already been exercised to, and go up in small steps.",
    "Never let go of a drawn string without an arrow on it.",
    "The dust of some woods, yew and black locust among them, is toxic: wear a mask.",
)


LARGE_SET = 0.05
"""String follow (m) from which a belly counts as overworked: two inches, common practice."""


BRACED = (0.1016, 0.2286)
"""Brace heights (m) of ordinary bows, 4 to 9 inches: common practice."""
PULLED = 0.2032
"""m from brace to full draw, eight inches, below which no bow is drawn: common practice."""
SHORTEST = 0.3556
"""m from grip to nock: fourteen inches, that of a child's bow; common practice."""


def unusual(setup: BowSetup, brace_height: float, length: float) -> tuple[Words, ...]:
    """Return what is so far from practice that the number or its unit may be a slip.

    Parameters
    ----------
    setup : BowSetup
    brace_height, length : float, m
        From belly to string when braced, and from back to string at full draw.
    """
    said: list[Words] = []
    least, most = BRACED
    if not least <= brace_height <= most:
        said.append(
            Sentence(
                "a brace height of {} is unusual: common practice is {} to {}; check the number "
                "and its unit",
                Length(brace_height),
                Length(least),
                Length(most),
            )
        )
    thickness = float(np.interp(0.0, setup.stave.x, setup.stave.thickness))
    if length - thickness - brace_height < PULLED:
        said.append(
            Sentence(
                "full draw at {} is only {} beyond brace; check the draw length, which counts from "
                "the back of the grip",
                Length(length),
                Length(length - thickness - brace_height),
            )
        )
    limb = float(min(-setup.stave.x[0], setup.stave.x[-1]))
    if limb < SHORTEST:
        said.append(
            Sentence(
                "a limb of {} from grip to nock is unusually short; stations count from the middle "
                "of the grip: check the numbers and their unit",
                Length(limb),
            )
        )
    return tuple(said)


def set_warning(kept: KeptSet) -> tuple[Words, ...]:
    """Return what a large set means, if the bow keeps one."""
    mean = kept.mean
    if mean < LARGE_SET:
        return ()
    return (
        Sentence(
            "the limbs keep a set of {}; from about {} on common practice takes the belly for "
            "worked too hard: draw less, or make the limbs wider and thinner, or longer",
            Quantity("rough length", mean),
            Quantity("rough length", LARGE_SET),
        ),
    )


def contradicting_wood(stave: Stave) -> tuple[Words, ...]:
    """Return which strengths and toughnesses of a case contradict each other."""
    woods = (stave.heartwood, stave.sapwood_wood, stave.backing_wood)
    told = (words for wood in woods if wood is not None for words in toughness_notes(wood))
    return tuple(dict.fromkeys(told))


def unmeasured_wood(stave: Stave) -> tuple[str, ...]:
    """Return which woods stand in by their density only."""
    woods = (stave.heartwood, stave.sapwood_wood, stave.backing_wood)
    names = dict.fromkeys(str(w.species) for w in woods if w is not None and w.by_density)
    return tuple(
        f"no figures of {name} were found: stiffness and strengths are those of an average wood as "
        "dense, so draw weight and verdicts are rough; measure E_L on an offcut and give it"
        for name in names
    )
