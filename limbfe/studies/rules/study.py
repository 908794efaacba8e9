"""All rules over the whole family of bows."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from limbfe.errors import CaseError, LimbfeError
from limbfe.frames import read_only
from limbfe.rows import Row
from limbfe.studies.rules import recurve, scaling, shape, speed, wood, zones
from limbfe.studies.rules.family import SEED, random_bow
from limbfe.studies.rules.rule import BowSample, Rule, RuleFinding
from limbfe.studies.rules.verdict import FEWEST_BOWS, find_verdict
from limbfe.studies.tasks.run import Result, TaskFailure, Tell, run_tasks
from limbfe.version import __version__

RULES: Mapping[str, Rule] = {
    rule.name: rule for part in (scaling, shape, wood, zones, speed, recurve) for rule in part.RULES
}
DEFAULT_BOWS = 30
QUICK_BOWS = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RulesStudy:
    """What the study found.

    Attributes
    ----------
    bows : int
        Size of the family that was tried.
    seed : int
    findings : tuple of RuleFinding
    left_out : tuple of str
        Bows and trials that could not be computed, and why.
    """

    bows: int
    seed: int
    findings: tuple[RuleFinding, ...]
    left_out: tuple[str, ...]

    @property
    def first_look(self) -> bool:
        """Whether there are too few bows for a verdict to be relied on."""
        return self.bows < FEWEST_BOWS

    def to_dict(self) -> dict[str, Any]:
        """Return everything as plain numbers and text, all samples included."""
        return {
            "study": "rules",
            "version": __version__,
            "bows": self.bows,
            "seed": self.seed,
            "first_look": self.first_look,
            "rules": [finding.to_dict() for finding in self.findings],
            "left_out": list(self.left_out),
        }

    def rows(self) -> list[Row]:
        """Return the rules, a row for each value that was tried."""
        return [row for finding in self.findings for row in finding.rows()]


def find_rules(names: Sequence[str]) -> tuple[Rule, ...]:
    """Return the rules of these names, all of them for none.

    Raises
    ------
    CaseError
        If there is no rule of a name; gives the nearest spelling.
    """
    for name in names:
        if name not in RULES:
            near = difflib.get_close_matches(name, RULES, n=1)
            hint = f'; did you mean "{near[0]}"?' if near else ""
            raise CaseError(
                f'rules "{name}": no rule of that name{hint} (limbfe rules --list shows all)'
            )
    return tuple(rule for rule in RULES.values() if not names or rule.name in names)


def run_rules(
    rules: Sequence[Rule],
    *,
    bows: int = DEFAULT_BOWS,
    seed: int = SEED,
    workers: int | None = None,
    executor: Executor | None = None,
    journal: Path | None = None,
    tell: Tell | None = None,
) -> RulesStudy:
    """Try rules on the first bows of the family.

    Parameters
    ----------
    rules : sequence of Rule
        Of `RULES`.
    bows : int
    seed : int
        Of the family.
    workers, executor, journal, tell
        See `limbfe.studies.tasks.run.run_tasks`.  A journal serves any choice of rules and bows of
        one seed.

    Raises
    ------
    CaseError
        If a rule could be tried on no bow at all.
    """
    tasks = {
        f"{rule.name}, bow {bow}": (rule.name, bow, seed) for bow in range(bows) for rule in rules
    }
    found = run_tasks(
        try_rule,
        tasks,
        study=f"rules of thumb, family {seed}: {[(r.name, r.values) for r in RULES.values()]}",
        workers=workers,
        executor=executor,
        journal=journal,
        tell=tell,
    )
    left_out = [
        f"{name}: {one.message}" for name, one in found.items() if isinstance(one, TaskFailure)
    ]
    findings = []
    for rule in rules:
        results = [found[f"{rule.name}, bow {bow}"] for bow in range(bows)]
        kept = [one for one in results if not isinstance(one, TaskFailure)]
        left_out += [
            f"{rule.name}, {one['bow']}: {text}" for one in kept for text in one["left_out"]
        ]
        findings.append(find_verdict(rule, [_sample(one) for one in kept]))
    return RulesStudy(bows=bows, seed=seed, findings=tuple(findings), left_out=tuple(left_out))


def try_rule(item: tuple[str, int, int]) -> Result:
    """Try one rule on one bow at every value.

    Parameters
    ----------
    item : tuple of str, int, int
        Name of the rule, number of the bow, seed of the family.

    Returns
    -------
    dict
        ``measure``: None where the changed bow cannot be made or drawn, and ``left_out`` why.
    """
    name, number, seed = item
    rule, bow = RULES[name], random_bow(number, seed)
    figures: list[dict[str, float]] = []
    left_out: list[str] = []
    for value in rule.values:
        try:
            figures.append(rule.trial(bow, value))
        except LimbfeError as error:
            figures.append({})
            left_out.append(f"{rule.varied} {value:.3g}: {error}")
    return {
        "bow": bow.model.setup.title,
        "measure": [one.get("measure") for one in figures],
        "figures": [{k: v for k, v in one.items() if k != "measure"} for one in figures],
        "left_out": left_out,
    }


def _sample(result: Result) -> BowSample:
    measure = [np.nan if value is None else value for value in result["measure"]]
    return BowSample(
        bow=result["bow"], measure=read_only(measure), figures=tuple(result["figures"])
    )
