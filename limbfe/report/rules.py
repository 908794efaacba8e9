"""The rules of thumb and what was found of them: tables, sentences, files."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.report.tables import plain_table
from limbfe.studies.rules import Rule, RuleFinding, RulesStudy
from limbfe.units import UnitSystem, say
from limbfe.view.study.rules import RulePanel, write_panels
from limbfe.whole_file import whole_file

OUTCOME_STYLE = {
    "holds": "green",
    "holds within": "green",
    "fails beyond": "yellow",
    "fails": "bold red",
}


def list_table(rules: Sequence[Rule], units: UnitSystem) -> RenderableType:
    """Return every rule with its claim, where it comes from and how it is tried."""
    table = Table(title="Rules of thumb", title_justify="left", show_lines=True)
    for heading in ("name", "rule", "from", "what is tried"):
        table.add_column(heading)
    for rule in rules:
        swept = ", ".join(show(rule.show_value, value, units) for value in rule.values)
        study = say(rule.study, units)
        table.add_row(rule.name, rule.words, rule.label, f"{study}. {rule.varied}: {swept}")
    return table


def rules_tables(study: RulesStudy, units: UnitSystem) -> RenderableType:
    """Return the verdicts, and for a few rules the whole sweep too."""
    parts: list[RenderableType] = [_verdicts(study, units)]
    if study.first_look:
        parts.append(
            Text(
                f"A first look: {study.bows} bows are too few for a verdict to be relied on; "
                "take 30 or more (--bows).",
                style="bold yellow",
            )
        )
    for finding in study.findings:
        parts += [Text(""), Text(finding.rule.words, style="bold"), Text(sentence(finding, units))]
        if len(study.findings) <= 3:
            parts.append(_sweep(finding, units))
    if study.left_out:
        parts += [Text(""), Text(f"Left out: {len(study.left_out)} trials (--json names them).")]
    return Group(*parts)


def _verdicts(study: RulesStudy, units: UnitSystem) -> Table:
    table = plain_table(f"Rules of thumb on {study.bows} different bows")
    table.add_column("rule", no_wrap=True)
    table.add_column("tried at", no_wrap=True)
    table.add_column("measured")
    for heading in ("middle bow", "90 of 100 bows", "met by"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("verdict")
    for finding in study.findings:
        rule, k = finding.rule, finding.own
        table.add_row(
            rule.name,
            show(rule.show_value, rule.at, units),
            rule.measured,
            show(rule.show_measure, finding.median[k], units),
            _range(finding, k, units),
            f"{finding.share[k]:.0%}",
            Text(verdict_words(finding, units), style=OUTCOME_STYLE[finding.outcome]),
        )
    return table


def _sweep(finding: RuleFinding, units: UnitSystem) -> Table:
    rule = finding.rule
    table = plain_table(say(rule.study, units))
    for heading in (rule.varied, f"{rule.measured}: middle bow", "90 of 100 bows", "met by"):
        table.add_column(heading, justify="right")
    for k, value in enumerate(rule.values):
        table.add_row(
            show(rule.show_value, value, units),
            show(rule.show_measure, finding.median[k], units),
            _range(finding, k, units),
            f"{finding.share[k]:.0%}" if np.isfinite(finding.share[k]) else "-",
        )
    return table


def _range(finding: RuleFinding, k: int, units: UnitSystem) -> str:
    kind = finding.rule.show_measure
    return f"{show(kind, finding.low[k], units)} to {show(kind, finding.high[k], units)}"


def verdict_words(finding: RuleFinding, units: UnitSystem) -> str:
    """Return the verdict in a few words: holds, holds within so much, fails beyond so much."""
    rule = finding.rule
    if finding.outcome == "holds within":
        assert finding.within is not None
        return f"holds within {_spread(rule, finding.within)}"
    if finding.outcome == "fails beyond":
        assert finding.reach is not None
        way = "beyond" if _rises(rule) else "below"
        return f"fails {way} {show(rule.show_value, rule.values[finding.reach], units)}"
    return finding.outcome


def _rises(rule: Rule) -> bool:
    return rule.values[-1] > rule.values[0]


def sentence(finding: RuleFinding, units: UnitSystem) -> str:
    """Return the finding in words, with its figures and the reason for it."""
    rule, k = finding.rule, finding.own
    kind = rule.show_measure
    worst = finding.samples[finding.worst]
    said = (
        f"{verdict_words(finding, units).capitalize()}. {rule.measured.capitalize()} at "
        f"{show(rule.show_value, rule.at, units)}: {show(kind, finding.median[k], units)} for the "
        f"middle one of {finding.bows} bows, {_range(finding, k, units)} for 90 of 100; "
        f"{finding.share[k]:.0%} meet the claim ({claim_words(rule, units)}). The worst is "
        f"{worst.bow} with {show(kind, float(worst.measure[k]), units)}."
    )
    stops = finding.reach is not None and finding.reach + 1 < len(rule.values)
    if stops and finding.outcome in ("holds", "fails beyond"):
        assert finding.reach is not None
        last, following = rule.values[finding.reach : finding.reach + 2]
        said += (
            f" It holds {'up' if _rises(rule) else 'down'} to {show(rule.show_value, last, units)} "
            f"and no longer at {show(rule.show_value, following, units)} ({rule.varied})."
        )
    return f"{said} {rule.why[0].upper()}{rule.why[1:]}."


def claim_words(rule: Rule, units: UnitSystem) -> str:
    """Return the rule's claim in numbers."""
    low, high = (show(rule.show_measure, bound, units) for bound in (rule.low, rule.high))
    if not np.isfinite(rule.low):
        return f"at most {high}"
    if not np.isfinite(rule.high):
        return f"at least {low}"
    return f"{low} to {high}"


def show(kind: str, value: float, units: UnitSystem) -> str:
    """Return a value or a measure as it is read."""
    if not np.isfinite(value):
        return "-"
    forms: dict[str, Callable[[float], str]] = {
        "ratio": lambda v: f"{v:.2f}",
        "used": lambda v: f"{v:.2f}",
        "share": lambda v: f"{100.0 * v:.0f} %",
        "factor": lambda v: f"x {v:.2f}",
        "per cent": _per_cent,
        "length": units.length,
        "inches": lambda v: f"{v:g} in",
        "slope": lambda v: f"1 in {1.0 / v:.0f}",
    }
    return forms[kind](float(value))


def _per_cent(value: float) -> str:
    text = f"{100.0 * value:.1f}" if abs(value) < 0.0995 else f"{100.0 * value:.0f}"
    return f"{text.replace('-0.0', '0.0')} %"


def _spread(rule: Rule, within: float) -> str:
    if rule.show_measure in ("per cent", "share"):
        return f"{100.0 * within:.1f} points"
    return f"{100.0 * within:.0f} %" if rule.target == 1.0 else f"{within:.2f}"


def markdown_table(study: RulesStudy, units: UnitSystem) -> str:
    """Return the verdicts as a table in Markdown, for notes and web pages."""
    lines = [
        f"| rule, tried on {study.bows} bows | measured | middle bow | 90 of 100 bows | verdict |",
        "| --- | --- | --- | --- | --- |",
    ]
    for finding in study.findings:
        rule, k = finding.rule, finding.own
        middle = show(rule.show_measure, finding.median[k], units)
        at = show(rule.show_value, rule.at, units)
        lines.append(
            f"| {rule.words} | {rule.measured}, at {at} | {middle} | {_range(finding, k, units)} "
            f"| {verdict_words(finding, units)} |"
        )
    return "\n".join(lines) + "\n"


def write_rules(study: RulesStudy, folder: Path, units: UnitSystem) -> list[Path]:
    """Write every sample as JSON, the table as Markdown, and pictures; return the paths."""
    texts = {
        "rules.json": json.dumps(study.to_dict(), indent=1),
        "rules.md": markdown_table(study, units),
    }
    written = []
    for name, text in texts.items():
        with whole_file(folder / name) as path:
            path.write_text(text, encoding="utf-8")
        written.append(folder / name)
    panels = [panel(finding, units) for finding in study.findings]
    for finding, one in zip(study.findings, panels, strict=True):
        written.append(write_panels([one], folder / f"{finding.rule.name}.png", bows=study.bows))
    if len(panels) > 1:
        written.append(write_panels(panels, folder / "rules.png", bows=study.bows))
    return written


def panel(finding: RuleFinding, units: UnitSystem) -> RulePanel:
    """Return what the picture of one rule shows."""
    rule = finding.rule
    scale, sign = (100.0, ", %") if rule.show_measure in ("per cent", "share") else (1.0, "")
    return RulePanel(
        words=rule.words,
        verdict=verdict_words(finding, units),
        good=finding.outcome in ("holds", "holds within"),
        varied=rule.varied,
        values=tuple(show(rule.show_value, value, units) for value in rule.values),
        own=finding.own,
        measured=f"{rule.measured}{sign}",
        samples=scale * np.array([sample.measure for sample in finding.samples]),
        low=scale * rule.low,
        high=scale * rule.high,
    )
