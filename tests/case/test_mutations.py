"""Any file gives a case that builds, or one clear refusal: never a traceback, never a hang."""

from __future__ import annotations

import contextlib
import math
import time
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from limbfe.case.build import build_setup
from limbfe.case.load import read_case
from limbfe.errors import CaseError, GeometryError
from limbfe.section.meshing.mesh import section_mesh
from limbfe.stave.profile import axis_at, shape_at
from tests.many import many

from .mutants import VALUES, damaged, document_text, documents, paths

LONGEST_READ = 5.0


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
    assert setup.stringing.stiffness > 0.0
    assert setup.stringing.mass >= 0.0
    assert all(
        math.isfinite(value)
        for value in (setup.holding.hand_at, setup.holding.arrow_at, setup.drawing.length)
    )
    assert all(str(one.words()).isprintable() for one in setup.assumptions)
    if mesh:
        with contextlib.suppress(GeometryError):
            section_mesh(shape_at(stave, x[::5]), fineness=0.5)
    return True


QUICK = settings(
    max_examples=100,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
LONG = settings(QUICK, max_examples=many(150))


@QUICK
@given(data=st.data())
def test_spoilt_values(data: st.DataObject, complete: str, tmp_path: Path) -> None:
    judge(data.draw(documents(complete)), tmp_path)


@settings(QUICK, max_examples=60)
@given(data=st.data())
def test_spoilt_tapers(data: st.DataObject, tapered: str, tmp_path: Path) -> None:
    judge(data.draw(documents(tapered)), tmp_path)


@QUICK
@given(data=st.data())
def test_damaged_files(data: st.DataObject, complete: str, tmp_path: Path) -> None:
    judge(data.draw(damaged(complete)), tmp_path)


@settings(QUICK, max_examples=100)
@given(text=st.text(max_size=300))
def test_any_text(text: str, tmp_path: Path) -> None:
    assert not judge(text.encode("utf-8", "surrogatepass"), tmp_path)


@settings(QUICK, max_examples=50)
@given(data=st.data())
def test_any_document(data: st.DataObject, complete: str, tapered: str, tmp_path: Path) -> None:
    """Tables, lists and values inside one another under the names a case knows, or in its place."""
    whole = tomllib.loads(complete)
    names = [way[-1] for way in paths({**tomllib.loads(tapered), **whole})]
    known = st.sampled_from(sorted({str(name) for name in names}))
    values = st.recursive(
        st.sampled_from(VALUES) | st.floats(width=32) | st.text(max_size=9),
        lambda inner: st.lists(inner, max_size=4) | st.dictionaries(known, inner, max_size=5),
        max_leaves=15,
    )
    document = data.draw(st.dictionaries(known | st.text(max_size=9), values, max_size=6))
    document = data.draw(st.sampled_from((document, {**whole, **document})))
    judge(document_text(document).encode("utf-8", "surrogatepass"), tmp_path)


@pytest.mark.slow
@LONG
@given(data=st.data())
def test_many_spoilt_values(data: st.DataObject, complete: str, tmp_path: Path) -> None:
    judge(data.draw(documents(complete)), tmp_path, mesh=True)


@pytest.mark.slow
@settings(LONG, max_examples=many(100))
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
