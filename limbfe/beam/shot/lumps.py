"""Every node of a limb as a rigid body.

The kinetic energy of an element, ``integral of m v^2 / 2``, is put on its two nodes with the
weights of the cubic that has the right values and slopes of ``v^2`` at both ends,

    integral m f dx = A f1 + B f2 + C f1' + D f2',   A = integral m H1, ...

and since ``v' = omega x t`` there, the slopes' terms say where the mass of a node has its centre:
``C/A`` along the limb.  They cancel between equal elements, which leaves plain lumps inside and the
end correction of Euler and Maclaurin at the tips.  Frequencies then converge with the third power
of the element's length and better (plain lumps: second), and a node stays a body of constant
inertia, so that momentum is kept exactly.

References
----------
The end correction of the trapezoidal rule: any book on numerical analysis; the bodies are derived
here.
"""

from __future__ import annotations

import numpy as np

from limbfe.beam.limbs.chain import GAUSS, Chain
from limbfe.beam.limbs.motion import move
from limbfe.frames import Array, skew


def node_masses(chain: Chain) -> Array:
    """Return the mass of every node as a body in its section axes, shape (n, 6, 6).

    Notes
    -----
    Sections of a Gauss point count with the nodes' axes; what an element turns from the middle to
    its end is left out of their rotary inertia and of the offsets of their centres of mass.
    """
    n = len(chain.positions)
    plain, first = np.zeros((n, 6, 6)), np.zeros((n, 3))
    # a helicoid moves along the same twist, seen from any of its frames
    tangent = chain.twist[:, :3] / np.linalg.norm(chain.twist[:, :3], axis=1)[:, None]
    for g, share in enumerate(0.5 + GAUSS):
        length, section = chain.length, chain.mass[:, g]
        along = 0.5 * length * section[:, 0, 0]
        value = ((1.0 + 2.0 * share) * (1.0 - share) ** 2, (3.0 - 2.0 * share) * share**2)
        slope = (share * (1.0 - share) ** 2, -(share**2) * (1.0 - share))
        for end in range(2):
            nodes = slice(end, n - 1 + end)
            plain[nodes] += (0.5 * length * value[end])[:, None, None] * section
            first[nodes] += (along * length * slope[end])[:, None] * tangent
    return np.stack([_with_centre(one, moment) for one, moment in zip(plain, first, strict=True)])


def _with_centre(body: Array, first: Array) -> Array:
    """Move the centre of mass of a body by `first` / mass, keeping its inertia about the centre."""
    if not body[0, 0] > 0.0:
        return body
    shift = np.eye(6)
    shift[:3, 3:] = -skew(first / body[0, 0])
    out: Array = shift.T @ body @ shift
    return out


def point_mass(mass: float, arm: Array) -> Array:
    """Return a point mass at `arm` in the axes of a body, shape (6, 6)."""
    out = np.zeros((6, 6))
    out[:3, :3] = mass * np.eye(3)
    out[:3, 3:] = -mass * skew(arm)
    out[3:, :3] = mass * skew(arm)
    out[3:, 3:] = -mass * skew(arm) @ skew(arm)
    return out


def carried(twist: Array) -> Array:
    """Return the matrix (6, 6) that takes body increments through the motion of a twist.

    A frame at ``exp(twist)`` from another, and rigid with it, moves by ``carried(twist) @ delta``
    when the other moves by ``delta``, both in their own axes.
    """
    rotation, place = np.eye(3), np.zeros(3)
    move(rotation, place, np.array(twist))
    out = np.zeros((6, 6))
    out[:3, :3] = out[3:, 3:] = rotation.T
    out[:3, 3:] = -rotation.T @ skew(place)
    return out


def joined_mass(masses: Array, twists: Array) -> Array:
    """Return k nodes joined rigidly, as one body in the axes of the first.

    Parameters
    ----------
    masses : ndarray, shape (k, 6, 6)
    twists : ndarray, shape (k - 1, 6)
        From node to node.
    """
    total, through = np.array(masses[0]), np.eye(6)
    for mass, twist in zip(masses[1:], twists, strict=True):
        through = carried(twist) @ through
        total += through.T @ mass @ through
    return total
