"""The whole line for one bow: solve, recover stress, find hot spots, judge defects."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from limbfe.analysis.bow.drawn import DrawnBow
from limbfe.analysis.bow.exercise import exercise
from limbfe.analysis.bow.kept import told_draw
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.results.assessment import Assessment
from limbfe.analysis.results.assumed import model_assumptions, stretched_assumption
from limbfe.analysis.wood.draw_limits import breaking_draw
from limbfe.analysis.wood.hot_spots import HotSpot, find_hot_spots, wood_warnings
from limbfe.analysis.wood.known_draws import known_draws
from limbfe.analysis.wood.limb_field import brace_strength_used, limb_field
from limbfe.analysis.wood.limb_load import limb_load
from limbfe.analysis.wood.stress import surface_field
from limbfe.analysis.wood.when_braced import when_braced
from limbfe.analysis.zones.verdicts import JudgedZone, judge_among, judge_zones
from limbfe.analysis.zones.zone_verdict import ZoneVerdict
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.stave.named_zones import find_zone
from limbfe.units import Words

Tell = Callable[[Words], None]
Found = Callable[[DrawnBow | HotSpot | ZoneVerdict], None]


def assess_solved(
    solved: SolvedBow, *, tell: Tell = lambda words: None, found: Found = lambda one: None
) -> Assessment:
    """Judge a bow that has been solved.

    Parameters
    ----------
    solved : SolvedBow
        A first pull is exercised first.
    tell : callable, optional
        Told in words what is being done.
    found : callable, optional
        Handed what is known as soon as it is: the drawn bow, its hardest worked clear wood, and
        every verdict once nothing can change it any more.

    Raises
    ------
    GeometryError
        If the wood round a knot or patch cannot be meshed.
    ConvergenceError
        If an advised change cannot be drawn.
    """
    tell("exercising the bow")
    solved = exercise(solved)
    model = solved.model
    load = limb_load(solved)
    drawn = replace(told_draw(solved), when_braced=when_braced(solved))
    found(drawn)
    hot_spots = find_hot_spots(model.stations, load.skin, load.inside)
    for spot in hot_spots[:1]:
        found(spot)
    cautions = (*wood_warnings(hot_spots), *drawn.cautions)
    clear = None
    tell("drawing on until clear wood breaks")
    try:
        clear = breaking_draw(solved)
    except ConvergenceError as error:
        cautions = (f"how far clear wood could be drawn was not found: {error}", *cautions)
    return Assessment(
        drawn=replace(
            drawn,
            cautions=cautions,
            assumptions=(
                *drawn.assumptions,
                stretched_assumption(load.skin.size),
                *model_assumptions(model.setup.stave),
            ),
        ),
        limb=limb_field(solved, load),
        surface=surface_field(model.stations, load.skin),
        hot_spots=hot_spots,
        judged=judge_zones(model, load, known_draws(solved), tell=tell, found=found),
        brace_strength_used=brace_strength_used(solved),
        clear_limb=clear,
    )


def look_at_zone(solved: SolvedBow, name: str) -> JudgedZone:
    """Judge one knot or patch.

    Raises
    ------
    CaseError
        If there is no zone of that name.
    GeometryError
        If nothing of it is left in the limb.
    """
    solved = exercise(solved)
    model = solved.model
    zone = find_zone(model.setup.stave, name)
    judged = judge_among(model, limb_load(solved), known_draws(solved), zone)
    if judged.local is None:
        raise GeometryError(
            f"{zone.label}: nothing of it is left in the limb; there is no local model to show"
        )
    return judged
