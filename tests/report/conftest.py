"""The invented bow of tests/view; tests are not a package, so it is loaded by path."""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from limbfe.analysis.defects import JudgedZone

SCRIPT = "<script>alert('title')</script> & \"stave\" [red]\\[/bold] :bow:"
NAME = r"<i>A</i> $\frac{ $ [/] :bow:"


@pytest.fixture(scope="session")
def named_badly():
    """An assessment whose words hold markup of pages and terminals, and half a formula."""
    name = "limbfe_tests_view_synthetic"
    if name not in sys.modules:
        path = Path(__file__).parents[1] / "view" / "synthetic.py"
        spec = importlib.util.spec_from_file_location(name, path)
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    made = sys.modules[name].make_assessment()
    first, *others = made.defects
    return replace(
        made,
        setup=replace(made.setup, title=SCRIPT, question="Will <b>it</b> bear 28 in?"),
        defects=(replace(first, name=NAME), *others),
        cautions=("Wear <u>glasses</u>.",),
        assumptions=("wood: E_R = 1 GPa: a <table> of values (assumed)", "wood: not given; dry"),
    )


@pytest.fixture(scope="session")
def judged(named_badly):
    """Its knots and patches, without local models."""
    return tuple(JudgedZone(result=one, local=None) for one in named_badly.defects)
