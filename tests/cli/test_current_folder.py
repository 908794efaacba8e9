"""No command runs Python files that lie in the folder it is typed in, nor do its children."""

from __future__ import annotations

import os
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

CASES = Path(__file__).parents[2] / "cases"
COARSE = "\n[analysis]\nelements_per_limb = 6\nfineness = 0.5\n"
PLANTED = ("vtkmodules/__init__.py", "struct.py", "sitecustomize.py", "numba.py", "scipy.py")
OUTCOME = "LIMBFE_RENDERING"
COMMANDS = {
    "show": "show bow.toml --png bow.png",
    "sweep": "sweep bow.toml --moisture 8:12:4 --workers 2",
    "sweep of a zone": "sweep knotty.toml A --diameter 4:8:4 --workers 2",
    "compare": "compare bow.toml other.toml --draw-weight 35lbf --png compared.png",
    "rules": "rules shorten --bows 2 --workers 2",
    "assess": "assess knotty.toml --out out",
    "shoot": "shoot bow.toml --arrow 28g --png shot.png",
    "chance": "chance bow.toml --bows 24 --samples 1000 --workers 2 --out chances",
    "lay": "lay stave.toml --quick --workers 2 --out laid",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with cases and with files that leave a mark when they are run."""
    sources = {"bow": "ash_flatbow", "knotty": "elm_longbow", "other": "elm_longbow"}
    for name, source in sources.items():
        text = (CASES / f"{source}.toml").read_text().replace("steps = 30", "steps = 8") + COARSE
        (tmp_path / f"{name}.toml").write_text(text)
    sheet = (CASES / "staves" / "clear_half_log.toml").read_text()
    (tmp_path / "stave.toml").write_text(sheet.replace("../ash_flatbow.toml", "bow.toml"))
    for name in PLANTED:
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(f"open({str(tmp_path / 'marker')!r}, 'a').write({name!r} + '\\n')\n")
    return tmp_path


@pytest.fixture
def limbfe(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """The command as pip writes it, in a folder of its own."""
    script = tmp_path_factory.mktemp("bin") / "limbfe"
    script.write_text(
        "import sys\nfrom limbfe.cli import command\n"
        "if __name__ == '__main__':\n    sys.exit(command())\n"
    )
    return [sys.executable, str(script)]


def run(folder: Path, start: list[str], words: str, **more: str) -> str:
    environment = {name: value for name, value in os.environ.items() if name != OUTCOME}
    done = subprocess.run(
        [*start, *words.split()],
        cwd=folder,
        env={**environment, **more},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    marker = folder / "marker"
    assert not marker.exists(), marker.read_text()
    return done.stdout


@pytest.mark.parametrize(
    "name",
    [name if name == "sweep" else pytest.param(name, marks=pytest.mark.slow) for name in COMMANDS],
)
def test_a_command_runs_nothing_of_the_current_folder(folder: Path, limbfe: list[str], name: str):
    assert run(folder, limbfe, COMMANDS[name])


@pytest.mark.slow
def test_nor_does_the_module(folder: Path):
    run(folder, [sys.executable, "-m", "limbfe"], COMMANDS["sweep"])


@pytest.mark.slow
def test_nor_do_workers_where_the_path_has_an_empty_entry(folder: Path, limbfe: list[str]):
    (folder / "sitecustomize.py").unlink()  # which Python reads before any line of ours
    run(folder, limbfe, COMMANDS["sweep"], PYTHONPATH=os.pathsep + str(folder / "none"))


@pytest.mark.slow
def test_nor_does_the_page_with_its_children(folder: Path, limbfe: list[str]):
    pytest.importorskip("uvicorn")
    words = [*limbfe, "sheet", "--no-browser", "bow.toml"]
    with subprocess.Popen(words, cwd=folder, stdout=subprocess.PIPE, text=True) as page:
        try:
            address = page.stdout.readline().split()[-1]
            with urllib.request.urlopen(address, timeout=120) as answer:
                assert b"<!DOCTYPE html>" in answer.read()
        finally:
            page.terminate()
    assert not (folder / "marker").exists()


def test_the_environment_is_given_back(monkeypatch):
    from limbfe.children import child_environment, isolated_children

    monkeypatch.setenv("PYTHONPATH", "somewhere")
    monkeypatch.setenv("LIMBFE_OTHER", "kept")
    before = dict(os.environ)
    with isolated_children():
        assert "PYTHONPATH" not in os.environ
        assert (os.environ["PYTHONSAFEPATH"], os.environ["LIMBFE_OTHER"]) == ("1", "kept")
        assert child_environment() == dict(os.environ)
    assert dict(os.environ) == before
