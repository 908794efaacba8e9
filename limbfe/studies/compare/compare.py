"""Several bows brought to one draw weight, mass or peak strain, and judged by the same figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.shot.speed import arrow_speed
from limbfe.analysis.wood.when_braced import when_braced
from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.errors import CaseError, ConvergenceError
from limbfe.frames import read_only
from limbfe.rows import Row, flat_row
from limbfe.stave.profile import shape_at
from limbfe.studies.compare.compared import ComparedBow, LeftOut, Target
from limbfe.studies.compare.measures import BowMeasures, bow_measures, stored_energy
from limbfe.studies.compare.ranking import best_bows, summary
from limbfe.studies.compare.scaling import Figure, figure_of, scale_to
from limbfe.studies.compare.slip import Slip, slip_of_the_tool
from limbfe.studies.tasks.run import TaskFailure, Tell, run_tasks
from limbfe.version import __version__

OUTLINE = 61
"""Points of the upper limb's silhouette."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """What a comparison found.

    Attributes
    ----------
    target : Target
    bows : tuple of ComparedBow
    left_out : tuple of LeftOut
    best : mapping of str to tuple of int
        Numbers of the best bows at each figure in which the bows differ.
    summary : tuple of str
        Which is best at what, in sentences.
    notes : tuple of str
        What makes the bows unlike in more than their taper.
    """

    target: Target
    bows: tuple[ComparedBow, ...]
    left_out: tuple[LeftOut, ...]
    best: Mapping[str, tuple[int, ...]]
    summary: tuple[str, ...]
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the comparison as plain numbers and text, with the unit in every key."""
        return {
            "version": __version__,
            "equal": self.target.figure,
            "target": self.target.words(),
            "bows": [bow.to_dict() for bow in self.bows],
            "left_out": [asdict(one) for one in self.left_out],
            "best": {name: list(numbers) for name, numbers in self.best.items()},
            "summary": list(self.summary),
            "notes": list(self.notes),
        }

    def rows(self) -> list[Row]:
        """Return the bows, a row each."""
        return [flat_row(bow.to_dict()) for bow in self.bows]


def compare_bows(
    cases: Sequence[Case],
    target: Target,
    *,
    workers: int | None = None,
    executor: Executor | None = None,
    journal: Path | None = None,
    tell: Tell | None = None,
) -> Comparison:
    """Bring bows to one figure and return what each is like there.

    Parameters
    ----------
    cases : sequence of Case, two or more
    target : Target
    workers, executor, journal, tell
        See `limbfe.studies.tasks.run.run_tasks`; they do not change the result.

    Raises
    ------
    CaseError
        If there are fewer than two cases.
    ConvergenceError
        If none can be brought to the figure; carries the first one's reason.
    """
    if len(cases) < 2:
        raise CaseError("compare: needs at least two cases; give more case files")
    found = run_tasks(
        _compared,
        {f"{k + 1}": (case, target) for k, case in enumerate(cases)},
        study=f"compare {target} {' '.join(case.digest for case in cases)}",
        workers=workers,
        executor=executor,
        journal=journal,
        tell=tell,
    )
    bows, left_out = [], []
    for number, (case, result) in enumerate(zip(cases, found.values(), strict=True), start=1):
        about = {"number": number, "name": case.path.stem, "title": case.title}
        if isinstance(result, TaskFailure):
            left_out.append(LeftOut(**about, reason=result.message))  # type: ignore[arg-type]
        else:
            bows.append(_bow(about, result))
    if not bows:
        first = left_out[0]
        raise ConvergenceError(
            f"compare: no bow is left, {target.words()}; the first, {first.name}: {first.reason}"
        )
    best = best_bows(bows, target)
    return Comparison(
        target=target,
        bows=tuple(bows),
        left_out=tuple(left_out),
        best=best,
        summary=tuple(summary(bows, best)),
        notes=(*_past_strength(bows), *_notes(cases)),
    )


def figure_of_case(case: Case, figure: Figure) -> Target:
    """Return the target that one bow sets as it stands.

    Raises
    ------
    LimbfeError
        If it cannot be drawn.
    """
    solved = exercised_bow(build_setup(case), beyond=False)
    return Target(figure=figure, value=figure_of(solved, figure))


def _compared(item: tuple[Case, Target]) -> dict[str, Any]:
    """Bring one bow to the figure and measure it; a task of `run_tasks`."""
    case, target = item
    setup, factor = build_setup(case), 1.0
    solved: SolvedBow
    if target.figure is None:
        solved = exercised_bow(setup, beyond=False)
    else:
        scaled = scale_to(setup, **{target.figure: target.value})
        solved, factor = scaled.solved, scaled.factor
    stave = solved.model.setup.stave
    x = np.linspace(0.0, stave.x[-1], OUTLINE)
    shapes = shape_at(stave, x)
    return {
        "factor": factor,
        "measures": asdict(bow_measures(solved)),
        "stored": stored_energy(solved),
        "speed": arrow_speed(solved),
        "slip": asdict(slip_of_the_tool(solved)),
        "when_braced": [str(one) for one in when_braced(solved)],
        "outline": [x.tolist(), shapes.width.tolist(), shapes.thickness.tolist()],
    }


def _bow(about: dict[str, Any], result: dict[str, Any]) -> ComparedBow:
    x, width, thickness = (read_only(values) for values in result["outline"])
    return ComparedBow(
        **about,
        factor=result["factor"],
        measures=BowMeasures(**result["measures"]),
        stored=result["stored"],
        speed=result["speed"],
        slip=Slip(**result["slip"]),
        when_braced=tuple(result["when_braced"]),
        x=x,
        width=width,
        thickness=thickness,
    )


def _past_strength(bows: Sequence[ComparedBow]) -> tuple[str, ...]:
    worked = [bow for bow in bows if bow.measures.strength_used > 1.0]
    if not worked:
        return ()
    numbers = ", ".join(str(bow.number) for bow in worked)
    most = max(bow.measures.strength_used for bow in worked)
    return (
        f"past the strength of their wood at full draw: {numbers} (up to {most:.0%}); expect "
        "crushing or a break, whatever they are best at",
    )


def _notes(cases: Sequence[Case]) -> tuple[str, ...]:
    files = [case.file for case in cases]
    notes = []
    if len({round(file.draw.length, 6) for file in files}) > 1:
        notes.append("the bows are drawn to different lengths, each to its own")
    if len({repr(file.wood) for file in files}) > 1:
        notes.append("the bows are not of the same wood")
    if any(file.knot or file.decay for file in files):
        notes.append("knots and decay weaken their bows here but are not judged; assess them")
    return tuple(notes)
