"""The map of allowed knots against the full verdict of knots of such sizes."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from limbfe.analysis.assess import look_at_zone
from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.case.build import build_setup
from limbfe.case.load import read_case
from limbfe.case.zone_tables import KnotTable
from limbfe.cli import main
from limbfe.log.layout.allowed import allowed_knots
from limbfe.report.knot_map import map_tables
from limbfe.studies.trial_knots.map import SIZES, MappedKnots
from limbfe.studies.trial_knots.table import draw_clear, first_strength, tabulate
from limbfe.units import IMPERIAL, METRIC
from limbfe.view.zone.knot_map import draw_knot_map

ASH = Path(__file__).parents[3] / "cases" / "ash_flatbow.toml"


@pytest.fixture(scope="module")
def clear(tmp_path_factory):
    path = tmp_path_factory.mktemp("map") / "ash.toml"
    text = ASH.read_text().replace("steps = 30", "steps = 8")
    path.write_text(text + "\n[analysis]\nelements_per_limb = 8\nfineness = 0.5\n")
    return draw_clear(read_case(path))


@pytest.fixture(scope="module")
def first(clear):
    """A map by the width that is left: all of its form, no local models."""
    one = first_strength(clear)
    tables = dict.fromkeys(("live", "dead", "missing"), one.tables["dead"])
    known = allowed_knots(clear.stave, replace(one, tables=tables))
    return MappedKnots(clear=clear, map=known, notes=())


@pytest.mark.parametrize("units", [METRIC, IMPERIAL], ids=["metric", "imperial"])
def test_tables_fit_a_terminal(first, units):
    console = Console(width=80, markup=False, emoji=False, file=io.StringIO())
    console.print(map_tables(first, units))
    lines = console.file.getvalue().splitlines()
    assert not [line for line in lines if "\u2026" in line or len(line) > 80]
    assert "On the belly" in console.file.getvalue()


def test_the_contract_is_json_with_null_in_the_grip(first):
    found = json.loads(json.dumps(first.to_dict(), allow_nan=False))
    one = found["knots"]["live"]["back"]
    assert len(one["sound_mm"]) == len(found["station_mm"]) == len(found["width_mm"])
    assert all(len(row) == len(found["across_share"]) for row in one["sound_mm"])
    grip = [abs(at) < 1e3 * first.clear.stave.half_grip for at in found["station_mm"]]
    assert [row[0] is None for row in one["sound_mm"]] == grip


def test_the_picture_has_a_panel_a_state_and_face(first):
    faces = ("back", "belly")
    one = replace(first.map, allowed={("dead", f): first.map.allowed["dead", f] for f in faces})
    figure = draw_knot_map(one, first.title, first.draw_length, "imperial")
    titles = [axes.get_title(loc) for axes in figure.axes for loc in ("left", "center")]
    assert [t for t in titles if t] == ["dead knot, back", "dead knot, belly"]
    figure.canvas.draw()
    # sizes as a ruler shows them, upright
    scale = [text.get_text() for text in figure.axes[-1].get_yticklabels()]
    assert scale == ["0", "1/16", "1/8", "3/16", "1/4", "5/16", "3/8", "1/2"]
    numbers = [text for axes in figure.axes[:2] for text in axes.texts if text.get_text() != "grip"]
    assert {text.get_text() for text in numbers} <= set(scale)
    assert all(text.get_rotation() == 0.0 for text in numbers)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "name a knot or patch"),
        (["A", "--map"], "takes no knot"),
        (["A", "--out", "there"], "goes with --map"),
    ],
)
def test_words_that_do_not_go_together_are_refused(words, said, capsys):
    assert main(["defect", str(ASH), *words]) == 2
    assert said in capsys.readouterr().err


@pytest.mark.slow
def test_the_map_agrees_with_the_full_verdict(clear):
    """Knots a tenth smaller than the map's largest sound one are sound by the verdict `assess`
    gives, in the middle where the limb works hard, towards the edge where it does less, and by
    the edge; half as large again, they are not.
    """
    strength = tabulate(clear, {"live": SIZES}, soundness=True)
    found = allowed_knots(clear.stave, strength)
    one = found.allowed["live", "back"]
    for scale, sound in ((0.9, True), (1.5, False)):
        knots, places = [], [(-0.30, 0.0), (0.60, 0.7)]
        if sound:
            # near the edge the map is held back by common practice: larger ones may do
            places.append((0.40, 0.9))
        for k, (s, place) in enumerate(places):
            i = int(np.argmin(np.abs(found.s - s)))
            most = float(np.interp(place, found.share, one.sound[i]))
            fields = {"name": f"k{k}", "limb": "upper" if s > 0 else "lower", "at": abs(s)}
            fields |= {"face": "back", "across": 0.5 * place * float(found.width[i])}
            fields |= {"diameter": scale * most, "state": "live"}
            knots.append(KnotTable.model_construct(**fields))
        case = replace(clear.case, file=clear.case.file.model_copy(update={"knot": tuple(knots)}))
        solved = exercised_bow(build_setup(case), beyond=False)
        verdicts = [look_at_zone(solved, knot.name).result.verdict for knot in knots]
        assert [verdict == "sound" for verdict in verdicts] == [sound] * len(knots), (
            scale,
            verdicts,
        )
