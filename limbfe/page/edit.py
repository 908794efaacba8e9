"""Changes to a case's text, one at a time, everything else left as the user wrote it."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Mapping
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array

from limbfe.case.columns import MOST_STATIONS
from limbfe.case.document import DEEPEST
from limbfe.case.messages import REPEATED, Loc
from limbfe.errors import CaseError
from limbfe.page.entry import PER_STATION, field_at, has_unit
from limbfe.page.measures import in_unit

LONGEST_WORD = 4000
"""Signs of one value; the schema's own bounds are tighter."""
MOST_PARTS = 400
"""Values that one change may carry for a list it makes."""
LIMBS = ("both", "upper", "lower")
STAVE = "stave"
UNITS = ("mm", "cm", "m", "in", "ft")

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_WHOLE = re.compile(r"[+-]?[0-9]{1,15}")

Document = tomlkit.TOMLDocument
Edit = Mapping[str, Any]


def parse_text(text: str) -> Document | None:
    """Return a text as a document that keeps its comments; None if it is not TOML."""
    try:
        return tomlkit.parse(text)
    except (TOMLKitError, ValueError, RecursionError):
        return None


def apply_edit(document: Document, edit: Edit) -> None:
    """Make one change.

    Parameters
    ----------
    document : TOMLDocument
    edit : mapping
        ``"do"`` and what goes with it; see `_EDITS`.

    Raises
    ------
    CaseError
        If the change does not fit the document, or is none of those there are.
    """
    make = _EDITS.get(str(edit.get("do")))
    if make is None:
        raise CaseError("that change is not known here; load the page anew")
    try:
        make(document, edit)
    except (KeyError, IndexError, TypeError, ValueError, TOMLKitError) as error:
        raise CaseError(f"that change does not fit the case as it is now ({error})") from error


def typed(text: str, loc: Loc) -> str | int | float:
    """Return what was typed as the value that stands in the file.

    A bare number stays one only where the schema takes it so; anything else is text, and what is
    wrong with it the reader says.
    """
    field = field_at(loc)
    kind = "text" if field is None else field["kind"]
    if kind in ("column", "pair") and field is not None:
        kind = field["each"]["kind"]
    word = text.strip()
    bare = kind in ("number", "percent") or (kind == "length" and has_unit(loc))
    if kind == "yes" and word in ("true", "false"):
        return word == "true"
    if kind == "angle" and loc[0] in ("limb", "stave", "taper"):  # bare angles are degrees there
        bare = loc[0] != "taper" or loc[-1] == "lean"
    if (bare or kind == "whole") and _WHOLE.fullmatch(word):
        return int(word)
    if bare and _NUMBER.fullmatch(word):
        return float(word)
    return text if kind == "prose" else word


def _place(edit: Edit) -> Loc:
    loc = edit["loc"]
    if not isinstance(loc, list) or not 1 <= len(loc) <= DEEPEST:
        raise ValueError("no such place")
    if not all(isinstance(part, str | int) and not isinstance(part, bool) for part in loc):
        raise ValueError("no such place")
    return tuple(part[:100] if isinstance(part, str) else part for part in loc)


def _text(edit: Edit) -> str:
    text = edit["text"]
    if not isinstance(text, str) or len(text) > LONGEST_WORD:
        raise ValueError("too long a text")
    return "".join(sign for sign in text if sign.isprintable() or sign == "\n")


def _parent(document: Document, loc: Loc, *, make: bool) -> Any:
    """Return the table or list in which a place lies; made where it is missing, if so wanted."""
    at: Any = document
    for depth, part in enumerate(loc[:-1]):
        if isinstance(part, str) and part not in at:
            if not make:
                raise KeyError(part)
            _add_table(document, at, part, depth, loc)
        at = at[part]
    return at


def _add_table(document: Document, at: Any, part: str, depth: int, loc: Loc) -> None:
    headed = depth == 0 or (depth == 1 and loc[0] in ("wood", "limb"))
    if not headed:
        at[part] = tomlkit.inline_table()
    elif depth == 0:
        over = loc[0] in ("wood", "limb")
        _air(document)
        at.append(part, tomlkit.table(is_super_table=over))
    else:
        at.append(part, tomlkit.table())


def _air(document: Document) -> None:
    """Put an empty line before what is appended."""
    text = document.as_string()
    if text and not text.endswith("\n\n"):
        document.add(tomlkit.nl())


def _set(document: Document, edit: Edit) -> None:
    """``loc``, ``text``: what was typed there; nothing typed takes a key away, empties a cell."""
    loc, text = _place(edit), _text(edit)
    if not text.strip() and not isinstance(loc[-1], int):
        _drop(document, edit)
        return
    parent = _parent(document, loc, make=True)
    if isinstance(loc[-1], int):
        _reach(parent, loc[-1])
    parent[loc[-1]] = typed(text, loc)


def _reach(column: Any, at: int) -> None:
    """Make a list long enough to hold a position, with empty values between."""
    if not isinstance(column, Array) or not 0 <= at < MOST_STATIONS:
        raise IndexError(at)
    while len(column) <= at:
        column.append("")


def _put(document: Document, edit: Edit) -> None:
    """``loc``, ``value``: a word, a list or a table of texts in place of what stands there."""
    loc, value = _place(edit), edit["value"]
    parent = _parent(document, loc, make=True)
    if isinstance(value, list):
        parent[loc[-1]] = [typed(_text({"text": text}), loc) for text in value[:MOST_PARTS]]
    elif isinstance(value, dict):
        inline = tomlkit.inline_table()
        for key, text in list(value.items())[:MOST_PARTS]:
            inline[str(key)[:100]] = typed(_text({"text": text}), (*loc, str(key)))
        parent[loc[-1]] = inline
    else:
        parent[loc[-1]] = typed(_text({"text": value}), loc)


def _drop(document: Document, edit: Edit) -> None:
    """``loc``: what is taken away; nothing happens if it is not there."""
    loc = _place(edit)
    try:
        parent = _parent(document, loc, make=False)
    except KeyError:
        return
    if isinstance(loc[-1], int):
        del parent[loc[-1]]
        if isinstance(parent, AoT) and len(parent) == 0:
            above = _parent(document, loc[:-1], make=False)
            above.remove(str(loc[-2]))
    elif loc[-1] in parent:
        parent.remove(loc[-1])


def _add(document: Document, edit: Edit) -> None:
    """``loc`` of a table, ``values`` by key as texts: a new one, the last of those that repeat."""
    loc = _place(edit)
    if loc[0] in REPEATED:
        table = tomlkit.table()
        name = str(loc[0])
        at: Loc = (name, len(document.get(name, ())))
    else:
        _parent(document, (*loc, ""), make=True)
        table, at = _parent(document, (*loc, ""), make=False), loc
    for key, text in list(dict(edit.get("values", {})).items())[:MOST_PARTS]:
        value = _text({"text": text})
        if value.strip():
            table[str(key)[:100]] = typed(value, (*at, str(key)))
    if loc[0] in REPEATED:
        if loc[0] not in document:
            _air(document)
            document.append(str(loc[0]), tomlkit.aot())
        else:
            _space_after(document[str(loc[0])])
        document[str(loc[0])].append(table)


def _space_after(tables: Any) -> None:
    """End the last table of a list with an empty line, before another follows."""
    last = tables[len(tables) - 1]
    if not last.as_string().endswith("\n\n"):
        last.add(tomlkit.nl())


def _grid(side: str) -> Loc:
    """Return the place of a table of stations: that of a limb, or of the stave."""
    if side == STAVE:
        return (STAVE,)
    if side not in LIMBS:
        raise KeyError(side)
    return ("limb", side)


def _columns(document: Document, side: str) -> Mapping[str, Any]:
    """Return the columns of a limb, or of a stave, that stand in the file itself."""
    grid = _grid(side)
    table = _parent(document, (*grid, ""), make=False)
    known = PER_STATION[str(grid[0])]
    return {key: value for key, value in table.items() if isinstance(value, Array) and key in known}


def _row(document: Document, edit: Edit) -> None:
    """``limb``, ``at``: an empty station before this one."""
    at = _position(edit["at"])
    for column in _columns(document, str(edit["limb"])).values():
        if len(column) < MOST_STATIONS:
            column.insert(min(at, len(column)), "")


def _drop_row(document: Document, edit: Edit) -> None:
    """``limb``, ``at``: the station that is taken away."""
    at = _position(edit["at"])
    for column in _columns(document, str(edit["limb"])).values():
        if at < len(column):
            del column[at]


def _position(at: Any) -> int:
    if isinstance(at, bool) or not isinstance(at, int) or not 0 <= at < MOST_STATIONS:
        raise IndexError(at)
    return at


def _cells(document: Document, edit: Edit) -> None:
    """``limb``, ``at``, ``columns``, ``rows`` of texts: a block pasted from a spreadsheet."""
    side, at, rows = str(edit["limb"]), _position(edit["at"]), list(edit["rows"])
    if len(rows) + at > MOST_STATIONS:
        raise ValueError("too many stations")
    names = [str(name) for name in edit["columns"]]
    grid = _grid(side)
    for name in names:
        _column(document, {"limb": side, "name": name})
    columns = _columns(document, side)
    for column in columns.values():
        _reach(column, at + len(rows) - 1)
    for k, row in enumerate(rows):
        for name, text in zip(names, list(row)[: len(names)], strict=False):
            loc = (*grid, name, at + k)
            columns[name][at + k] = typed(_text({"text": text}), loc)


def _column(document: Document, edit: Edit) -> None:
    """``limb``, ``name``: a column, empty at every station; nothing happens if it is there."""
    side, name = str(edit["limb"]), str(edit["name"])
    grid = _grid(side)
    if name not in PER_STATION[str(grid[0])]:
        raise KeyError(name)
    table = _parent(document, (*grid, name), make=True)
    if name not in table:
        longest = max(map(len, _columns(document, side).values()), default=0)
        table[name] = [""] * longest


def _copy_limb(document: Document, edit: Edit) -> None:
    """``from`` and ``to``: one limb copied to another; "both" stands for the two alike."""
    source, target = str(edit["from"]), str(edit["to"])
    if source not in LIMBS or target not in LIMBS or source == target:
        raise KeyError(target)
    limbs: Any = document["limb"]
    table = limbs[source]
    if source == "both":
        for side in ("upper", "lower"):
            limbs.append(side, copy.deepcopy(table))
        limbs.remove("both")
        return
    made = copy.deepcopy(table)
    if target in limbs:
        limbs.remove(target)
    limbs.append(target, made)
    if target == "both":
        for side in ("upper", "lower"):
            if side in limbs:
                limbs.remove(side)


def _unit(document: Document, edit: Edit) -> None:
    """``loc`` of a table, ``unit``, ``convert``: another unit for its bare numbers.

    With `convert` they become the same measures in it, else they stay the figures they are.
    """
    loc, unit = _place(edit), str(edit["unit"])
    if unit not in UNITS:
        raise KeyError(unit)
    table = _parent(document, (*loc, "unit"), make=True)
    was = str(table["unit"]) if "unit" in table else None
    if edit.get("convert") and was in UNITS:
        for key, value in list(table.items()):
            field = field_at((*loc, str(key)))
            each = {} if field is None else field.get("each", field)
            if each.get("kind") != "length":
                continue
            if not isinstance(value, Array):
                table[key] = in_unit(value, str(was), unit)
            else:
                for k in range(len(value)):
                    value[k] = in_unit(value[k], str(was), unit)
    table["unit"] = unit


def _rename(document: Document, edit: Edit) -> None:
    """``loc`` of a table, ``to``: the same table under another heading."""
    loc, to = _place(edit), str(edit["to"])
    parent = _parent(document, loc, make=False)
    if to in parent or field_at((*loc[:-1], to)) is None:
        raise KeyError(to)
    table = copy.deepcopy(parent[loc[-1]])
    parent.remove(loc[-1])
    parent.append(to, table)


def _point(document: Document, edit: Edit) -> None:
    """``values``: a point that the line of a stave passes through, behind those there are."""
    values = dict(edit["values"])
    loc: Loc = ("fix", "through")
    fix = _parent(document, loc, make=True)
    if "through" not in fix:
        fix.append("through", tomlkit.aot())
    points = fix["through"]
    table = tomlkit.inline_table() if isinstance(points, Array) else tomlkit.table()
    for key in ("at", "across"):
        table[key] = typed(_text({"text": values.get(key, "")}), (*loc, 0, key))
    points.append(table)


_EDITS: dict[str, Callable[[Document, Edit], None]] = {
    "set": _set,
    "put": _put,
    "drop": _drop,
    "add": _add,
    "row": _row,
    "drop_row": _drop_row,
    "cells": _cells,
    "column": _column,
    "copy_limb": _copy_limb,
    "unit": _unit,
    "rename": _rename,
    "point": _point,
}
"""Every change by its name; the docstring of each says what goes with it."""
