"""Any file on the command line: tables and files, or one line; never a traceback, never a part."""

from __future__ import annotations

import contextlib
import io
import json
import re
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from limbfe.cli import main
from tests.many import many

from .mutants import KINDS

LONGEST = 10.0
"""Seconds of processor time that a bow of a few elements may take, whatever its numbers."""

ASH = (Path(__file__).parents[2] / "cases" / "ash_flatbow.toml").read_text(encoding="utf-8")
SMALL = re.sub(r"(?m)^steps .*$", "steps = 8", ASH)
SMALL += "\n[analysis]\nelements_per_limb = 4\nfineness = 0.5\n"


def run(content: bytes, folder: Path, *, files: bool) -> int:
    """Draw or assess a file in this process and look at everything that comes of it."""
    path, out = folder / "stave.toml", folder / "out"
    path.write_bytes(content)
    words = ["assess", str(path), "--out", str(out), "--no-pictures"] if files else None
    start = time.process_time()
    with (
        contextlib.redirect_stdout(io.StringIO()) as printed,
        contextlib.redirect_stderr(io.StringIO()) as said,
    ):
        code = main(words or ["draw", str(path), "--json"])
    assert time.process_time() - start < LONGEST
    left = sorted(part.name for part in out.iterdir()) if out.exists() else []
    lines = [line for line in said.getvalue().splitlines() if not line.startswith("Compiling")]
    if code:
        assert code in (2, 3)
        assert printed.getvalue() == ""
        assert len(lines) == 1
        assert lines[0].startswith("limbfe: ")
        assert lines[0].isprintable()
        assert len(lines[0]) < 1500
        assert left == []
        return code
    assert lines == []
    if files:
        assert left == ["limb.vtu", "results.json"]
        assert (out / "limb.vtu").read_text(encoding="utf-8").rstrip().endswith("</VTKFile>")
    text = (out / "results.json").read_text(encoding="utf-8") if files else printed.getvalue()
    assert json.loads(text, parse_constant=pytest.fail)["draw"]["draw_force_N"][-1] > 0.0
    for part in out.iterdir() if files else ():
        part.unlink()
    return code


@pytest.fixture(scope="module", autouse=True)
def compiled(tmp_path_factory: pytest.TempPathFactory) -> None:
    """The case itself is drawn and assessed first: a fresh machine compiles the solver."""
    path = tmp_path_factory.mktemp("case") / "stave.toml"
    path.write_text(SMALL, encoding="utf-8")
    assert main(["draw", str(path)]) == 0
    assert run(SMALL.encode(), path.parent, files=True) == 0


QUICK = settings(
    max_examples=8,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
MANY = settings(QUICK, max_examples=many(48), derandomize=False)
"""Of each kind, but for the few ways of being empty: 500 files or 5,000, one in eight assessed."""


@pytest.mark.parametrize("kind", KINDS)
@QUICK
@given(data=st.data())
def test_files_spoilt_in_every_way(data: st.DataObject, kind: str, tmp_path: Path) -> None:
    run(KINDS[kind](SMALL, data), tmp_path, files=False)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
@MANY
@given(data=st.data(), files=st.sampled_from((False,) * 7 + (True,)))
def test_many_files(data: st.DataObject, files: bool, kind: str, tmp_path: Path) -> None:
    run(KINDS[kind](SMALL, data), tmp_path, files=files)
