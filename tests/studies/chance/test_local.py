"""Sampled bows judged on local models of their own."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import limbfe
from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.wood.limb_load import limb_load
from limbfe.case.build import build_setup
from limbfe.errors import CaseError
from limbfe.failure.probability import failure_probability
from limbfe.studies.chance.zones import demands_of, judged_zone

CASES = Path(__file__).parents[3] / "cases"
COARSE = "\n[analysis]\nelements_per_limb = 5\nfineness = 0.5\n"


@pytest.fixture(scope="module")
def locust(tmp_path_factory):
    text = (CASES / "locust_reflex.toml").read_text("utf-8").replace("steps = 30", "steps = 8")
    path = tmp_path_factory.mktemp("locust") / "locust.toml"
    path.write_text(text + COARSE, encoding="utf-8")
    return path


def test_a_clear_bow_has_nothing_to_judge():
    with pytest.raises(CaseError, match="no knot or patch to judge"):
        limbfe.chance(CASES / "ash_flatbow.toml", local=2)


@pytest.mark.slow
def test_own_models_agree_with_the_tables_and_go_on_when_stopped(locust, tmp_path):
    """Where nothing scatters every bow is that of the case, of which the tables are made, judged by
    another way through the program (identity); a journal cut short gives the same as one run."""
    words = {"scatter": 0.0, "samples": 1000, "local": 2, "journal": tmp_path / "bows.jsonl"}
    whole = limbfe.chance(locust, **words)
    assert (whole.local.bows, whole.local.lost) == (2, 0)
    assert whole.local.bias == pytest.approx(0.0, abs=1e-6)
    assert whole.local.off < 1e-6
    lines = words["journal"].read_text("utf-8").splitlines(keepends=True)
    words["journal"].write_text("".join(lines[:-1]) + lines[-1][:40], encoding="utf-8")
    assert limbfe.chance(locust, **words).to_dict() == whole.to_dict()


@pytest.mark.slow
@pytest.mark.parametrize(("case", "name"), [("elm_longbow", "A"), ("locust_reflex", "C")])
def test_a_zone_of_a_case_has_the_chance_of_its_verdict(case, name, tmp_path):
    """What the tables are made of, with samples of their own, against what `assess` prints beside
    the verdict: the same bow, load and models (identity), so they differ as samples do."""
    text = (CASES / f"{case}.toml").read_text("utf-8").replace("steps = 30", "steps = 8")
    path = tmp_path / "bow.toml"
    path.write_text(text + COARSE, encoding="utf-8")
    bow = exercised_bow(build_setup(limbfe.read_case(path)), beyond=False)
    asked = demands_of(judged_zone(bow, limb_load(bow), name, 0.0))
    verdict = limbfe.judge_zone(bow, name).result
    rng = np.random.default_rng(5)
    mine = failure_probability(asked.rupture, asked.splits, asked.scatter, rng, asked.beside)
    told = (verdict.failure_probability, verdict.limb_failure_probability)
    off = 4.0 * np.sqrt(2.0 * max(*told, 1e-4) / 100_000)
    assert (mine.added, mine.clear) == pytest.approx(told, abs=off)
