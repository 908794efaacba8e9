"""Sampled bows whose knots and patches are judged on local models of their own, without tables.

Each bow is drawn in full with its own wood and thickness, each of its zones, as large as it truly
is, meshed and judged under that bow's load.  What tables leave out is in it: that a zone of another
size, in wood of other stiffness and thickness, redistributes stress otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any
from zlib import crc32

import numpy as np

from limbfe.analysis.bow.given import ZoneGive
from limbfe.analysis.wood.limb_load import limb_load
from limbfe.case.schema import Case
from limbfe.failure.reliability import counted_share
from limbfe.frames import Array
from limbfe.studies.chance.asked import Asked
from limbfe.studies.chance.bows import FULL, Change, changed_bow, design_setup
from limbfe.studies.chance.design import as_change, changes_of
from limbfe.studies.chance.inputs import Factors, factors
from limbfe.studies.chance.quick import LEAST, Chances, strained
from limbfe.studies.chance.results import Local
from limbfe.studies.chance.zones import (
    ZoneTable,
    demands_of,
    judged_zone,
    rupture_used,
    splits_used,
)
from limbfe.studies.tasks.run import TaskFailure

_STREAM = 3
"""Which of the seed's streams these bows are drawn from."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LocalPlan:
    """One bow to draw and judge: a task of `run_tasks`; `sizes` by the names of its zones."""

    case: Case
    change: Change
    sizes: Mapping[str, float]
    give: ZoneGive


def judged_locally(plan: LocalPlan) -> dict[str, Any]:
    """Draw one bow in full and judge every one of its zones.

    Returns
    -------
    dict
        By zone what `limbfe.studies.chance.zones.judged_at_size` returns.

    Raises
    ------
    ConvergenceError
        If there is no brace or no full draw.
    GeometryError
        If a zone has no local model.
    """
    solved = changed_bow(design_setup(plan.case), plan.change, plan.give).solved
    load = limb_load(solved)
    return {name: judged_zone(solved, load, name, size) for name, size in plan.sizes.items()}


def local_sample(chances: Chances, asked: Asked) -> Array:
    """Return the samples of the bows to judge, shape (asked.local, chances.columns)."""
    rng = np.random.default_rng(np.random.SeedSequence([asked.seed, _STREAM]))
    return rng.standard_normal((asked.local, chances.columns))


def local_plans(case: Case, chances: Chances, u: Array, give: ZoneGive) -> dict[str, LocalPlan]:
    """Return the bows of samples as tasks; a name says which bow it is, so that a journal serves
    any seed, number and readings.
    """
    found = factors(chances.inputs, chances.inputs_of(u))
    plans = {}
    for k, row in enumerate(changes_of(found)):
        sizes = {table.name: float(found.size[k, z]) for z, table in enumerate(chances.zones)}
        mark = crc32(np.append(row, list(sizes.values())).round(9).tobytes())
        plans[f"local {k} {mark:08x}"] = LocalPlan(
            case=case, change=as_change(row), sizes=sizes, give=give
        )
    return plans


def local_figures(chances: Chances, u: Array, results: list[Any]) -> Local | None:
    """Return what the judged bows say beside the tables; None where none could be judged."""
    kept = [k for k, one in enumerate(results) if not isinstance(one, TaskFailure)]
    if not kept:
        return None
    u = u[kept]
    found = factors(chances.inputs, chances.inputs_of(u))
    ratio = chances.bow.at(changes_of(found), ("sites",))
    tables, own = [], []
    for z, table in enumerate(chances.zones):
        at_draw = strained(chances, found, ratio, z)[:, FULL]
        tables.append(_worst(table, found, z) + at_draw)
        own.append([_own(table, found, z, k, results[one]) for k, one in enumerate(kept)])
    by_tables, by_own = np.max(tables, axis=0), np.max(own, axis=0)
    difference = by_own - by_tables
    return Local(
        bows=len(kept),
        lost=len(results) - len(kept),
        fails=counted_share(int((by_own >= 0.0).sum()), len(kept)),
        by_tables=counted_share(int((by_tables >= 0.0).sum()), len(kept)),
        off=float(difference.std()),
        bias=float(difference.mean()),
    )


def _own(table: ZoneTable, found: Factors, z: int, k: int, judged: Mapping[str, Any]) -> float:
    """Return the logarithm of strength used by one bow at a zone, by its own model."""
    one = judged[table.name]
    if not one:
        return float(np.log(LEAST))
    none = np.zeros(1)
    mine = replace(table, demands=demands_of(one), sizes=none, rupture=none, split=none)
    row = replace(
        found, **{name: getattr(found, name)[k : k + 1] for name in Factors.__dataclass_fields__}
    )
    # resultants, shapes and the stiffness along the limb are the bow's own already
    more = row.logs[:, 0] - np.log(row.model)
    return float((_worst(mine, row, z) + more)[0])


def _worst(table: ZoneTable, found: Factors, z: int) -> Array:
    """Return the logarithm of strength used at the case's modulus, to break or to split, (n,)."""
    strength = found.logs[:, 1] + np.log(found.luck)
    rupture = np.log(np.maximum(rupture_used(table, found, z), LEAST)) - strength
    return np.asarray(np.maximum(rupture, np.log(np.maximum(splits_used(table, found, z), LEAST))))
