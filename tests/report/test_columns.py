"""Every table is read in a terminal of 80 columns: no number is cut short, no line runs over."""

import io
from pathlib import Path

import pytest
from rich.console import Console

import limbfe
from limbfe.report.assess import assessment_tables
from limbfe.report.defect import defect_tables
from limbfe.report.draw import draw_tables
from limbfe.report.draw_limits import limits_table
from limbfe.report.moisture import moisture_table
from limbfe.report.pull import pull_tables
from limbfe.report.sapwood import sapwood_tables
from limbfe.report.shave import shave_tables
from limbfe.report.size import size_tables
from limbfe.report.sweep import sweep_tables
from limbfe.report.tables import section_table
from limbfe.report.woods import bending_table, species_table, wood_table
from limbfe.studies.bending_test import bending_checks
from limbfe.units import IMPERIAL, METRIC

from ..cases.test_every_case import DEFECT

ELM = Path(__file__).parents[2] / "cases" / "elm_longbow.toml"
MOST_LINES = 75
"""On one screen, as tall as terminals are made: an assessment with a knot and a patch."""


@pytest.fixture(scope="module")
def bows(tmp_path_factory):
    """Return the elm on a coarse mesh, and without its zones: tables are as wide as on a fine one.

    What names no zone is told of the clear one, which takes less time.
    """
    text = ELM.read_text(encoding="utf-8").replace("steps = 30", "steps = 8")
    coarse = "\n[analysis]\nelements_per_limb = 6\nfineness = 0.5\n"
    found = []
    for name, part in (("elm", text), ("clear", text[: text.index("[[knot]]")])):
        path = tmp_path_factory.mktemp("coarse") / f"{name}.toml"
        path.write_text(part + coarse, encoding="utf-8")
        found.append(limbfe.read_case(path))
    return found


@pytest.fixture(scope="module")
def solved(bows):
    return limbfe.solve(bows[0])


@pytest.fixture(scope="module")
def assessed(solved):
    return limbfe.assess(solved)


@pytest.fixture(scope="module")
def tables(bows, solved, assessed, invented_sweep):
    """Return functions from units to what each command prints."""
    _, clear = bows
    drawn = limbfe.draw(solved)
    knot = next(zone for zone in assessed.judged if zone.result.name == "A")
    section, pulled = (
        limbfe.section_at(clear, "310 mm"),
        limbfe.pull(clear, "1.95 m", force="20 lbf"),
    )
    tested = bending_checks()
    return {
        "assess": lambda units: assessment_tables(assessed, units),
        "assess, all": lambda units: assessment_tables(
            assessed, units, every=True, assumptions=True
        ),
        "draw": lambda units: draw_tables(drawn, units, assumptions=True),
        "sweep": lambda units: sweep_tables(invented_sweep, units),
        "section": lambda units: section_table(section, units),
        "pull": lambda units: pull_tables(pulled, units),
        "defect": lambda units: defect_tables(knot, units, 0.18),
        "woods": species_table,
        "a wood": lambda units: wood_table("shagbark hickory", units),
        "bending": lambda units: bending_table(tested, units),
    }


@pytest.fixture(scope="module")
def tables_of_many_bows(bows, solved):
    """The same of what draws the bow many times."""
    _, clear = bows
    limits, shaved = limbfe.draw_limits(solved), limbfe.shave(clear)
    damper = limbfe.sweep(clear, moisture=(0.06, 0.12), workers=1)
    sized, sapwood = limbfe.size(clear, "35 lbf"), limbfe.size_sapwood(clear)
    return {
        "draw on": lambda units: limits_table(limits, units),
        "shave": lambda units: shave_tables(shaved, units),
        "moisture": lambda units: moisture_table(damper, units),
        "size": lambda units: size_tables(sized, units),
        "sapwood": lambda units: sapwood_tables(sapwood, units),
    }


def printed(table, width):
    console = Console(width=width, markup=False, emoji=False, file=io.StringIO())
    console.print(table)
    return console.file.getvalue().splitlines()


@pytest.mark.parametrize("width", [80, 100])
@pytest.mark.parametrize("units", [METRIC, IMPERIAL], ids=["metric", "imperial"])
@pytest.mark.parametrize(
    "many", ["tables", pytest.param("tables_of_many_bows", marks=pytest.mark.slow)]
)
def test_nothing_is_cut_short(request, many, units, width):
    tables = request.getfixturevalue(many)
    cut = [
        f"{name}: {line}"
        for name, table in tables.items()
        for line in printed(table(units), width)
        if "\u2026" in line or len(line) > width
    ]
    assert cut == []


def test_a_close_look_says_why_the_verdict_is_another_figure_and_ends_with_it(assessed, tables):
    """Windows say where a split begins, the followed one whether it runs."""
    outcome = next(z for z in assessed.judged if z.result.name == "A").local.outcome
    said = " ".join(" ".join(printed(tables["defect"](METRIC), 80)).split())
    assert outcome.grain_split is not None
    assert f"it has {outcome.modes['split'].typical:.0%} of what makes it run" in said
    assert said.index("Ways of failing") < said.index("By depth") < said.index("Knots and decay")


def test_the_contract_of_a_zone(assessed):
    """That of the whole is held to every shipped case, in the slow suite."""
    zones = assessed.to_dict()["defects"]
    assert [zone["name"] for zone in zones] == ["A", "B"]
    assert all(zone.keys() == DEFECT for zone in zones)


def test_an_assessment_is_one_screen_and_ends_with_what_to_do(tables):
    lines = [line for line in printed(tables["assess"](METRIC), 80) if line.strip()]
    assert len(lines) <= MOST_LINES
    assert any(line.startswith("Next: ") for line in lines[-8:])
    assert "Eye protection" in " ".join(lines[-6:])
