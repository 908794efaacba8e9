"""A chain of beam nodes: rest shape, section stiffness, and what an element makes of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from limbfe.beam.limbs.linear import invert
from limbfe.beam.limbs.motion import move, twist_between
from limbfe.compiled import compiled
from limbfe.errors import GeometryError, MaterialError
from limbfe.frames import Array, read_only, skew

GAUSS_POINTS = 2
GAUSS = np.array([-0.5, 0.5]) / np.sqrt(3.0)
"""The Gauss-Legendre points of an element, as shares of its length from its middle."""
GAUSS.setflags(write=False)


def gauss_positions(node_x: Any) -> Array:
    """Return where along the axis an element needs its section stiffness.

    Parameters
    ----------
    node_x : array_like, shape (n,), m
        Arc positions of the nodes, increasing.

    Returns
    -------
    ndarray, shape (n - 1, 2), m
        The two Gauss-Legendre points of each element.

    Examples
    --------
    >>> gauss_positions([0.0, 0.1]).round(4).tolist()
    [[0.0211, 0.0789]]
    """
    x = np.asarray(node_x, dtype=np.float64)
    middle, step = 0.5 * (x[1:] + x[:-1]), np.diff(x)
    positions: Array = middle[:, None] + step[:, None] * GAUSS
    return positions


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chain:
    """Beam nodes in a row with the elements between them.

    Parameters
    ----------
    positions : ndarray, shape (n, 3), m
        Nodes of the unstrained axis.
    rotations : ndarray, shape (n, 3, 3)
        Columns are the section axes x, y, z at the nodes, x along the axis.
    stiffness : ndarray, shape (n - 1, 2, 6, 6)
        Section stiffness at `gauss_positions`, for strains
        ``[gamma_x, gamma_y, gamma_z, kappa_x, kappa_y, kappa_z]`` (N, N m, N m2).
    mass : ndarray, shape (n - 1, 2, 6, 6)
        Section mass per length at the same points (kg/m, kg, kg m).
    give : ndarray, shape (n - 1, 6, 6), optional
        What an element gives besides its sections: mean strain per mean resultant, in the axes of
        its middle (1/N, 1/(N m), 1/(N m2)); none where it is left out.

    Raises
    ------
    GeometryError
        If two nodes coincide, a rotation is no rotation, or an element turns by more than half
        a revolution.
    MaterialError
        If a section stiffness is not symmetric positive definite, or an element takes more back by
        its `give` than its sections have.

    Notes
    -----
    Element: two nodes joined by a helicoid (constant strain, Sonneville et al. 2014), objective
    and exact for any constant strain, initial curvature and twist included.  Its stiffness is
    ``inverse(sum_g w_g B_g^T C_g B_g)`` where ``S_g = B_g S`` carries the mean resultant S to
    Gauss point g in equilibrium with unloaded ends (the force is constant, the moment changes
    by lever times force).  For a straight uniform element this is the residual bending
    flexibility of MacNeal 1978: a cantilever under a tip force is exact with one element, so
    shear cannot lock.  The give stands in series with that, ``inverse(sum + give)``: the strains
    of the sections stay their own.

    References
    ----------
    R. H. MacNeal, A simple quadrilateral shell element, Computers & Structures 8 (1978),
    175-183 (residual bending flexibility; from memory).
    """

    positions: Array
    rotations: Array
    stiffness: Array
    mass: Array
    give: Array | None = None
    twist: Array = field(init=False, repr=False)
    length: Array = field(init=False, repr=False)
    transport: Array = field(init=False, repr=False)
    compliance: Array = field(init=False, repr=False)
    element_stiffness: Array = field(init=False, repr=False)

    def __post_init__(self) -> None:
        positions = read_only(self.positions)
        n = len(positions)
        put = object.__setattr__
        put(self, "positions", positions)
        put(self, "rotations", read_only(self.rotations, (n, 3, 3)))
        put(self, "stiffness", read_only(self.stiffness, (n - 1, GAUSS_POINTS, 6, 6)))
        put(self, "mass", read_only(self.mass, (n - 1, GAUSS_POINTS, 6, 6)))
        none = np.zeros((n - 1, 6, 6))
        put(self, "give", read_only(none if self.give is None else self.give, none.shape))
        _check_rotations(self.rotations)
        check_stiffness(self.stiffness)
        twist, length, transport = rest_shape(self.rotations, positions)
        _check_elements(twist, length)
        element, compliance = np.empty((n - 1, 6, 6)), np.empty((n - 1, GAUSS_POINTS, 6, 6))
        effective_stiffness(
            np.array(self.stiffness), transport, np.array(self.give), compliance, element
        )
        if self.extra.any():
            check_stiffness(element)
        for name, value in (
            ("twist", twist),
            ("length", length),
            ("transport", transport),
            ("compliance", compliance),
            ("element_stiffness", element),
        ):
            put(self, name, read_only(value))

    @property
    def extra(self) -> Array:
        """The give, none written out as zeros."""
        assert self.give is not None
        return self.give

    @property
    def arc_positions(self) -> Array:
        """Arc length from the first node to every node, shape (n,), m."""
        return np.concatenate([[0.0], np.cumsum(self.length)])


def force_scale(chain: Chain) -> float:
    """Return a force (N) to measure residuals by: bending stiffness over length squared.

    It is raised where that is too small for double precision: the axial force of a short stiff
    element comes from the difference of two positions, each rounded.
    """
    size = float(np.sum(chain.length))
    bending = float(np.exp(np.mean(np.log(chain.stiffness[:, :, 4, 4]))))
    axial = float(np.max(chain.element_stiffness[:, 0, 0] / chain.length))
    return max(bending / size**2, 1e9 * float(np.finfo(np.float64).eps) * axial * size)


def _check_rotations(rotations: Array) -> None:
    error = np.abs(np.swapaxes(rotations, 1, 2) @ rotations - np.eye(3)).max(axis=(1, 2))
    bad = np.flatnonzero(~(error < 1e-9) | ~(np.linalg.det(rotations) > 0.0))
    if bad.size:
        raise GeometryError(
            f"beam node {bad[0]}: its section axes are not orthonormal and right-handed "
            f"(error {error[bad[0]]:.1e}, allowed 1e-9); normalise them"
        )


def check_stiffness(stiffness: Array) -> None:
    """Raise MaterialError unless every section stiffness is symmetric positive definite."""
    scale = np.sqrt(np.einsum("...ii->...i", stiffness))
    if not np.all(np.isfinite(scale) & (scale > 0.0)):
        raise MaterialError("section stiffness: every diagonal term must be finite and positive")
    scaled = stiffness / (scale[..., :, None] * scale[..., None, :])
    if not np.all(np.abs(scaled - np.swapaxes(scaled, -1, -2)) < 1e-8):
        raise MaterialError("section stiffness: the 6x6 matrix must be symmetric (to 1e-8)")
    try:
        np.linalg.cholesky(scaled)
    except np.linalg.LinAlgError:
        lowest = np.linalg.eigvalsh(scaled)[..., 0]
        place = np.unravel_index(np.argmin(lowest), lowest.shape)
        raise MaterialError(
            f"section stiffness of element {place[-2]}, Gauss point {place[-1]}: not positive "
            f"definite (lowest scaled eigenvalue {lowest[place]:.2e}); check the couplings"
        ) from None


def _check_elements(twist: Array, length: Array) -> None:
    turn = np.linalg.norm(twist[:, 3:], axis=1)
    bad = np.flatnonzero(~(length > 0.0) | ~(turn < 0.9 * np.pi))
    if bad.size:
        raise GeometryError(
            f"beam element {bad[0]}: length {length[bad[0]]:.3g} m, turn {turn[bad[0]]:.3g} rad; "
            "nodes must be apart and turn by less than 2.8 rad from one to the next; use more nodes"
        )


def rest_shape(rotations: Array, positions: Array) -> tuple[Array, Array, Array]:
    """Return rest twists (m, 6), lengths (m,) and resultant transports (m, 2, 6, 6)."""
    m = len(positions) - 1
    frames, places = np.array(rotations), np.array(positions)
    twist = np.empty((m, 6))
    for e in range(m):
        twist_between(frames[e], places[e], frames[e + 1], places[e + 1], twist[e])
    frame = np.broadcast_to(np.eye(3), (m, GAUSS_POINTS, 3, 3)).copy()
    place = np.zeros((m, GAUSS_POINTS, 3))
    for e in range(m):
        for g, share in enumerate(GAUSS):
            move(frame[e, g], place[e, g], share * twist[e])
    transport = np.zeros((m, GAUSS_POINTS, 6, 6))
    turned = np.swapaxes(frame, -1, -2)
    transport[..., :3, :3] = transport[..., 3:, 3:] = turned
    transport[..., 3:, :3] = -turned @ skew(place)
    return twist, np.linalg.norm(twist[:, :3], axis=1), transport


def energy_given(chain: Chain, resultants: Array) -> Array:
    """Return what the elements hold besides their sections, J/m.

    Parameters
    ----------
    resultants : ndarray, shape (..., n - 1, 2, 6), N and N m
        At the Gauss points.

    Returns
    -------
    ndarray, shape (..., n - 1)
    """
    if not chain.extra.any():
        return np.zeros(resultants.shape[:-2])
    mean = np.linalg.solve(chain.transport[:, 0], resultants[..., 0, :, None])[..., 0]
    held: Array = 0.5 * np.einsum("...mi,mij,...mj->...m", mean, chain.extra, mean)
    return held


@compiled
def effective_stiffness(
    stiffness: Array, transport: Array, give: Array, compliance: Array, out: Array
) -> None:
    """Write each Gauss point's compliance (m, g, 6, 6) and each element's stiffness (m, 6, 6)."""
    work = np.empty((6, 6))
    total = np.empty((6, 6))
    for e in range(len(out)):
        for i in range(6):
            for j in range(6):
                total[i, j] = give[e, i, j]
        for g in range(2):
            inverse = compliance[e, g]
            invert(stiffness[e, g], inverse, work)
            b = transport[e, g]
            for i in range(6):
                for j in range(6):
                    value = 0.0
                    for k in range(6):
                        value += inverse[i, k] * b[k, j]
                    work[i, j] = value
            for i in range(6):
                for j in range(6):
                    value = 0.0
                    for k in range(6):
                        value += b[k, i] * work[k, j]
                    total[i, j] += 0.5 * value
        invert(total, out[e], work)
