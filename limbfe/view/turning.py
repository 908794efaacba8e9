"""A scene of bodies as one HTML file that opens from disk and can be turned, still or moving.

For what the viewer behind `limbfe.view.bow.page` cannot show: bodies that let others be seen
through them, and bodies that move.  The page draws with WebGL 2, asks nothing of the network and
needs no package; nothing here draws.
"""

from __future__ import annotations

import base64
import html
import json
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.view import theme

SHORT = 32767
MOST = 65535
"""Points of a body at the most: their numbers are written in two bytes."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """A surface, or a bundle of lines, in one colour.

    Attributes
    ----------
    points : ndarray, shape (n, 3) or (frames, n, 3), m
    cells : ndarray of int, shape (c, 3) or (c, 2)
        Triangles, or pieces of lines.
    colour : str
        As ``#rrggbb``.
    alpha : float
        Below 1 what lies behind is seen through it.
    """

    points: Array
    cells: NDArray[np.integer[Any]]
    colour: str
    alpha: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Name:
    """A word at a place, m."""

    text: str
    at: Array
    colour: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Motion:
    """How the frames of a moving scene follow each other.

    Attributes
    ----------
    between : float, s
        From one frame to the next.
    slow : float, s
        How long that lasts on the page.
    clock : str
        Words below, with ``%`` for the time gone in ms.
    """

    between: float
    slow: float
    clock: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """What the page shows; z is up.

    Attributes
    ----------
    bodies : tuple of Body
        Those seen through are drawn last, in this order.
    names : tuple of Name
    turn, tilt : float, rad
        First view: turned about the upright from looking along y with x to the right; from above.
    upright : (turn, tilt) or None, rad
        First view on a screen that is higher than wide, such as a phone's.
    motion : Motion or None
    framed : ndarray, shape (k, 3), m, or None
        What the first view just takes in; all bodies when left out.
    """

    bodies: tuple[Body, ...]
    names: tuple[Name, ...]
    turn: float
    tilt: float
    motion: Motion | None = None
    upright: tuple[float, float] | None = None
    framed: Array | None = None


def turning_page(title: str, words: Sequence[str], scene: Scene) -> str:
    """Return the page as text; title and words are escaped here."""
    page = files("limbfe.view").joinpath("turning.html").read_text("utf-8")
    parts = {
        "title": html.escape(title),
        "words": "".join(f"<p>{html.escape(line)}</p>" for line in words),
        "scene": json.dumps(_scene(scene)).replace("</", "<\\/"),
        "paper": theme.PAPER,
        "ink": theme.INK,
        "faint": theme.FAINT,
    }
    for name, text in parts.items():
        page = page.replace("{{" + name + "}}", text)
    return page


def _scene(scene: Scene) -> dict[str, Any]:
    points = np.concatenate([body.points.reshape(-1, 3) for body in scene.bodies])
    shown = points if scene.framed is None else scene.framed
    low, high = shown.min(axis=0), shown.max(axis=0)
    deep = float(np.linalg.norm(np.ptp(points, axis=0)))
    motion = scene.motion
    return {
        "bodies": [_body(body) for body in scene.bodies],
        "names": [
            {"text": one.text, "at": one.at.tolist(), "colour": one.colour} for one in scene.names
        ],
        "look": {
            "turn": scene.turn,
            "tilt": scene.tilt,
            "at": (0.5 * (low + high)).tolist(),
        },
        "upright": scene.upright,
        "span": (high - low).tolist(),
        # depths far beyond the scene, so that nothing is cut off when it is moved
        "deep": 4.0 * deep,
        "paper": _rgb(theme.PAPER),
        "frames": max(
            body.points.shape[0] if body.points.ndim == 3 else 1 for body in scene.bodies
        ),
        "between": motion.between if motion else 0.0,
        "slow": motion.slow if motion else 0.0,
        "clock": motion.clock if motion else "",
    }


def _body(body: Body) -> dict[str, Any]:
    points = body.points if body.points.ndim == 3 else body.points[None]
    assert points.shape[1] <= MOST
    unit = float(np.abs(points).max()) / SHORT
    return {
        "places": _packed((points / unit).round().astype("<i2")),
        "cells": _packed(body.cells.astype("<u2")),
        "unit": unit,
        "count": points.shape[1],
        "frames": points.shape[0],
        "length": int(body.cells.size),
        "lines": body.cells.shape[1] == 2,
        "colour": _rgb(body.colour),
        "alpha": body.alpha,
    }


def _packed(values: NDArray[Any]) -> str:
    return base64.b64encode(np.ascontiguousarray(values).tobytes()).decode("ascii")


def _rgb(colour: str) -> list[float]:
    return [int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]


def swept(sections: Array, *, closed: bool = True) -> tuple[Array, NDArray[np.int64]]:
    """Return rings of points joined to a surface: points in a row, and triangles.

    Parameters
    ----------
    sections : ndarray, shape (..., s, n, 3), m
        Rings once round, not closed; leading axes are frames.
    closed : bool
        Whether the two ends are shut by fans round their middles.

    Returns
    -------
    points : ndarray, shape (..., s * n + 2, 3)
        The middles of the first and the last ring at the end, also of an open one.
    triangles : ndarray, shape (t, 3)
    """
    count, around = sections.shape[-3:-1]
    here = np.arange(count * around).reshape(count, around)
    after = np.roll(here, -1, axis=1)
    corners = (here[:-1], after[:-1], after[1:], here[1:])
    a, b, c, d = (one.ravel() for one in corners)
    triangles = [np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]
    if closed:
        first, last = count * around, count * around + 1
        triangles += [
            np.stack([after[0], here[0], np.full(around, first)], axis=1),
            np.stack([here[-1], after[-1], np.full(around, last)], axis=1),
        ]
    middles = sections[..., [0, -1], :, :].mean(axis=-2)
    flat = sections.reshape(*sections.shape[:-3], -1, 3)
    return np.concatenate([flat, middles], axis=-2), np.concatenate(triangles)


def tube(line: Array, radius: float, sides: int = 6) -> Array:
    """Return rings round a line, shape (..., n, sides, 3), for `swept`.

    Parameters
    ----------
    line : ndarray, shape (..., n, 3), m
        No two points in a row at the same place.
    radius : float, m
    """
    along = np.gradient(line, axis=-2)
    along /= np.linalg.norm(along, axis=-1, keepdims=True)
    # of the axes, the one most square to the line as a whole: rings do not turn on the way
    whole = np.abs(along).reshape(-1, 3).max(axis=0)
    aside = np.cross(along, np.eye(3)[int(np.argmin(whole))])
    aside /= np.linalg.norm(aside, axis=-1, keepdims=True)
    other = np.cross(along, aside)
    angle = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)[:, None]
    circle = np.cos(angle) * aside[..., None, :] + np.sin(angle) * other[..., None, :]
    rings: Array = line[..., None, :] + radius * circle
    return rings


def chain(count: int, *, closed: bool = False) -> NDArray[np.int64]:
    """Return the pieces of a line through points in a row, shape (count - 1 or count, 2)."""
    here = np.arange(count if closed else count - 1)
    return np.stack([here, (here + 1) % count], axis=1)
