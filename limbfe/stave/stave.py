"""The stave: measured columns, grain, woods and the defects in them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from limbfe.errors import GeometryError, MaterialError
from limbfe.frames import Array, read_only
from limbfe.wood.wood import Wood

if TYPE_CHECKING:
    from limbfe.stave.decay import Decay
    from limbfe.stave.knot import Knot

Belly = Literal["flat", "round", "corner"]
COLUMNS = ("width", "thickness", "sapwood", "lean", "backing", "reflex", "sideways")


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
    crown : float, m
        Radius of the arched back; infinite for a flat one.
    belly : {"flat", "round", "corner"}
    belly_corner : float, m
        Radius of the belly's corners, used when `belly` is "corner".
    ring_radius : float, m
        Distance of the pith below the middle of the back; infinite for straight rings.
    run_out : float, rad
        Tilt of the grain in the x-z plane: positive when fibres come out at the back going up.
    sideways_grain : float, rad
        Tilt of the grain in the x-y plane: positive when fibres go to the archer's right going up.
    spiral : float, rad
        Turn of the grain about the ring's normal at the back, positive towards the archer's right
        going up; with a finite `ring_radius` its tangent grows with the distance from the pith.
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
    crown: float
    belly: Belly
    belly_corner: float
    ring_radius: float
    run_out: float
    sideways_grain: float
    spiral: float
    heartwood: Wood
    sapwood_wood: Wood | None
    backing_wood: Wood | None
    knots: tuple[Knot, ...]
    decays: tuple[Decay, ...]
    stiff_length: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "x", read_only(self.x))
        for name in COLUMNS:
            object.__setattr__(self, name, read_only(getattr(self, name)))
        _check_stations(self)
        _check_section(self)
        _check_grain(self)
        _check_layers(self)


def _check_stations(stave: Stave) -> None:
    x = stave.x
    if x.ndim != 1 or x.size < 3:
        raise GeometryError(f"stave: {x.size} stations: at least 3 are needed, both limbs together")
    for name in COLUMNS:
        column = getattr(stave, name)
        if column.shape != x.shape:
            raise GeometryError(
                f"stave: column {name} has {column.size} values for {x.size} stations; "
                "give one value for each station"
            )
        if not np.all(np.isfinite(column)):
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
    if not stave.crown > 0.0:
        raise GeometryError(f"stave: crown = {stave.crown:g} m: must be above zero; inf is flat")
    sagitta = np.zeros_like(stave.width)
    if np.isfinite(stave.crown):
        half = 0.5 * stave.width
        k = int(np.argmax(half))
        if half[k] > stave.crown:
            raise GeometryError(
                f"stave: crown = {stave.crown:g} m: less than half the width at station "
                f"{stave.x[k]:g} m ({half[k]:g} m); give a larger radius"
            )
        sagitta = stave.crown - np.sqrt(stave.crown**2 - half**2)
    depth = stave.thickness - sagitta
    if not np.all(depth > 0.0):
        k = int(np.argmin(depth))
        raise GeometryError(
            f"stave: crown = {stave.crown:g} m: the arch of the back is {sagitta[k]:g} m high at "
            f"station {stave.x[k]:g} m, more than the thickness {stave.thickness[k]:g} m"
        )
    if stave.belly not in ("flat", "round", "corner"):
        raise GeometryError(f'stave: belly = "{stave.belly}": use "flat", "round" or "corner"')
    if stave.belly == "corner":
        room = np.minimum(0.5 * stave.width, depth)
        k = int(np.argmin(room))
        if not 0.0 < stave.belly_corner <= room[k]:
            raise GeometryError(
                f"stave: belly corner = {stave.belly_corner:g} m: must be above zero and at most "
                f"{room[k]:g} m, all there is at station {stave.x[k]:g} m"
            )
    if not 0.0 <= stave.stiff_length < stave.x[-1] - stave.x[0]:
        raise GeometryError(
            f"stave: stiff length = {stave.stiff_length:g} m: must lie between 0 and the length of "
            f"the bow ({stave.x[-1] - stave.x[0]:g} m)"
        )


def _check_grain(stave: Stave) -> None:
    if not stave.ring_radius > 0.0:
        raise GeometryError(
            f"stave: ring radius = {stave.ring_radius:g} m: must be above zero; inf for straight "
            "rings"
        )
    for name in ("run_out", "sideways_grain", "spiral"):
        if not abs(getattr(stave, name)) < 0.5 * np.pi:
            raise GeometryError(
                f"stave: {name} = {getattr(stave, name):g} rad: must stay below a right angle"
            )
    if not np.all(np.abs(stave.lean) < 0.5 * np.pi):
        raise GeometryError("stave: lean: must stay below a right angle at every station")


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
