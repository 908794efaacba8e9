"""Pull a long string that starts slack, as on the tiller before a bow is braced."""

from __future__ import annotations

import math

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.equilibrium.state import BowState, make_states, path_of
from limbfe.beam.equilibrium.way import Way
from limbfe.beam.model import FORCE, POINT, PULL, TENSION, TIPS, Path
from limbfe.beam.string.course import nocks, part_lengths, run_of
from limbfe.beam.string.hold import length_along_pull, line_of_pull
from limbfe.beam.strung.bracing import brace, rest_path
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array
from limbfe.units import both_forces, both_lengths


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
    rest = mean_nock(bow, rest_path(bow))
    way = Way(bow.model, path, first)
    if first > 0.0 and way.lead(FORCE, first) is None:
        raise _failure(bow, way, string_length)
    control, target = FORCE, float(wanted)
    if force is None:
        now = mean_nock(bow, way.path)
        control, target = TIPS, rest + float(wanted)
        if first == 0.0 and target < now:
            raise GeometryError(
                f"pull: bracing alone moves the tips by {both_lengths(now - rest, 4)}; "
                f"tip_movement = {both_lengths(float(wanted), 4)} must be more"
            )
        way.start_anew(now)
    point = way.lead(control, target)
    if point is None:
        raise _failure(bow, way, string_length)
    return make_states(bow, [point], control=control, brace_height=math.nan)[0]


def pull_through(bow: Bow, string_length: float, forces: Array) -> tuple[BowState, ...]:
    """Return the bow at several pulls, rising, on a string as `pull` takes it.

    Raises
    ------
    GeometryError
        If the length is impossible.
    ConvergenceError
        If a pull cannot be reached.
    """
    path, first = _start(bow, string_length)
    way, points = Way(bow.model, path, first), []
    for force in ([first] if first > 0.0 else []) + [float(one) for one in forces]:
        point = way.lead(FORCE, force)
        if point is None:
            raise _failure(bow, way, string_length)
        points.append(point)
    return make_states(bow, points[-len(forces) :], control=FORCE, brace_height=math.nan)


def mean_nock(bow: Bow, path: Path) -> float:
    """Return the mean of both nocks' places along the bow's own X."""
    low, high = nocks(bow.model, path)
    return float(0.5 * (low[0] + high[0]))


def _failure(bow: Bow, way: Way, string_length: float) -> ConvergenceError:
    reached = length_along_pull(bow.model, way.path.border)
    reason = "a part of the string goes slack" if way.went_slack else "Newton's method fails"
    force = both_forces(float(way.path.border[PULL]))
    return ConvergenceError(
        f"pull on a string of {both_lengths(string_length)}: {reason} beyond {force}, at a draw "
        f"length of {both_lengths(reached, 4)}",
        draw_length=reached,
        iteration=len(way.residuals),
        residuals=way.residuals,
    )


def _start(bow: Bow, length: float) -> tuple[Path, float]:
    """Return a first path and the small pull it nearly balances (0: braced without a pull)."""
    path = rest_path(bow)
    low, high = nocks(bow.model, path)
    chord = high - low
    if not length > 0.0:
        raise GeometryError(f"pull: a string of length {length} m is impossible")
    if length <= float(np.linalg.norm(chord)):
        return _braced(bow, length), 0.0
    path.string[:] = 0.5 * length
    along = chord / np.linalg.norm(chord)
    towards = np.array([1.0, 0.0, 0.0]) - along[0] * along
    sag = math.sqrt(0.25 * length**2 - 0.25 * float(chord @ chord))
    towards *= 1.0 / np.linalg.norm(towards)
    reach = _round_the_limbs(bow, path, 0.5 * (low + high), towards, (sag, length))
    if reach is None:
        # too short to hang slack before a reflexed bow, whose chord is longer once it is bent
        return _braced(bow, length), 0.0
    sag = reach
    path.border[POINT:TENSION] = 0.5 * (low + high) + sag * towards
    first = 0.05 * bow.model.force
    path.border[TENSION:PULL] = _tensions(bow, path, first)
    path.border[PULL] = first
    return path, first


def _braced(bow: Bow, length: float) -> Path:
    """Return the path of a bow that the string braces, pulled at the string's middle.

    Raises
    ------
    GeometryError
        If the string neither braces it nor reaches round it.
    """
    state = brace(bow, length=length)
    if state.slack:
        raise GeometryError(
            f"pull: a string of {both_lengths(length, 4)} neither braces this bow nor hangs slack "
            "before it: at most it just reaches from nock to nock, over the limbs where they are "
            "in its way; take a longer one, to pull on, or a shorter one, to brace"
        )
    path, _ = path_of(bow, state)
    low, high = run_of(bow.model, path).leaves
    path.border[POINT:TENSION] = 0.5 * (low + high)
    path.string[:] = 0.5 * length
    return path


def _round_the_limbs(
    bow: Bow, path: Path, middle: Array, towards: Array, given: tuple[float, float]
) -> float | None:
    """Return how far the middle of a taut string stands out, which may lie on the limbs.

    `given` are that of a string which meets them at the nocks alone, and its length.  None where it
    does not reach from nock to nock in front of a reflexed bow.
    """
    free, length = given

    def missing(sag: float) -> float:
        path.border[POINT:TENSION] = middle + sag * towards
        return float(part_lengths(bow.model, path).sum()) - length

    if missing(free) <= 1e-12 * length:
        return free
    least = float((bow.model.belly - middle) @ towards)
    if least >= free or missing(least) >= 0.0:
        return None
    low, high = least, free
    for _ in range(60):
        half = 0.5 * (low + high)
        low, high = (half, high) if missing(half) < 0.0 else (low, half)
    return low


def _tensions(bow: Bow, path: Path, force: float) -> Array:
    _, direction, _ = line_of_pull(bow.model, path.border)
    low, high = run_of(bow.model, path).leaves
    point = path.border[POINT:TENSION]
    ends = np.stack([point - low, point - high], axis=1)
    ends /= np.linalg.norm(ends, axis=0)
    balanced = np.linalg.lstsq(ends, force * direction, rcond=None)[0]
    tensions: Array = np.maximum(balanced, 0.1 * force).astype(np.float64)
    return tensions
