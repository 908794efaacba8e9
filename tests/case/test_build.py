"""What a case becomes: signs, units and defaults of the domain objects."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.setup import BowSetup
from limbfe.case.build import build_setup, build_stave
from limbfe.case.load import read_case
from limbfe.case.schema import Case
from limbfe.wood.decay import decay_effect
from limbfe.wood.fillers import find_filler
from limbfe.wood.wood import Wood

Read = Callable[[str], Case]
INCH = 0.0254


def said(setup: BowSetup) -> list[str]:
    return [str(one.words()) for one in setup.assumptions]


def modulus(wood: Wood | None) -> float:
    assert wood is not None
    return wood.elasticity.E_L


def test_both_limbs_become_one_axis_from_lower_to_upper_tip(complete: str, read: Read) -> None:
    stave = build_stave(read(complete))
    assert stave.x.tolist() == pytest.approx(
        [
            *(inches * INCH for inches in (-34, -28, -20, -12, -5, -2.5, 0)),
            *(0.055, 0.13, 0.32, 0.51, 0.7, 0.88),
        ]
    )
    assert stave.width[[0, 6, -1]].tolist() == pytest.approx([0.5 * INCH, 0.031, 0.013])
    assert stave.thickness[[1, 5, 7]].tolist() == pytest.approx([0.6 * INCH, 1.18 * INCH, 0.03])
    assert np.degrees(stave.lean[[2, 3, 10]]).tolist() == pytest.approx([-2.0, -3.0, 4.0])
    assert stave.reflex[:6].tolist() == [0.0] * 6
    assert stave.reflex[-1] == pytest.approx(0.028)
    assert stave.sideways[-2] == pytest.approx(-0.002)
    assert np.degrees(stave.twist[[0, 2, 3, -1]]).tolist() == pytest.approx([-4.0, -1.0, -1.0, 5.0])


def test_limbs_alike_are_mirrored(read: Read, complete: str) -> None:
    head, rest = complete.split("[limb.upper]")
    upper, rest = rest.split("[limb.lower]")
    text = head + "[limb.both]" + upper + rest[rest.index("[grip]") :]
    stave = build_stave(read(text))
    np.testing.assert_allclose(stave.x, -stave.x[::-1])
    for name in ("width", "thickness", "sapwood", "lean", "backing", "reflex", "sideways"):
        column = getattr(stave, name)
        np.testing.assert_array_equal(column, column[::-1])


def test_every_key_reaches_the_bow_in_si(complete: str, read: Read) -> None:
    setup = build_setup(read(complete))
    stave = setup.stave
    assert setup.title == "Practice stave, every key given"
    assert setup.question == "Does every key reach the bow?"
    assert setup.stringing.stiffness == pytest.approx(42e3)
    assert setup.stringing.mass == pytest.approx(7.5e-3)
    assert setup.stringing.nock_offset == pytest.approx(-2e-3)
    assert setup.stringing.brace_height == pytest.approx(0.152)
    assert setup.stringing.length is None
    assert setup.holding.kind == "hand"
    assert setup.holding.hand_at == pytest.approx(-0.018)
    assert setup.holding.arrow_at == pytest.approx(0.027)
    assert setup.drawing.length == pytest.approx(0.7112)
    assert (setup.drawing.steps, setup.analysis.elements_per_limb, setup.analysis.fineness) == (
        24,
        12,
        0.5,
    )
    assert (setup.drawing.held, setup.stringing.strung) == (6.0, 10800.0)
    alike = np.ones(len(stave.x))
    assert stave.outline.crown == pytest.approx(0.07 * alike)
    assert stave.outline.belly == "round"
    assert stave.grain.ring_radius == pytest.approx(0.098 * alike)
    assert stave.grain.run_out == pytest.approx(math.atan(1 / 30) * alike)
    assert np.degrees(stave.grain.sideways_grain) == pytest.approx(-2.0 * alike)
    assert np.degrees(stave.grain.spiral) == pytest.approx(3.0 * alike)
    assert stave.stiff_length == pytest.approx(4 * INCH)
    assert modulus(stave.heartwood) == pytest.approx(10.4e9)
    assert stave.heartwood.moisture == pytest.approx(0.09)
    assert stave.heartwood.strength.cov["E_L"] == pytest.approx(0.18)
    assert stave.sapwood_wood is not None
    assert modulus(stave.sapwood_wood) == pytest.approx(9.3e9)
    assert stave.backing_wood is not None
    assert stave.backing_wood.species == "shagbark hickory"


def test_knots_lie_on_their_face_and_limb(complete: str, read: Read) -> None:
    back, side = build_stave(read(complete)).knots
    assert back.x == pytest.approx(0.34)
    assert back.entry[1] == pytest.approx(-0.005)
    assert back.entry[2] > 0.0
    assert back.state == "live"
    # Into the limb and so back towards the grip; what is seen of it leans towards the tip.
    assert back.direction[0] == pytest.approx(-math.sin(math.radians(25.0)))
    assert side.direction[0] == 0.0
    assert side.x == pytest.approx(-1.375 * INCH)
    # Left is the archer's left, y < 0; "across" on a side face runs towards the back.
    assert side.entry[1] < -0.01
    assert side.entry[2] == pytest.approx(0.003)
    assert side.filler is not None
    assert (side.filler.E, side.filler.tension, side.filler.shear) == pytest.approx(
        (2.4e9, 38e6, 19e6)
    )


def test_a_filler_of_the_table_is_said_with_its_source(complete: str, read: Read) -> None:
    text = re.sub(r"filler = \{.*\}", 'filler = "Wood dust and glue"', complete)
    case = read(text)
    row = find_filler("wood dust and glue")
    _, side = build_stave(case).knots
    assert side.filler is not None
    assert (side.filler.E, side.filler.tension, side.filler.shear) == (
        row.E,
        row.tension,
        row.shear,
    )
    lines = [line for line in said(build_setup(case)) if 'filler "wood dust and glue"' in line]
    assert len(lines) == 1
    assert "no published figure found" in lines[0]


def test_a_patch_keeps_its_stage_where_no_multiplier_replaces_it(complete: str, read: Read) -> None:
    (decay,) = build_stave(read(complete)).decays
    stage = decay_effect("moderate", "white")
    assert decay.center[0] == pytest.approx(-0.59)
    assert decay.center[1] == pytest.approx(0.003)
    assert decay.center[2] < 0.0
    assert decay.semi_axes.tolist() == pytest.approx([0.0225, 0.0045, 0.005])
    assert abs(stage.E - 0.8) > 0.01
    assert abs(decay.effect.E - 0.8) < 1e-12
    assert decay.effect.tension == stage.tension


def test_a_string_of_strands_takes_its_figures_from_the_table(complete: str, read: Read) -> None:
    text = complete.replace(
        'stiffness = "42 kN"\nmass = "7.5 g"', 'material = "polyester"\nstrands = 12'
    )
    setup = build_setup(read(text))
    # 12 strands of 4.04 kN and 380 tex; a twisted string keeps 91 % of the stiffness.
    assert setup.stringing.stiffness == pytest.approx(0.91 * 12 * 4040)
    assert setup.stringing.mass == pytest.approx(12 * 380e-6 * (0.88 + 34 * INCH))


def test_sapwood_not_described_is_the_same_wood(complete: str, read: Read) -> None:
    text = complete.replace('[wood.sapwood]\nspecies = "rock elm"\nE_L = "9.3 GPa"\n', "")
    setup = build_setup(read(text))
    assert modulus(setup.stave.sapwood_wood) == modulus(setup.stave.heartwood)
    assert "sapwood: not described; taken as the same wood as the heartwood" in said(setup)


def test_layers_share_the_stave_s_moisture(complete: str, read: Read) -> None:
    setup = build_setup(read(complete))
    for wood in (setup.stave.sapwood_wood, setup.stave.backing_wood):
        assert wood is not None
        assert wood.moisture == pytest.approx(0.09)
    assert any("moisture as in the heartwood" in line for line in said(setup))


def test_given_values_are_not_listed_as_assumed(complete: str, read: Read) -> None:
    lines = said(build_setup(read(complete)))
    for start in ("[", "sapwood: not", 'knot "A"', 'decay "B": rot', "heartwood (rock elm): E_L"):
        assert [line for line in lines if line.startswith(start)] == [
            f"[limb.lower] {line}"
            for line in (
                "reflex: the unstrung back is taken straight seen from the side",
                "sideways: the limb is taken straight seen from the back",
            )
            if start == "["
        ]
    assert any("heartwood (rock elm)" in line and "E_R = " in line for line in lines)
    assert any('decay "B": ' in line and "tension x 0.71" in line for line in lines)


@pytest.mark.parametrize(
    ("removed", "line"),
    [
        ("arrow_at", "[grip] arrow_at: "),
        ("hand_at", "[grip] hand_at: "),
        ("hold", "[grip] hold: held by hand"),
        ("steps", "[draw] steps: 30"),
        ("mass", "[string] mass: the string is taken as weightless"),
        ("nock_offset", "[string] nock_offset: "),
        ("spiral", "[grain] spiral: no spiral grain"),
        ("ring_radius", "[grain] ring_radius: "),
        ("reflex", "[limb.upper] reflex: "),
        ("held", "[draw] held: full draw held for 5 s"),
        ("elements_per_limb", "[analysis] elements_per_limb: 12"),
        ("far_diameter", 'knot "A": far_diameter: a cone from the pith'),
        ("rot", 'decay "B": rot: brown rot'),
    ],
)
def test_what_is_not_given_is_said(removed: str, line: str, complete: str, read: Read) -> None:
    # Only where the line says it: an arrow and a string have a mass each.
    section = line[: line.index("]") + 1] if line.startswith("[") else ""
    table, kept = "", []
    for text in complete.splitlines():
        table = text if text.startswith("[") else table
        found = text.startswith(removed) and text[len(removed)] in " ="
        if not (found and table.startswith(section)):
            kept.append(text)
    lines = said(build_setup(read("\n".join(kept))))
    assert any(item.startswith(line) for item in lines)


def test_a_defect_in_the_handle_is_accepted_and_said(complete: str, read: Read) -> None:
    setup = build_setup(read(complete))
    assert any(
        item.startswith('knot "D": lies in the stiff handle, 34.9 mm') for item in said(setup)
    )


@pytest.mark.parametrize("name", ["elm_longbow", "ash_flatbow", "locust_reflex"])
def test_shipped_cases_have_title_question_and_invented_data(name: str) -> None:
    path = Path(__file__).parents[2] / "cases" / f"{name}.toml"
    case = read_case(path)
    assert "Invented data" in path.read_text()
    assert case.title
    assert case.question.endswith("?")
    assert build_setup(case).title == case.title
