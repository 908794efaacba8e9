import subprocess
import sys
from pathlib import Path

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


def test_a_draw_loads_neither_pictures_nor_local_models():
    unused = ("pint", "pyvista", "matplotlib", "scipy.stats", "scipy.signal", "limbfe.defect")
    code = (
        "import sys\n"
        "import limbfe.analysis.solve, limbfe.case.build, limbfe.report.tables\n"
        "limbfe.read_case(sys.argv[1])\n"
        f"print([name for name in {unused!r} if name in sys.modules])"
    )
    case = str(Path(__file__).parents[2] / "cases" / "ash_flatbow.toml")
    done = subprocess.run(
        [sys.executable, "-c", code, case], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_unknown_command_is_refused_with_exit_code_2():
    done = subprocess.run(
        [sys.executable, "-m", "limbfe", "asess", "x.toml"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
