"""Tables come in the units the bow was measured in: nobody converts before reading an answer."""

import argparse
from pathlib import Path

import pytest

from limbfe.cli import main
from limbfe.cli.reader_units import settle_units, written_in
from limbfe.units import UnitError, parse_quantity

CASES = Path(__file__).parents[2] / "cases"


def settled(**options):
    options = argparse.Namespace(**options)
    settle_units(options)
    return options.units


@pytest.mark.parametrize(
    ("file", "units"),
    [("from_a_tape", "imperial"), ("elm_longbow", "metric"), ("staves/elm_pole", "metric")],
)
def test_the_units_of_the_case_are_the_readers(file, units):
    assert settled(units=None, case=CASES / f"{file}.toml") == units


def test_the_command_line_says_otherwise():
    assert settled(units="metric", case=[CASES / "from_a_tape.toml"]) == "metric"
    assert settled(units=None) == "metric"


def test_a_table_counts_with_its_numbers_and_words_do_not(tmp_path):
    path = tmp_path / "mixed.toml"
    path.write_text(
        'title = "27 mm"\n[draw]\nlength = "28 in"\n[limb.both]\nunit = "mm"\nstation = [0, 40]\n'
    )
    assert written_in([path]) == "metric"
    path.write_text('[draw]\nlength = "28 in"\n[string]\nbrace_height = "150 mm"\nx = "5 ft 6 in"')
    assert written_in([path]) == "imperial"


def test_what_cannot_be_read_is_left_to_its_reader(tmp_path):
    broken = tmp_path / "broken.toml"
    broken.write_text('[draw\nlength = "28 in"')
    assert written_in([broken, tmp_path / "none.toml", tmp_path]) == "metric"


@pytest.mark.parametrize(
    ("name", "example"), [("from_a_tape", '"1 1/2 in"'), ("ash_flatbow", '"25 mm"')]
)
def test_examples_in_messages_are_in_the_reader_s_units(name, example, capsys):
    assert main(["section", str(CASES / f"{name}.toml"), "--at", "5"]) == 2
    assert example in capsys.readouterr().err
    with pytest.raises(UnitError, match='"25 mm"'):  # and of Python's reader as they were
        parse_quantity("5", "length")
