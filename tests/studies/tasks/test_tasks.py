"""Studies: the same results whoever computes them, kept as they come."""

import errno
import json
import math
import os
from concurrent.futures import ThreadPoolExecutor

import pytest

from limbfe.errors import CaseError, GeometryError
from limbfe.studies.tasks.run import Made, TaskFailure, map_over, run_tasks, worker_pool

CALLS: list[float] = []


def root(number: float) -> dict[str, float]:
    CALLS.append(number)
    if number < 0:
        raise GeometryError(f"{number}: no root")
    return {"root": math.sqrt(number)}


ITEMS = {f"n{k}": float(k) for k in (7, 3, -1, 11)}
EXPECTED = {
    "n7": {"root": math.sqrt(7)},
    "n3": {"root": math.sqrt(3)},
    "n-1": TaskFailure(kind="GeometryError", message="-1.0: no root"),
    "n11": {"root": math.sqrt(11)},
}


@pytest.mark.parametrize("workers", [1, 2])
def test_results_come_in_the_order_of_their_names(workers):
    found = run_tasks(root, ITEMS, study="roots", workers=workers)
    assert found == EXPECTED
    assert list(found) == list(ITEMS)


def test_without_semaphores_it_is_computed_here(monkeypatch):
    """As on a system whose /dev/shm is read-only, where no queue between processes can be made."""

    def refused(*_, **__):
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr("multiprocessing.synchronize.SemLock.__init__", refused)
    CALLS.clear()
    assert run_tasks(root, ITEMS, study="roots", workers=2) == EXPECTED
    assert CALLS == [7.0, 3.0, -1.0, 11.0]
    with worker_pool(2) as pool:
        assert pool is None


def test_any_standard_executor_serves_and_stays_open():
    with ThreadPoolExecutor(2) as pool:
        assert run_tasks(root, ITEMS, study="roots", executor=pool) == EXPECTED
        assert pool.submit(int, "3").result() == 3


def test_a_study_goes_on_where_it_was(tmp_path):
    journal = tmp_path / "new" / "roots.jsonl"
    some = {name: ITEMS[name] for name in ("n7", "n-1")}
    run_tasks(root, some, study="roots", workers=1, journal=journal)
    with journal.open("a", encoding="utf-8") as file:
        file.write('{"name": "n3", "result": {"ro')
    CALLS.clear()
    told: list[tuple[int, int]] = []
    found = run_tasks(
        root, ITEMS, study="roots", workers=1, journal=journal, tell=lambda *n: told.append(n)
    )
    assert found == EXPECTED
    assert CALLS == [3.0, 11.0]
    assert told == [(2, 4), (3, 4), (4, 4)]
    CALLS.clear()
    assert run_tasks(root, ITEMS, study="roots", workers=1, journal=journal) == EXPECTED
    assert CALLS == []


DAMAGE = (
    "", "null", "7", "[]", "{}", '{"name": "n3"}', '{"name": ["n3"], "result": {}}',
    '{"name": "n3", "result": 4}', '{"name": null, "result": {}}', "[" * 100_000, "9" * 5000,
    '{"name": "n3", "result": {"root": NaN', "\0\0\0", "\ud800", "root = 3",
)  # fmt: skip


@pytest.mark.parametrize("where", ["before", "after"])
def test_damaged_lines_of_a_journal_are_passed_over(tmp_path, where):
    journal = tmp_path / "roots.jsonl"
    run_tasks(root, ITEMS, study="roots", workers=1, journal=journal)
    head, *results = journal.read_text().splitlines()
    lines = [*DAMAGE, *results] if where == "before" else [*results, *DAMAGE]
    journal.write_bytes("\n".join((head, *lines)).encode("utf-8", "surrogatepass"))
    CALLS.clear()
    assert run_tasks(root, ITEMS, study="roots", workers=1, journal=journal) == EXPECTED
    assert CALLS == []
    for spoilt in DAMAGE:
        journal.write_bytes(f"{spoilt}\n".encode("utf-8", "surrogatepass"))
        with pytest.raises(CaseError, match="holds the results of another study"):
            run_tasks(root, ITEMS, study="roots", workers=1, journal=journal)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes")
def test_a_journal_is_an_ordinary_file(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    for place in (tmp_path, tmp_path / "pipe"):
        with pytest.raises(CaseError, match="is no ordinary file"):
            run_tasks(root, ITEMS, study="roots", workers=1, journal=place)


def test_a_journal_of_another_study_is_refused(tmp_path):
    journal = tmp_path / "roots.jsonl"
    run_tasks(root, ITEMS, study="roots", workers=1, journal=journal)
    before = journal.read_bytes()
    with pytest.raises(CaseError, match=r"roots\.jsonl: holds the results of another study"):
        run_tasks(root, ITEMS, study="cube roots", workers=1, journal=journal)
    assert journal.read_bytes() == before


def test_what_is_finished_is_kept_when_a_study_is_stopped(tmp_path):
    journal = tmp_path / "roots.jsonl"

    def stop(done: int, total: int) -> None:
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run_tasks(root, ITEMS, study="roots", workers=2, journal=journal, tell=stop)
    lines = [json.loads(line) for line in journal.read_text().splitlines()[1:]]
    assert len(lines) >= 2
    assert all(line["name"] in ITEMS for line in lines)
    assert run_tasks(root, ITEMS, study="roots", workers=1, journal=journal) == EXPECTED


def test_a_bug_is_not_taken_for_a_refusal():
    with pytest.raises(TypeError):
        run_tasks(root, {"text": "nine"}, study="roots", workers=1)


def test_items_are_made_as_they_are_handed_out():
    """The first is at work before the last is made."""
    order = []

    def make(name):
        order.append(f"made {name}")
        return name

    def work(item):
        order.append(f"worked {item}")
        return {"said": item}

    found = run_tasks(work, Made(("a", "b", "c"), make), study="made", workers=1)
    assert list(found) == ["a", "b", "c"]
    assert found["b"] == {"said": "b"}
    assert order == ["made a", "worked a", "made b", "worked b", "made c", "worked c"]


def test_what_a_journal_knows_is_not_made_again(tmp_path):
    def known(item):
        return {"said": item}

    def refuse(name):
        raise AssertionError(name)

    path = tmp_path / "made.jsonl"
    first = run_tasks(known, {"a": "a"}, study="made", workers=1, journal=path)
    assert run_tasks(known, Made(("a",), refuse), study="made", workers=1, journal=path) == first


def half(number: float) -> tuple[float, float]:
    return number, 0.5 * number


@pytest.mark.parametrize("workers", [1, 2])
def test_a_map_over_processes_keeps_the_order(workers):
    with worker_pool(workers) as pool:
        assert map_over(pool, half, [3.0, 1.0, 2.0]) == [(3.0, 1.5), (1.0, 0.5), (2.0, 1.0)]
