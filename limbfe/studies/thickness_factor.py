"""The one factor on the thickness of a bow's limbs at which a figure of the bow is met.

Newton's method on the logarithms of factor and figure.  For a limb of one wood the draw weight goes
about with the cube of the factor (bending theory), the mass with the factor itself, and so does the
strain of a curve of given shape; such a power starts the search, the slope between the last two
solved bows carries it on.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

from limbfe.errors import ConvergenceError, LimbfeError

CUBE = 3.0
"""Power of the thickness with which the draw weight goes."""
LARGEST = 2.5
"""Times the first factor, or its inverse, beyond which a bow is another bow."""
LONGEST_STEP = 0.3
"""Of the factor's logarithm."""
SMALLEST_STEP = 2e-3
FLATTEST, STEEPEST = 0.3, 9.0
"""Powers that the slope between two bows is held within."""
MOST_BOWS = 15

Bow = TypeVar("Bow")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Aim(Generic[Bow]):
    """What is searched for.

    Attributes
    ----------
    solve : callable
        From a factor to the bow that has it.
    gap : callable
        From a bow to the logarithm of its figure over the wanted one.
    words : callable
        From such a gap to the figure in words, for messages; 0 is the wanted one.
    within : float
        Gap that counts as none.
    """

    solve: Callable[[float], Bow]
    gap: Callable[[Bow], float]
    words: Callable[[float], str]
    within: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Met(Generic[Bow]):
    """A bow that meets the figure, its factor, and the power of it the figure went with last."""

    bow: Bow
    factor: float
    power: float


def find_factor(aim: Aim[Bow], factor: float, power: float) -> Met[Bow]:
    """Return the bow that meets a figure.

    Parameters
    ----------
    aim : Aim
    factor : float
        To begin with.
    power : float
        Of the factor, with which the figure goes there.

    Raises
    ------
    LimbfeError
        What the solver says of the bow at the first factor.
    ConvergenceError
        If the search ends elsewhere; says what stands in the way and the nearest figure reached.
        A later bow that cannot be solved is a barrier, which is come nearer to by halves.
    """
    bow = aim.solve(factor)
    first = at = math.log(factor)
    gap = aim.gap(bow)
    barrier, reason = math.inf, ""
    for _ in range(MOST_BOWS):
        if abs(gap) < aim.within:
            return Met(bow=bow, factor=math.exp(at), power=power)
        step = max(min(-gap / power, LONGEST_STEP), -LONGEST_STEP)
        if (barrier - at) * step > 0.0 and abs(step) > 0.5 * abs(barrier - at):
            step = 0.5 * (barrier - at)
            if abs(step) < SMALLEST_STEP:
                break
        if abs(at + step - first) > math.log(LARGEST):
            reason = f"more than {LARGEST:g} times or less than 1/{LARGEST:g} of what it began with"
            reason += " would be another bow"
            break
        try:
            bow = aim.solve(math.exp(at + step))
        except LimbfeError as error:
            barrier, reason = at + step, str(error)
            continue
        before, gap = gap, aim.gap(bow)
        at += step
        power = min(max((gap - before) / step, FLATTEST), STEEPEST)
    raise ConvergenceError(
        f"no factor on the thickness gives {aim.words(0.0)}; the nearest reached is "
        f"{aim.words(gap)}, {math.exp(at):.3f} times as thick, because "
        f"{reason or 'the search did not settle'}"
    )
