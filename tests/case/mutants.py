"""Case files spoilt in every way that people, programs and disks spoil them."""

from __future__ import annotations

import copy
import datetime
import json
import math
import re
import tomllib
from collections.abc import Callable, Iterator
from typing import Any

from hypothesis import strategies as st

Keys = tuple[str | int, ...]

VALUES: list[Any] = [
    "", " ", "nan mm", "inf mm", "1e308 mm", "1e-308 mm", "-3 mm", "0 mm", "25 lbf", "25 mm",
    "9.8 GPa", "1 in 25", "25", "25 %", "6 deg", "m^9^9^9", "x" * 500, "<script>alert(1)</script>",
    "{reason}", "%s", "../../etc/passwd", "/dev/zero", "\x00", "\u202e\U0001f3f9", "elm", "both",
    math.nan, math.inf, -math.inf, 0, -1, 3, 1e308, -1e308, 5e-324, 10**30, 2**63, True, False,
    [], [[]], [1], [0, 1], ["0 mm", "900 mm"], {}, {"a": {"b": 1}}, {"crown": "1 um"},
    datetime.date(2024, 2, 29), datetime.time(7, 32),
]  # fmt: skip
UNITS = ["mm", "cm", "m", "in", "ft", "GPa", "MPa", "psi", "lbf", "N", "kg", "deg", "%", "", "zz"]


def paths(value: Any, at: Keys = ()) -> Iterator[Keys]:
    """Yield the way to every key and value inside a document."""
    items: Any = value.items() if isinstance(value, dict) else ()
    items = enumerate(value) if isinstance(value, list) else items
    for key, inner in items:
        yield (*at, key)
        yield from paths(inner, (*at, key))


def written(value: Any) -> str:
    """Return a value as TOML writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, dict):
        inside = ", ".join(f"{written(str(key))} = {written(item)}" for key, item in value.items())
        return f"{{{inside}}}"
    if isinstance(value, list):
        return f"[{', '.join(written(item) for item in value)}]"
    return value.isoformat() if isinstance(value, datetime.date | datetime.time) else str(value)


def document_text(document: dict[str, Any]) -> str:
    return "\n".join(f"{written(key)} = {written(value)}" for key, value in document.items())


def scaled(value: Any, factor: float) -> Any:
    if isinstance(value, str):
        return re.sub(r"-?\d+(\.\d+)?", lambda m: f"{float(m[0]) * factor!r}", value, count=1)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value * factor
    return [scaled(item, factor) for item in value] if isinstance(value, list) else value


@st.composite
def documents(draw: st.DrawFn, source: str) -> bytes:
    """Return the complete case with one to three of its values spoilt."""
    document = tomllib.loads(source)
    for _ in range(draw(st.integers(1, 3))):
        way = draw(st.sampled_from(list(paths(document)) or [("title",)]))
        table: Any = document
        for key in way[:-1]:
            table = table[key]
        last: Any = way[-1]
        value = table.get(last) if isinstance(table, dict) else table[last]
        change = draw(st.sampled_from(("drop", "replace", "scale", "unit", "rename", "repeat")))
        if change == "replace":
            table[last] = copy.deepcopy(draw(st.sampled_from(VALUES)))
        elif change == "scale":
            table[last] = scaled(value, draw(st.sampled_from((0.1, 10, 1e3, 1e-3, 25.4, -1, 1.3))))
        elif change == "unit" and isinstance(value, str):
            table[last] = re.sub(r"[A-Za-z%]+$", draw(st.sampled_from(UNITS)), value)
        elif change == "rename" and isinstance(table, dict):
            table[draw(st.sampled_from((f"{last}s", "unit", "width", "", "\u00e9", "a.b")))] = value
        elif change == "repeat" and isinstance(value, list):
            table[last] = value + copy.deepcopy(value)
        elif last in table or isinstance(table, list):
            del table[last]
    return document_text(document).encode()


@st.composite
def damaged(draw: st.DrawFn, source: str) -> bytes:
    """Return the complete case's bytes after an accident."""
    content = source.encode()
    start = draw(st.integers(0, len(content)))
    stop = draw(st.integers(start, min(len(content), start + 400)))
    middle = draw(
        st.one_of(
            st.just(b""),
            st.binary(max_size=8),
            st.sampled_from((b"[", b"{", b'"', b"'''", b"\n", b"=", b".", b"#", b"\xff", b"\0")),
            st.just(content[start:stop] * 2),
        )
    )
    whole = content[:start] + middle + content[stop:]
    return draw(
        st.sampled_from(
            (whole, whole[:stop], source.encode("utf-16"), "é".encode("latin-1") + whole)
        )
    )


def _changed(source: str, data: st.DataObject, change: Callable[[Any, Any], Any]) -> bytes:
    """Return a case with one value, or one key and its value, changed."""
    document = tomllib.loads(source)
    way = data.draw(st.sampled_from(list(paths(document))))
    table: Any = document
    for key in way[:-1]:
        table = table[key]
    table[way[-1]] = change(table[way[-1]], data)
    if table[way[-1]] is None:
        del table[way[-1]]
    return document_text(document).encode()


def _one_of(*values: Any) -> Callable[[str, st.DataObject], bytes]:
    return lambda source, data: _changed(
        source, data, lambda old, data: copy.deepcopy(data.draw(st.sampled_from(values)))
    )


def _unit(value: Any, data: st.DataObject) -> Any:
    unit = data.draw(st.sampled_from(UNITS))
    if isinstance(value, str):
        return re.sub(r"[A-Za-z%]+$", unit, value)
    return f"{value} {unit}" if isinstance(value, int | float) else value


def _scale(value: Any, data: st.DataObject) -> Any:
    factors = (0.01, 0.5, 0.8, 0.97, 1.05, 1.2, 2, 10, 1e3, 1e-3, 25.4, 1 / 25.4, -1, 1e12)
    return scaled(value, data.draw(st.sampled_from(factors)))


def _binary(source: str, data: st.DataObject) -> bytes:
    inside = data.draw(st.binary(min_size=1, max_size=300))
    start = data.draw(st.sampled_from((b"", b"\x89PNG\r\n\x1a\n", b"PK\x03\x04", source.encode())))
    return start[: data.draw(st.integers(0, len(start)))] + b"\0" + inside


def _encoded(source: str, data: st.DataObject) -> bytes:
    text = f"# L\u00e4nge \u201cin\u201d\n{source}"
    name = data.draw(
        st.sampled_from(("utf-16", "utf-16-le", "utf-32", "cp1252", "utf-7", "cp037", "utf-8-sig"))
    )
    return text.encode(name, errors="replace")


def _nested(source: str, data: st.DataObject) -> bytes:
    depth = data.draw(st.sampled_from((3, 7, 9, 40, 1000, 60_000)))
    sign = data.draw(st.sampled_from(("[", "{a = ", "a.", "[[", '"', "(")))
    closing = {"[": "]", "{a = ": "}"}.get(sign, "")
    value = f"x = {sign * depth}1{closing * depth}\n"
    return data.draw(st.sampled_from((value + source, f"{source}\n{value}", value * 2))).encode()


KINDS: dict[str, Callable[[str, st.DataObject], bytes]] = {
    "key dropped": lambda source, data: _changed(source, data, lambda value, data: None),
    "unit swapped": lambda source, data: _changed(source, data, _unit),
    "number scaled": lambda source, data: _changed(source, data, _scale),
    "not a number": _one_of(math.nan, -math.nan, "nan", "nan mm", [math.nan], "nan in 25"),
    "infinite": _one_of(math.inf, -math.inf, "inf", "inf mm", "-inf mm", "1e999 mm", [math.inf]),
    "huge": _one_of(
        1e308, 10**30, 10**4000, 2**63, "9" * 4000 + " mm", "1e308 mm", "x" * 20_000, [1] * 5000
    ),
    "empty": lambda source, data: data.draw(
        st.sampled_from((b"", b" ", b"\n\n\t", b"#", b"\xef\xbb\xbf", b"# only a remark\n"))
    ),
    "binary": _binary,
    "wrong encoding": _encoded,
    "deep nesting": _nested,
    "several values": lambda source, data: data.draw(documents(source)),
    "damaged bytes": lambda source, data: data.draw(damaged(source)),
}
"""Every way of spoiling a case, by name: from the case and a source of chance to bytes."""
