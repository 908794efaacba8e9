"""Columns from a CSV file beside the case."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from limbfe.case.load import read_case
from limbfe.case.schema import Case
from limbfe.errors import CaseError

UPPER = """\
# measured with a calliper
station, width, thickness, sapwood, lean, backing, reflex, sideways
0, 31, 33, 6, 0, 2, 0, 0
55, 31, 30, 6, 1, 2, 0, 0
130, 35, 23, 5.5, 2, 2, 1, 1

320, 33, 21, 5, 3, 2, 3, 1
510, 28, 18.5, 4.5, 4, 2, 9, -1
700, 21, 15.5, 4, 3, 2, 17, -2
880, 13, 12, 3, 0, 2, 28, 0
"""


def with_table(complete: str, name: str = "upper.csv") -> str:
    head, rest = complete.split('[limb.upper]\nunit = "mm"\n')
    return (
        f'{head}[limb.upper]\nunit = "mm"\ntable = "{name}"\n\n{rest[rest.index("[limb.lower]") :]}'
    )


@pytest.fixture
def read_beside(tmp_path: Path, complete: str) -> Callable[[str], Case]:
    """Return a reader of the complete case with a CSV of this text beside it."""

    def read(table: str) -> Case:
        (tmp_path / "upper.csv").write_text(table)
        (tmp_path / "stave.toml").write_text(with_table(complete))
        return read_case(tmp_path / "stave.toml")

    return read


def test_a_table_gives_the_same_limb_as_inline_columns(
    read_beside: Callable[[str], Case], read: Callable[[str], Case], complete: str
) -> None:
    from_table, inline = read_beside(UPPER).file.limb.upper, read(complete).file.limb.upper
    assert from_table is not None
    assert inline is not None
    for name in ("station", "width", "thickness", "sapwood", "lean", "backing", "reflex"):
        np.testing.assert_array_equal(getattr(from_table, name), getattr(inline, name))


def test_the_digest_follows_the_table(read_beside: Callable[[str], Case]) -> None:
    one = read_beside(UPPER).digest
    assert read_beside(UPPER).digest == one
    assert read_beside(UPPER.replace("18.5", "18.4")).digest != one


def test_inches_in_fractions(tmp_path: Path, complete: str) -> None:
    """Cells and quoted values without a unit take the table's, whole numbers or fractions."""
    table = UPPER.replace("880, 13, 12", "880, 13 1/2, 12½").replace("700, 21,", "700, 20-3/4,")
    assert table != UPPER
    (tmp_path / "upper.csv").write_text(table, encoding="utf-8")
    (tmp_path / "stave.toml").write_text(with_table(complete))
    limb = read_case(tmp_path / "stave.toml").file.limb.upper
    assert limb is not None
    assert limb.width[-2:] == (0.02075, 0.0135)
    assert limb.thickness[-1] == 0.0125


TABLES: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "misspelt column": ("width", "widht", ("line 2", '"widht"', 'did you mean "width"?')),
    "column twice": ("reflex", "lean", ("line 2", '"lean"', "stands twice")),
    "text for a number": ("55, 31, 30", "55, wide, 30", ("line 4: width", '"wide"', "bare number")),
    "unit in a cell": ("55, 31, 30", "55, 31 mm, 30", ("line 4: width", '"31 mm"', "bare number")),
    "not a number": ("55, 31, 30", "55, nan, 30", ("line 4: width", '"nan"')),
    "empty cell": ("55, 31, 30", "55, , 30", ("line 4: width", '""')),
    "row too short": ("55, 31, 30, 6, 1, 2, 0, 0", "55, 31, 30", ("line 4", "3 values for 8")),
    "semicolons": ("station, width", "station; width", ("line 2", "separated by commas")),
}


@pytest.mark.parametrize("name", TABLES)
def test_a_broken_table_is_refused(name: str, read_beside: Callable[[str], Case]) -> None:
    old, new, expected = TABLES[name]
    with pytest.raises(CaseError) as caught:
        read_beside(UPPER.replace(old, new, 1))
    for words in ("upper.csv: ", *expected):
        assert words in str(caught.value)


def test_an_impossible_value_is_named_by_table_and_line(
    read_beside: Callable[[str], Case],
) -> None:
    with pytest.raises(CaseError) as caught:
        read_beside(UPPER.replace("320, 33, 21", "320, 33, -21"))
    assert "[limb.upper] upper.csv: line 7: thickness = -21: must be above zero" in str(
        caught.value
    )


def test_a_column_given_twice_is_refused(tmp_path: Path, complete: str) -> None:
    (tmp_path / "upper.csv").write_text(UPPER)
    text = with_table(complete).replace(
        'table = "upper.csv"\n', 'table = "upper.csv"\nwidth = [31, 31, 35, 33, 28, 21, 13]\n'
    )
    (tmp_path / "stave.toml").write_text(text)
    with pytest.raises(CaseError, match=r'holds a column "width" that the case gives too'):
        read_case(tmp_path / "stave.toml")


@pytest.mark.parametrize(
    "name",
    [
        "../upper.csv",
        "sub/upper.csv",
        "/etc/passwd",
        "..",
        ".",
        "",
        "a\\\\upper.csv",
        "~/upper.csv",
    ],
)
def test_a_table_outside_the_folder_is_refused(name: str, tmp_path: Path, complete: str) -> None:
    case = tmp_path / "case"
    (case / "sub").mkdir(parents=True)
    (tmp_path / "upper.csv").write_text(UPPER)
    (case / "sub" / "upper.csv").write_text(UPPER)
    (case / "stave.toml").write_text(with_table(complete, name))
    with pytest.raises(CaseError, match=r"\[limb\.upper\] table = .*own folder"):
        read_case(case / "stave.toml")


def test_a_link_out_of_the_folder_is_refused(tmp_path: Path, complete: str) -> None:
    case = tmp_path / "case"
    case.mkdir()
    (tmp_path / "secret.csv").write_text(UPPER)
    (case / "upper.csv").symlink_to(tmp_path / "secret.csv")
    (case / "stave.toml").write_text(with_table(complete))
    with pytest.raises(CaseError, match="leads out of the case's own folder"):
        read_case(case / "stave.toml")


def test_a_missing_table_names_its_neighbour(tmp_path: Path, complete: str) -> None:
    (tmp_path / "uper.csv").write_text(UPPER)
    (tmp_path / "stave.toml").write_text(with_table(complete))
    with pytest.raises(CaseError, match=r'no such file beside the case; did you mean "uper.csv"'):
        read_case(tmp_path / "stave.toml")
