"""The two cuts of a plate: how they may move and what they hand on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.defect.plate.depth import gauss_columns
from limbfe.defect.plate.profiles import Profiles, plane_motion, values
from limbfe.fem.mesh import Index, PlaneMesh
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class End:
    """A cut square to the limb.

    Attributes
    ----------
    nodes : ndarray of int, shape (e,)
        From smaller to larger y: corner and middle nodes in turn.
    belly, back : ndarray, shape (e,), m
        Depth of the faces at them.
    """

    nodes: Index
    belly: Array
    back: Array


def end_of(mesh: PlaneMesh, nodes: Index, belly: Array, back: Array) -> End:
    """Return a cut with its nodes in order; `belly` and `back` belong to `nodes` as given."""
    order = np.argsort(mesh.nodes[nodes, 1])
    return End(nodes=nodes[order], belly=belly[order], back=back[order])


def end_modes(end: End, profiles: Profiles, nodes: Array) -> Array:
    """Return the displacements of a plane end, shape (n, 2 K + 1, 3): along x, turns about y, z."""
    one, depth = plane_motion(profiles)
    out = np.zeros((len(nodes), 2 * profiles.count + 1, 3))
    along = slice(0, 2 * profiles.count, 2)
    out[end.nodes, along, 0] = one
    out[end.nodes, along, 1] = depth
    out[end.nodes, along, 2] = -nodes[end.nodes, 1, None] * one
    return out


def end_loads(low: End, high: End, profiles: Profiles, mesh: PlaneMesh) -> tuple[Array, Array]:
    """Return nodal forces of a unit of shear along y, along z, and of torque, at both ends.

    Half of the torque comes as shear along the faces and half as a linear deflecting force, as in
    a thin strip; how it is spread dies out within the clear length of the plate.  Shear acts on the
    limb's axis at either end, wherever the middle of the cut lies, so that it makes no torque.

    Returns
    -------
    forces : ndarray, shape (n, 2 K + 1, 3)
    moments : ndarray, shape (3, 3)
        Axial force and the moments about y and z that balance them at the high end when the
        middle of the plate has none.
    """
    forces = np.zeros((len(mesh.nodes), 2 * profiles.count + 1, 3))
    for end, sign in ((low, -1.0), (high, 1.0)):
        _add_shear(forces, sign, end, profiles, mesh.nodes)
    x = mesh.nodes[:, 0]
    half = 0.5 * (x[high.nodes[0]] - x[low.nodes[0]])
    moments = np.zeros((3, 3))
    moments[2, 0], moments[1, 1] = -half, half
    return forces, moments


def _add_shear(forces: Array, sign: float, end: End, profiles: Profiles, nodes: Array) -> None:
    xi, weight = np.polynomial.legendre.leggauss(4)
    shape = np.stack([0.5 * xi * (xi - 1.0), 1.0 - xi * xi, 0.5 * xi * (xi + 1.0)], axis=1)
    sides = np.stack([end.nodes[:-2:2], end.nodes[1::2], end.nodes[2::2]], axis=1)
    y, belly, back = (
        (values_at[:-2:2], values_at[1::2], values_at[2::2])
        for values_at in (nodes[end.nodes, 1], end.belly, end.back)
    )
    at = np.stack(y, axis=1) @ shape.T
    breaks = np.stack([np.stack(belly, axis=1) @ shape.T, np.stack(back, axis=1) @ shape.T], -1)
    columns = gauss_columns(breaks.reshape(-1, 2), 4)
    width = (0.5 * (y[2] - y[0])[:, None] * weight).ravel()
    area = width[:, None] * columns.weight
    F = values(profiles, columns.z)[0]
    centre = (area * columns.z).sum() / area.sum()
    inward = columns.z - centre
    middle = (width * at.ravel()).sum() / width.sum()
    aside = at.ravel() - middle
    across = np.zeros((*columns.z.shape, 3))
    turn_y, turn_z = inward / (area * inward**2).sum(), aside / (width * aside**2).sum()
    across[..., 0] = 1.0 / area.sum() - centre * turn_y
    across[..., 2] = -0.5 * turn_y
    lift = np.zeros((len(aside), 3))
    lift[:, 1] = 1.0 / width.sum() - middle * turn_z
    lift[:, 2] = 0.5 * turn_z
    spread = (width[:, None] * np.tile(shape, (len(sides), 1))).reshape(len(sides), 4, 3)
    pushed = np.einsum("kpn,pn,pnr->pkr", F, columns.weight, across)
    both = np.concatenate([pushed, lift[:, None]], axis=1).reshape(len(sides), 4, -1, 3)
    nodal = sign * np.einsum("sgi,sgkr->sikr", spread, both)
    rows = np.append(2 * np.arange(profiles.count) + 1, 2 * profiles.count)
    for i in range(3):
        np.add.at(forces, (sides[:, i, None], rows[None, :]), nodal[:, i])
