"""The shot in slow motion as a page that turns: limbs, string and arrow."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from limbfe.frames import Array
from limbfe.stave.outline import back_z, belly_z
from limbfe.stave.profile import shape_at
from limbfe.view import theme
from limbfe.view.bow.film import FRAME_SECONDS
from limbfe.view.bow.scene import STRING_RADIUS
from limbfe.view.bow.shot_film import BETWEEN, SLOWER, Instant, instants, shot_title
from limbfe.view.turning import Body, Motion, Scene, swept, tube, turning_page
from limbfe.whole_file import whole_file

if TYPE_CHECKING:
    from limbfe.analysis.shot.results import ShotResult, Shots
    from limbfe.units import UnitSystem

SHAFT = 0.004
"""Radius of the arrow as drawn where the case does not give it, m."""
TURN, TILT = np.radians(160.0), np.radians(12.0)
"""From where it is looked at first: from the archer's right, the target to the right."""
ACROSS = 5
"""Points of a limb's back, and of its belly."""
ALONG = 80
"""Points of either half of a string that lies on the limbs, now more of it and now less."""


def write_shot_page(shots: Shots, path: str | os.PathLike[str], units: UnitSystem) -> Path:
    """Write the first arrow's shot, or the dry release, as one HTML file; return its path."""
    one = shots.shots[0] if shots.shots else shots.dry
    assert one is not None
    words = ("drag to turn, with shift to move, scroll to come closer",)
    page = turning_page(shot_title(one, units), words, shot_scene(shots, one))
    with whole_file(path) as partial:
        partial.write_text(page, encoding="utf-8")
    return Path(path)


def shot_scene(shots: Shots, one: ShotResult) -> Scene:
    """Return limbs, string and arrow at the moments of the film, and where they were before."""
    moments = instants(shots, one, BETWEEN)
    limb = _swept(_limbs(shots, moments), theme.WOOD_TONES[0])
    strings = alike([moment.pose.string for moment in moments])
    drawn = Body(points=limb.points[0], cells=limb.cells, colour=theme.GHOST, alpha=0.25)
    bodies = [limb, _swept(tube(strings, STRING_RADIUS), theme.STRING), drawn]
    if moments[0].arrow is not None:
        given = shots.shooting.shaft_diameter
        arrow = np.stack([m.arrow for m in moments if m.arrow is not None])
        rings = tube(arrow, SHAFT if given is None else 0.5 * given, sides=8)
        bodies.append(_swept(rings, theme.INK))
    motion = Motion(between=BETWEEN, slow=FRAME_SECONDS, clock=f"% ms, {SLOWER} times slower")
    # the arrow may fly out of the picture: with all of its way in it the bow would be small
    framed = np.concatenate([one.points.reshape(-1, 3) for one in (limb, bodies[1])])
    return Scene(bodies=tuple(bodies), names=(), turn=TURN, tilt=TILT, motion=motion, framed=framed)


def alike(strings: list[Array]) -> Array:
    """Return the string at every moment by the same places of it, shape (frames, n, 3), m.

    Parameters
    ----------
    strings : list of ndarray, shape (k, 3), m
        From nock to nock, the bow at full draw first; where the string lies on a limb it has more
        points than where it does not.

    Notes
    -----
    Places count by their share of the length, so that they keep to the string as it moves; one is
    where it is held at full draw.  Stretch moves them by a thousandth.
    """
    if len({len(one) for one in strings}) == 1:
        return np.stack(strings)
    shares = [_shares(one) for one in strings]
    held = float(shares[0][np.argmax(strings[0][:, 0])])
    ends = [np.linspace(0.0, held, ALONG), np.linspace(held, 1.0, ALONG)[1:]]
    at = np.concatenate(ends)
    return np.stack(
        [
            np.stack([np.interp(at, share, axis) for axis in one.T], axis=-1)
            for share, one in zip(shares, strings, strict=True)
        ]
    )


def _shares(line: Array) -> Array:
    """Return what of a line's length lies before each of its points, 0 to 1, shape (k,)."""
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    shares: Array = length / length[-1]
    return shares


def _swept(rings: Array, colour: str) -> Body:
    points, cells = swept(rings)
    return Body(points=points, cells=cells, colour=colour)


def _limbs(shots: Shots, moments: list[Instant]) -> Array:
    """Return the limbs' outlines at the nodes at every moment, shape (frames, n, 2 * ACROSS, 3)."""
    x = moments[0].pose.node_x
    shapes = shape_at(shots.solved.model.setup.stave, x)
    y = 0.5 * np.asarray(shapes.width)[:, None] * np.linspace(-1.0, 1.0, ACROSS)
    back, belly = back_z(shapes, y), belly_z(shapes, y)
    ring = np.concatenate([np.stack([y, back], -1), np.stack([y, belly], -1)[:, ::-1]], axis=1)
    turned = np.stack([moment.pose.rotations for moment in moments])
    at = np.stack([moment.pose.positions for moment in moments])
    rings: Array = at[:, :, None] + np.einsum("fnij,nkj->fnki", turned[..., 1:], ring)
    return rings
