"""Many bows of one shape and different stiffness, braced and drawn on all cores."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.beam.bow import Bow, rest_offset
from limbfe.beam.brace import brace, rest_path, string_height, string_lengths
from limbfe.beam.chain import effective_stiffness
from limbfe.beam.draw import draw, start_of_draw
from limbfe.beam.element import resultants
from limbfe.beam.hold import length_along_pull
from limbfe.beam.model import (
    DRAW,
    HEIGHT,
    Model,
    Path,
    Record,
    Work,
    new_path,
    new_record,
    new_work,
    pick,
)
from limbfe.beam.newton import REACHED, solve
from limbfe.beam.stability import stable_states
from limbfe.errors import GeometryError
from limbfe.frames import Array, read_only


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ensemble:
    """Bows braced to one height and drawn to one length; rows of failed bows are nan.

    Attributes
    ----------
    force : ndarray, shape (b,), N
    string_length : ndarray, shape (b,), m
    string_tension : ndarray, shape (b, 2), N
    energy : ndarray, shape (b,), J
        Limbs and string at full draw.
    strains : ndarray, shape (b, n - 1, 2, 6), section axes
        At the Gauss points at full draw.
    tips : ndarray, shape (b, 2, 3), m
        Lower and upper tip at full draw, in the bow's own frame.
    converged, stable : ndarray of bool, shape (b,)
    """

    force: Array
    string_length: Array
    string_tension: Array
    energy: Array
    strains: Array
    tips: Array
    converged: NDArray[np.bool_]
    stable: NDArray[np.bool_]


def draw_ensemble(
    bow: Bow, stiffness: Any, *, height: float, draw_length: float, workers: int | None = None
) -> Ensemble:
    """Brace and draw many bows that differ in their section stiffness.

    Parameters
    ----------
    bow : Bow
        Shape, string and hold; its own stiffness gives the first guess.
    stiffness : array_like, shape (b, n - 1, 2, 6, 6)
        Section stiffness of each bow at the Gauss points (positive definite).
    height, draw_length : float
        Brace height and draw length of every bow, m.
    workers : int, optional
        Threads; the number of cores by default.  The result does not depend on it.

    Returns
    -------
    Ensemble
        A bow without an equilibrium has a row of nan, one that is not stable says so.

    Raises
    ------
    GeometryError
        If the stiffness has another shape than the bow's, or height or draw length are impossible.
    ConvergenceError
        If the bow itself, the first guess of all others, cannot be braced or drawn.
    """
    values = np.ascontiguousarray(stiffness, dtype=np.float64)
    shape = bow.chain.stiffness.shape
    if values.ndim != 5 or values.shape[1:] != shape:
        raise GeometryError(f"ensemble: stiffness of shape {values.shape}, wanted (b, *{shape})")
    braced = brace(bow, height=height)
    full = draw(bow, braced, [draw_length], unstable="follow").states[0]
    guesses = start_of_draw(bow, braced)[0], start_of_draw(bow, full)[0]
    count, m = len(values), shape[0]
    out = {
        "force": np.full(count, np.nan),
        "string_length": np.full(count, np.nan),
        "string_tension": np.full((count, 2), np.nan),
        "energy": np.full(count, np.nan),
        "strains": np.full((count, m, 2, 6), np.nan),
        "tips": np.full((count, 2, 3), np.nan),
    }
    stable = np.zeros(count, dtype=bool)
    workers = workers or os.cpu_count() or 1
    chunks = np.array_split(np.arange(count), min(count, 8 * workers))

    def work_on(rows: Any) -> None:
        worker = _Worker(bow, guesses, height, draw_length)
        for row in rows:
            worker.run(values[row], row, out, stable)

    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(work_on, chunks))
    fields = {name: read_only(array) for name, array in out.items()}
    return Ensemble(**fields, converged=np.isfinite(out["force"]), stable=stable)


class _Worker:
    """Scratch arrays of one thread; only `run` is used from outside."""

    def __init__(
        self, bow: Bow, guesses: tuple[Path, Path], height: float, draw_length: float
    ) -> None:
        n = len(bow.chain.positions)
        self.bow, self.guesses = bow, guesses
        self.height, self.draw_length = height, draw_length
        self.rest = string_height(bow, bow.chain.rotations, bow.chain.positions)
        self.saved: Path = new_path(n)
        self.work: Work = new_work(n)
        self.record: Record = new_record(2, n)
        self.transport = np.array(bow.chain.transport)
        self.compliance = np.empty_like(bow.chain.stiffness)
        self.element = np.empty((n - 1, 6, 6))
        self.twist, self.mean = np.empty((n - 1, 6)), np.empty((n - 1, 6))

    def run(self, stiffness: Array, row: int, out: dict[str, Array], stable: Any) -> None:
        chain = self.bow.chain
        effective_stiffness(stiffness, self.transport, self.compliance, self.element)
        model = self.bow.model._replace(
            stiffness=self.element, offset=rest_offset(chain, self.element)
        )
        path = self._draw(model)
        if path is None:
            return
        resultants(
            path.rotations, path.positions, model.stiffness, model.offset, model.length,
            self.twist, self.mean,
        )  # fmt: skip
        mean = np.einsum("mgij,mj->mgi", self.transport, self.mean)
        tension = path.border[3:5]
        out["strains"][row] = np.einsum("mgij,mgj->mgi", self.compliance, mean)
        out["energy"][row] = 0.5 * np.sum(self.mean * (self.twist - chain.twist))
        out["energy"][row] += 0.5 * np.sum(tension**2 * path.string) / model.string_stiffness
        out["string_tension"][row] = tension
        out["string_length"][row] = path.string.sum()
        out["tips"][row] = path.positions[[0, -1]]
        out["force"][row] = path.border[5]
        last = pick(self.record, slice(1))
        stable[row] = stable_states(model, last, path.string, DRAW)[0]

    def _draw(self, model: Model) -> Path | None:
        """Brace and draw: from the first guesses, or all the way where they fail."""
        height, target = self.height, self.draw_length
        path = _copy(self.guesses[0])
        status = self._solve(model, path, [[HEIGHT, height, height, 1.0, 1.0]])
        if status != REACHED:
            path = rest_path(self.bow)
            first = [HEIGHT, self.rest, height, 0.0, 0.0]
            status = self._solve(model, path, [first, [HEIGHT, height, height, 0.0, 1.0]])
        if status != REACHED:
            return None
        path.string[:] = string_lengths(self.bow, path)
        drawn = _copy(self.guesses[1])
        drawn.string[:] = path.string
        if self._solve(model, drawn, [[DRAW, target, target, 1.0, 1.0]]) == REACHED:
            return drawn
        start = length_along_pull(model, path.border)
        status = self._solve(model, path, [[DRAW, start, target, 1.0, 1.0]])
        return path if status == REACHED else None

    def _solve(self, model: Model, path: Path, stages: list[list[float]]) -> int:
        table = np.array(stages)
        return solve(model, path, self.saved, self.work, table, self.record)[0]


def _copy(path: Path) -> Path:
    return Path(*(array.copy() for array in path))
