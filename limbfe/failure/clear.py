"""Strength used of a strip without any zone."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from limbfe.defect.limb_state import limb_stress
from limbfe.defect.plane import fibre_stress
from limbfe.defect.strip import Ellipse, edge, half_extent
from limbfe.failure.problem import DepthLayer
from limbfe.failure.windows import WindowLengths


def clear_used(piece: DepthLayer, focus: Ellipse, lengths: WindowLengths) -> Mapping[str, float]:
    """Return the strength used, by mode, of the sound straight-grained strip.

    Searched over the same stretch of limb as a zone there would be, at the places where the
    middle of a window can lie; the limb's own stress is so nearly linear that its average over
    a window is its value in the middle.

    Parameters
    ----------
    piece : DepthLayer
    focus : Ellipse
    lengths : WindowLengths
    """
    half_length, half_width = half_extent(focus)
    reach = half_length + max(half_width, 2.0 * lengths.fibre)
    strip = piece.strip
    x = np.linspace(max(focus.x - reach, strip.x[0]), min(focus.x + reach, strip.x[-1]), 41)
    used: dict[str, float] = {}
    for modes, margin in ((("fibre", "yield"), lengths.fibre), (_SPLITS, lengths.thickness)):
        inset = np.minimum(0.5 * margin, 0.5 * (edge(strip, "left", x) - edge(strip, "right", x)))
        low, high = edge(strip, "right", x) + inset, edge(strip, "left", x) - inset
        share = np.linspace(0.0, 1.0, 41)
        y = low[:, None] + share * (high - low)[:, None]
        points = np.stack([np.broadcast_to(x[:, None], y.shape), y], axis=-1)
        stress = limb_stress(strip, piece.wood, piece.grain, piece.strain, points)
        for mode, value in _by_mode(piece, fibre_stress(stress, np.array(piece.grain.angle))):
            if mode in modes:
                used[mode] = float(value.max(initial=0.0))
    return used


def sound_links(piece: DepthLayer, x: float, reach: float, shape: float) -> float:
    """Return the integral of (tension strength used)^shape over a stretch of sound strip, m2.

    Parameters
    ----------
    piece : DepthLayer
    x, reach : float, m
        Middle and half length of the stretch.
    shape : float
    """
    strip = piece.strip
    low, high = max(x - reach, strip.x[0]), min(x + reach, strip.x[-1])
    at = low + (high - low) * (np.arange(_CELLS) + 0.5) / _CELLS
    right, left = edge(strip, "right", at), edge(strip, "left", at)
    share = (np.arange(_CELLS) + 0.5) / _CELLS
    y = right[:, None] + share * (left - right)[:, None]
    points = np.stack([np.broadcast_to(at[:, None], y.shape), y], axis=-1)
    stress = limb_stress(strip, piece.wood, piece.grain, piece.strain, points)
    used = dict(_by_mode(piece, fibre_stress(stress, np.array(piece.grain.angle))))["fibre"]
    cell = (left - right) * (high - low) / _CELLS**2
    return float(np.sum(cell[:, None] * used**shape))


_CELLS = 31
_SPLITS = ("opening", "sliding", "split")


def _by_mode(piece: DepthLayer, stress: np.ndarray) -> list[tuple[str, np.ndarray]]:
    c, s = np.cos(piece.grain.run_out), np.sin(piece.grain.run_out)
    s11, s22, s12 = np.moveaxis(stress, -1, 0)
    strength = piece.strength
    opening = np.maximum(np.maximum(s22, s * s * s11), 0.0) / strength.tension_across
    sliding = np.maximum(np.abs(c * s12), np.abs(s * c * s11)) / strength.shear
    pulled = np.maximum(c * c * s11, 0.0) / strength.tension
    splinter = np.hypot(c * s12, s * c * s11) / strength.shear
    return [
        ("fibre", np.where(pulled > 0.0, np.hypot(pulled, splinter), 0.0)),
        ("yield", np.maximum(-c * c * s11, 0.0) / strength.compression),
        ("opening", opening),
        ("sliding", sliding),
        ("split", np.hypot(opening, sliding)),
    ]
