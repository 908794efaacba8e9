"""Find out, without dying of it, whether VTK can draw on this machine.

Without an OpenGL library the first VTK render ends the interpreter (exit 139), which no
``except`` can catch.  So a child process renders one small picture first; its outcome is kept
in the environment, hence for this process and all it starts.
"""

from __future__ import annotations

import ctypes
import os
import subprocess
import sys
from dataclasses import dataclass

from limbfe.children import child_environment, child_path
from limbfe.errors import LimbfeError

OUTCOME = "LIMBFE_RENDERING"
WINDOW_CLASS = "VTK_DEFAULT_OPENGL_WINDOW"
TIMEOUT = 30.0

_LIBRARIES = {
    "vtkEGLRenderWindow": ("libEGL.so.1",),
    "vtkOSOpenGLRenderWindow": ("libOSMesa.so.8", "libOSMesa.so.6", "libOSMesa.so"),
    "vtkXOpenGLRenderWindow": ("libGL.so.1",),
}
_PLATFORM_WINDOW = "platform"
_REMEDY = (
    "install a software OpenGL: on Debian or Ubuntu `apt-get install libegl1 libgl1-mesa-dri`, "
    "on Fedora `dnf install mesa-libEGL mesa-dri-drivers`"
)
_CHILD = """
import vtkmodules.vtkRenderingOpenGL2
from vtkmodules.vtkCommonCore import vtkUnsignedCharArray
from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow
window, renderer, pixels = vtkRenderWindow(), vtkRenderer(), vtkUnsignedCharArray()
window.SetOffScreenRendering(1)
window.SetSize(16, 16)
renderer.SetBackground(0.2, 0.4, 0.6)
window.AddRenderer(renderer)
window.Render()
window.GetPixelData(0, 0, 15, 15, 1, pixels, 0)
good = pixels.GetTuple3(0) == (51.0, 102.0, 153.0)
print("drawn by", window.GetClassName() if good else "nobody", flush=True)
"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rendering:
    """Whether 3D pictures can be drawn here.

    Attributes
    ----------
    available : bool
    window : str
        VTK render window class that works, ``"platform"`` for the system's own, empty if none.
    reason : str
        Why not and what would help; empty when available.
    """

    available: bool
    window: str
    reason: str


def probe_rendering() -> Rendering:
    """Return whether VTK can draw off screen; the first call starts a child (under a second).

    Notes
    -----
    When it can, ``VTK_DEFAULT_OPENGL_WINDOW`` is set to the class that worked, so that VTK
    does not look for an X server first and complain that there is none.
    """
    known = os.environ.get(OUTCOME)
    outcome = _from_text(known or "") or _try_windows(_off_screen_windows())
    os.environ[OUTCOME] = outcome.window if outcome.available else f"none: {outcome.reason}"
    if outcome.available:
        _choose_window(outcome.window)
    return outcome


def probe_display() -> Rendering:
    """Return whether VTK can open a window on this machine's screen."""
    if not sys.platform.startswith("linux"):
        return probe_rendering()
    if not os.environ.get("DISPLAY"):
        reason = "no screen to open a window on (DISPLAY is not set); write a picture with --png"
        return Rendering(available=False, window="", reason=reason)
    outcome = _try_windows(("vtkXOpenGLRenderWindow",))
    if outcome.available:
        _choose_window(outcome.window)
    return outcome


def require_rendering() -> Rendering:
    """Return the working render window, or raise.

    Raises
    ------
    LimbfeError
        When nothing here can draw; the message names the package that would bring it.
    """
    outcome = probe_rendering()
    if not outcome.available:
        raise LimbfeError(f"3D pictures: {outcome.reason}")
    return outcome


def _from_text(text: str) -> Rendering | None:
    """Return an earlier outcome; None for what is none, such as another program's words."""
    if text.startswith("none: "):
        return Rendering(available=False, window="", reason=text.removeprefix("none: "))
    if text in _off_screen_windows() and not _missing_library(text):
        return Rendering(available=True, window=text, reason="")
    return None


def _choose_window(window: str) -> None:
    if window == _PLATFORM_WINDOW:
        os.environ.pop(WINDOW_CLASS, None)
    else:
        os.environ[WINDOW_CLASS] = window


def _off_screen_windows() -> tuple[str, ...]:
    if not sys.platform.startswith("linux"):
        return (_PLATFORM_WINDOW,)
    windows = ("vtkEGLRenderWindow", "vtkOSOpenGLRenderWindow")
    return (*windows, "vtkXOpenGLRenderWindow") if os.environ.get("DISPLAY") else windows


def _try_windows(windows: tuple[str, ...]) -> Rendering:
    failures = []
    for window in windows:
        failure = _missing_library(window) or _render_in_child(window)
        if not failure:
            return Rendering(available=True, window=window, reason="")
        failures.append(failure)
    reason = f"VTK cannot draw here ({'; '.join(failures)}); {_REMEDY}"
    return Rendering(available=False, window="", reason=reason)


def _missing_library(window: str) -> str:
    """Return what is missing for a window class, or an empty string."""
    names = _LIBRARIES.get(window, ())
    for name in names:
        try:
            ctypes.CDLL(name)
        except OSError:
            continue
        return ""
    return f"{names[0]} is not installed" if names else ""


def _render_in_child(window: str) -> str:
    """Return why a child could not render with `window`, or an empty string."""
    environment = child_environment()
    environment.pop(WINDOW_CLASS, None)
    if window != _PLATFORM_WINDOW:
        environment[WINDOW_CLASS] = window
    try:
        child = subprocess.run(
            [sys.executable, "-I", "-c", f"import sys; sys.path[:] = {child_path()!r}\n{_CHILD}"],
            env=environment,
            capture_output=True,
            text=True,
            timeout=TIMEOUT,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return f"{window} did not answer within {TIMEOUT:.0f} s"
    drawn_by = child.stdout.strip().removeprefix("drawn by ")
    wanted = {window} if window != _PLATFORM_WINDOW else {drawn_by} - {"nobody"}
    if child.returncode == 0 and drawn_by in wanted:
        return ""
    if "ImportError" in child.stderr:
        return child.stderr.strip().splitlines()[-1]
    return f"{window} found a library but no working driver"
