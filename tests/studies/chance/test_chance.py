"""The whole study on small bows: quick ones against bows drawn in full, and what a user may ask."""

from __future__ import annotations

import json
import os
import signal
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import limbfe
from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.model import build_model
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.shot.speed import arrow_speed
from limbfe.case.build import build_setup
from limbfe.cli import main
from limbfe.errors import CaseError
from limbfe.studies.chance.asked import Asked
from limbfe.studies.chance.bows import FULL, Plan, design_setup, drawn_in_full
from limbfe.studies.chance.design import as_change, changes_of, design, quick_bow, worst_of
from limbfe.studies.chance.inputs import Errors, build_inputs, factors
from limbfe.studies.chance.study import chance_of

CASES = Path(__file__).parents[3] / "cases"
ARROW = 0.029
"""kg."""
MODULI = ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")
BELLY = ("compression", "compression_proportional_limit", "compression_plateau")
COARSE = "\n[analysis]\nelements_per_limb = 5\nfineness = 0.5\n"


def coarse(name, folder, **changes):
    text = (CASES / f"{name}.toml").read_text("utf-8").replace("steps = 30", "steps = 8")
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    path = folder / f"{name}.toml"
    path.write_text(text + COARSE, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def ash(tmp_path_factory):
    return coarse("ash_flatbow", tmp_path_factory.mktemp("ash"))


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """The file in which the ash bows that were drawn in full are kept, for all tests."""
    return tmp_path_factory.mktemp("kept") / "bows.jsonl"


def ask(ash, kept, **words):
    return limbfe.chance(ash, bows=64, samples=4000, workers=2, journal=kept, **words)


def test_without_scatter_it_is_the_bow_of_the_case(ash):
    found = limbfe.chance(ash, scatter=0.0, samples=1000)
    drawn = limbfe.draw(ash)
    assert found.draw_weight.own == found.draw_weight.mean == found.draw_weight.p95
    assert found.draw_weight.own == pytest.approx(float(drawn.curve.force[-1]), rel=1e-12)
    assert found.kept.mean == pytest.approx(drawn.kept.mean, rel=1e-12)
    assert found.chances["any"].value == 0.0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"held": "3 in"}, "held"),
        ({"held": "24 lbf"}, "held"),
        ({"held": "60 in"}, "held"),
        ({"samples": 3}, "samples 3"),
        ({"bows": 2}, "bows 2"),
        ({"seed": -1}, "seed -1"),
        ({"calliper": "9 mm"}, "tenth"),
        ({"calliper": "-1 mm"}, "calliper"),
        ({"archer": "soon"}, "archer"),
        ({"scatter": float("nan")}, "scatter"),
        ({"workers": 0}, "workers 0"),
        ({"bows": 64.5}, "whole number"),
        ({"bowz": 64}, "did you mean"),
    ],
)
def test_slips_are_named(ash, words, said):
    with pytest.raises(CaseError, match=said):
        limbfe.chance(ash, **words)


def test_no_scheduler_is_one_line(ash, capsys, monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr("limbfe.studies.tasks.cluster._WAIT", 0.3)
    assert main(["chance", str(ash), "--cluster", "tcp://127.0.0.1:9"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "no scheduler answers" in said.err
    assert said.err.count("\n") == 1


@pytest.mark.slow
def test_quick_bows_are_bows_drawn_in_full(ash):
    """Bows of the wood's own distribution lie off the quick ones by what the study says."""
    case = limbfe.read_case(ash)
    setup = design_setup(case)
    model = build_model(setup)
    inputs = build_inputs(setup, Errors(), np.zeros(5), (), np.zeros(0))

    def drawn(rows):
        return [
            drawn_in_full(
                Plan(case=case, change=as_change(row), sites=(), give=model.zones, arrow=ARROW)
            )
            for row in rows
        ]

    points, spread = design(inputs, 90)
    (own,) = drawn([np.zeros(len(spread))])
    bow = quick_bow(points, spread, own, drawn(points), "")
    u = np.random.default_rng(21).standard_normal((24, inputs.count))
    rows = changes_of(factors(inputs, u))
    full = drawn(rows)
    quick = bow.at(rows, ("force", "links", "set", "speed"))
    force = np.array([one["force"] for one in full]) - own["force"]
    assert force[:, FULL].std() > 0.02
    off = force[:, FULL] - quick["force"][:, FULL]
    assert np.sqrt((off**2).mean()) < 1.5 * bow.error["force"][FULL] < 0.02
    links = np.array([one["links"] for one in full]).reshape(24, -1)
    base = np.ravel(own["links"])
    off = worst_of("links", links, 8) - worst_of("links", base + quick["links"], 8)
    assert np.sqrt((off[:, FULL] ** 2).mean()) < 1.5 * bow.error["links"][FULL] < 0.03
    off = np.array([one["set"] for one in full]) - own["set"] - quick["set"][:, 0]
    assert np.sqrt((off**2).mean()) < 1.5 * bow.error["set"][0] < 4e-3
    off = np.array([one["speed"] for one in full]) - own["speed"] - quick["speed"][:, 0]
    assert np.sqrt((off**2).mean()) < 1.5 * bow.error["speed"][0] < 0.01


@pytest.mark.slow
def test_a_bow_twice_as_stiff_shoots_faster_by_the_root(ash):
    """Wood, belly and string twice as stiff, its arrow as heavy: `quick_bows` leans on it.

    Its losses have delays of their own, which the faster shot meets at another loss factor.
    """
    speeds = []
    for factor in (1.0, 2.0):
        setup = build_setup(limbfe.read_case(ash))
        wood = setup.stave.heartwood
        moduli = {name: factor * getattr(wood.elasticity, name) for name in MODULI}
        strengths = {name: factor * getattr(wood.strength, name) for name in BELLY}
        stiffer = replace(
            wood,
            elasticity=replace(wood.elasticity, **moduli),
            strength=replace(wood.strength, **strengths),
        )
        string = factor * setup.stringing.stiffness
        setup = adjust(
            setup, stave=replace(setup.stave, heartwood=stiffer), stringing={"stiffness": string}
        )
        speeds.append(arrow_speed(exercised_bow(setup, beyond=False), ARROW))
    assert speeds[1] / speeds[0] == pytest.approx(np.sqrt(2.0), rel=1e-3)


@pytest.mark.slow
def test_figures_do_not_depend_on_workers_or_on_being_stopped(ash, kept, tmp_path):
    """A journal cut short after half its lines, in one process, gives the same as two processes."""
    whole = ask(ash, kept).to_dict()
    half = tmp_path / "half.jsonl"
    lines = kept.read_text("utf-8").splitlines(keepends=True)
    half.write_text("".join(lines[: len(lines) // 2]) + lines[-1][:40], encoding="utf-8")
    again = limbfe.chance(ash, bows=64, samples=4000, workers=1, journal=half).to_dict()
    assert again == whole
    other = ask(ash, kept, seed=1).to_dict()
    assert other["draw_weight_N"]["mean"] != whole["draw_weight_N"]["mean"]
    assert other["draw_weight_N"]["mean"] == pytest.approx(whole["draw_weight_N"]["mean"], rel=0.02)


@pytest.mark.slow
def test_what_has_held_is_less_likely_to_fail(ash, kept):
    """Bayes by hand: P(by 28 | not by 26) = (P(by 28) - P(by 26)) / (1 - P(by 26))."""
    words = {"bows": 64, "samples": 100_000, "archer": 1e-9, "workers": 2, "journal": kept}
    fresh, held = (limbfe.chance(ash, held=draw, **words) for draw in (None, "26 in"))
    by = fresh.by_draw
    early, late = (np.interp(at, by["draw_length"], by["any"]) for at in (0.6604, 0.7112))
    exact = (late - early) / (1.0 - early)
    share = held.chances["any"]
    assert share.low * 0.9 <= exact <= share.high * 1.1
    assert share.high < fresh.chances["any"].low
    assert held.surviving.value == pytest.approx(1.0 - early, abs=5e-4)
    assert np.all(np.diff(by["any"]) >= 0.0)


@pytest.mark.slow
def test_the_answer_is_one_screen_and_its_json_says_the_same(ash, kept, tmp_path, capsys):
    words = [
        "chance", str(ash), "--bows", "64", "--samples", "4000", "--keep", str(kept),
        "--workers", "2",
    ]  # fmt: skip
    assert main([*words, "--out", str(tmp_path / "out")]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= 40
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"chance.json", "chance.png"}
    assert main([*words, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told == json.loads((tmp_path / "out" / "chance.json").read_text("utf-8"))
    assert told == ask(ash, kept).to_dict()
    assert set(told["chance"]) >= {"any", "split", "rupture", "clear_wood"}
    for one in told["chance"].values():
        assert 0.0 <= one["low"] <= one["value"] <= one["high"] <= 1.0


@pytest.mark.slow
def test_weaker_wood_fails_sooner(ash, kept, tmp_path):
    changes = {'E_L = "12.1 GPa"': 'E_L = "12.1 GPa"\ntension_strength = "140 MPa"'}
    weak = coarse("ash_flatbow", tmp_path, **changes)
    found = limbfe.chance(weak, bows=24, samples=4000, workers=2)
    assert found.chances["any"].low > ask(ash, kept).chances["any"].high


@pytest.mark.slow
def test_a_knot_and_a_patch_have_their_share(tmp_path):
    """The chance with a knot is at least that without; what fails is named."""
    path = coarse("elm_longbow", tmp_path)
    case = limbfe.read_case(path)
    found = limbfe.chance(case, bows=24, samples=4000, workers=2)
    file = case.file.model_copy(update={"knot": (), "decay": ()})
    clear = chance_of(replace(case, file=file), Asked(bows=24, samples=4000), workers=2)
    assert found.zones == ("A", "B")
    assert not clear.zones
    assert found.chances["any"].high > clear.chances["any"].low
    assert build_setup(case).stave.knots
    assert (
        found.chances["any"].value
        <= sum(found.chances[name].value for name in ("split", "rupture", "clear_wood")) + 1e-12
    )
    assert {"knots", "decay"} <= set(found.indices["failure"])


def die_once(plan):
    """Draw a bow, but the first worker that gets one of the design kills itself over it."""
    marker = Path(os.environ["DIE_ONCE"])
    if np.any(plan.change.thickness) and not marker.exists():
        marker.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return drawn_in_full(plan)


@pytest.mark.slow
def test_a_cluster_loses_nothing_when_a_worker_is_killed(ash, tmp_path, monkeypatch):
    """Two worker processes, the first that draws a bow killed over it; figures as in processes."""
    distributed = pytest.importorskip("distributed")
    near = limbfe.chance(ash, bows=24, samples=4000, workers=2).to_dict()
    monkeypatch.setenv("DIE_ONCE", str(tmp_path / "died"))
    monkeypatch.setattr("limbfe.studies.chance.study.drawn_in_full", die_once)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, local_directory=tmp_path
    ) as cluster:
        far = limbfe.chance(
            ash,
            bows=24,
            samples=4000,
            cluster=cluster.scheduler_address,
            journal=tmp_path / "far.jsonl",
        ).to_dict()
        moist = limbfe.sweep(ash, moisture=[0.1, 0.12], cluster=cluster.scheduler_address)
    assert (tmp_path / "died").exists()
    assert far == near
    assert moist.to_dict() == limbfe.sweep(ash, moisture=[0.1, 0.12]).to_dict()
