"""Pull a long string that starts slack, as on the tiller before a bow is braced."""

from __future__ import annotations

import math

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.brace import brace, nocks, rest_path
from limbfe.beam.draw import start_of_draw
from limbfe.beam.hold import length_along_pull, line_of_pull
from limbfe.beam.model import FORCE, TIPS, Path, new_path, new_record, new_work
from limbfe.beam.newton import REACHED, SLACK, solve
from limbfe.beam.state import BowState, make_states
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array


def pull(
    bow: Bow,
    string_length: float,
    *,
    force: float | None = None,
    tip_movement: float | None = None,
) -> BowState:
    """Return the bow pulled at the middle of a string of given length.

    Parameters
    ----------
    bow : Bow
    string_length : float
        Unstretched length between the nocks, m; usually longer than the bow, so that the string
        is slack until it is drawn taut.
    force : float, optional
        The pull, N.
    tip_movement : float, optional
        How far the nocks have moved towards the archer from the unstrung bow, on average and
        along the bow's own X, m.  Give one of the two.

    Raises
    ------
    GeometryError
        If neither or both are given or a value is impossible.
    ConvergenceError
        If the pull cannot be reached; carries the last draw length in equilibrium.
    """
    if (force is None) == (tip_movement is None):
        raise GeometryError("pull: give either the force or the tips' movement")
    wanted = force if force is not None else tip_movement
    if wanted is None or not (math.isfinite(wanted) and wanted > 0.0):
        raise GeometryError(f"pull: {wanted} is impossible; force and movement must be positive")
    path, first = _start(bow, string_length)
    n = len(path.positions)
    work, record = new_work(n), new_record(1, n)
    rest = 0.5 * sum(p[0] for p in nocks(bow, bow.chain.rotations, bow.chain.positions))
    status, done = REACHED, 0.0
    if first > 0.0:
        stages = np.array([[FORCE, first, first, 1.0, 1.0]])
        status, _, _ = solve(bow.model, path, new_path(n), work, stages, record)
    control, now, target = FORCE, first, float(wanted)
    if force is None:
        low, high = nocks(bow, path.rotations, path.positions)
        control, now, target = TIPS, float(0.5 * (low[0] + high[0])), rest + float(wanted)
        if first == 0.0 and target < now:
            raise GeometryError(
                f"pull: bracing alone moves the tips by {1e3 * (now - rest):.1f} mm; "
                f"tip_movement = {1e3 * float(wanted):.1f} mm must be more"
            )
    if status == REACHED:
        stages = np.array([[control, now, target, 1.0, 1.0]])
        status, _, done = solve(bow.model, path, new_path(n), work, stages, record)
    if status != REACHED:
        reached = length_along_pull(bow.model, path.border)
        count = int(record.counts[0, 0])
        reason = "a part of the string goes slack" if status == SLACK else "Newton's method fails"
        raise ConvergenceError(
            f"pull on a string of {1e3 * string_length:.0f} mm: {reason} after "
            f"{100.0 * done:.1f} % of the way, at a draw length of {1e3 * reached:.1f} mm",
            draw_length=reached,
            iteration=count,
            residuals=tuple(record.residuals[0, :count].tolist()),
        )
    return make_states(bow, record, path.string, control=control, brace_height=math.nan)[0]


def _start(bow: Bow, length: float) -> tuple[Path, float]:
    """Return a first path and the small pull it nearly balances (0: braced without a pull)."""
    path = rest_path(bow)
    low, high = nocks(bow, path.rotations, path.positions)
    chord = high - low
    if not length > 0.0:
        raise GeometryError(f"pull: a string of length {length} m is impossible")
    if length <= float(np.linalg.norm(chord)):
        path, _ = start_of_draw(bow, brace(bow, length=length))
        low, high = nocks(bow, path.rotations, path.positions)
        path.border[:3] = 0.5 * (low + high)
        path.string[:] = 0.5 * length
        return path, 0.0
    path.string[:] = 0.5 * length
    along = chord / np.linalg.norm(chord)
    towards = np.array([1.0, 0.0, 0.0]) - along[0] * along
    sag = math.sqrt(0.25 * length**2 - 0.25 * float(chord @ chord))
    path.border[:3] = 0.5 * (low + high) + sag * towards / np.linalg.norm(towards)
    first = 0.05 * bow.model.force
    path.border[3:5] = _tensions(bow, path, low, high, first)
    path.border[5] = first
    return path, first


def _tensions(bow: Bow, path: Path, low: Array, high: Array, force: float) -> Array:
    _, direction, _ = line_of_pull(bow.model, path.border)
    ends = np.stack([path.border[:3] - low, path.border[:3] - high], axis=1)
    ends /= np.linalg.norm(ends, axis=0)
    balanced = np.linalg.lstsq(ends, force * direction, rcond=None)[0]
    tensions: Array = np.maximum(balanced, 0.1 * force).astype(np.float64)
    return tensions
