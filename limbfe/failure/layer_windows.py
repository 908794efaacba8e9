"""Windows of one layer and the strength used in each of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from limbfe.defect.plane import fibre_stress
from limbfe.defect.recovery import Samples
from limbfe.defect.strip import Ellipse
from limbfe.defect.zone import DecayTrace
from limbfe.failure.problem import Band, DepthLayer
from limbfe.failure.window_operators import (
    Ground,
    WindowOperator,
    Windows,
    across_windows,
    along_windows,
)
from limbfe.failure.window_places import window_centres
from limbfe.failure.windows import PlaneStrength, WindowLengths, window_lengths
from limbfe.frames import Array
from limbfe.stave.zone_label import ZoneLabel


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FibreStress:
    """Stress at the samples in the axes of the fibre itself; Pa, shape (w + e,).

    Attributes
    ----------
    along, across, shear : ndarray
        L, T and LT of the wood.
    through, through_shear : ndarray
        R and LR of the wood, where the fibre dives out of the plane.
    """

    along: Array
    across: Array
    shear: Array
    through: Array
    through_shear: Array


def diving_fibre_stress(stress: Array, dive: Array) -> FibreStress:
    """Return the stress in the axes of a fibre that dives out of the plane.

    Parameters
    ----------
    stress : ndarray, shape (3, ...), Pa
        Along, across and in shear to the fibre as it appears in the plane.
    dive : ndarray, shape (...), rad
    """
    s11, s22, s12 = stress
    c, s = np.cos(dive), np.sin(dive)
    return FibreStress(
        along=c * c * s11, across=s22, shear=c * s12, through=s * s * s11, through_shear=s * c * s11
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LayerWindows:
    """Window operators of the three modes on one layer, and the strength in every window.

    Attributes
    ----------
    fibre, opening, sliding : WindowOperator
    tension, compression, splinter : ndarray, shape (windows of fibre,), or float, Pa
        The last is the shear strength there.
    across : ndarray, shape (windows of opening,), or float, Pa
    shear : ndarray, shape (windows of sliding,), or float, Pa
    """

    fibre: WindowOperator
    opening: WindowOperator
    sliding: WindowOperator
    tension: Array | float
    compression: Array | float
    splinter: Array | float
    across: Array | float
    shear: Array | float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Used:
    """Strength used in every window of one mode, and where those windows lie."""

    value: Array
    windows: Windows


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Decayed:
    """What decay leaves of the wood of a layer, averaged over its depth.

    Attributes
    ----------
    left : mapping of str to ndarray, shape (w + e,)
        Multipliers of the strengths at the samples; empty without decay.
    gone : callable
        From the name of a patch and places, shape (n, 2), to how far its decay has gone there.
    """

    left: Mapping[str, Array]
    gone: Callable[[ZoneLabel | str, Array], Array]


def chosen_lengths(piece: DepthLayer, band: Band, end: int) -> WindowLengths:
    """Return the lengths in sound wood at the short (-1), own (0) or long (1) end of the band."""
    own = window_lengths(piece.wood, piece.strength)
    short, long = band.fibre_window
    fibre = {-1: short, 0: float(np.clip(own.fibre, short, long)), 1: long}[end]
    factor = {-1: band.split_factor[0], 0: 1.0, 1: band.split_factor[1]}[end]
    return WindowLengths(fibre=fibre, opening=own.opening * factor, sliding=own.sliding * factor)


def build_windows(
    piece: DepthLayer,
    samples: Samples,
    ground: Ground,
    lengths: WindowLengths,
    across_at: Array,
    along_at: Array,
    decayed: Decayed,
) -> LayerWindows:
    """Return the windows of a layer round given centres, shape (n, 2) each.

    In rotten wood the lengths follow its own stiffness, strength and toughness.
    """
    thickness = lengths.thickness

    def scaled(centres: Array) -> tuple[Array, Array, Array]:
        factor = _length_factors(piece, centres, decayed)
        return (
            lengths.fibre * factor[0],
            lengths.opening * factor[1],
            lengths.sliding * factor[2],
        )

    fibre = across_windows(samples, ground, across_at, scaled(across_at)[0], thickness)
    _, opening_length, sliding_length = scaled(along_at)
    opening, sliding = along_windows(
        samples, ground, along_at, (opening_length, sliding_length), thickness
    )
    strength = piece.strength

    def limit(operator: WindowOperator, what: str, value: float) -> Array | float:
        field = decayed.left.get(what)
        return value if field is None else operator.average @ field * value

    return LayerWindows(
        fibre=fibre,
        opening=opening,
        sliding=sliding,
        tension=limit(fibre, "tension", strength.tension),
        compression=limit(fibre, "compression", strength.compression),
        splinter=limit(fibre, "shear", strength.shear),
        across=limit(opening, "across", strength.tension_across),
        shear=limit(sliding, "shear", strength.shear),
    )


def _length_factors(piece: DepthLayer, centres: Array, decayed: Decayed) -> Array:
    """Ratio of the window lengths in the wood at the centres to those of sound wood, (3, n)."""
    factor = np.ones((3, len(centres)))
    sound = window_lengths(piece.wood, piece.strength)
    for decay in piece.decays:
        core = _core_lengths(piece, decay)
        gone = decayed.gone(decay.name, centres)
        for row, name in enumerate(("fibre", "opening", "sliding")):
            core_factor = getattr(core, name) / getattr(sound, name)
            factor[row] += gone * (core_factor - factor[row])
    return factor


def _core_lengths(piece: DepthLayer, decay: DecayTrace) -> WindowLengths:
    strength = piece.strength
    rotten = PlaneStrength(
        tension=strength.tension * decay.tension,
        compression=strength.compression * decay.compression,
        shear=strength.shear * decay.shear,
        tension_across=strength.tension_across * decay.across,
        toughness_fibre=strength.toughness_fibre * decay.toughness,
        toughness_opening=strength.toughness_opening * decay.toughness,
        toughness_sliding=strength.toughness_sliding * decay.toughness,
        volume=strength.volume,
        across_grain=strength.across_grain,
    )
    lengths = window_lengths(piece.wood, rotten)
    return WindowLengths(
        fibre=lengths.fibre * decay.E,
        opening=lengths.opening * decay.E,
        sliding=lengths.sliding * decay.E,
    )


WINDOWS_AROUND = 120
"""Windows tried on every ring round a knot."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """Centres at which windows are tried.

    Attributes
    ----------
    across, along : ndarray, shape (n, 2), m
        For windows across and along the fibre.
    across_area, along_area : ndarray, shape (n,), m2
        Area each centre stands for; 0 for those on rings and edge lines.
    """

    across: Array
    along: Array
    across_area: Array
    along_area: Array


def window_places(
    ground: Ground, focus: Ellipse, lengths: WindowLengths, reach: float, sparse: float = 1.0
) -> Places:
    """Return the places where windows across and along the fibre are tried.

    `sparse` multiplies their distances.
    """
    spacing = sparse * lengths.thickness
    both = [
        window_centres(
            ground.strip,
            ground.solids,
            focus,
            reach=reach,
            clear=0.5005 * width,
            spread=lengths.fibre,
            spacing=spacing,
            around=round(WINDOWS_AROUND / sparse),
        )
        for width in (lengths.fibre, lengths.thickness)
    ]
    cell = spacing**2
    return Places(
        across=both[0][0],
        along=both[1][0],
        across_area=np.where(both[0][1], cell, 0.0),
        along_area=np.where(both[1][1], cell, 0.0),
    )


def grain_shear(piece: DepthLayer, stress: Array) -> Array:
    """Return the shear along the far grain that goes with a limb's own stress, Pa, shape (...).

    Parameters
    ----------
    stress : ndarray, shape (..., 3), Pa, strip axes
    """
    along, _, shear = np.moveaxis(fibre_stress(stress, np.array(piece.grain.angle)), -1, 0)
    c, s = np.cos(piece.grain.run_out), np.sin(piece.grain.run_out)
    slip: Array = np.hypot(c * shear, s * c * along)
    return slip


def strength_used(
    windows: LayerWindows, stress: FibreStress, own_shear: Array
) -> Mapping[str, Used]:
    """Return the strength used in every window, by mode; yield of the belly counts as a mode.

    Parameters
    ----------
    own_shear : ndarray, shape (w + e,), Pa
        Of the limb without the zone, from `grain_shear`.

    Notes
    -----
    Fibre rupture is Hashin's modified form, ``hypot(s_L / X, s_LT / S)``, with the shear of the
    limb's own sloping grain: that shear runs through the whole section, so that the limb
    splinters along it, while shear beside a knot leads to a split, which is a mode of its own.
    """
    fibre, opening, sliding = windows.fibre, windows.opening, windows.sliding
    along = fibre.average @ stress.along
    pull = np.maximum(opening.average @ stress.across, opening.average @ stress.through)
    slip = np.maximum(
        np.abs(sliding.average @ stress.shear), np.abs(sliding.average @ stress.through_shear)
    )
    used_open = opening.counts * np.maximum(pull, 0.0) / windows.across
    used_slip = sliding.counts * slip / windows.shear
    pulled = np.maximum(along, 0.0) / windows.tension
    splinter = fibre.average @ own_shear / windows.splinter
    _, first, second = np.intersect1d(opening.source, sliding.source, return_indices=True)
    both = Windows(
        centre=opening.centre[first],
        angle=opening.angle[first],
        length=opening.length[first],
        source=opening.source[first],
    )
    return {
        "fibre": Used(value=np.where(pulled > 0.0, np.hypot(pulled, splinter), 0.0), windows=fibre),
        "opening": Used(value=used_open, windows=opening),
        "sliding": Used(value=used_slip, windows=sliding),
        "split": Used(value=np.hypot(used_open[first], used_slip[second]), windows=both),
        "yield": Used(
            value=np.maximum(-along, 0.0) / windows.compression,
            windows=fibre,
        ),
    }
