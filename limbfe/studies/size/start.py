"""Where the search for a thickness begins: near the wanted bow, not at the blank.

A rough blank may be so stiff that it cannot be braced at all; what it would draw is of no use to
anybody.  Thinner bows of the same outline can be braced, and the cube law leads on from the first
of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.errors import ConvergenceError
from limbfe.studies.size.blank import Blank
from limbfe.studies.size.out_of_reach import check_reach
from limbfe.studies.size.recut import recut
from limbfe.studies.size.trial import Trial, draw_trial
from limbfe.studies.thickness_factor import CUBE
from limbfe.units import Words

THINNER = 0.8
"""From a bow that cannot be solved to the next that is tried: half as stiff."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Start:
    """The bow as it stands, and a first guess.

    Attributes
    ----------
    present : Trial or None
        None where the bow as it stands cannot be braced and drawn.
    factor : float
        On every thickness that is sought, by the cube law.
    """

    present: Trial | None
    factor: float


def find_start(
    case: Case,
    blank: Blank,
    weight: float,
    draw_length: float,
    tell: Callable[[Words], None],
) -> Start:
    """Return a factor on the thickness that gives a weight roughly.

    Parameters
    ----------
    case : Case
    blank : Blank
    weight : float, N
        Wanted at `draw_length`.
    draw_length : float, m
    tell : callable
        Told in words what is being solved.

    Raises
    ------
    CaseError
        If the weight is nothing like the bow's own.
    ConvergenceError
        If no bow of this outline can be braced and drawn, however thin: what the solver says of
        the bow as it stands.
    """
    present = None
    least = float((blank.least / blank.present)[blank.free].max(initial=0.0))
    factor, reason = 1.0, None
    while True:
        thickness = np.where(blank.free, factor * blank.present, blank.start)
        now = recut(case, {} if factor == 1.0 else {"thickness": thickness}, draw_length)
        try:
            trial = draw_trial(build_setup(now), coarse=factor != 1.0)
        except ConvergenceError as error:
            reason = reason or error
            factor *= THINNER
            if factor < least:
                raise reason from None
            tell(f"sizing: too stiff to be drawn so far; {factor:.2f} times as thick")
            continue
        if factor == 1.0:
            present = trial
            check_reach(weight, trial.force)
        return Start(present=present, factor=factor * (weight / trial.force) ** (1.0 / CUBE))
