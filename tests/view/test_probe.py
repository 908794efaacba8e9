"""Whether VTK can draw is found out in a child, so that a crash there harms nobody."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from limbfe.errors import LimbfeError
from limbfe.view import probe


@pytest.fixture
def fresh(monkeypatch):
    monkeypatch.delenv(probe.OUTCOME, raising=False)
    monkeypatch.setattr(probe.sys, "platform", "linux")
    monkeypatch.setattr(probe, "_missing_library", lambda window: "")


CRASH = "import os; os.kill(os.getpid(), 11)"


def test_a_crash_in_the_child_becomes_a_reason(fresh, monkeypatch):
    monkeypatch.setattr(probe, "_CHILD", CRASH)
    outcome = probe.probe_rendering()
    assert not outcome.available
    assert "libegl1" in outcome.reason
    with pytest.raises(LimbfeError, match="apt-get install"):
        probe.require_rendering()


def test_the_outcome_is_kept_for_the_process_tree(fresh, monkeypatch):
    monkeypatch.setattr(probe, "_CHILD", CRASH)
    first = probe.probe_rendering()
    monkeypatch.setattr(probe, "_render_in_child", lambda window: pytest.fail("probed twice"))
    assert probe.probe_rendering().reason == first.reason
    assert os.environ[probe.OUTCOME].startswith("none: ")


@pytest.mark.parametrize("junk", ["junk", "vtkOSOpenGLRenderWindow", ""])
def test_words_that_are_no_outcome_here_are_not_believed(fresh, monkeypatch, junk):
    monkeypatch.setattr(probe, "_missing_library", lambda window: "nothing is installed")
    monkeypatch.setenv(probe.OUTCOME, junk)
    assert not probe.probe_rendering().available


def test_the_window_that_worked_is_chosen(fresh, monkeypatch):
    child = f"import os; print('drawn by', os.environ['{probe.WINDOW_CLASS}'])"
    monkeypatch.setattr(probe, "_CHILD", child)
    monkeypatch.setenv(probe.WINDOW_CLASS, "")
    assert probe.probe_rendering().window == "vtkEGLRenderWindow"
    assert os.environ[probe.WINDOW_CLASS] == "vtkEGLRenderWindow"


def test_another_window_than_asked_for_is_no_success(fresh, monkeypatch):
    monkeypatch.setattr(probe, "_CHILD", "print('drawn by nobody')")
    assert not probe.probe_rendering().available


def test_a_missing_library_is_named_without_a_child(monkeypatch):
    monkeypatch.delenv(probe.OUTCOME, raising=False)
    monkeypatch.setattr(probe.sys, "platform", "linux")
    monkeypatch.setattr(probe, "_LIBRARIES", dict.fromkeys(probe._LIBRARIES, ("libnone.so.1",)))
    monkeypatch.setattr(probe, "_render_in_child", lambda window: pytest.fail("child started"))
    assert "libnone.so.1 is not installed" in probe.probe_rendering().reason


def test_no_screen_no_window(monkeypatch):
    monkeypatch.setattr(probe.sys, "platform", "linux")
    monkeypatch.delenv("DISPLAY", raising=False)
    outcome = probe.probe_display()
    assert not outcome.available
    assert "--png" in outcome.reason


@pytest.mark.render
def test_nothing_on_stderr_when_drawing():
    code = (
        "from limbfe.view.probe import require_rendering; require_rendering()\n"
        "import pyvista as pv; p = pv.Plotter(off_screen=True, window_size=(32, 32))\n"
        "p.add_mesh(pv.Sphere()); p.screenshot(return_img=True); p.close()"
    )
    environment = {k: v for k, v in os.environ.items() if k not in (probe.OUTCOME, "DISPLAY")}
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
