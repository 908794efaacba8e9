"""The invented bow under names that would do harm as markup."""

from __future__ import annotations

from dataclasses import replace

import pytest

from limbfe.studies.sweep.zone import Sweep
from limbfe.wood.source import Assumption, Flag, Source

from ..invented_bow import unmodelled
from ..invented_sweep import make_sweep

SCRIPT = "<script>alert('title')</script> & \"stave\" [red]\\[/bold] :bow:"
NAME = r"<i>A</i> $\frac{ $ [/] :bow:"


@pytest.fixture(scope="session")
def invented_sweep() -> Sweep:
    return make_sweep()


@pytest.fixture(scope="session")
def named_badly(assessment):
    """An assessment whose words hold markup of pages and terminals, and half a formula."""
    made = assessment
    first, *others = made.zones
    return replace(
        made,
        drawn=replace(
            made.drawn,
            setup=replace(made.setup, title=SCRIPT, question="Will <b>it</b> bear 28 in?"),
            cautions=("Wear <u>glasses</u>.",),
            assumptions=(
                Assumption(
                    "wood", "E_R = 1 GPa", Source(text="a <table> of values", flag=Flag.READ)
                ),
                Assumption("wood", "dry"),
            ),
        ),
        judged=unmodelled((replace(first, name=NAME), *others)),
    )
