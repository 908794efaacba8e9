import argparse
import os
import subprocess
import sys
from pathlib import Path

import pytest

from limbfe.cli.common import progress
from tests.coarse import coarse

CASES = Path(__file__).parents[2] / "cases"
HEAVY = ("numpy", "scipy", "pint", "pyvista", "pydantic", "matplotlib", "numba", "rich")


def test_help_imports_nothing_heavy():
    code = (
        "import sys\n"
        "from limbfe.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "limbfe" in done.stdout
    assert done.stderr.strip() == "[]"


@pytest.mark.parametrize("text", [None, "title = \n"])
def test_a_file_that_is_no_case_is_refused_before_anything_heavy_is_imported(tmp_path, text):
    path = tmp_path / "bow.toml"
    if text is not None:
        path.write_text(text)
    code = (
        "import sys\n"
        "from limbfe.cli import main\n"
        "code = main(['shoot', sys.argv[1], '--arrow', '30 g'])\n"
        f"print(code, [name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "2 []"
    assert done.stderr.startswith(f"limbfe: {path}: ")
    assert len(done.stderr.splitlines()) == 1


def test_a_draw_loads_neither_pictures_nor_local_models():
    unused = ("pint", "pyvista", "matplotlib", "scipy.stats", "scipy.signal", "limbfe.defect")
    code = (
        "import sys\n"
        "import limbfe.analysis.bow.solve, limbfe.case.build, limbfe.report.tables\n"
        "limbfe.read_case(sys.argv[1])\n"
        f"print([name for name in {unused!r} if name in sys.modules])"
    )
    assert _last_line(code, str(CASES / "ash_flatbow.toml")) == "[]"


def test_a_draw_with_knots_loads_only_what_meshes_their_plates(tmp_path):
    """SciPy's triangulation and factorisation, whose loading takes as long as the draw itself."""
    unused = ("matplotlib", "pyvista", "jinja2", "pint", "scipy.optimize", "scipy.interpolate")
    unused += ("limbfe.view", "limbfe.failure.splits", "scipy.spatial", "scipy.special")
    code = (
        "import os, sys\n"
        "from limbfe.cli import command\n"
        "code = command()\n"
        f"print(code, [n for n in {unused!r} if n in sys.modules])\n"
        "print(os.environ['OPENBLAS_NUM_THREADS'])"
    )
    case = coarse(tmp_path, "elm_longbow")
    environment = {k: v for k, v in os.environ.items() if k != "OPENBLAS_NUM_THREADS"}
    done = subprocess.run(
        [sys.executable, "-c", code, "draw", case],
        capture_output=True,
        text=True,
        check=True,
        env=environment,
    )
    assert done.stdout.splitlines()[-2:] == ["0 []", "1"]


def test_a_shot_without_knots_loads_no_local_models(tmp_path):
    """They, and the parts of SciPy they need, take a tenth of the time of a shot to load."""
    unused = ("limbfe.defect", "limbfe.failure.problem", "scipy.special", "scipy.linalg")
    code = (
        "import sys\n"
        "from limbfe.cli import main\n"
        "code = main(['shoot', sys.argv[1], '--arrow', '450 gr'])\n"
        f"print(code, [name for name in {unused!r} if name in sys.modules])"
    )
    assert _last_line(code, coarse(tmp_path)) == "0 []"


def test_kept_machine_code_needs_no_linear_algebra(tmp_path):
    """What Numba loads to compile, SciPy's linear algebra with it, costs a quarter of a second."""
    code = (
        "import sys\n"
        "from limbfe.cli import main\n"
        "main(['draw', sys.argv[1]])\n"
        "print([n for n in ('scipy.linalg', 'numba.np.linalg') if n in sys.modules])"
    )
    # where the machine is fresh, the first run has compiled
    assert "[]" in (_last_line(code, coarse(tmp_path)) for _ in range(2))


def test_unknown_command_is_refused_with_exit_code_2():
    done = subprocess.run(
        [sys.executable, "-m", "limbfe", "asess", "x.toml"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


@pytest.mark.slow
def test_compiling_is_announced_once_on_stderr(tmp_path):
    """A fresh cache of machine code, also when nobody watches; then a warm one."""
    case = str(CASES / "ash_flatbow.toml")
    first, again = (_in_fresh_cache(tmp_path / "one", "draw", case) for _ in range(2))
    assert first.stderr.count("\n") == 1
    assert "Compiling the solver for this machine" in first.stderr
    assert again.stderr == ""
    assert first.stdout == again.stdout


def test_compiling_is_never_announced_with_json(monkeypatch, capsys):
    """Whatever there is to compile, nobody listens for it."""
    monkeypatch.setattr("limbfe.cli.common._announced", lambda screen: pytest.fail("announced"))
    with progress(argparse.Namespace(json=True)) as tell:
        tell("nothing")
    assert capsys.readouterr().err == ""


def _last_line(code: str, *words: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, check=True
    )
    return done.stdout.splitlines()[-1]


def _in_fresh_cache(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "limbfe", *words],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "NUMBA_CACHE_DIR": str(folder)},
    )
