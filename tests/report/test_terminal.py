"""Words of the case on the terminal: printed as they stand, whatever they mean to it."""

from __future__ import annotations

import argparse
import sys

from limbfe.cli import main
from limbfe.cli.common import progress, show
from limbfe.report.assess import assessment_tables
from limbfe.units import METRIC


def test_tables_print_the_words_of_the_case(named_badly, capsys):
    show(assessment_tables(named_badly, METRIC))
    printed = capsys.readouterr().out
    assert named_badly.setup.title in printed
    assert named_badly.setup.question in printed
    assert f"knot {named_badly.zones[0].name}: " in printed
    assert any(line.startswith(" knot") and "[/]" in line for line in printed.splitlines())


def test_the_line_of_progress_is_no_markup(named_badly, capsys, monkeypatch):
    monkeypatch.setenv("FORCE_COLOR", "1")
    with progress(argparse.Namespace(json=False)) as say:
        for text in (named_badly.setup.title, f"left out {named_badly.setup.title}"):
            say(text)
    assert named_badly.setup.title in capsys.readouterr().err


def test_a_refusal_breaks_between_words_on_a_terminal_only(capsys, monkeypatch):
    assert main(["draw", "no such case.toml"]) == 2
    line = capsys.readouterr().err
    assert line.count("\n") == 1
    monkeypatch.setenv("COLUMNS", "30")
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    assert main(["draw", "no such case.toml"]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) > 1
    assert max(map(len, lines)) <= 30
    assert " ".join(lines).split() == line.split()
