"""Many bows: compared, varied, or drawn to try a rule on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from limbfe.api.given import File, Value, Values, as_case, worker_count
from limbfe.case.values import above_zero, draw_length, values_of
from limbfe.errors import CaseError

if TYPE_CHECKING:
    from limbfe.case.schema import Case
    from limbfe.studies.chance.results import Chance
    from limbfe.studies.compare.compare import Comparison
    from limbfe.studies.rules.study import RulesStudy
    from limbfe.studies.sweep.moisture import MoistureSweep
    from limbfe.studies.sweep.zone import Sweep
    from limbfe.studies.tasks.run import Tell
    from limbfe.studies.trial_knots.map import MappedKnots


def compare(
    cases: Iterable[Case | File],
    *,
    draw_weight: Value | None = None,
    equal: Literal["weight", "mass", "strain", "nothing"] = "weight",
    workers: int | None = 1,
    cluster: str | None = None,
    journal: File | None = None,
    tell: Tell | None = None,
) -> Comparison:
    """Bring several bows to one draw weight, mass or peak strain, and say which is best at what.

    Parameters
    ----------
    cases : iterable of Case or path, two or more
    draw_weight : float, N, or text, optional
    equal : {"weight", "mass", "strain", "nothing"}
        What is made equal, by one factor on the thickness of each, at the first bow's.
    workers : int, optional
        Processes; None for one a core, which a script may ask for under
        ``if __name__ == "__main__"`` only.
    cluster : str, optional
        Address of a dask scheduler, such as ``"tcp://node1:8786"``, whose workers compute instead.
    journal : path, optional
        Keeps finished bows, to go on when stopped.
    tell : callable, optional
        Told after every bow how many of how many are done.

    Examples
    --------
    >>> pair = ["cases/tapers/parallel_linear.toml", "cases/tapers/convex_circular.toml"]
    >>> found = compare(pair, draw_weight="35 lbf")
    >>> [f"{bow.measures.draw_weight:.1f}" for bow in found.bows]
    ['155.7', '155.7']
    """
    from limbfe.studies.compare.compare import compare_bows, figure_of_case
    from limbfe.studies.compare.compared import Target
    from limbfe.studies.tasks.cluster import cluster_executor

    weight = above_zero("draw_weight", draw_weight, "draw weight")
    if weight is not None and equal != "weight":
        raise CaseError(
            f'equal = "{equal}": stands beside draw_weight, which makes the weight equal; keep one'
        )
    figures: dict[str, Any] = {"weight": "draw_weight", "mass": "mass", "strain": "strain"}
    if equal not in (*figures, "nothing"):
        raise CaseError(f'equal = "{equal}": must be weight, mass, strain or nothing')
    read = [as_case(case) for case in cases]
    if len(read) < 2:
        raise CaseError("compare: needs at least two cases; add another")
    if equal == "nothing":
        target = Target(figure=None)
    elif weight is not None:
        target = Target(figure="draw_weight", value=weight)
    else:
        target = figure_of_case(read[0], figures[equal])
    kept = None if journal is None else Path(journal)
    count = worker_count(workers)
    with cluster_executor(cluster) as executor:
        return compare_bows(read, target, workers=count, executor=executor, journal=kept, tell=tell)


def sweep(
    case: Case | File,
    name: str | None = None,
    *,
    workers: int | None = 1,
    cluster: str | None = None,
    tell: Tell | None = None,
    **ranges: Values,
) -> Sweep | MoistureSweep:
    """Judge one knot or patch over one or two ranges, or draw the bow drier and damper.

    Parameters
    ----------
    name : str
        Of the knot or patch; left out with `moisture`.
    workers, cluster, tell
        As for `compare`.
    **ranges
        ``diameter`` and ``across`` of a knot, ``length``, ``width``, ``depth`` and ``across`` of a
        patch, ``draw``: metres, or text such as ``"4:20:4 mm"``.  Or ``moisture``: fractions, or
        text such as ``"6:14:2 %"``.

    Returns
    -------
    Sweep or MoistureSweep

    Examples
    --------
    >>> found = sweep("cases/ash_flatbow.toml", moisture=[0.08, 0.12])
    >>> drier, damper = found.column("draw_weight")
    >>> bool(drier > damper)
    True
    """
    if "moisture" in ranges:
        if name is not None or len(ranges) > 1:
            raise CaseError("moisture: sweeps the whole bow; leave out name and other ranges")
        return sweep_moisture(case, ranges["moisture"], workers=workers, cluster=cluster, tell=tell)
    if name is None:
        raise CaseError("sweep: which knot or decay? give its name, or moisture for the whole bow")
    return sweep_zone(case, name, ranges, workers=workers, cluster=cluster, tell=tell)


def sweep_zone(
    case: Case | File,
    name: str,
    ranges: Mapping[str, Values],
    *,
    workers: int | None = 1,
    cluster: str | None = None,
    tell: Tell | None = None,
) -> Sweep:
    """Judge one knot or patch over its ranges; see `sweep`."""
    from limbfe.studies.sweep.zone import Axis
    from limbfe.studies.sweep.zone import sweep_zone as run
    from limbfe.studies.tasks.cluster import cluster_executor

    axes = tuple(
        Axis(name=axis, values=values_of(axis, given, "length")) for axis, given in ranges.items()
    )
    read, count = as_case(case), worker_count(workers)
    with cluster_executor(cluster) as executor:
        return run(read, name, axes, workers=count, executor=executor, tell=tell)


def sweep_moisture(
    case: Case | File,
    moisture: Values,
    *,
    workers: int | None = 1,
    cluster: str | None = None,
    tell: Tell | None = None,
) -> MoistureSweep:
    """Draw the bow with its woods at every moisture; see `sweep`."""
    from limbfe.studies.sweep.moisture import sweep_moisture as run
    from limbfe.studies.tasks.cluster import cluster_executor

    values = values_of("moisture", moisture, "fraction")
    read, count = as_case(case), worker_count(workers)
    with cluster_executor(cluster) as executor:
        return run(read, values, workers=count, executor=executor, tell=tell)


def rules(
    names: str | Sequence[str] = (),
    *,
    bows: int | None = None,
    workers: int | None = 1,
    cluster: str | None = None,
    journal: File | None = None,
    tell: Tell | None = None,
) -> RulesStudy:
    """Try rules of thumb, each on many bows.

    Parameters
    ----------
    names : str or sequence of str
        All of them when left out.
    bows : int, optional
        30 when left out; 4 for a first look.
    workers, cluster, journal, tell
        As for `compare`.
    """
    from limbfe.studies.rules.study import DEFAULT_BOWS, find_rules, run_rules
    from limbfe.studies.tasks.cluster import cluster_executor

    count = DEFAULT_BOWS if bows is None else bows
    if count < 1:
        raise CaseError(f"bows {count}: must be at least 1")
    wanted = find_rules((names,) if isinstance(names, str) else names)
    kept = None if journal is None else Path(journal)
    processes = worker_count(workers)
    with cluster_executor(cluster) as executor:
        return run_rules(
            wanted, bows=count, workers=processes, executor=executor, journal=kept, tell=tell
        )


def chance(
    case: Case | File,
    *,
    held: Value | None = None,
    workers: int | None = 1,
    cluster: str | None = None,
    journal: File | None = None,
    tell: Tell | None = None,
    **options: Value | File | None,
) -> Chance:
    """Say how likely a bow of this wood holds, what it draws, and what to measure next.

    Parameters
    ----------
    case : Case or path
    held : float, m, or text, optional
        A draw that the bow has borne without harm; the chances are then those of such bows.
    workers, cluster, journal, tell
        As for `compare`.
    **options
        ``samples``, quick bows (40,000); ``bows``, those drawn in full, through which the quick
        ones are found (128); ``seed`` (0), which gives the same figures, however many processes
        there are.  ``calliper``, ``tape``, ``archer``: metres, or text with a unit, standard
        deviations of a measured thickness (0.2 mm), a measured width (0.5 mm) and the archer's
        draw (6 mm).  ``scatter``: factor on every spread; 0 gives the bow of the case.
        ``local``: of so many bows (0) the knots and patches are judged on local models of their
        own as well, not by tables: `found.local`.
        ``readings``: path of what was read of this bow on the tiller, as `fit` takes it, with its
        ``hold`` and ``first_pull``; everything is then told given these.

    Returns
    -------
    Chance

    Raises
    ------
    CaseError
        If an option is unknown, or a value does not fit the bow.
    ConvergenceError
        If the bow, or most of those its wood may make, cannot be drawn.
    GeometryError
        If a knot or patch has no local model.
    MaterialError
        If the spreads of the wood contradict each other.
    """
    from limbfe.studies.chance.asked import asked_for
    from limbfe.studies.chance.study import chance_of
    from limbfe.studies.tasks.cluster import cluster_executor

    asked = asked_for(draw_length("held", held), options)
    kept = None if journal is None else Path(journal)
    read, count = as_case(case), worker_count(workers)
    with cluster_executor(cluster) as executor:
        return chance_of(read, asked, workers=count, executor=executor, journal=kept, tell=tell)


def knot_map(
    case: Case | File, *, workers: int | None = 1, tell: Tell | None = None
) -> MappedKnots:
    """Find the largest live, dead and missing knot that a bow bears, everywhere on back and belly.

    Parameters
    ----------
    case : Case or path
        Its own knots and patches are left out.
    workers : int, optional
        Processes; None for one a core, which a script may ask for under
        ``if __name__ == "__main__"`` only.
    tell : callable, optional
        Told after every bow of trial knots how many of how many are done.

    Returns
    -------
    MappedKnots
        `map.allowed["live", "back"].sound`: m, a row a station, from the right edge to the left.

    Raises
    ------
    ConvergenceError
        If the bow cannot be drawn.
    """
    from limbfe.studies.trial_knots.map import map_knots

    return map_knots(as_case(case), workers=worker_count(workers), tell=tell)
