"""The full assessment of laid bows, shared out so that no process waits for the last of them."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from pathlib import Path
from typing import Any

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.wood.limb_field import limb_field
from limbfe.analysis.wood.limb_load import limb_load
from limbfe.analysis.zones.unadvised import zones_used
from limbfe.case.build import build_setup
from limbfe.case.load import case_of
from limbfe.studies.tasks.run import TaskFailure, Tell, available_cores, run_tasks

Part = tuple[str, int, int]
"""Text of a case, which part of its zones is judged, and of how many."""


def assess_texts(
    texts: Sequence[str],
    study: str,
    workers: int | None,
    executor: Executor | None,
    tell: Tell,
) -> tuple[dict[str, Any] | TaskFailure, ...]:
    """Assess cases that stand in texts: verdicts of their zones, strength used, draw weight.

    As `limbfe assess` finds them; advice is left out, which takes longer than all the rest.

    Parameters
    ----------
    texts : sequence of str
    study, workers, executor, tell
        See `limbfe.studies.tasks.run.run_tasks`.
    """
    parts = _parts(len(texts), workers or available_cores())
    tasks: dict[str, Part] = {}
    for k, (text, count) in enumerate(zip(texts, parts, strict=True)):
        tasks |= {f"layout {k + 1} part {part + 1}": (text, part, count) for part in range(count)}
    results = run_tasks(
        _assess_part, tasks, study=study, workers=workers, executor=executor, tell=tell
    )
    found = iter(results.values())
    return tuple(_joined([next(found) for _ in range(count)]) for count in parts)


def _parts(count: int, workers: int) -> list[int]:
    """Return in how many parts every case is judged.

    Those that are left over when every worker has had as many whole ones as the others are shared
    out among all: to solve a bow again takes a tenth of judging its zones.
    """
    left = count % workers
    return [1] * (count - left) + [max(1, workers // left)] * left if left else [1] * count


def _joined(parts: list[dict[str, Any] | TaskFailure]) -> dict[str, Any] | TaskFailure:
    whole: dict[str, Any] = {"zones": {}}
    for part in parts:
        if isinstance(part, TaskFailure):
            return part
        whole = {**part, "zones": {**whole["zones"], **part["zones"]}}
    return whole


def _assess_part(part: Part) -> dict[str, Any]:
    text, number, count = part
    case = case_of(text.encode(), Path("laid.toml"))
    solved = exercised_bow(build_setup(case), beyond=False)
    load = limb_load(solved)
    return {
        "zones": zones_used(solved.model, load, number, count),
        "clear": float(limb_field(solved, load).strength_used.max()),
        "draw_weight": float(solved.states[-1].draw_force),
    }
