"""What a spreadsheet would run as a formula is text."""

import csv

from limbfe.report.csv_file import write_csv


def test_titles_are_no_formulas(tmp_path):
    cells = ["=HYPERLINK(A1)", "+1+1", "-cmd", "@SUM(A1)", "\tx", "ash, 2 = good", "-0.5", -1.5]
    path = write_csv(tmp_path / "a.csv", [f"c{k}" for k in range(8)], [cells])
    with path.open(newline="") as stream:
        _, line = csv.reader(stream)
    assert line == [
        "'=HYPERLINK(A1)", "'+1+1", "'-cmd", "'@SUM(A1)", "'\tx", "ash, 2 = good", "-0.5", "-1.5"
    ]  # fmt: skip


def test_what_is_split_at_semicolons_holds_no_formula_either(tmp_path):
    """Excel splits a line at its country's separator, and minds no quote in the midst of a cell.

    OWASP, CSV Injection (from memory), of separators and of wide signs.
    """
    bad = ["elm;=cmd|' /C calc'!A0", "a\t@SUM(A1)", "a\n=1+1", "\uff1dcmd", "b;\uff0b1", ";-x"]
    cells = [*bad, ["a;=1"], "ash; -2 mm", "", None]
    path = write_csv(tmp_path / "a.csv", ["=A1", *"abcdefghi"], [cells])
    with path.open(newline="") as stream:
        heads, line = csv.reader(stream)
    assert heads[0] == "'=A1"
    for between in ";\t\n":
        for cell in [part for one in [*heads, *line] for part in one.split(between)]:
            assert not cell.startswith(tuple("=+-@\uff1d\uff0b\uff0d\uff20")), cell
    assert line[-3:] == ["ash; -2 mm", "", ""]
