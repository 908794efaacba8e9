"""Pydantic's complaints about a case file as one clear message."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from limbfe.case.fields import keys_of
from limbfe.case.messages import REPEATED, TABLES, CaseText, Loc, Problem, heading, nearest, plain
from limbfe.errors import CaseError


def explain(error: ValidationError, text: CaseText, model: type[BaseModel]) -> CaseError:
    """Return the most useful of the schema's complaints as one message.

    An unknown key comes first, because a misspelt key is also missed under its right name; then
    values, then what is missing.
    """
    errors = sorted(error.errors(include_url=False), key=lambda item: _RANK.get(item["type"], 1))
    problems = [
        Problem(plain(item["loc"]), _reason(item, model), item["type"] == "missing")
        for item in errors
    ]
    distinct: dict[object, Problem] = {}
    for problem in problems:
        same = problem.reason if "no unit" in problem.reason else problem.loc
        distinct.setdefault((_group(problem.loc), same), problem)
    first, *others = distinct.values()
    unknown = sum(item["type"] == "extra_forbidden" for item in errors)
    missed = sum(item["type"] == "missing" for item in errors)
    # What is missing is most likely what was misspelt.
    return text.refusal(first, others[: len(others) - min(unknown, missed)])


_RANK = {"extra_forbidden": 0, "missing": 2}


def _group(loc: Loc) -> Loc:
    return loc[:2]


def _reason(item: ErrorDetails, model: type[BaseModel]) -> str:
    kind, loc, context = item["type"], plain(item["loc"]), item.get("ctx", {})
    if kind == "value":
        return str(context["reason"])
    if kind == "extra_forbidden" or item["loc"][-1] == "[key]":
        return _unknown_key(loc, model)
    about = _field_at(loc, model)
    if kind == "missing":
        return _missing_key(loc, about)
    if kind == "literal_error":
        return _not_a_choice(item, about)
    if kind in _BOUNDS:
        key = next(part for part in reversed(loc) if isinstance(part, str))
        meaning = f"; {key}: {about.description}" if about is not None else ""
        bound = {key: f"{value:g}" for key, value in context.items()}
        return _BOUNDS[kind].format(**bound) + meaning
    if kind in ("tuple_type", "model_type", "dict_type") and loc[0] in REPEATED and len(loc) <= 2:
        return f"must be a list of tables; write [[{loc[0]}]] in double brackets above each one"
    return _WORDS.get(kind, item["msg"]).format(example=_example(about), **context)


_BOUNDS = {
    "greater_than": "must be above {gt}",
    "greater_than_equal": "must be {ge} or more",
    "less_than": "must be below {lt}",
    "less_than_equal": "must be at most {le}",
}
_WORDS = {
    "int_type": "must be a whole number without quotes, such as {example}",
    "float_type": "must be a number without quotes, such as {example}",
    "finite_number": "must be a finite number, such as {example}",
    "string_type": "must be text in quotes, such as {example}",
    "string_too_long": "is too long; use at most {max_length} characters",
    "too_long": "is too long; use at most {max_length}",
    "tuple_type": "must be a list with one value for each station, such as {example}",
    "model_type": "must be a table of its own, not a value",
    "dict_type": "must be a table, such as {example}",
}


def _unknown_key(loc: Loc, model: type[BaseModel]) -> str:
    key, inside = str(loc[-1]), _known_keys(loc[:-1], model)
    close = nearest(key, inside)
    if close is not None and len(loc) == 1 and (close in REPEATED or close in TABLES):
        return f"unknown table; did you mean {heading(close)}?"
    if close is not None:
        return f'unknown key; did you mean "{close}"?'
    home = [name for name, table in _all_tables(model) if key in keys_of(table)]
    if home:
        return f"unknown key here; it belongs in {' or '.join(home)}"
    return f"unknown key; known here: {', '.join(inside)}"


def _missing_key(loc: Loc, about: FieldInfo | None) -> str:
    meaning = f": {about.description}" if about is not None and about.description else ""
    if about is not None and about.examples:
        return f"is missing{meaning}; add for instance {loc[-1]} = {_example(about)}"
    table = table_of(about.annotation) if about is not None else None
    needed = [key for key, item in keys_of(table).items() if item.is_required()] if table else []
    inside = f" with {', '.join(needed)}" if needed else ""
    return f"is missing{meaning}; add this table{inside}"


def _not_a_choice(item: ErrorDetails, about: FieldInfo | None) -> str:
    allowed = item["ctx"]["expected"].replace("'", '"')
    if item["loc"][-1] == "<word>" and about is not None:
        allowed = str(about.description)
    words = [part for part in allowed.split('"')[1::2] if part.replace(" ", "").isalpha()]
    close = nearest(item["input"], words) if isinstance(item["input"], str) else None
    hint = f'; did you mean "{close}"?' if close else ""
    return f"must be {allowed}{hint}"


def _example(about: FieldInfo | None) -> str:
    if about is None or not about.examples:
        return "the others in this file"
    example = about.examples[0]
    plain = not isinstance(example, str) or example[0] in "[{"
    return str(example) if plain else f'"{example}"'


def _field_at(loc: Loc, model: type[BaseModel]) -> FieldInfo | None:
    """Return the schema's field at `loc`; for a value in a list, the list's."""
    about = None
    at: type[BaseModel] | None = model
    for part in loc:
        if isinstance(part, int) or at is None:
            continue
        about = keys_of(at).get(part)
        at = table_of(about.annotation) if about is not None else None
    return about


def _known_keys(loc: Loc, model: type[BaseModel]) -> list[str]:
    at: type[BaseModel] | None = model
    about: FieldInfo | None = None
    for part in loc:
        if isinstance(part, int):
            continue
        about = keys_of(at).get(part) if at is not None else None
        at = table_of(about.annotation) if about is not None else None
    if at is not None:
        return list(keys_of(at))
    return list(_choices(about.annotation)) if about is not None else []


def table_of(annotation: Any) -> type[BaseModel] | None:
    """Return the table model inside an annotation, through options, lists and unions."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in get_args(annotation):
        table = table_of(inner)
        if table is not None:
            return table
    return None


def _choices(annotation: Any) -> tuple[str, ...]:
    """Return the words of the first Literal inside an annotation: the keys of a dictionary."""
    if get_origin(annotation) is Literal:
        return get_args(annotation)
    for inner in get_args(annotation):
        words = _choices(inner)
        if words:
            return words
    return ()


def _all_tables(model: type[BaseModel]) -> Iterable[tuple[str, type[BaseModel]]]:
    """Yield every table the file may hold with its heading."""
    for name, about in model.model_fields.items():
        table = table_of(about.annotation)
        if table is None:
            continue
        if name in ("wood", "limb"):
            for inner, inner_about in table.model_fields.items():
                found = table_of(inner_about.annotation)
                if found is not None:
                    yield f"[{name}.{inner}]", found
        else:
            yield heading(name), table
