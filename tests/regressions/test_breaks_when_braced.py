"""A bow that breaks or gives way as it is braced was drawn, sized and compared as any other."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from limbfe.api import compare, draw, pull, read_case, shave, solve
from limbfe.beam import Bow, BowString, Hold, brace
from limbfe.cli import main
from limbfe.errors import ConvergenceError
from tests.beam.make import straight_chain

ASH = Path("cases/ash_flatbow.toml").resolve()
FIRST = "Do not string this bow: braced 420 mm"


@pytest.fixture
def thick(tmp_path):
    """The ash flatbow half as thick again, braced nearly three times as high."""
    text = ASH.read_text(encoding="utf-8")
    for old, new in (
        ('brace_height = "150 mm"', 'brace_height = "420 mm"'),
        ('length = "28 in"', 'length = "24 in"'),
        ("steps = 30", "steps = 8"),
        ("14.4, 13.6, 12.7, 11.8, 10.8", "20.4, 19.6, 18.7, 17.8, 16.8"),
    ):
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "thick.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_said_first(thick, capsys):
    assert main(["draw", str(thick)]) == 0
    assert capsys.readouterr().out.startswith(FIRST)
    assert main(["draw", str(thick), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["cautions"][0] == found["when_braced"][0]
    assert "gives way" in found["when_braced"][0]


@pytest.mark.slow
def test_in_every_result(thick):
    case = read_case(thick)
    solved = solve(case, beyond=False)
    pulled = pull(case, "1.95 m", force="10 lbf")
    both = compare([thick, ASH], equal="nothing")
    for words in (shave(solved).when_braced, pulled.when_braced, both.bows[0].when_braced):
        assert str(words[0]).startswith(FIRST)
    assert both.bows[1].when_braced == ()
    assert pulled.cautions[0] == pulled.when_braced[0]


def test_said_before_why_it_cannot_be_drawn(thick, monkeypatch):
    def no_further(*_, **__):
        raise ConvergenceError("draw to 610 mm: no further")

    monkeypatch.setattr("limbfe.analysis.bow.solve.solve_bow", no_further)
    with pytest.raises(ConvergenceError, match=rf"^{FIRST}.*draw to 610 mm: no further$"):
        solve(thick, beyond=False)
    with pytest.raises(ConvergenceError, match=r"^draw to 610 mm: no further$"):
        solve(ASH, beyond=False)


def test_nothing_to_say_of_an_ordinary_bow():
    bow = draw(ASH)
    assert bow.when_braced == ()


def test_area_under_the_curve_is_the_work():
    """The force over what it does work over; over draw length the area is 0.3 per cent more."""
    curve = draw(ASH).curve
    steps = np.diff(curve.energy)
    mean = 0.5 * (curve.force[1:] + curve.force[:-1])
    area = (mean * np.diff(curve.travel)).sum()
    assert area == pytest.approx(steps.sum(), rel=1e-3)
    assert (mean * np.diff(curve.draw_length)).sum() > 1.002 * area


@pytest.mark.parametrize("elements", [3, 10, 40])
@pytest.mark.parametrize("kind", ["clamp", "hand", "tiller"])
def test_a_rod_that_does_not_stretch(elements, kind):
    """Rounding of a stretching stiffness of 1e13 beside a bending stiffness of 1 hides the
    equilibrium: then none is found, and no other error comes of it."""
    x = np.linspace(-0.5, 0.5, 2 * elements + 1)
    stiffness = np.zeros((len(x) - 1, 2, 6, 6))
    for i, value in enumerate((1e13, 1e13, 1e13, 1.0, 1.0, 1.0)):
        stiffness[..., i, i] = value
    bow = Bow(
        chain=straight_chain(x, stiffness),
        clamped=elements,
        string=BowString(stiffness=1e13, mass=0.0, nock_lower=np.zeros(3), nock_upper=np.zeros(3)),
        hold=Hold(kind=kind, point=np.zeros(3), half_length=0.0),
        grip_belly=np.zeros(3),
        grip_back=np.zeros(3),
        arrow_z=0.0,
    )
    with pytest.raises(ConvergenceError, match="no equilibrium found"):
        brace(bow, length=0.9)
