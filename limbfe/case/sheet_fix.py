"""What is settled with a command: which end is up, a cut, points of the line."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from limbfe.case.messages import CaseText, refuse
from limbfe.case.sheet_checks import sheet_problems
from limbfe.case.sheet_schema import PointTable, Sheet
from limbfe.case.values import quantity
from limbfe.errors import CaseError

EXAMPLES = 'such as "upper_end=top", "cut_butt=90 mm", "cut_top=60 mm" or "through=840 mm, 5 mm"'


def with_fixes(sheet: Sheet, fixes: tuple[str, ...]) -> Sheet:
    """Return a sheet with what is settled put over its ``[fix]``.

    Raises
    ------
    CaseError
        If one is not understood or contradicts the stave.
    """
    if not fixes:
        return sheet
    changes: dict[str, Any] = {}
    through = list(sheet.file.fix.through)
    for text in fixes:
        key, sign, value = (part.strip() for part in text.partition("="))
        option = f'--fix "{text}"'
        if not sign or not value:
            raise CaseError(f"{option}: is not a setting; write {EXAMPLES}")
        if key == "upper_end":
            if value not in ("butt", "top"):
                raise CaseError(f'{option}: must be "butt" or "top"')
            changes[key] = value
        elif key in ("cut_butt", "cut_top"):
            length = quantity(option, value, "length")
            if length is None or length < 0.0:
                raise CaseError(f"{option}: cannot be negative; give what is sawn off")
            changes[key] = length
        elif key == "through":
            through.append(_point(option, value))
        else:
            raise CaseError(f"{option}: unknown setting; write {EXAMPLES}")
    changes["through"] = tuple(through)
    if "cut_butt" in changes and "cut_top" not in changes:
        changes["cut_top"] = None
    elif "cut_top" in changes and "cut_butt" not in changes:
        changes["cut_butt"] = None
    file = sheet.file.model_copy(update={"fix": sheet.file.fix.model_copy(update=changes)})
    refuse(CaseText(file=str(sheet.path), raw={}), sheet_problems(file))
    return replace(sheet, file=file)


def _point(option: str, value: str) -> PointTable:
    parts = [part.strip() for part in value.split(",")]
    if len(parts) != 2:
        raise CaseError(
            f'{option}: needs two lengths, such as "through=840 mm, 5 mm": from the butt, and to '
            "the right of the snapped line"
        )
    at, across = (quantity(option, part, "length") for part in parts)
    assert at is not None
    assert across is not None
    return PointTable.model_construct(at=at, across=across)
