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
