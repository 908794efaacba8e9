"""A bow as the beam floor knows it: a chain of nodes, a string, and how it is held."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from limbfe.beam.limbs.chain import Chain, force_scale
from limbfe.beam.model import HOLDS, Bed, Model
from limbfe.errors import GeometryError, MaterialError
from limbfe.frames import Array, read_only
from limbfe.units import both_lengths


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BowString:
    """A string that carries tension only.

    Parameters
    ----------
    stiffness : float
        EA, N; ``inf`` for a string that does not stretch.
    mass : float
        kg.
    nock_lower, nock_upper : array_like, shape (3,), m
        Where it acts at the tips, in the tip section's axes from the axis of the limb.
    """

    stiffness: float
    mass: float
    nock_lower: Array
    nock_upper: Array

    def __post_init__(self) -> None:
        object.__setattr__(self, "nock_lower", read_only(self.nock_lower, (3,)))
        object.__setattr__(self, "nock_upper", read_only(self.nock_upper, (3,)))
        if not self.stiffness > 0.0 or not self.mass >= 0.0:
            raise MaterialError(
                f"string: stiffness EA = {self.stiffness} N and mass = {self.mass} kg found; "
                "EA must be positive and the mass must not be negative"
            )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hold:
    """How the bow is held while it is drawn; `limbfe.beam.string.hold` states each law.

    Parameters
    ----------
    kind : {"clamp", "hand", "tiller"}
    point : array_like, shape (3,), m
        Where the hand presses, or the middle of the cradle; in the bow's own frame.
    half_length : float
        Half the cradle's length, m; only used by the tiller.
    """

    kind: Literal["clamp", "hand", "tiller"]
    point: Array
    half_length: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "point", read_only(self.point, (3,)))
        if self.kind not in HOLDS:
            raise GeometryError(f"hold: kind = {self.kind!r}: use one of {', '.join(HOLDS)}")
        if not self.half_length >= 0.0:
            raise GeometryError(f"hold: half_length = {self.half_length} m must not be negative")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StringBed:
    """The line along the middle of the limbs' belly that the string may lie on, without friction.

    Parameters
    ----------
    arm : array_like, shape (n, 3), m
        Its place at every node, in the section's axes from the axis of the limb; at the tips that
        of the nocks.
    slope : array_like, shape (n, 2)
        Its dy/dx and dz/dx there, x, y and z the section's axes; zero where it runs along the axis.
    """

    arm: Array
    slope: Array

    def __post_init__(self) -> None:
        object.__setattr__(self, "arm", read_only(self.arm, (len(self.arm), 3)))
        object.__setattr__(self, "slope", read_only(self.slope, (len(self.arm), 2)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bow:
    """A chain with a string, held at its grip.

    Parameters
    ----------
    chain : Chain
        From the lower tip to the upper tip, at rest, in global axes with the grip upright.
    clamped : int or sequence of int, kept as a sorted tuple
        Nodes that keep their place in the bow's own frame: both edges of a stiff grip, or the
        one node at the hand of a bow that bends through the hand.  What lies between them is
        rigid.
    string : BowString
    hold : Hold
    grip_belly, grip_back : array_like, shape (3,), m
        Belly and back at the middle of the grip; brace height and draw length start there.
    arrow_z : float
        Height at which the string is pulled (its material point there when braced), m.
    bed : StringBed, optional
        What the string lies on where it meets a limb; without one it meets the limbs at its nocks
        alone.
    """

    chain: Chain
    clamped: Any
    string: BowString
    hold: Hold
    grip_belly: Array
    grip_back: Array
    arrow_z: float
    bed: StringBed | None = None
    model: Model = field(init=False, repr=False)

    def __post_init__(self) -> None:
        put = object.__setattr__
        nodes = np.atleast_1d(np.asarray(self.clamped, dtype=np.int64))
        put(self, "clamped", tuple(int(node) for node in np.sort(nodes)))
        put(self, "grip_belly", read_only(self.grip_belly, (3,)))
        put(self, "grip_back", read_only(self.grip_back, (3,)))
        n = len(self.chain.positions)
        if not 0 < self.clamped[0] <= self.clamped[-1] < n - 1:
            raise GeometryError(
                f"bow: clamped nodes {self.clamped} of a chain of {n}: each limb needs at least "
                "one element between the grip and its tip"
            )
        put(self, "model", _model(self, self.chain.element_stiffness))


def _model(bow: Bow, element_stiffness: Array) -> Model:
    chain, string, hold = bow.chain, bow.string, bow.hold
    return Model(
        stiffness=np.array(element_stiffness),
        offset=rest_offset(chain, element_stiffness),
        length=np.array(chain.length),
        lower=bow.clamped[0],
        upper=bow.clamped[-1],
        kept=1,
        bed=_bed(bow),
        string_stiffness=float(string.stiffness),
        hold=HOLDS.index(hold.kind),
        point=np.array(hold.point),
        half_length=float(hold.half_length),
        arrow=float(bow.arrow_z),
        belly=np.array(bow.grip_belly),
        back=np.array(bow.grip_back),
        size=float(np.sum(chain.length)),
        force=force_scale(chain),
    )


def _bed(bow: Bow) -> Bed:
    n, nocks = len(bow.chain.positions), np.array([bow.string.nock_lower, bow.string.nock_upper])
    if bow.bed is None:
        return Bed(nock=nocks, arm=np.zeros((n, 3)), slope=np.zeros((n, 2)), lies=0)
    if bow.bed.arm.shape != (n, 3):
        raise GeometryError(f"bow: a bed of shape {bow.bed.arm.shape} for a chain of {n} nodes")
    apart = np.abs(bow.bed.arm[[0, -1]] - nocks).max()
    if apart > 1e-12:
        raise GeometryError(
            f"bow: the bed of the string begins {both_lengths(float(apart))} from the nocks; it "
            "must begin at them"
        )
    return Bed(nock=nocks, arm=np.array(bow.bed.arm), slope=np.array(bow.bed.slope), lies=1)


def rest_offset(chain: Chain, element_stiffness: Any) -> Array:
    """Return the mean resultant (m, 6) that makes the rest shape free of stress."""
    rest = chain.twist / chain.length[:, None]
    offset: Array = -np.einsum("eij,ej->ei", element_stiffness, rest)
    return offset
