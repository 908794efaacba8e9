"""Rules of thumb, each tried on many bows."""

from limbfe.studies.rules.rule import BowSample, Rule, RuleFinding
from limbfe.studies.rules.study import RULES, RulesStudy, find_rules, run_rules
from limbfe.studies.rules.verdict import find_verdict

__all__ = [
    "RULES",
    "BowSample",
    "Rule",
    "RuleFinding",
    "RulesStudy",
    "find_rules",
    "find_verdict",
    "run_rules",
]
