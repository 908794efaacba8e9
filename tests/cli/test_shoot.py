"""``limbfe shoot``, in this process and with few elements."""

from __future__ import annotations

import io
import json
import re
from contextlib import redirect_stdout
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

import limbfe
from limbfe.analysis.zones.verdicts import GRAVITY
from limbfe.cli import main
from limbfe.report.shoot import _signed, shot_tables
from limbfe.units import IMPERIAL, METRIC

ASH = Path(__file__).parents[2] / "cases" / "ash_flatbow.toml"
COARSE = "\n[analysis]\nelements_per_limb = 5\nfineness = 0.5\n"


@pytest.fixture(scope="module")
def text() -> str:
    return ASH.read_text().replace("steps = 30", "steps = 8") + COARSE


PAIR = ["--arrow", "30:31:1 g"]
"""Two arrows: what a gram costs and what other limbs shoot, most of the time, is left out."""


@pytest.fixture(scope="module")
def shots(tmp_path_factory, text):
    """The shot of an arrow of 30 g."""
    path = tmp_path_factory.mktemp("shot") / "ash.toml"
    path.write_text(text)
    return limbfe.shoot(path, "30 g")


@pytest.fixture
def case(tmp_path, text) -> str:
    path = tmp_path / "ash.toml"
    path.write_text(text)
    return str(path)


@pytest.fixture(scope="module")
def shot_once(text, tmp_path_factory) -> tuple[dict, Path]:
    """What one arrow's shot prints with ``--json``, and its picture."""
    folder = tmp_path_factory.mktemp("once")
    path, picture = folder / "ash.toml", folder / "shot.png"
    path.write_text(text)
    said = io.StringIO()
    with redirect_stdout(said):
        words = ["shoot", str(path), "--arrow", "450 gr", "--json", "--png", str(picture)]
        assert main(words) == 0
    return json.loads(said.getvalue()), picture


def test_speeds_and_arrows_are_told_in_the_readers_units_first(shots):
    def last(units):
        screen = Console(width=80, file=io.StringIO())
        screen.print(shot_tables(shots, units))
        return " ".join(screen.file.getvalue().split()).split("An arrow of ")[1]

    speed = shots.shots[0].shot.speed
    assert re.match(rf"463 gr \(30.0 g\) leaves at {speed / 0.3048:.0f} fps \(", last(IMPERIAL))
    assert re.match(rf"30.0 g \(463 gr\) leaves at {speed:.1f} m/s \(", last(METRIC))


def test_drops_and_other_limbs_are_told_as_their_readers_say_them(shots):
    """What is farther than a ruler reaches is no count of inches; 3/8 in is on one."""

    def told(units):
        screen = Console(width=80, file=io.StringIO())
        screen.print(shot_tables(shots, units))
        return screen.file.getvalue()

    inches, metric = told(IMPERIAL), told(METRIC)
    assert "3/8 in more reflex" in inches
    assert "9.5 mm more reflex" in metric
    for words, near, far in (
        (inches, r"10 yd +[\d /]+ in ", r"50 yd +\d+\.\d ft "),
        (metric, r"10 m +\d+ mm ", r"50 m +\d+\.\d m "),
    ):
        assert re.search(near, words)
        assert re.search(far, words)
    assert (_signed(-0.04, 1), _signed(0.0, 2), _signed(-0.06, 1)) == ("0.0", "0.00", "-0.1")


def test_contract_and_sanity_of_an_arrow(shot_once):
    found, picture = shot_once
    assert picture.stat().st_size > 10_000
    shot, full = found["shot"], found["full_draw"]
    assert found["arrow_mass_g"] == pytest.approx(29.16, abs=0.01)
    # a wooden bow of about 45 lbf, 450 grains: 45 to 50 m/s, 60 to 75 % (common practice; a bow
    # without the losses of hand and string may be faster)
    assert 42.0 < shot["speed_m_per_s"] < 60.0
    assert shot["speed_fps"] == pytest.approx(shot["speed_m_per_s"] / 0.3048)
    assert 0.55 < shot["efficiency"] < 0.9
    energy = 0.5e-3 * found["arrow_mass_g"] * shot["speed_m_per_s"] ** 2
    assert shot["efficiency"] == pytest.approx(energy / shot["work_of_drawing_J"])
    virtual = found["arrow_mass_g"] * (1.0 / shot["efficiency"] - 1.0)
    assert shot["virtual_mass_g"] == pytest.approx(virtual)
    assert shot["string_tension_max_after_N"] > full["draw_weight_N"]
    assert shot["back_strain_max"] >= full["back_strain_max"] - 1e-9
    assert -0.1 < shot["energy_drift"] < 0.0
    assert any("loss_factor" in line for line in found["assumptions"])
    # what a gram costs: each slows the arrow
    costs = found["costs"]
    assert costs["gram_at_each_tip_m_per_s"] < 0.0
    assert costs["gram_of_string_m_per_s"] < 0.0
    assert costs["gram_of_arrow_m_per_s"] < 0.0
    assert costs["string_half_as_heavy_m_per_s"] > 0.0


def test_several_arrows_in_a_table_and_in_json(case, capsys):
    arguments = ["shoot", case, "--arrow", "400:600:100 gr", "--undamped"]
    assert main([*arguments, "--json"]) == 0
    shots = json.loads(capsys.readouterr().out)["shots"]
    assert [round(one["arrow_mass_g"] / 0.06479891) for one in shots] == [400, 500, 600]
    speeds = [one["speed_m_per_s"] for one in shots]
    assert speeds == sorted(speeds, reverse=True)
    shares = [one["efficiency"] for one in shots]
    assert shares == sorted(shares)
    assert all(abs(one["energy_drift"]) < 1e-4 for one in shots)
    assert main([*arguments, "--units", "imperial"]) == 0
    told = capsys.readouterr().out
    assert "fps" in told
    assert "600 gr" in told
    # the table of a terminal: its rule is as wide as it is
    assert max(len(line.rstrip()) for line in told.splitlines() if "\u2500" in line) <= 80
    assert all(len(line.rstrip()) <= 80 for line in told.splitlines() if " gr  " in line)


def test_dry_release_warns_before_everything_else(case, capsys):
    assert main(["shoot", case, "--dry"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("Never let a bow go without an arrow")
    assert "Let go without an arrow" in told


def test_missing_arrow_is_asked_for(case, capsys):
    assert main(["shoot", case]) == 2
    assert 'give its mass, such as "450 gr"' in capsys.readouterr().err


def test_light_arrow_is_computed_with_a_caution(case, capsys):
    assert main(["shoot", case, "--arrow", "200:220:20 gr", "--json"]) == 0
    cautions = json.loads(capsys.readouterr().out)["cautions"]
    assert any("lighter than 6 grains a pound" in words for words in cautions)


@pytest.mark.parametrize("mass", ["0 g", "-3 g", "3 kg", "heavy", "30 mm", "600:400:50 gr", ""])
def test_masses_that_are_none_are_refused(case, capsys, mass):
    assert main(["shoot", case, f"--arrow={mass}"]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "arrow" in said


@pytest.mark.parametrize(
    ("added", "said"),
    [
        ('[arrow]\nmass = "0 g"\n', "[arrow] mass"),
        ('[arrow]\nmass = "5 kg"\n', "[arrow] mass"),
        ("[arrow]\nmass = 30\n", "[arrow] mass"),
        ("[arrow]\n", "[arrow] mass"),
        ('[arrow]\nmass = "30 g"\nlenght = "80 cm"\n', "lenght"),
        ('[tips]\nmass = "-1 g"\n', "[tips] mass"),
        ("[shot]\nloss_factor = -0.1\n", "[shot] loss_factor"),
        ("[shot]\nloss_factor = 2\n", "[shot] loss_factor"),
        ('[shot]\nstring_loss_factor = "much"\n', "[shot] string_loss_factor"),
        ('[shot]\nhand_mass = "2 kg"\n', "without hand_stiffness"),
        ('[shot]\nhand_mass = "2 kg"\nhand_stiffness = "5 kN"\n', "[shot] hand_stiffness"),
        ('[arrow]\nmass = "30 g"\nshaft_diameter = "8 kg"\n', "[arrow] shaft_diameter"),
        ('[arrow]\nmass = "30 g"\ndrag_coefficient = -1\n', "[arrow] drag_coefficient"),
    ],
)
def test_keys_that_are_wrong_are_refused_by_name(tmp_path, text, capsys, added, said):
    path = tmp_path / "wrong.toml"
    path.write_text(text + added)
    assert main(["shoot", str(path), "--arrow", "30 g"]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1


def test_arrow_tips_and_serving_of_the_case_are_taken(tmp_path, text):
    path = tmp_path / "given.toml"
    path.write_text(text + '[arrow]\nmass = "30 g"\n[shot]\nloss_factor = 0.0\n')
    plain = limbfe.shoot(path).shots[0]
    assert plain.arrow == pytest.approx(0.030)
    assert abs(plain.drift) < 1e-4
    path.write_text(text + '[arrow]\nmass = "30 g"\n[tips]\nmass = "10 g"\n')
    both = limbfe.shoot(path, [0.030, 0.031])
    heavy = both.shots[0]
    assert heavy.shot.speed < plain.shot.speed
    assert [row["arrow_mass_g"] for row in both.rows()] == pytest.approx([30.0, 31.0])


def test_string_that_breaks_is_the_first_thing_said(tmp_path, text, capsys):
    path = tmp_path / "weak.toml"
    weak = "\n".join(
        'material = "linen"\nstrands = 8' if line.startswith(("strands", "stiffness")) else line
        for line in text.splitlines()
        if not line.startswith(("material", "mass"))
    )
    path.write_text(weak)
    assert main(["shoot", str(path), "--dry"]) == 0
    assert "THE STRING BREAKS" in capsys.readouterr().out.split("work of drawing")[0]


def test_arrow_flies_as_far_as_its_shaft_lets_it(tmp_path, text, capsys):
    path = tmp_path / "flown.toml"
    slim = '[arrow]\nmass = "30 g"\nshaft_diameter = "6 mm"\ndrag_coefficient = 1.5\n'
    reach = {}
    for name, added in (("slim", slim), ("fletched", slim.replace("1.5", "4.0"))):
        path.write_text(text + added)
        assert main(["shoot", str(path), "--json", *PAIR]) == 0
        shot = json.loads(capsys.readouterr().out)["shots"][0]
        reach[name] = shot["flight"]["farthest"]["range_m"]
        vacuum = shot["speed_m_per_s"] ** 2 / 9.80665
        assert reach[name] < vacuum
    assert reach["fletched"] < reach["slim"]
    assert main(["shoot", str(path), "--units", "imperial"]) == 0
    told = capsys.readouterr().out
    assert "Flight in still air" in told
    assert "yd" in told


def test_arrow_too_short_for_the_draw_is_warned_of(tmp_path, text, capsys):
    path = tmp_path / "short.toml"
    path.write_text(text + '[arrow]\nmass = "30 g"\nlength = "26 in"\n')
    assert main(["shoot", str(path), "--json", *PAIR]) == 0
    cautions = json.loads(capsys.readouterr().out)["cautions"]
    assert any("comes off its rest" in words for words in cautions)


def test_hand_that_gives_way_and_air_on_the_string_take_speed(tmp_path, text, capsys):
    path = tmp_path / "held.toml"
    speeds = {}
    held = text
    string = held.replace("[string]", '[string]\ndiameter = "3 mm"')
    hand = held + '[shot]\nhand_mass = "1.5 kg"\nhand_stiffness = "5 kN/m"\n'
    for name, one in (("fast", held), ("air", string), ("hand", hand)):
        path.write_text(one)
        assert main(["shoot", str(path), "--json", *PAIR]) == 0
        told = json.loads(capsys.readouterr().out)
        speeds[name] = told["shots"][0]["speed_m_per_s"]
        fast = any("held fast" in words for words in told["cautions"])
        assert fast == (name != "hand")
    # the string sweeps half its length at half the speed: a per cent at the most
    assert 0.985 * speeds["fast"] < speeds["air"] < speeds["fast"]
    # the arm, pressed at full draw, follows the bow: a little faster or slower by its mass
    assert speeds["hand"] == pytest.approx(speeds["fast"], rel=0.05)
    assert abs(speeds["hand"] / speeds["fast"] - 1.0) > 1e-3


@pytest.mark.slow
def test_film_and_modes_are_drawn(case, tmp_path, capsys):
    from PIL import Image

    film, modes = tmp_path / "shot.gif", tmp_path / "modes.png"
    assert (
        main(["shoot", case, "--arrow", "30 g", "--movie", str(film), "--modes", str(modes)]) == 0
    )
    with Image.open(film) as pictures:
        # every half millisecond, until the limbs have turned back
        assert 60 < pictures.n_frames < 140
    assert modes.stat().st_size > 10_000
    assert main(["shoot", case, "--arrow", "30 g", "--movie", str(tmp_path / "shot.avi")]) == 2
    assert "name it .gif or .mp4" in capsys.readouterr().err


def test_film_shows_the_arrow_fly_on_at_its_speed(shots):
    from limbfe.view.bow.shot_film import instants, side_outline

    one = shots.shots[0]
    moments = instants(shots, one, between=1e-3)
    assert one.time is not None
    gone = [moment for moment in moments if moment.time > one.time]
    flown = gone[-1].arrow[0] - gone[0].arrow[0]
    # towards the target, which lies towards -X
    assert flown[0] == pytest.approx(-one.shot.speed * (gone[-1].time - gone[0].time), rel=1e-6)
    string = moments[0].pose.string
    assert string[len(string) // 2] == pytest.approx(moments[0].arrow[0])
    outline = side_outline(moments[0], shots.solved.model.setup.stave)
    back, belly = np.split(outline, 2)
    # the axis is the middle of the wood
    axis = moments[0].pose.positions
    assert 0.5 * (back + belly[::-1]) == pytest.approx(np.stack([-axis[:, 0], axis[:, 2]], axis=1))


def test_the_page_of_a_shot_holds_every_moment_of_the_film(shots, tmp_path):
    from limbfe.units import METRIC
    from limbfe.view.bow.shot_film import instants
    from limbfe.view.bow.shot_page import shot_scene, write_shot_page

    moments, scene = instants(shots, shots.shots[0]), shot_scene(shots, shots.shots[0])
    limb, string, before, arrow = scene.bodies
    assert limb.points.shape[0] == string.points.shape[0] == arrow.points.shape[0] == len(moments)
    assert before.points.ndim == 2
    # the two ends of the string's tube have the nocks in their middle, in every frame
    ends = np.stack([moment.pose.string[[0, -1]] for moment in moments])
    assert string.points[:, -2:] == pytest.approx(ends, abs=1e-12)
    # no faster than the arrow flies: frames are half a millisecond apart
    moved = np.linalg.norm(np.diff(arrow.points[:, -2], axis=0), axis=1)
    assert moved.max() == pytest.approx(0.5e-3 * shots.shots[0].shot.speed, rel=0.11)
    path = write_shot_page(shots, tmp_path / "shot.html", METRIC)
    page = path.read_text("utf-8")
    assert len(page) < 400_000
    assert "http" not in page
    assert "{{" not in page


def test_the_page_of_a_shot_takes_in_the_bow_and_not_all_of_the_arrows_way(shots):
    from limbfe.view.bow.shot_page import shot_scene

    scene = shot_scene(shots, shots.shots[0])
    limb, string, arrow = (scene.bodies[k].points.reshape(-1, 3) for k in (0, 1, 3))
    low, high = scene.framed.min(axis=0), scene.framed.max(axis=0)
    for points in (limb, string):
        assert (points >= low).all()
        assert (points <= high).all()
    assert arrow[:, 0].min() < low[0] - 0.3


def test_knots_are_told_what_the_shot_does_there(capsys, tmp_path):
    path = tmp_path / "elm.toml"
    elm = ASH.with_name("elm_longbow.toml").read_text()
    path.write_text(elm.replace("steps = 30", "steps = 8") + COARSE)
    assert main(["shoot", str(path), "--json", *PAIR]) == 0
    zones = json.loads(capsys.readouterr().out)["shots"][0]["at_zones"]
    assert [zone["name"] for zone in zones] == ["A", "B"]
    for zone in zones:
        assert zone["back_strain_max"] >= zone["back_strain_drawn"]
        assert 0.0 <= zone["belly_stretched_max"] < zone["back_strain_drawn"]


def test_knots_pulled_as_the_limbs_turn_back_are_cautioned_by_name(tmp_path, text, capsys):
    path = tmp_path / "knot.toml"
    knot = '[[knot]]\nname = "K"\nlimb = "upper"\nat = "700 mm"\nface = "belly"\nacross = "0 mm"\n'
    path.write_text(text + knot + 'diameter = "4 mm"\nstate = "live"\n')
    assert main(["shoot", str(path), "--dry", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    (zone,) = told["dry"]["at_zones"]
    # pressed in the draw; let go with nothing to take the energy, the limb bends the other way
    assert 5e-4 < zone["belly_stretched_max"] <= told["dry"]["belly_stretched_max"]
    (turned,) = told["reversal"]
    assert turned["name"] == "K"
    assert turned["verdict"] in GRAVITY
    most = {"belly": zone["belly_stretched_max"], "back": zone["back_strain_max"]}
    assert turned[f"{turned['face']}_stretched"] == most[turned["face"]]
    words = f'knot "K": without an arrow the {turned["face"]} there is stretched'
    assert any(words in caution for caution in told["cautions"])
    path.write_text(text)
    assert main(["shoot", str(path), "--dry", "--json"]) == 0
    assert not any("is stretched" in c for c in json.loads(capsys.readouterr().out)["cautions"])


def test_other_limbs_are_told_with_what_they_draw(shot_once):
    found = shot_once[0]["reshaped"]
    narrower, thinner, reflexed = found
    # thinner tips draw less, more reflex draws more; neither is far from nothing (statics)
    assert narrower["draw_weight_N"] < 0.0
    assert thinner["draw_weight_N"] < narrower["draw_weight_N"]
    assert reflexed["draw_weight_N"] > 0.0
    assert reflexed["speed_m_per_s"] > 0.0
    assert all(abs(one["speed_m_per_s"]) < 1.0 for one in found)


def test_a_shot_that_is_given_up_ends_with_3_and_says_how_far_it_came(
    case, tmp_path, capsys, monkeypatch
):
    from limbfe.beam.shot import shoot

    # no time at all for the arrow to leave: every push is given up after its first steps
    monkeypatch.setattr(shoot, "LONGEST", 1e-9)
    page = tmp_path / "shot.html"
    assert main(["shoot", case, "--page", str(page), *PAIR]) == 3
    told = capsys.readouterr()
    assert re.search(r"limbfe: .*followed to \d+\.\d\d ms .*still on the string", told.err)
    assert told.out == ""
    assert not page.exists()
