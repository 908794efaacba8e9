"""DEVELOPERS.md: its example runs, its files exist, its table leaves no source out."""

import doctest
import re
import textwrap
import tomllib
from importlib import import_module
from pathlib import Path

import pytest

from limbfe.wood.table import read_row

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "DEVELOPERS.md"
TEXT = PAGE.read_text("utf-8")


def test_the_example_gives_what_it_shows(monkeypatch):
    monkeypatch.chdir(ROOT)
    result = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8")
    assert result.attempted >= 4
    assert result.failed == 0


def test_the_wood_that_is_shown_can_be_read():
    shown = re.search(r"^    \[source\.author_1900\]\n(?:    .*\n|\n)+", TEXT, re.MULTILINE)
    table = (ROOT / "limbfe" / "wood" / "species.toml").read_text("utf-8")
    sources = tomllib.loads(table)["source"]
    added = tomllib.loads(textwrap.dedent(shown[0]))
    row = read_row("tree_kind", added["species"]["tree_kind"], sources | added["source"])
    assert row.dry["bending_modulus"].value == 12.1e9


@pytest.mark.parametrize("name", sorted(set(re.findall(r"`limbfe\.([\w.]+)\(", TEXT))))
def test_a_function_that_is_named_exists(name):
    *module, function = name.split(".")
    assert callable(getattr(import_module(".".join(["limbfe", *module])), function))


def test_every_source_stands_in_the_table():
    files = {path.stem for path in (ROOT / "tests" / "verification").glob("test_*.py")}
    assert files == {name for name in re.findall(r"`(test_\w+)`", TEXT) if "<" not in name}


def test_every_module_of_the_analysis_is_described():
    table = TEXT.split("Where the floors meet in `analysis`")[1].split("## Axes")[0]
    files = {path.name for path in (ROOT / "limbfe" / "analysis").glob("[a-z]*.py")}
    named = set(re.findall(r"`(\w+\.py)`", table))
    assert not files - named, "say in DEVELOPERS.md what they do"
    assert not named - files


def test_paths_that_are_named_exist():
    for path in re.findall(r"`((?:limbfe|tests|cases|benchmarks)/[\w./]+)`", TEXT):
        assert (ROOT / path).exists(), path
