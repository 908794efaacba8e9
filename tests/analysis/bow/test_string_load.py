"""A string too weak for its bow."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from limbfe.analysis.bow.string_load import check_string, string_warning
from limbfe.case.build import build_setup
from limbfe.case.load import read_case
from limbfe.cli import main
from limbfe.errors import MaterialError

CASES = Path(__file__).parents[3] / "cases"


def state(draw_length, force, *tension):
    return SimpleNamespace(
        draw_length=draw_length, draw_force=force, string_tension=np.array(tension)
    )


STATES = (
    state(0.18, 0.0, 366.0, 367.0),
    state(0.4, 60.0, 300.0, 310.0),
    state(0.7112, 170.0, 402.0, 398.0),
)
"""Braced at 367 N, lighter at first, 402 N on the lower string at 28 in of 170 N."""


@pytest.mark.parametrize(
    ("strength", "words"),
    [(277.0, r"breaks at 277 N .* bears 367 N .* when braced"), (390.0, "402 N .* 711 mm")],
)
def test_a_string_that_breaks_is_refused(strength, words):
    with pytest.raises(MaterialError, match=words):
        check_string(strength, STATES)


@pytest.mark.parametrize("strength", [403.0, None])
def test_a_string_that_holds_is_not(strength):
    check_string(strength, STATES)


def test_a_weak_string_is_a_caution():
    """Common practice: a string breaks at four times the draw weight or more."""
    assert "2.4 times the draw weight" in str(string_warning(408.0, 170.0)[0])
    assert string_warning(681.0, 170.0) == ()
    assert string_warning(None, 170.0) == ()


def test_one_strand_of_polyester(tmp_path, capsys):
    """50 lbf (common practice)."""
    text = (CASES / "elm_longbow.toml").read_text().replace("strands = 14", "strands = 1")
    path = tmp_path / "weak.toml"
    path.write_text(f"{text}\n[analysis]\nfineness = 0.5\nelements_per_limb = 6\n")
    assert build_setup(read_case(path)).stringing.strength == pytest.approx(222.4)
    assert main(["draw", str(path)]) == 2
    said = capsys.readouterr().err.strip().splitlines()[-1]
    assert "[string]: breaks at 222 N" in said
    assert "more strands" in said
