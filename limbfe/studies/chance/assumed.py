"""Every distribution that `chance` takes for granted, with where it comes from."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from limbfe.analysis.bow.kept import LAW_SPREAD
from limbfe.failure.probability import MODEL_SCATTER, TOUGHNESS_SCATTER
from limbfe.studies.chance.inputs import (
    ALONG,
    ALONG_LENGTH,
    COVS,
    CRUSHING_WITH,
    KNOT_SIZE,
    MOISTURE,
    PATCH_SIZE,
    STRING,
    Inputs,
)
from limbfe.units import Length, Sentence
from limbfe.wood.source import Assumption, Flag, Source
from limbfe.wood.weakest_link import SHAPE
from limbfe.wood.wood import Wood

_JCSS = "Joint Committee on Structural Safety, Probabilistic Model Code, part 3.5 (2006)"
SUBJECT = "what varies"
_CHOICE = Source(text="a choice of this program", flag=Flag.ASSUMED)
_COMMON = Source(text="what is usually met with", flag=Flag.MEMORY_LOW)


def chance_assumptions(wood: Wood, inputs: Inputs) -> Iterator[Assumption]:
    """Yield one line for everything that varies.

    Parameters
    ----------
    wood : Wood
        The heartwood.
    inputs : Inputs
    """
    yield from _strengths(wood)
    yield from _bow(inputs)
    yield Assumption(
        SUBJECT,
        f"the calculation of strength used: lognormal, {MODEL_SCATTER:g}; that of draw weight, set "
        "and arrow speed has no scatter of its own",
        Source(text=_JCSS, flag=Flag.READ),
    )
    yield Assumption(
        SUBJECT,
        "arrow speed: of one arrow, drawn as far as asked by a steady hand; limbs, tips and string "
        "are as heavy as the case's",
        _CHOICE,
    )


def _strengths(wood: Wood) -> Iterator[Assumption]:
    for name in COVS:
        source = wood.cov_sources.get(name, Source(text="given", flag=Flag.GIVEN))
        yield Assumption(
            SUBJECT,
            f"{name.replace('_', ' ')}: lognormal, coefficient of variation "
            f"{wood.strength.cov[name]:.2g}, from stave to stave",
            source,
        )
    yield Assumption(
        SUBJECT,
        f"tension: of that, Weibull's exponent {SHAPE:g} inside a piece (weakest link of all "
        "stretched wood), the rest between pieces",
        Source(
            text="fall of bending strength with depth, ASTM D245; W. Weibull (1939)",
            flag=Flag.MEMORY_FAIR,
        ),
    )
    yield Assumption(
        SUBJECT,
        "correlation of crushing strength with stiffness {:g}, tension {:g}, tension across {:g}, "
        "shear {:g}".format(*CRUSHING_WITH),
        Source(text=f"{_JCSS}; the second read, the others not", flag=Flag.MEMORY_FAIR),
    )
    yield Assumption(
        SUBJECT,
        "the other correlations of strengths and stiffness, and lognormal distributions",
        Source(text=_JCSS, flag=Flag.MEMORY_FAIR),
    )
    yield Assumption(
        SUBJECT,
        f"stress of the belly's plateau over its crushing strength: lognormal, {LAW_SPREAD:g}",
        Source(text="work to maximum load of 22 hardwoods", flag=Flag.DERIVED),
    )
    yield Assumption(
        SUBJECT,
        f"toughness along the grain: lognormal, {TOUGHNESS_SCATTER:g}",
        Source(text="FPL, Wood Handbook", flag=Flag.MEMORY_FAIR),
    )


def _bow(inputs: Inputs) -> Iterator[Assumption]:
    spread = inputs.spread
    yield Assumption(
        SUBJECT,
        Sentence(
            "stiffness along the limbs: normal field, {:.0f} %, belly strength with it, back "
            "strength not; forgets itself over {}",
            100.0 * ALONG,
            Length(ALONG_LENGTH),
        ),
        Source(text=f"size: a choice; length: mean section of {_JCSS}", flag=Flag.ASSUMED),
    )
    if inputs.contrast:
        yield Assumption(
            SUBJECT,
            f"sapwood over heartwood: lognormal, {inputs.contrast:g}",
            _CHOICE,
        )
    yield Assumption(
        SUBJECT,
        Sentence(
            "thickness: normal, {} at every station, and half as much everywhere alike; width: {}",
            Length(spread.calliper),
            Length(spread.tape),
        ),
        Source(text="calliper and tape, unless given with the command", flag=Flag.MEMORY_LOW),
    )
    moist = "; this wood's figures do not follow it" if not np.any(inputs.moist) else ""
    yield Assumption(
        SUBJECT, f"moisture: normal, {100.0 * MOISTURE:g} percentage points{moist}", _COMMON
    )
    yield Assumption(SUBJECT, f"string stiffness: normal logarithm, {STRING:g}", _COMMON)
    yield Assumption(
        SUBJECT,
        Sentence("the archer's draw length: normal, {}", Length(spread.archer)),
        Source(text="unless given with the command", flag=Flag.MEMORY_LOW),
    )
    if len(inputs.sized):
        yield Assumption(
            SUBJECT,
            f"size of a knot inside over what shows: lognormal, {KNOT_SIZE:g}; extent of decay: "
            f"{PATCH_SIZE:g}",
            _CHOICE,
        )
        yield Assumption(
            SUBJECT,
            "stiffness of knots and length of windows: one triangular place in the bands of the "
            "local models, the same for all",
            _CHOICE,
        )
