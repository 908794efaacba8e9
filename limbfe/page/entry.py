"""What the page asks for, read off the case schema: tables, keys, kinds, words and examples."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from limbfe.case.explain import table_of
from limbfe.case.fields import LengthTable, PerCent, Quantity, keys_of
from limbfe.case.messages import REPEATED, Loc
from limbfe.case.schema import CaseFile
from limbfe.case.sheet_checks import COLUMNS as OF_STAVE
from limbfe.case.sheet_schema import SheetFile
from limbfe.page.signs import sign_of
from limbfe.stave.columns import NAMED

PER_STATION = {"limb": tuple(NAMED), "stave": ("station", *OF_STAVE)}
"""Columns of a limb and of a stave, the station first."""
ANGLES = ("twist",)
"""Columns of a stave in degrees; the others are lengths."""
OWN_TABLES = ("stave", "check", "cut", "bow", "spare", "fix")
"""Headings that only a stave sheet has; the keys that both have are typed alike in both."""


@cache
def describe_entry(kind: str = "bow") -> dict[str, Any]:
    """Return what the page builds its fields from.

    Parameters
    ----------
    kind : {"bow", "stave"}
        Of what file.

    Returns
    -------
    dict
        ``"tables"``: for every table of a case its `path`, `about`, whether it `repeats` and is
        `needed`, whether it may name a `unit`, and its `fields`; see `_field`.
    """
    tables = list(_tables(SheetFile if kind == "stave" else CaseFile, ()))
    for table in tables:
        for field in table["fields"]:
            for one in (field, *field.get("parts", ())):
                _add_sign(one, table["path"], kind)
    return {"tables": tables}


def _add_sign(field: dict[str, Any], path: list[str], kind: str) -> None:
    sign = sign_of(path[0] if path else "", field["key"], kind)
    if sign is not None:
        field["sign"] = {"plus": sign.plus, "minus": sign.minus, "picture": sign.picture}


def model_of(loc: Loc) -> type[BaseModel]:
    """Return the schema in which a place stands."""
    return SheetFile if loc and loc[0] in OWN_TABLES else CaseFile


def field_at(loc: Loc) -> dict[str, Any] | None:
    """Return the field of a key, as `_field` has it; None where the schema knows none."""
    found: dict[str, Any] | None = None
    model: type[BaseModel] | None = model_of(loc)
    for part in loc:
        if isinstance(part, int):
            continue
        about = None if model is None else keys_of(model).get(part)
        if about is None:
            # a word of cov is a number, as its dictionary says
            return found["each"] if found is not None and "each" in found else None
        found, model = _field(loc[:1], part, about), table_of(about.annotation)
    return found


def has_unit(loc: Loc) -> bool:
    """Return whether the table in which a key stands may name the unit of bare lengths."""
    model: type[BaseModel] | None = model_of(loc)
    inner = model
    for part in loc[:-1]:
        if isinstance(part, str) and model is not None:
            about = keys_of(model).get(part)
            model = table_of(about.annotation) if about is not None else None
            inner = model or inner
    return inner is not None and issubclass(inner, LengthTable)


def _tables(model: type[BaseModel], path: tuple[str, ...]) -> Iterator[dict[str, Any]]:
    """Yield the tables that have a heading of their own, and first what stands above them all."""
    own = {key: about for key, about in keys_of(model).items() if not _headed(key, about, path)}
    if own:
        yield {
            "path": list(path),
            "about": "",
            "repeats": bool(path) and path[0] in REPEATED,
            "needed": True,
            "unit": issubclass(model, LengthTable),
            "fields": [_field(path, key, about) for key, about in own.items() if key != "unit"],
        }
    for key, about in keys_of(model).items():
        table = table_of(about.annotation)
        if table is None or not _headed(key, about, path):
            continue
        for found in _tables(table, (*path, key)):
            if found["path"] == [*path, key]:
                found = {**found, "about": about.description or "", "needed": about.is_required()}
            yield found


def _headed(key: str, about: FieldInfo, path: tuple[str, ...]) -> bool:
    """Return whether a key is a table with a heading of its own: of the file, a wood, a limb."""
    return table_of(about.annotation) is not None and (not path or path in (("wood",), ("limb",)))


def _field(path: tuple[Any, ...], key: str, about: FieldInfo) -> dict[str, Any]:
    """Return one key for the page.

    ``kind`` is "choice", "text", "prose", "name", "whole", "number", "percent", "column",
    "table" or a kind of quantity such as "length"; ``words`` are those that may be chosen, and
    ``parts`` the fields of a table that may stand in their place.
    """
    found: dict[str, Any] = {
        "key": key,
        "about": about.description or "",
        "needed": about.is_required(),
        "example": _example(about),
        "kind": _kind(about),
    }
    words = _words(about.annotation)
    inner = table_of(about.annotation)
    if path[:1] == ("limb",) and key in NAMED:
        found["kind"] = "column"
        found["each"] = {"key": key, "kind": NAMED[key].kind, "flat": NAMED[key].flat}
    elif path[:1] == ("stave",) and key in PER_STATION["stave"]:
        found["kind"] = "column"
        kind = "angle" if key in ANGLES else "length"
        found["each"] = {"key": key, "kind": kind, "flat": False}
    elif (path[:1], key) == (("stave",), "pith_ends"):
        found["kind"] = "pair"
        found["each"] = {"key": key, "kind": "length"}
    elif bool in _marks((about.annotation,)):
        found["kind"] = "yes"
    elif get_origin(about.annotation) is dict:
        found["kind"] = "table"
        found["each"] = {"key": key, "kind": "number"}
        found["parts"] = [
            {"key": word, "kind": "number", "about": "", "needed": False, "example": "0.2"}
            for word in _words(get_args(about.annotation)[0])
        ]
    elif inner is not None:
        found["kind"] = "choice" if words else "table"
        found["parts"] = [_field(path, name, part) for name, part in keys_of(inner).items()]
    if words and found["kind"] != "table":
        found["kind"], found["words"] = "choice", words
    return found


def _example(about: FieldInfo) -> str:
    return str(about.examples[0]) if about.examples else ""


def _words(annotation: Any) -> list[str]:
    """Return the words that a value may be, those of tables inside it left out."""
    if get_origin(annotation) is Literal:
        return [str(word) for word in get_args(annotation)]
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return []
    return [word for inner in get_args(annotation) for word in _words(inner)]


def _kind(about: FieldInfo) -> str:
    marks = list(_marks((about.annotation, *about.metadata)))
    for mark in marks:
        if isinstance(mark, Quantity):
            return mark.kind
        if isinstance(mark, PerCent):
            return "percent"
    if int in marks:
        return "whole"
    if float in marks:
        return "number"
    lengths = [mark.max_length for mark in marks if getattr(mark, "max_length", None)]
    return "prose" if max(lengths, default=0) > 200 else "text"


def _marks(annotations: tuple[Any, ...]) -> Iterator[Any]:
    """Yield types and marks, however deep they stand in an annotation."""
    for annotation in annotations:
        yield annotation
        yield from _marks(get_args(annotation))
        if isinstance(annotation, FieldInfo):
            yield from _marks(tuple(annotation.metadata))
