"""Columns from a CSV file beside the case."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from limbfe.case.build import build_stave
from limbfe.case.load import read_case
from limbfe.case.schema import Case
from limbfe.errors import CaseError
from limbfe.stave.columns import COLUMNS, NAMED
from limbfe.stave.stave import column

UPPER = """\
# measured with a calliper
station, width, thickness, sapwood, lean, backing, reflex, sideways, twist
0, 31, 33, 6, 0, 2, 0, 0, 0
55, 31, 30, 6, 1, 2, 0, 0, 0
130, 35, 23, 5.5, 2, 2, 1, 1, 0

320, 33, 21, 5, 3, 2, 3, 1, 1
510, 28, 18.5, 4.5, 4, 2, 9, -1, 2
700, 21, 15.5, 4, 3, 2, 17, -2, 4
880, 13, 12, 3, 0, 2, 28, 0, 5
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
    for name in UPPER.split("\n")[1].split(", "):
        np.testing.assert_array_equal(getattr(from_table, name), getattr(inline, name))


def test_every_column_may_stand_in_a_table(
    tmp_path: Path, complete: str, read: Callable[[str], Case]
) -> None:
    """Alike at every station, they say what [grain] and [section] say once."""
    once = build_stave(read(complete))
    alike = {"crown": "70", "ring_radius": "98", "sideways_grain": "-2", "spiral": "3"}
    alike["run_out"] = f"{math.degrees(math.atan(1 / 30))!r}"
    for side in ("upper", "lower"):
        columns = {
            name: column(once, name)[6:] for name in NAMED if name not in ("station", *alike)
        }
        columns["station"] = once.x[6:]
        if side == "lower":
            columns = {name: column(once, name)[6::-1] for name in columns if name != "station"}
            columns["station"] = -once.x[6::-1]
        for name, values in columns.items():
            columns[name] = np.degrees(values) if NAMED[name].kind == "angle" else 1e3 * values
        rows = [",".join((*columns, *alike))]
        for row in zip(*columns.values(), strict=True):
            rows.append(",".join((*(repr(float(value)) for value in row), *alike.values())))
        (tmp_path / f"{side}.csv").write_text("\n".join(rows))
    head, rest = complete.split("[grain]")
    limbs = '[limb.upper]\nunit = "mm"\ntable = "upper.csv"\n'
    limbs += limbs.replace("upper", "lower")
    section = '[section]\nback = "crowned"\nbelly = "round"\n'
    (tmp_path / "stave.toml").write_text(head + section + limbs + rest[rest.index("[grip]") :])
    spread = build_stave(read_case(tmp_path / "stave.toml"))
    for name in COLUMNS:
        np.testing.assert_allclose(
            column(spread, name), column(once, name), rtol=1e-14, atol=1e-16, err_msg=name
        )


def test_a_flat_back_is_a_word_in_a_table(read_beside: Callable[[str], Case]) -> None:
    lines = UPPER.split("\n")
    lines[1] += ", crown"
    lines[2:] = [line and f"{line}, {'flat' if k else 'round'}" for k, line in enumerate(lines[2:])]
    with pytest.raises(CaseError, match=r'line 3: crown = "round": must be .* or flat; its unit'):
        read_beside("\n".join(lines))
    with pytest.raises(CaseError, match=r"\[section\] back: stands beside the crown column"):
        read_beside("\n".join(lines).replace("round", "flat"))


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
    "empty cell": ("55, 31, 30", "55, , 30", ("line 4", "has no width")),
    "row too short": ("55, 31, 30, 6, 1, 2, 0, 0", "55, 31, 30", ("line 4", "has no lean")),
    "row too long": ("55, 31, 30, 6,", "55, 31, 30, 6, 7,", ("line 4", "10 values for 9")),
    "semicolons": ("station, width", "station; width", ("line 2", "separated alike")),
}


def test_as_a_spreadsheet_writes_it(read_beside: Callable[[str], Case]) -> None:
    """Byte-order mark, semicolons, decimal commas, capitals, units and notes change nothing."""
    plain = read_beside(UPPER).file.limb.upper
    lines = UPPER.strip().split("\n")
    names = [name.strip() for name in lines[1].split(",")]
    unit = {"lean": "deg", "twist": "deg"}
    heads = [f"{name.title().replace('_', ' ')} [{unit.get(name, 'cm')}]" for name in names]
    written = [";".join((*heads, "Notes"))]
    for line in filter(None, lines[2:]):
        cells = [
            cell.strip() if name in unit else repr(float(cell) / 10.0)
            for name, cell in zip(names, line.split(","), strict=True)
        ]
        written.append(";".join((*cells, "by candle, 5 pm")).replace(".", ","))
    limb = read_beside("\ufeffsep=;\n" + "\r\n".join(written)).file.limb.upper
    assert plain is not None
    assert limb is not None
    for name in names:
        given = getattr(plain, name)
        assert getattr(limb, name) == pytest.approx(given, rel=1e-12), name


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
