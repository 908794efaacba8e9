"""Compiling is announced once; kept machine code is loaded in silence, junk in its place is not."""

from __future__ import annotations

import importlib
import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from limbfe.compiled import FunctionCache, _FirstCompilation, _part, announce_compilation, compiled

pytestmark = pytest.mark.skipif(
    os.environ.get("NUMBA_DISABLE_JIT") == "1", reason="nothing is compiled"
)

SOURCE = """
def double(x):
    return 2.0 * x

def triple(x):
    return 3.0 * x
"""


AROUND = """
from limbfe.compiled import announce_compilation, compiled

@compiled
def inner(x):
    return 2.0 * x

@compiled
def outer(x):
    return inner(x) + 1.0
"""


@pytest.fixture
def use(tmp_path, monkeypatch):
    """Compile and use two functions as a new run of the program would; return what was said."""
    name = f"never_compiled_{tmp_path.name}".replace("-", "_")
    (tmp_path / f"{name}.py").write_text(SOURCE)
    monkeypatch.syspath_prepend(tmp_path)
    module = importlib.import_module(name)

    def again() -> list[str]:
        fresh = importlib.reload(module)
        said: list[str] = []
        with announce_compilation(said.append):
            assert compiled(fresh.double)(2.0) == 4.0
            assert compiled(fresh.triple)(2.0) == 6.0
        return said

    return again


def test_compiling_is_announced_once_and_loading_is_silent(use):
    assert [len(use()), len(use())] == [1, 0]


def test_where_nothing_can_be_kept_that_is_said_with_a_remedy(use):
    """Numba finds no folder for the code of a function that no file holds."""
    assert "later runs start at once" in use()[0]
    names: dict[str, Any] = {"__name__": "of_no_file"}
    exec(SOURCE, names)
    said: list[str] = []
    with announce_compilation(said.append):
        assert compiled(names["double"])(2.0) == 4.0
    assert len(said) == 1
    assert "in every run" in said[0]
    assert "NUMBA_CACHE_DIR" in said[0]


def test_a_function_compiled_inside_others_does_not_tell_of_folders():
    """Nothing of its own is kept anywhere; what calls it is, and often it is compiled first."""

    def inside() -> None: ...

    inside.__module__ = "limbfe.beam.inside"
    said: list[str] = []
    compiling = SimpleNamespace(py_func=inside, _cache=None)
    _FirstCompilation(said.append).on_start(SimpleNamespace(data={"dispatcher": compiling}))
    assert "later runs start at once" in said[0]


def test_what_is_compiled_is_named_and_trifles_are_not():
    assert _part("limbfe.beam.shot.run") == "the shot"
    assert (
        _part("limbfe.beam.equilibrium.newton") == _part("limbfe.section.kernels") == "the solver"
    )
    assert _part("limbfe.defect.plate.assembly") is None


def test_code_compiled_around_a_kept_function_holds_it(tmp_path):
    """Three runs: a function is compiled, another around it that was kept, nothing any more."""
    (tmp_path / "never_compiled_around.py").write_text(AROUND)
    code = (
        "import sys\n"
        "sys.path.insert(0, sys.argv[1])\n"
        "from never_compiled_around import announce_compilation, inner, outer\n"
        "with announce_compilation(lambda words: print('compiled')):\n"
        "    print(eval(sys.argv[2]))"
    )
    said = [
        subprocess.run(
            [sys.executable, "-c", code, str(tmp_path), call],
            capture_output=True, text=True, check=True,
        ).stdout.split()
        for call in ("inner(2.0)", "outer(2.0)", "outer(2.0)")
    ]  # fmt: skip
    assert said == [["compiled", "4.0"], ["compiled", "5.0"], ["5.0"]]


@pytest.mark.parametrize("kind", ["nbi", "nbc"])
@pytest.mark.parametrize("junk", [b"", b"junk", b"\x80\x04K\x01.", b"cos\nno_such_name\n."])
def test_damaged_machine_code_is_thrown_away(use, tmp_path, kind, junk):
    use()
    files = list(tmp_path.rglob(f"*.{kind}"))
    assert len(files) == 2
    for file in files:
        file.write_bytes(junk)
    assert [len(use()), len(use())] == [1, 0]


@pytest.mark.parametrize(
    "name", ["_load_overload", "_guard_against_spurious_io_errors", "cache_path", "flush"]
)
def test_where_numba_has_changed_inside_every_run_compiles(use, monkeypatch, name):
    use()
    owner = next(one for one in FunctionCache.__mro__ if name in vars(one))
    monkeypatch.delattr(owner, name)
    assert len(use()) == (0 if name == "flush" else 1)


def test_names_of_numba_that_are_gone_are_no_error():
    code = (
        "import numba\n"
        "numba.njit(lambda x: x)(1.0)\n"  # which loads what needs these names itself
        "del numba.core.caching.FunctionCache, numba.core.runtime.nrt.rtsys\n"
        "from limbfe.compiled import FunctionCache, announce_compilation, compiled\n"
        "with announce_compilation(print):\n"
        "    print(FunctionCache, compiled(lambda x: 2.0 * x)(2.0))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "None 4.0\n"


def test_threads_that_numba_cannot_have_are_said_in_a_sentence():
    case = str(Path(__file__).parents[1] / "cases" / "ash_flatbow.toml")
    done = subprocess.run(
        [sys.executable, "-m", "limbfe", "draw", case],
        env={**os.environ, "NUMBA_NUM_THREADS": "0"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert "NUMBA_NUM_THREADS" in done.stderr


@pytest.mark.slow
def test_without_compiling_the_small_tests_still_pass():
    """For a debugger: NUMBA_DISABLE_JIT=1 runs the solver line by line."""
    small = [
        "fem/test_reference_elements.py",
        "beam/limbs/test_element.py",
        "section/test_condensation.py",
    ]
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-n0", "-p", "no:cacheprovider"]
        + [str(Path(__file__).parent / name) for name in small],
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout
