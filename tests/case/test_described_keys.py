"""cases/README.md describes every key of a case file, the needed ones in bold, and every word."""

import re
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

import pytest

from limbfe.case.schema import (
    AnalysisTable,
    ArrowTable,
    CaseFile,
    CornerTable,
    CrownTable,
    DrawTable,
    GrainTable,
    GripTable,
    LimbTable,
    SectionTable,
    ShotTable,
    StringTable,
    TipsTable,
)
from limbfe.case.taper_tables import TaperTable
from limbfe.case.wood_tables import WoodTable
from limbfe.case.zone_tables import DecayTable, FillerTable, KnotTable, MultipliersTable

PAGE = Path(__file__).parents[2] / "cases" / "README.md"
TABLES = {
    "[wood.whole]": WoodTable,
    "[grain]": GrainTable,
    "[section]": SectionTable,
    "{ crown }": CrownTable,
    "{ corner }": CornerTable,
    "[limb.both]": LimbTable,
    "[taper]": TaperTable,
    "[grip]": GripTable,
    "[string]": StringTable,
    "[draw]": DrawTable,
    "[arrow]": ArrowTable,
    "[tips]": TipsTable,
    "[shot]": ShotTable,
    "[[knot]]": KnotTable,
    "filler": FillerTable,
    "[[decay]]": DecayTable,
    "multipliers": MultipliersTable,
    "[analysis]": AnalysisTable,
}


def rows() -> dict[str, str]:
    """Return the table of keys: heading of the row, without back ticks, to its second cell."""
    text = PAGE.read_text("utf-8").split("## Every key")[1]
    cells = re.findall(r"^\| (?!-)(.+?) \| (.+) \|$", text, re.MULTILINE)
    return {heading.strip("`"): cell for heading, cell in cells if heading != "table"}


def words(annotation: Any) -> set[str]:
    """Return the words a value may be, however deep they stand in its type."""
    if get_origin(annotation) is Literal:
        return {one for one in get_args(annotation) if isinstance(one, str)}
    return set().union(*(words(one) for one in get_args(annotation)))


def test_every_table_has_its_row():
    assert set(rows()) == {"top of the file", *TABLES}
    blocks = set(CaseFile.model_fields) - {"title", "question"}
    assert blocks == {re.findall(r"[a-z]+", name)[0] for name in TABLES if name.startswith("[")}


@pytest.mark.parametrize("name", TABLES)
def test_a_row_holds_every_key_and_no_other(name):
    model, cell = TABLES[name], rows()[name]
    keys = set(re.findall(r"`([A-Za-z_]+)`", cell)) | set(re.findall(r"`(table) = ", cell))
    needed = set(re.findall(r"\*\*`([A-Za-z_]+)`\*\*", cell))
    assert keys == set(model.model_fields)
    assert needed == {key for key, field in model.model_fields.items() if field.is_required()}
    choices = set().union(
        *(words(field.annotation) for key, field in model.model_fields.items() if key != "unit"),
    )
    missing = {word for word in choices if f'"{word}"' not in cell and f"`{word}`" not in cell}
    assert not missing
