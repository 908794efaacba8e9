"""Sapwood at the tips: what depth and thinning do."""

import json

import numpy as np
import pytest

from limbfe.api import read_case
from limbfe.cli import main
from limbfe.errors import CaseError, ConvergenceError
from limbfe.studies.size.recut import columns_of
from limbfe.studies.size.sapwood import study_sapwood

from .make import CASES, coarse_ash


@pytest.fixture(scope="module")
def bow(tmp_path_factory):
    path = tmp_path_factory.mktemp("locust") / "locust.toml"
    text = (CASES / "locust_reflex.toml").read_text()
    # With fewer elements than a case takes its thinned tips would be called unstable at brace.
    path.write_text(text[: text.index("[[knot]]")])
    return path


@pytest.fixture(scope="module")
def told(bow):
    return study_sapwood(read_case(bow), 0.6)


@pytest.mark.slow
def test_thinning_takes_mass_and_weight(told):
    """Wood off the back of the outer thirds: mass falls by its own weight, draw weight too."""
    forces = [row.force for row in told.thinned]
    assert forces == sorted(forces, reverse=True)
    lost = 1.0 - told.thinned[-1].mass_outer / told.thinned[0].mass_outer
    share = 1.0 - told.thinned[-1].thickness / told.thinned[0].thickness
    # Widths differ from station to station, so the mass does not go exactly with the mean depth.
    assert lost == pytest.approx(share, abs=0.03)
    assert told.thinned[-1].used_outer > told.thinned[0].used_outer


@pytest.mark.slow
def test_softer_sapwood_in_place_of_heartwood_lowers_the_weight(told):
    """E_L of the sapwood is 12 % lower, all of it at the back where it counts."""
    assert told.kept[0].force > told.kept[2].force > told.kept[-1].force
    assert told.kept[0].thickness == pytest.approx(told.kept[-1].thickness)


@pytest.mark.slow
def test_the_command_prints_json(bow, capsys):
    assert main(["size", str(bow), "--sapwood", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [row["share"] for row in told["thinned"]] == [1.0, 0.75, 0.5, 0.25, 0.0]


def test_a_bow_that_turns_over_as_its_tips_are_thinned_ends_the_study_there(bow, monkeypatch):
    from limbfe.studies.size import sapwood

    def look(_, outer, share):
        if share == 0.25:
            raise ConvergenceError("the bow is not stable")
        return sapwood.SapwoodRow(
            share=share, sapwood=0.0, thickness=0.0, force=1.0, used_outer=0.8, used_inner=0.8,
            mass_outer=0.1,
        )  # fmt: skip

    monkeypatch.setattr(sapwood, "_look", look)
    told = study_sapwood(read_case(bow), 0.6).to_dict()
    assert [row["share"] for row in told["thinned"]] == [1.0, 0.75, 0.5]
    assert (told["gives_way"]["share"], told["gives_way"]["why"]) == (0.25, "the bow is not stable")
    assert told["share_of_sapwood_to_leave"] == 0.5


def test_refusals(tmp_path, bow, capsys):
    with pytest.raises(CaseError, match="no sapwood"):
        study_sapwood(read_case(coarse_ash(tmp_path)))
    assert main(["size", str(bow), "--sapwood", "--draw-weight", "30 lbf"]) == 2
    assert "does not go with --sapwood" in capsys.readouterr().err


def test_sapwood_may_reach_as_deep_as_there_is_wood_below_a_backing(tmp_path, bow, monkeypatch):
    """Shares of what the outer thirds are thick under the strip on their back, by hand."""
    from limbfe.studies.size import sapwood

    text = bow.read_text()
    thick = text[text.index("thickness = [") :].split("]")[0].split("[")[1].split(",")
    backing = f"backing   = {[1.5] * len(thick)}\n"
    text = text.replace("sapwood   =", backing + "sapwood   =", 1)
    path = tmp_path / "backed.toml"
    path.write_text(text + '\n[wood.backing]\nspecies = "bamboo"\nmoisture = 9\n')
    seen = []

    def look(cut, outer, share):
        columns = columns_of(cut)
        seen.append((share, (columns["sapwood"] / (columns["thickness"] - 1.5e-3))[outer]))
        return sapwood.SapwoodRow(
            share=share, sapwood=0.0, thickness=0.0, force=1.0, used_outer=1.0, used_inner=1.0,
            mass_outer=1.0,
        )  # fmt: skip

    monkeypatch.setattr(sapwood, "_look", look)
    study_sapwood(read_case(path), 0.6)
    for share, found in seen[-len(sapwood.SHARES) :]:
        assert found == pytest.approx(np.full(len(found), share), abs=1e-3)
