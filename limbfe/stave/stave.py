"""The stave: measured columns, outline, grain, woods and the defects in them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from limbfe.errors import GeometryError, MaterialError
from limbfe.frames import Array, read_only
from limbfe.stave.columns import COLUMNS, NAMED, names_of
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Knot
from limbfe.wood.wood import Wood

Belly = Literal["flat", "round", "corner"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """The outline of the cross-section, apart from its width and thickness.

    Attributes
    ----------
    crown : ndarray, shape (n,), m
        Radius of the arched back at the stations; infinite where it is flat.  In a new `Stave` a
        single value stands for the same everywhere.
    belly : {"flat", "round", "corner"}
    belly_corner : float, m
        Radius of the belly's corners, used when `belly` is "corner".
    """

    crown: Array
    belly: Belly
    belly_corner: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "crown", read_only(self.crown))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grain:
    """How the grain runs along the limb, in the axes of its sections.

    In a new `Stave` a single value stands for the same everywhere.

    Attributes
    ----------
    ring_radius : ndarray, shape (n,), m
        Distance of the pith below the middle of the back; infinite for straight rings, and then
        everywhere.
    run_out : ndarray, shape (n,), rad
        Tilt of the grain in the x-z plane: positive when fibres come out at the back going up.
    sideways_grain : ndarray, shape (n,), rad
        Tilt of the grain in the x-y plane: positive when fibres go to the archer's right going up.
    spiral : ndarray, shape (n,), rad
        Turn of the grain about the ring's normal at the back, positive towards the archer's right
        going up; with a finite `ring_radius` its tangent grows with the distance from the pith.

    Notes
    -----
    A pith that comes nearer to the back does not tilt the fibres: `run_out` says how they lie.
    """

    ring_radius: Array
    run_out: Array
    sideways_grain: Array
    spiral: Array

    def __post_init__(self) -> None:
        for name in names_of("grain"):
            object.__setattr__(self, name, read_only(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stave:
    """One stave, both limbs, as measured.

    Attributes
    ----------
    x : ndarray, shape (n,), m
        Stations along the back from the lower tip (negative) to the upper tip, zero at the middle
        of the grip.
    width, thickness : ndarray, shape (n,), m
        Thickness at the middle of the width, backing and sapwood included.
    sapwood : ndarray, shape (n,), m
        Depth of the sapwood below the back (below the backing, if any) at the middle; zero for
        none.
    lean : ndarray, shape (n,), rad
        How far the rings lean: positive when the sapwood is thicker at the archer's right (+y).
    backing : ndarray, shape (n,), m
        Thickness of a strip glued on the back; zero for none.
    reflex : ndarray, shape (n,), m
        How far the back lies ahead (towards the target, global -X) of the straight line tangent
        to the grip, unstrung.
    sideways : ndarray, shape (n,), m
        How far the middle of the limb lies towards the archer's right, unstrung.
    twist : ndarray, shape (n,), rad
        How far the unstrung section is turned about the limb's axis, which stays where reflex,
        sideways and thickness put it: positive when the back faces more to the archer's right, on
        both limbs; a turn about the section's -x.
    outline : Outline
    grain : Grain
    heartwood : Wood
    sapwood_wood, backing_wood : Wood or None
        None exactly when the column is zero everywhere.
    knots : tuple of Knot
    decays : tuple of Decay
    stiff_length : float, m
        Length of the handle, centred on the grip, that does not bend; zero for none.

    Raises
    ------
    GeometryError
        If the columns do not describe a limb that can exist.
    MaterialError
        If a layer has a thickness and no wood, or a wood and no thickness.
    """

    x: Array
    width: Array
    thickness: Array
    sapwood: Array
    lean: Array
    backing: Array
    reflex: Array
    sideways: Array
    twist: Array
    outline: Outline
    grain: Grain
    heartwood: Wood
    sapwood_wood: Wood | None
    backing_wood: Wood | None
    knots: tuple[Knot, ...]
    decays: tuple[Decay, ...]
    stiff_length: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "x", read_only(self.x))
        for name in names_of("stave"):
            object.__setattr__(self, name, read_only(getattr(self, name)))
        for part in ("outline", "grain"):
            held = getattr(self, part)
            alike = {
                name: np.full(self.x.shape, getattr(held, name))
                for name in names_of(part)
                if getattr(held, name).ndim == 0
            }
            if alike:
                object.__setattr__(self, part, replace(held, **alike))
        _check_stations(self)
        _check_section(self)
        _check_grain(self)
        _check_layers(self)

    @property
    def half_grip(self) -> float:
        """Where the stiff grip ends, m from its middle; 0 for none."""
        return self.stiff_length / 2.0

    def bends(self, x: Array) -> NDArray[np.bool_]:
        """Return which stations `x` lie outside the stiff grip."""
        outside: NDArray[np.bool_] = np.abs(x) >= self.half_grip
        return outside


def column(stave: Stave, name: str) -> Array:
    """Return a column, shape (n,), whichever part of the stave holds it."""
    part = NAMED[name].part
    values: Array = getattr(stave if part == "stave" else getattr(stave, part), name)
    return values


def with_columns(stave: Stave, *, x: Array | None = None, **columns: Array | float) -> Stave:
    """Return the stave with some columns replaced; with other stations `x`, all of them."""
    parts: dict[str, Outline | Grain] = {}
    for part in ("outline", "grain"):
        new = {name: columns.pop(name) for name in names_of(part) if name in columns}
        if new:
            parts[part] = replace(getattr(stave, part), **new)
    return replace(stave, x=stave.x if x is None else x, **columns, **parts)  # type: ignore[arg-type]


def _check_stations(stave: Stave) -> None:
    x = stave.x
    if x.ndim != 1 or x.size < 3:
        raise GeometryError(f"stave: {x.size} stations: at least 3 are needed, both limbs together")
    for name in COLUMNS:
        values = column(stave, name)
        if values.shape != x.shape:
            raise GeometryError(
                f"stave: column {name} has {values.size} values for {x.size} stations; "
                "give one value for each station"
            )
        endless = NAMED[name].default == np.inf
        if np.any(np.isnan(values)) or not (endless or np.all(np.isfinite(values))):
            raise GeometryError(f"stave: column {name} holds a value that is not a finite number")
    if not np.all(np.diff(x) > 0.0):
        k = int(np.argmin(np.diff(x) > 0.0))
        raise GeometryError(
            f"stave: station {x[k + 1]:g} m follows {x[k]:g} m: stations must increase"
        )
    if not x[0] < 0.0 < x[-1]:
        raise GeometryError(
            f"stave: stations run from {x[0]:g} to {x[-1]:g} m: the middle of the grip (0) must "
            "lie between the two tips"
        )


def _check_section(stave: Stave) -> None:
    for name in ("width", "thickness"):
        column = getattr(stave, name)
        if not np.all(column > 0.0):
            k = int(np.argmin(column))
            raise GeometryError(
                f"stave: {name} = {column[k]:g} m at station {stave.x[k]:g} m: must be above zero"
            )
    arch = arch_height(stave)
    depth = stave.thickness - arch
    if not np.all(depth > 0.0):
        k = int(np.argmin(depth))
        raise GeometryError(
            f"stave: crown = {stave.outline.crown[k]:g} m: the arch of the back is {arch[k]:g} m "
            f"high at station {stave.x[k]:g} m, more than the thickness {stave.thickness[k]:g} m"
        )
    belly, corner = stave.outline.belly, stave.outline.belly_corner
    if belly not in ("flat", "round", "corner"):
        raise GeometryError(f'stave: belly = "{belly}": use "flat", "round" or "corner"')
    if belly == "corner":
        room = np.minimum(0.5 * stave.width, depth)
        k = int(np.argmin(room))
        if not 0.0 < corner <= room[k]:
            raise GeometryError(
                f"stave: belly corner = {corner:g} m: must be above zero and at most "
                f"{room[k]:g} m, all there is at station {stave.x[k]:g} m"
            )
    if not 0.0 <= stave.stiff_length < stave.x[-1] - stave.x[0]:
        raise GeometryError(
            f"stave: stiff length = {stave.stiff_length:g} m: must lie between 0 and the length of "
            f"the bow ({stave.x[-1] - stave.x[0]:g} m)"
        )


def arch_height(stave: Stave) -> Array:
    """Return how far the arched back's edges lie below its middle at the stations, shape (n,), m.

    Raises
    ------
    GeometryError
        If the back's radius is less than half the width.
    """
    crown, half = stave.outline.crown, 0.5 * stave.width
    tight = ~(half <= crown)
    if np.any(tight):
        k = int(np.argmax(half - crown))
        raise GeometryError(
            f"stave: crown = {crown[k]:g} m: less than half the width at station "
            f"{stave.x[k]:g} m ({half[k]:g} m); give a larger radius, inf for a flat back"
        )
    return sagitta(crown, half)


def sagitta(radius: Array, half: Array) -> Array:
    """Return how far arcs have dropped at `half` (m) from their middle; zero for infinite radii.

    Where an arc does not reach so far, how far it has dropped at its end.
    """
    r = np.maximum(radius, 0.0)
    reach = np.minimum(np.abs(half), r)
    rest = r + np.sqrt(r**2 - reach**2)
    drop: Array = np.divide(reach**2, rest, out=np.zeros(np.shape(rest)), where=rest > 0.0)
    return drop


def _check_grain(stave: Stave) -> None:
    radius = stave.grain.ring_radius
    if not np.all(radius > 0.0):
        k = int(np.argmin(radius))
        raise GeometryError(
            f"stave: ring radius = {radius[k]:g} m at station {stave.x[k]:g} m: must be above "
            "zero; inf for straight rings"
        )
    if not (np.all(np.isinf(radius)) or np.all(np.isfinite(radius))):
        raise GeometryError(
            "stave: ring radius: finite at some stations only; straight rings are so everywhere"
        )
    for name in ("run_out", "sideways_grain", "spiral", "lean", "twist"):
        values = column(stave, name)
        if not np.all(np.abs(values) < 0.5 * np.pi):
            k = int(np.argmax(np.abs(values)))
            raise GeometryError(
                f"stave: {name} = {values[k]:g} rad at station {stave.x[k]:g} m: must stay below "
                "a right angle"
            )


def _check_layers(stave: Stave) -> None:
    for name, wood in (("sapwood", stave.sapwood_wood), ("backing", stave.backing_wood)):
        column = getattr(stave, name)
        if np.any(column < 0.0):
            k = int(np.argmin(column))
            raise GeometryError(
                f"stave: {name} = {column[k]:g} m at station {stave.x[k]:g} m: cannot be negative"
            )
        if np.any(column > 0.0) and wood is None:
            raise MaterialError(
                f"stave: a {name} column is given and no [wood.{name}]; describe that wood"
            )
        if not np.any(column > 0.0) and wood is not None:
            raise MaterialError(
                f"stave: [wood.{name}] is given and no {name} thickness; give the column"
            )
    layers = stave.sapwood + stave.backing
    if np.any(layers >= stave.thickness):
        k = int(np.argmin(stave.thickness - layers))
        raise GeometryError(
            f"stave: sapwood and backing take {layers[k]:g} m of the thickness "
            f"{stave.thickness[k]:g} m at station {stave.x[k]:g} m: they must leave some heartwood"
        )
