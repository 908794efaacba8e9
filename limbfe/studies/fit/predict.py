"""What a bow of given stiffness would have been read as, and how that changes with stiffness."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.analysis.bow.model import LimbModel
from limbfe.beam import Bow, BowState, own_frame
from limbfe.beam.rates.changes import rest_rates
from limbfe.beam.rates.sensitivity import Keep, Sensitivity, sensitivities_along
from limbfe.beam.string.hold import line_of_pull
from limbfe.frames import Array, skew
from limbfe.stave.profile import shape_at
from limbfe.studies.fit.parameters import Parameters
from limbfe.studies.fit.readings import Reading, Readings
from limbfe.studies.fit.sections import SectionTangent
from limbfe.studies.fit.stiff_bow import RatesAlong, StiffBow


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prediction:
    """What would be read.

    Attributes
    ----------
    value : ndarray, shape (r,), N and m
    rates : ndarray, shape (r, p)
        Change per logarithm of each parameter.
    bow : Bow
    states : tuple of BowState
        Braced, then at the draw lengths that were read, shortest first.
    """

    value: Array
    rates: Array
    bow: Bow
    states: tuple[BowState, ...]


def predict(
    model: LimbModel,
    parameters: Parameters,
    sections: SectionTangent,
    readings: Readings,
    logs: Array,
    *,
    exercised: bool,
) -> Prediction:
    """Brace and draw the bow with parameters `logs`, shape (p,), and read it.

    Parameters
    ----------
    exercised : bool
        Whether the bow was drawn this far before and answers elastically; if not, its belly
        yields as in a first draw.

    Raises
    ------
    ConvergenceError
        If it cannot be braced or drawn to a length that was read.
    """
    stiff = StiffBow(model, parameters, sections, logs, exercised=exercised)
    bow, still = stiff.bow, rest_rates(stiff.bow, len(logs))
    keep: Keep = "height" if model.setup.stringing.brace_height is not None else "length"
    lengths = sorted({row.draw_length for row in readings.rows if row.draw_length is not None})
    states, crushed = stiff.draw(lengths)
    along = RatesAlong(stiff)
    sections_along = (along.at(*pair) for pair in zip(states, crushed, strict=True))
    found: dict[float | None, tuple[BowState, Sensitivity]] = {}
    slopes = sensitivities_along(bow, states, sections_along, still, keep=keep)
    for length, state, slope in zip((None, *lengths), states, slopes, strict=True):
        found[length] = (state, slope)
        along.crushing.hand_on(slope.strains)
    places = _Places(model)
    values, changes = [], []
    for row in readings.rows:
        state, slope = found[row.draw_length]
        if row.what == "force":
            values.append(state.draw_force)
            changes.append(slope.force)
        else:
            value, change = places.read(bow, row, state, slope)
            values.append(value)
            changes.append(change)
    return Prediction(value=np.array(values), rates=np.stack(changes), bow=bow, states=states)


class _Places:
    """Where the back of the limb lies, between the nodes too."""

    def __init__(self, model: LimbModel) -> None:
        self.model = model

    def read(
        self, bow: Bow, row: Reading, state: BowState, slope: Sensitivity
    ) -> tuple[float, Array]:
        """Return a position and its rates, shape (p,).

        The axis is the cubic between two nodes with their tangents, the back half a thickness
        along the normal off it, both in the bow's own frame; the position is measured along the
        pull, whose direction turns with the nocking point.
        """
        x = self.model.node_x
        e = int(np.clip(np.searchsorted(x, row.x) - 1, 0, len(x) - 2))
        s = (row.x - x[e]) / (x[e + 1] - x[e])
        half = 0.5 * float(shape_at(self.model.setup.stave, [row.x]).thickness[0])
        length = float(bow.chain.length[e])
        at = np.array([1.0 - 3.0 * s**2 + 2.0 * s**3, 3.0 * s**2 - 2.0 * s**3])
        pull = length * np.array([s - 2.0 * s**2 + s**3, s**3 - s**2])
        off = half * np.array([1.0 - s, s])
        pair = slice(e, e + 2)
        rotations = state.frame.T @ state.rotations[pair]
        origin = state.positions[pair] - state.grip_back
        places = origin @ state.frame + bow.grip_back
        back = at @ places + pull @ rotations[:, :, 0] + off @ rotations[:, :, 2]
        # a node's increments are in its own axes: R v moves it, R skew(w) turns its axes
        tilt = np.zeros((2, 3, 6))
        for k in range(2):
            turn = pull[k] * skew([1.0, 0.0, 0.0]) + off[k] * skew([0.0, 0.0, 1.0])
            tilt[k, :, :3], tilt[k, :, 3:] = at[k] * rotations[k], -rotations[k] @ turn
        moved = np.einsum("kij,pkj->pi", tilt, slope.nodes[:, pair])
        direction, turning = _direction(bow, state)
        reach = back - bow.grip_back
        return float(direction @ reach), moved @ direction + slope.nocking_point @ (turning @ reach)


def _direction(bow: Bow, state: BowState) -> tuple[Array, Array]:
    """Return the direction of the pull in the bow's own frame and how the nocking point turns it.

    A braced bow is read along its own X.
    """
    if not state.draw_force > 0.0:
        return np.array([1.0, 0.0, 0.0]), np.zeros((3, 3))
    point = own_frame(bow, state, state.nocking_point)
    return line_of_pull(bow.model, point)[1:]
