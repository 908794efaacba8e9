"""One iteration for every bow: loads on any node, strings that bend on a limb, slack parts."""

from __future__ import annotations

import os
import pathlib
import subprocess
import sys

import numpy as np
import pytest

from limbfe.beam import brace, draw
from limbfe.beam.equilibrium.stability import stable_states
from limbfe.beam.equilibrium.state import path_of
from limbfe.beam.equilibrium.way import Way, way_on
from limbfe.beam.limbs.motion import move
from limbfe.beam.model import (
    BORDER,
    DRAW,
    FORCE,
    POINT,
    PULL,
    TENSION,
    Model,
    Path,
    Task,
    new_work,
    unknown_of,
)
from limbfe.beam.string.course import part_lengths, run_of
from limbfe.beam.string.equations import string_equations
from limbfe.beam.string.hold import line_of_pull
from limbfe.beam.strung.bracing import rest_path

from ..make import bow_1800
from ..statics import Loads, follow_load
from ..strung.recurved import recurve

DRAW_LENGTH = 0.5


@pytest.mark.parametrize("kept", [2, 7, 14])
def test_it_does_not_matter_how_many_nodes_the_string_may_act_on(kept: int):
    bow = bow_1800(14)
    braced = brace(bow, height=0.15)
    found = []
    for model in (bow.model, bow.model._replace(kept=kept)):
        path, at = path_of(bow, braced)
        way = Way(model, path, at)
        point = way.lead(DRAW, DRAW_LENGTH)
        assert stable_states(model, [point], DRAW)[0]
        found.append((point, way))
    (one, few), (other, many) = found
    assert len(few.residuals) == len(many.residuals)
    assert other.path.positions == pytest.approx(one.path.positions, abs=1e-13)
    assert other.path.border == pytest.approx(one.path.border, rel=1e-11)


def lying_string(kept: int) -> tuple[Model, Path]:
    """A recurved bow, a little out of balance, whose string lies on its limbs."""
    bow = recurve(8)
    path, _ = path_of(bow, draw(bow, brace(bow, height=0.15), [0.3]).states[0])
    rng = np.random.default_rng(3)
    step = 1e-3 * rng.normal(size=(len(path.positions), 6))
    # in the plane of the bow: along x and z, and about y
    step[:, [1, 3, 5]] = 0.0
    for node in range(len(step)):
        move(path.rotations[node], path.positions[node], step[node])
    return bow.model._replace(kept=kept), path


def potential(model: Model, path: Path) -> float:
    tension = path.border[TENSION:PULL]
    stretch = 1.0 + 0.5 * tension / model.string_stiffness
    pull = path.border[PULL] * line_of_pull(model, path.border)[0]
    return float(tension @ (part_lengths(model, path) - path.string * stretch) - pull)


def moved(model: Model, path: Path, step: np.ndarray, share: float) -> Path:
    out, n = path.copy(), len(path.positions)
    out.border[:] += share * step[:BORDER]
    for limb in range(2):
        for depth in range(model.kept):
            node, at = (depth, n - 1 - depth)[limb], unknown_of(model, limb, depth)
            move(out.rotations[node], out.positions[node], share * step[at : at + 6])
    return out


def test_a_string_that_bends_on_the_limbs_has_its_exact_gradient_and_hessian():
    model, path = lying_string(9)
    assert (run_of(model, path).touching > 0.05).all()
    work, rng = new_work(model), np.random.default_rng(4)
    string_equations(model, path, Task(FORCE, 0.0, 1.0), work)
    gradient = work.residual.copy()
    gradient[PULL] = -line_of_pull(model, path.border)[0]
    assert np.abs(work.symmetric - work.symmetric.T).max() < 1e-9
    for _ in range(4):
        step = rng.normal(size=len(gradient)) * 0.02
        step[TENSION:BORDER] *= 1e3
        h = 1e-3
        values = [potential(model, moved(model, path, step, k * h)) for k in (-2, -1, 0, 1, 2)]
        first = np.array([1.0, -8.0, 0.0, 8.0, -1.0]) @ values / (12.0 * h)
        second = np.array([-1.0, 16.0, -30.0, 16.0, -1.0]) @ values / (12.0 * h * h)
        assert gradient @ step == pytest.approx(first, rel=1e-8)
        assert step @ work.symmetric @ step == pytest.approx(second, rel=1e-5)


def test_a_given_pull_and_a_free_nocking_point():
    bow = bow_1800(10)
    braced = brace(bow, height=0.15)
    drawn = draw(bow, braced, [DRAW_LENGTH]).states[0]
    way = way_on(bow, braced)
    way.start_anew(0.0)
    pulled = way.lead(FORCE, drawn.draw_force)
    assert pulled.path.border[POINT] == pytest.approx(DRAW_LENGTH, abs=1e-9)
    free = way.lead(FORCE, 0.0)
    assert free.path.positions == pytest.approx(braced.positions, abs=1e-9)


def pulled_below(lengths: tuple[float, float], force: float, *, taut: bool) -> tuple[Way, Path]:
    """The way of a bow at rest whose lower nock alone is pulled by its part of the string."""
    bow = bow_1800(10)
    path = rest_path(bow)
    path.border[POINT:TENSION] = path.positions[0] + [lengths[0], 0.0, 0.0]
    path.border[TENSION:] = force, 0.0, force
    path.string[:], path.slack[:] = lengths, (0, 1)
    return Way(bow.model, path, force, taut=taut), path


def test_a_slack_part_is_a_state_and_the_other_pulls_alone():
    way, _ = pulled_below((0.3, 2.2), 20.0, taut=False)
    found = way.lead(FORCE, 20.0)
    assert found.path.border[TENSION:] == pytest.approx([20.0, 0.0, 20.0], abs=1e-9)
    assert stable_states(way.model, [found], FORCE)[0]
    chain = bow_1800(10).chain
    n = len(chain.positions)
    dead, fixed = np.zeros((n, 6)), np.zeros((n, 6), dtype=bool)
    dead[0, 0] = 20.0
    fixed[way.model.lower : way.model.upper + 1] = True
    alone = follow_load(chain, fixed, Loads(dead=dead, follower=0 * dead), [1.0])[0]
    assert found.path.positions == pytest.approx(alone.positions, abs=1e-9)
    way, _ = pulled_below((0.3, 2.2), 20.0, taut=True)
    assert way.lead(FORCE, 20.0) is None
    assert way.went_slack


def test_a_slack_part_that_is_too_short_comes_taut():
    way, start = pulled_below((0.3, 1.7), 20.0, taut=False)
    assert part_lengths(way.model, start)[1] > 1.7
    path = way.lead(FORCE, 20.0).path
    assert not path.slack.any()
    assert path.border[TENSION:PULL].min() > 0.0
    stretch = 1.0 + path.border[TENSION:PULL] / way.model.string_stiffness
    assert part_lengths(way.model, path) == pytest.approx(path.string * stretch, rel=1e-9)


def test_the_same_without_compiling():
    """With NUMBA_DISABLE_JIT=1 the code runs line by line, for a debugger."""
    code = (
        "import numba\n"
        "from tests.beam.make import bow_1800\n"
        "from limbfe.beam import brace, draw\n"
        "from limbfe.beam.equilibrium.newton import iterate\n"
        "bow = bow_1800(3)\n"
        "print(hasattr(iterate, 'py_func'), draw(bow, brace(bow, height=0.15), [0.5]).force[0])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=pathlib.Path(__file__).parents[3],
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    compiled, force = done.stdout.split()
    assert compiled == "False"
    bow = bow_1800(3)
    here = draw(bow, brace(bow, height=0.15), [0.5]).force[0]
    assert float(force) == pytest.approx(here, rel=1e-10)
