"""Where the string of a bow runs, measured in the bow's own frame."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from limbfe.beam.model import POINT, PULL, TENSION, Ground, Model, Path
from limbfe.beam.string.bed import add_length, element_at, place_on_bed
from limbfe.beam.string.run import lay_string
from limbfe.beam.string.taut import MOST, lay, nodes_met
from limbfe.beam.string.touch import touch_point
from limbfe.compiled import compiled, compiled_inside
from limbfe.frames import Array

FINE = 6
"""Points of a line that follows the limb, on every element."""


def nocks(model: Model, path: Path) -> tuple[Array, Array]:
    """Return the places of the lower and the upper nock, each of shape (3,)."""
    ends, arms = path.positions[[0, -1]], model.nocks
    low, high = ends + np.einsum("tij,tj->ti", path.rotations[[0, -1]], arms)
    return low, high


def string_height(model: Model, path: Path) -> float:
    """Return the distance along X from the grip's belly to the line of a braced string."""
    low, high = run_of(model, path).leaves
    share = (model.belly[2] - low[2]) / (high[2] - low[2])
    return float(low[0] + share * (high[0] - low[0]) - model.belly[0])


def part_lengths(model: Model, path: Path) -> Array:
    """Return the lengths (2,) of both parts from nock to nocking point, along the limbs too."""
    return run_of(model, path).size


def unstretched_lengths(model: Model, path: Path) -> Array:
    """Return the lengths (2,) that both parts would have without their tension."""
    lengths: Array = part_lengths(model, path) / (
        1.0 + path.border[TENSION:PULL] / model.string_stiffness
    )
    return lengths


class Course(NamedTuple):
    """How both parts of the string run.

    `leaves` (2, 3) where each leaves its limb for the nocking point, its nock where it touches
    nothing else; `size` (2,) its length and `touching` (2,) how much of that lies on the limb, m;
    `met` on how many nodes of a limb it acts.
    """

    leaves: Array
    size: Array
    touching: Array
    met: int


def run_of(model: Model, path: Path) -> Course:
    """Return how the string runs; its lengths are no numbers where it cannot be laid."""
    leaves, size, touching = np.empty((2, 3)), np.empty(2), np.empty(2)
    met = _run_along(model, path, leaves, size, touching)
    return Course(leaves, size, touching, met)


def deepened(model: Model, path: Path) -> Model:
    """Return a model that keeps as many nodes of the limbs as the string acts on, and one more."""
    most = min(model.lower, len(model.length) - model.upper)
    wanted = min(run_of(model, path).met + 1, most)
    return model._replace(kept=wanted) if wanted > model.kept + 1 else model


def touched(model: Model, path: Path, part: int) -> Array:
    """Return the stretches (k, 2) of a limb that its part of the string lies on.

    In elements from the tip; none where it meets the limb at the nock alone.
    """
    span = np.empty((MOST, 2))
    count = _stretches(model, path, part, span)
    found = span[:count]
    return found[found[:, 1] > found[:, 0]] if count == 1 else found


def string_line(model: Model, path: Path) -> Array:
    """Return the string from nock to nock as a line (k, 3) that follows the limbs it lies on."""
    sides = []
    for part, nock in enumerate(nocks(model, path)):
        line = [nock[None]]
        for start, end in touched(model, path, part):
            at = np.linspace(start, end, 2 + int(FINE * (end - start)))
            places = np.empty((len(at), 3))
            bed_places(model, path, part, at, places)
            line.append(places)
        sides.append(np.concatenate(line))
    point = np.array(path.border[None, POINT:TENSION])
    return np.concatenate([sides[0], point, sides[1][::-1]])


@compiled
def _run_along(model: Model, path: Path, leaves: Array, size: Array, touching: Array) -> int:
    """Write where the string leaves the limbs (2, 3), how long its parts are (2,) and how much of
    them touches (2,); return on how many nodes of a limb it acts.

    Not numbers where it cannot be laid.
    """
    laid, run, here = lay(model, path), lay_string(model, path), np.empty(3)
    near, both = np.zeros(12), np.zeros((12, 12))
    for part in range(2):
        total, lies = 0.0 if laid.number[part] > 0 else math.nan, 0.0
        leaves[part, :] = run.leaves[part]
        if laid.number[part] > 1 or laid.span[part, 0, 1] > 0.0:
            for k in range(laid.number[part]):
                low, high = laid.span[part, k, 0], laid.span[part, k, 1]
                if k > 0:
                    element, share = element_at(model, part, low)
                    here[:] = touch_point(model, path, element, share).place
                    total += _distance(leaves[part], here)
                while low < high:
                    stop = min(high, math.floor(low + 1.0))
                    element, share = element_at(model, part, 0.5 * (low + stop))
                    half = 0.5 * (stop - low)
                    ends = (share - half, share + half)
                    lies += add_length(model, path, element, ends, near, both)
                    low = stop
                element, share = element_at(model, part, high)
                leaves[part, :] = touch_point(model, path, element, share).place
        touching[part] = lies
        size[part] = total + lies + _distance(leaves[part], path.border[POINT : POINT + 3])
    return nodes_met(model, laid)


@compiled
def _stretches(model: Model, path: Path, part: int, span: Array) -> int:
    """Write where a part of the string touches its limb (`MOST`, 2), in elements from the tip.

    Returned is the number of stretches, the first from the nock (it may have no length); 0 where
    the part cannot be laid.
    """
    laid = lay(model, path)
    span[:] = laid.span[part]
    return int(laid.number[part])


@compiled
def bed_places(model: Ground, path: Path, part: int, at: Array, places: Array) -> None:
    """Write places of the line on the belly (k, 3) from those in elements from the tip (k,)."""
    here = np.empty((2, 3))
    for k in range(len(at)):
        place_on_bed(model, path, part, at[k], here)
        places[k, :] = here[0]


@compiled_inside
def _distance(a: Array, b: Array) -> float:
    return math.sqrt((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 + (a[2] - b[2]) ** 2)
