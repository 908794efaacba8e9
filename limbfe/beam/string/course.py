"""Where the string of a bow runs, measured in the bow's own frame."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from limbfe.beam.model import POINT, PULL, TENSION, Ground, Model, Path
from limbfe.beam.string.bed import place_on_bed
from limbfe.beam.string.run import lay_string
from limbfe.beam.string.seen import ruling_of, seen_between, seen_length
from limbfe.beam.string.taut import MOST, lay, nodes_met
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
    """Return the string from nock to nock as a line (k, 3) over the limbs it lies on.

    It slides over them, and so runs beside their middle lines (`middle_line`) where it is pulled
    aside.
    """
    sides = [lying_line(model, path, part, touched(model, path, part)) for part in range(2)]
    point = np.array(path.border[None, POINT:TENSION])
    return np.concatenate([sides[0], point, sides[1][::-1]])


def lying_line(ground: Ground, path: Path, part: int, stretches: Array) -> Array:
    """Return a part of the string from its nock to where it leaves its limb for good, (k, 3).

    Parameters
    ----------
    ground, path, part
    stretches : ndarray, shape (k, 2)
        On which it touches, in elements from the tip, as from `touched`.
    """
    at = places_along(stretches)
    places, seen = np.empty((len(at), 3)), np.empty(len(at) + 1)
    _slide(ground, path, part, at, stretches, places, seen)
    return places


def middle_line(model: Model, path: Path, part: int) -> Array:
    """Return the middle line (k, 3) of the belly below the string, from the nock inwards."""
    at = places_along(touched(model, path, part))
    places = np.empty((len(at), 3))
    bed_places(model, path, part, at, places)
    return places


def places_along(stretches: Array) -> Array:
    """Return places (k,), in elements from the tip, along stretches of a limb and at its nock."""
    parts = [np.linspace(start, end, 2 + int(FINE * (end - start))) for start, end in stretches]
    return np.concatenate([np.zeros(1), *parts])


@compiled
def _slide(
    ground: Ground, path: Path, part: int, at: Array, stretches: Array, places: Array, seen: Array
) -> None:
    """Write where a string lies (k, 3) at places (k,) on the limb it slides over.

    `seen` (k + 1,) is written too: its way to each and to the nocking point, as it is seen along
    the belly's rulings.
    """
    ruling, last, here, count = ruling_of(path, part), np.empty(3), np.empty((2, 3)), len(at)
    point, aside = path.border[POINT : POINT + 3], np.empty(count)
    for k in range(count):
        place_on_bed(ground, path, part, at[k], here)
        places[k, :] = here[0]
        aside[k] = 0.0
        for i in range(3):
            aside[k] += (here[0, i] - places[0, i]) * ruling[i]
        if k == 0:
            seen[0], last[:] = 0.0, here[0]
            continue
        lies = False
        for s in range(len(stretches)):
            lies = lies or stretches[s, 0] <= at[k - 1] < at[k] <= stretches[s, 1]
        if lies:
            seen[k] = seen[k - 1] + seen_length(ground, path, part, (at[k - 1], at[k]), ruling)
        else:
            seen[k] = seen[k - 1] + seen_between(last, here[0], ruling)
        last[:] = here[0]
    seen[count] = seen[count - 1] + seen_between(last, point, ruling)
    way = 0.0
    for i in range(3):
        way += (point[i] - places[0, i]) * ruling[i]
    for k in range(1, count):
        for i in range(3):
            places[k, i] += ruling[i] * (way * seen[k] / seen[count] - aside[k])


@compiled
def _run_along(model: Model, path: Path, leaves: Array, size: Array, touching: Array) -> int:
    """Write where the string leaves the limbs (2, 3), how long its parts are (2,) and how much of
    them touches (2,); return on how many nodes of a limb it acts.

    Not numbers where it cannot be laid.
    """
    laid, run = lay(model, path), lay_string(model, path)
    point, here, other = path.border[POINT : POINT + 3], np.empty((2, 3)), np.empty((2, 3))
    for part in range(2):
        leaves[part, :], touching[part] = run.leaves[part], 0.0
        size[part] = math.nan if laid.number[part] == 0 else _distance(leaves[part], point)
        if laid.number[part] == 0 or (laid.number[part] == 1 and laid.span[part, 0, 1] == 0.0):
            continue
        ruling, lies, seen, free, aside = ruling_of(path, part), 0.0, 0.0, 0.0, 0.0
        for k in range(laid.number[part]):
            low, high = laid.span[part, k, 0], laid.span[part, k, 1]
            if k > 0:
                place_on_bed(model, path, part, low, other)
                seen += seen_between(here[0], other[0], ruling)
            lies += seen_length(model, path, part, (low, high), ruling)
            place_on_bed(model, path, part, high, here)
        free = seen_between(here[0], point, ruling)
        seen += lies + free
        for i in range(3):
            aside += (point[i] - leaves[part, i]) * ruling[i]
        size[part] = math.sqrt(seen * seen + aside * aside)
        touching[part] = lies * size[part] / seen
        # where it leaves lies as far aside as it is along
        at = 0.0
        for i in range(3):
            at += (here[0, i] - leaves[part, i]) * ruling[i]
        for i in range(3):
            leaves[part, i] = here[0, i] + ruling[i] * (aside * (seen - free) / seen - at)
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
