"""Layouts shared out over processes: the same answers, and nobody waits for the last of them."""

from __future__ import annotations

import pytest

from limbfe.studies.lay import assessed
from limbfe.studies.tasks.run import TaskFailure


@pytest.mark.parametrize(
    ("workers", "parts"),
    [(1, [1, 1, 1]), (2, [1, 1, 2]), (3, [1, 1, 1]), (4, [1, 1, 1]), (8, [2, 2, 2])],
)
def test_what_is_left_over_is_shared_out(monkeypatch, workers, parts):
    judged = []

    def judge(part):
        judged.append(part)
        text, number, _ = part
        return {"zones": {f"{text}{number}": ("sound", 0.1)}, "clear": 0.5, "draw_weight": 200.0}

    def run(work, tasks, **how):
        return {name: work(item) for name, item in tasks.items()}

    monkeypatch.setattr(assessed, "_assess_part", judge)
    monkeypatch.setattr(assessed, "run_tasks", run)
    found = assessed.assess_texts("abc", "study", workers, None, lambda done, count: None)
    assert [len(one["zones"]) for one in found] == parts
    assert [one["clear"] for one in found] == [0.5] * 3
    wanted = [(text, k, n) for text, n in zip("abc", parts, strict=True) for k in range(n)]
    assert judged == wanted


def test_a_layout_of_which_a_part_cannot_be_judged_is_not_judged(monkeypatch):
    def run(work, tasks, **how):
        failed = TaskFailure(kind="ConvergenceError", message="no equilibrium")
        return {name: failed if "3 part 2" in name else {"zones": {}} for name in tasks}

    monkeypatch.setattr(assessed, "run_tasks", run)
    found = assessed.assess_texts("abc", "study", 2, None, lambda done, count: None)
    assert found[:2] == ({"zones": {}}, {"zones": {}})
    assert isinstance(found[2], TaskFailure)
