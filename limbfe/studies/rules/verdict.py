"""From samples over many bows to a verdict on a rule; the thresholds are set here in advance."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from limbfe.errors import CaseError
from limbfe.frames import Array, read_only
from limbfe.studies.rules.rule import BowSample, Outcome, Rule, RuleFinding

NEARLY_ALL = 0.95
"""Share of the bows that must meet a rule for it to hold."""
FEWEST_BOWS = 30
"""Below this a verdict is a first look."""


def find_verdict(rule: Rule, samples: Sequence[BowSample]) -> RuleFinding:
    """Return what the samples say of a rule.

    Parameters
    ----------
    rule : Rule
    samples : sequence of BowSample

    Raises
    ------
    CaseError
        If no bow could be tried at the rule's own value.

    Notes
    -----
    The rule *holds* if, at its own value, at least 95 of 100 bows lie inside its claim.  If not,
    and it names a number, it *holds within* X, the distance from that number that 95 of 100 bows
    keep, as long as X is no more than the rule's `loose`.  If not, it *fails beyond* the last
    value up to which 95 of 100 bows still meet it, and plainly *fails* where there is none.
    """
    table = np.array([sample.measure for sample in samples]).reshape(-1, len(rule.values))
    own = rule.values.index(rule.at)
    tried = np.isfinite(table[:, own])
    if not tried.any():
        raise CaseError(
            f"rule {rule.name}: none of {len(table)} bows could be tried; take more bows (--bows)"
        )
    share = _each(table, lambda column: float(rule.met(column).mean()))
    reach = _reach(share)
    within = None
    if rule.target is not None:
        within = float(np.percentile(np.abs(table[tried, own] - rule.target), 100 * NEARLY_ALL))
    return RuleFinding(
        rule=rule,
        samples=tuple(samples),
        bows=int(tried.sum()),
        outcome=_outcome(rule, float(share[own]), within, reach),
        share=share,
        low=_each(table, lambda column: float(np.percentile(column, 5.0))),
        median=_each(table, lambda column: float(np.median(column))),
        high=_each(table, lambda column: float(np.percentile(column, 95.0))),
        worst=int(np.nanargmax(np.maximum(rule.low - table[:, own], table[:, own] - rule.high))),
        within=within,
        reach=reach,
    )


def _outcome(rule: Rule, share: float, within: float | None, reach: int | None) -> Outcome:
    if share >= NEARLY_ALL:
        return "holds"
    if within is not None and within <= rule.loose:
        return "holds within"
    return "fails" if reach is None else "fails beyond"


def _reach(share: Array) -> int | None:
    """Return the last value up to which nearly all bows meet the rule, from the gentle end."""
    met = share >= NEARLY_ALL
    if not met[0]:
        return None
    return int(np.argmin(met)) - 1 if not met.all() else len(met) - 1


def _each(table: Array, summary: Callable[[Array], float]) -> Array:
    """Return a summary of every column without its missing figures; nan for an empty one."""
    columns = (column[np.isfinite(column)] for column in table.T)
    return read_only([summary(column) if column.size else np.nan for column in columns])
