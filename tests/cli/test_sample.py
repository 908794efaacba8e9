"""``limbfe sample``: every file it writes is read as it stands."""

from pathlib import Path

import pytest

import limbfe
from limbfe.case.samples import find_samples
from limbfe.case.sheet_load import read_sheet
from limbfe.cli import main

CASES = Path(__file__).parents[2] / "cases"


def test_every_case_and_stave_is_there():
    files = {path.stem for path in (*CASES.glob("*.toml"), *(CASES / "staves").glob("*.toml"))}
    assert find_samples().keys() == files


@pytest.mark.parametrize("name", sorted(find_samples()))
def test_what_is_written_is_read(name, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["sample", name]) == 0
    assert f"wrote {name}.toml" in capsys.readouterr().out
    read = read_sheet if "staves" in find_samples()[name].path.parts else limbfe.read_case
    assert read(Path(f"{name}.toml")).title == find_samples()[name].title


def test_list_names_them(capsys):
    assert main(["sample"]) == 0
    said = capsys.readouterr().out
    assert all(name in said for name in find_samples())


def test_nothing_is_written_over(tmp_path, capsys):
    name, table = "from_a_spreadsheet", "from_a_spreadsheet_stations.csv"
    (tmp_path / table).write_text("mine")
    assert main(["sample", name, str(tmp_path / "bow.toml")]) == 2
    assert f'{table}" already' in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == [table]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["elmlong"], 'did you mean "elm_longbow"?'),
        (["qqq"], "there are ash_flatbow, "),
        (["elm_longbow", "bow.txt"], "does not end in .toml"),
        (["elm_longbow", "nowhere/bow.toml"], "nowhere"),
        (["../elm_longbow"], "none of that name"),
    ],
)
def test_slips(words, said, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["sample", *words]) == 2
    assert said in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
