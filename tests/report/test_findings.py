"""What is found while a bow is assessed: shown to who watches, on stderr, and wiped off."""

from __future__ import annotations

import argparse
from dataclasses import replace

from limbfe.analysis.zones import verdicts
from limbfe.cli.common import progress
from limbfe.report.findings import finding_line
from limbfe.stave.named_zones import zones_of
from limbfe.units import IMPERIAL, METRIC


def test_a_finding_is_one_line_in_the_readers_units(assessment):
    first = assessment.zones[0]
    split = replace(first, verdict="expect a split", mode="splits open along the grain")
    line = finding_line(split, METRIC)
    assert line.startswith(f"{first.words}, {first.limb} {METRIC.length(first.at)}: expect a split")
    assert IMPERIAL.length(first.at) in finding_line(split, IMPERIAL)
    strung = replace(assessment.drawn, when_braced=("it breaks when it is strung",))
    assert finding_line(strung, METRIC).startswith("it breaks when it is strung. draws ")
    spot = assessment.hot_spots[0]
    assert spot.how_hard in finding_line(spot, METRIC)
    assert not any("\n" in finding_line(one, METRIC) for one in (split, strung, spot))


def test_findings_stay_in_sight_below_what_is_being_done(capsys, monkeypatch):
    monkeypatch.setenv("FORCE_COLOR", "1")
    with progress(argparse.Namespace(json=False)) as watching:
        watching("judging knot [/] (1 of 2)")
        watching.found("knot [/]: sound")
        watching("judging knot B (2 of 2)")
    out, err = capsys.readouterr()
    assert out == ""
    assert err.rindex("knot [/]: sound") > err.rindex("judging knot B (2 of 2)")


def test_nobody_is_told_who_does_not_watch(capsys):
    for json in (False, True):
        with progress(argparse.Namespace(json=json)) as watching:
            watching("judging")
            watching.found("knot A: sound")
    assert capsys.readouterr() == ("", "")


def test_a_verdict_is_handed_out_once_nothing_can_change_it(assessment, monkeypatch):
    """Zones of one piece of wood wait for the last of them, whose verdict may hold for all."""
    stave = assessment.setup.stave
    zones = zones_of(stave)
    one = zones[0]
    three = tuple(replace(one, name=name) for name in "PQR")
    by_label = {zone.label: zone for zone in three}
    monkeypatch.setattr(verdicts, "zones_of", lambda stave: three)
    shared = {"P": "PR", "Q": "Q", "R": "PR"}
    monkeypatch.setattr(
        verdicts,
        "sharing",
        lambda stave, zone: tuple(z for z in three if z.name in shared[zone.name]),
    )
    told: list[str] = []

    def judge_one(model, load, known, zone):
        told.append(f"judged {by_label[zone.label].name}")
        grave = {"P": "sound", "Q": "watch", "R": "expect rupture"}[zone.name]
        result = replace(assessment.zones[0], name=zone.name, verdict=grave)
        return verdicts.JudgedZone(result=result, local=None)

    monkeypatch.setattr(verdicts, "judge_one", judge_one)
    model = argparse.Namespace(setup=assessment.setup)
    judged = verdicts.judge_zones(
        model, None, None, found=lambda v: told.append(f"{v.name} {v.verdict}")
    )
    assert told == [
        "judged P",
        "judged Q",
        "Q watch",
        "judged R",
        "P expect rupture",
        "R expect rupture",
    ]
    assert [one.result.name for one in judged] == ["P", "Q", "R"]
