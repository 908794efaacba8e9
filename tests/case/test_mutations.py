"""Any file gives a case that builds, or one clear refusal: never a traceback, never a hang."""

from __future__ import annotations

import contextlib
import copy
import datetime
import json
import math
import re
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from limbfe.case.build import build_setup
from limbfe.case.load import read_case
from limbfe.errors import CaseError, GeometryError
from limbfe.section.mesh import section_mesh
from limbfe.stave.profile import axis_at, shape_at

Keys = tuple[str | int, ...]
LONGEST_READ = 5.0

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


def judge(content: bytes, folder: Path, *, mesh: bool = False) -> bool:
    """Return whether a file is accepted, having checked whatever comes of it."""
    path = folder / "stave.toml"
    path.write_bytes(content)
    start = time.process_time()
    try:
        case = read_case(path)
    except CaseError as error:
        message = str(error)
        assert message.startswith(str(path))
        assert "\n" not in message
        assert len(message) < 1500
        return False
    finally:
        assert time.process_time() - start < LONGEST_READ
    setup = build_setup(case)
    stave = setup.stave
    x = np.linspace(stave.x[0], stave.x[-1], 41)
    shapes = shape_at(stave, x)
    positions, rotations = axis_at(stave, x)
    assert np.all(shapes.width > 0.0)
    assert np.all(shapes.thickness > 0.0)
    assert np.all(shapes.sapwood + shapes.backing < shapes.thickness)
    assert np.all(np.isfinite(positions))
    np.testing.assert_allclose(
        np.swapaxes(rotations, -1, -2) @ rotations, np.eye(3)[None] + 0 * rotations, atol=1e-12
    )
    assert setup.string_stiffness > 0.0
    assert setup.string_mass >= 0.0
    assert all(math.isfinite(value) for value in (setup.hand_at, setup.arrow_at, setup.draw_length))
    assert all(line.isprintable() for line in setup.assumptions)
    if mesh:
        with contextlib.suppress(GeometryError):
            section_mesh(shape_at(stave, x[::5]), fineness=0.5)
    return True


QUICK = settings(
    max_examples=250,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
LONG = settings(QUICK, max_examples=3000)


@QUICK
@given(data=st.data())
def test_spoilt_values(data: st.DataObject, complete: str, tmp_path: Path) -> None:
    judge(data.draw(documents(complete)), tmp_path)


@settings(QUICK, max_examples=100)
@given(data=st.data())
def test_spoilt_tapers(data: st.DataObject, tapered: str, tmp_path: Path) -> None:
    judge(data.draw(documents(tapered)), tmp_path)


@QUICK
@given(data=st.data())
def test_damaged_files(data: st.DataObject, complete: str, tmp_path: Path) -> None:
    judge(data.draw(damaged(complete)), tmp_path)


@settings(QUICK, max_examples=150)
@given(text=st.text(max_size=300))
def test_any_text(text: str, tmp_path: Path) -> None:
    assert not judge(text.encode("utf-8", "surrogatepass"), tmp_path)


@pytest.mark.slow
@LONG
@given(data=st.data())
def test_many_spoilt_values(data: st.DataObject, complete: str, tmp_path: Path) -> None:
    judge(data.draw(documents(complete)), tmp_path, mesh=True)


@pytest.mark.slow
@settings(LONG, max_examples=1500)
@given(data=st.data())
def test_many_spoilt_tapers(data: st.DataObject, tapered: str, tmp_path: Path) -> None:
    judge(data.draw(documents(tapered)), tmp_path, mesh=True)


@pytest.mark.slow
@LONG
@given(data=st.data())
def test_many_damaged_files(data: st.DataObject, complete: str, tmp_path: Path) -> None:
    judge(data.draw(damaged(complete)), tmp_path)


def test_the_writer_of_these_tests_is_faithful(complete: str, tapered: str, tmp_path: Path) -> None:
    for source in (complete, tapered):
        document = tomllib.loads(source)
        assert tomllib.loads(document_text(document)) == document
        assert judge(document_text(document).encode(), tmp_path)
