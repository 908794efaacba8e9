"""How deep a split beside a hole in a bent bar goes: own solids whose front is free in its depth.

A quarter of a bar of 40 by 12 mm in 27-node bricks, a square hole of 8 mm cut through straight
grain, splits at its sides; node pairs are freed where the energy release over toughness is the
greatest, any layers of depth by one element along the limb at a time, faces in contact.  The load
that the step before needed most is that which brings the split so far.  The same mesh pulled
evenly, its split through the whole depth, is the plane model whose energy `deep_share` lowers, so
that what the mesh does to both falls out.

Found, load (MPa) at the back for a split longer than 1, 2, 3, 4, 5.5, 7, 9, 11 mm (finer bricks):
101 119 119 125 130 135 146 156, ours 95 119 119 119 119 124 125 125: at most as much, while short
within 8 %.  Further on the solid has to be driven through the wood in the middle of the depth, to
158 MPa; ours is not, and stays 20 % below.  A hole of 5 mm: 136 to 203, ours 130 to 167.  A knot's
hole 1 mm from the edge, fibres flowing round it: 204 and more to run, ours 122.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import sparse

from limbfe.failure.splits.course import deep_share
from limbfe.wood.elasticity import Elasticity
from tests.bricks import bricks, factor, stiffness

pytestmark = pytest.mark.slow

WOOD = Elasticity(
    E_L=13e9, E_R=1.3e9, E_T=1e9, G_LR=1e9, G_LT=0.9e9, G_RT=0.2e9,
    nu_LR=0.37, nu_LT=0.45, nu_RT=0.5,
)  # fmt: skip
TOUGH = np.array([1000.0, 350.0, 1000.0])
"""Against sliding along, opening, and sliding through the depth (J/m2)."""
MM = 1e-3
WIDTH, DEPTH, HOLE = 40 * MM, 12 * MM, 8 * MM
LINE = 0.5 * HOLE + MM * np.cumsum([0, 1, 1, 1, 1, 1.5, 1.5, 2, 2])
X = np.concatenate([[0, 2 * MM], LINE, LINE[-1] + MM * np.array([8, 20, 40])])
Y = MM * np.array([0, 2.4, 4, 5, 6.5, 9, 13, 20])
LAYERS = DEPTH * np.array([0, 1 / 12, 1 / 6, 1 / 4, 3 / 8, 1 / 2, 1])
"""Depths below the back."""


def split_bar(skfem):
    """The bricks, the wood between the splits with corners of its own on them; and which it is."""
    mesh = skfem.MeshHex.init_tensor(X, Y, np.sort(0.5 * DEPTH - LAYERS))
    p, t = mesh.p, mesh.t
    centre = p[:, t].mean(axis=1)
    keep = (centre[0] > LINE[0]) | (centre[1] > 0.5 * HOLE)
    t, core = t[:, keep], centre[1, keep] < 0.5 * HOLE
    on = (np.abs(p[1] - 0.5 * HOLE) < 1e-9) & (p[0] > LINE[0] - 1e-9) & (p[0] < LINE[-1] - 1e-9)
    twin = np.arange(p.shape[1])
    twin[on] = p.shape[1] + np.arange(on.sum())
    t[:, core] = twin[t[:, core]]
    used, number = np.unique(t, return_inverse=True)
    return skfem.MeshHex(np.hstack([p, p[:, on]])[:, used], number.reshape(t.shape)), core


def pairs_of(places, axis, core):
    """Unknowns that lie on each other on the line of the split, those of the core second."""
    x, y, z = places
    near = (np.abs(y - 0.5 * HOLE) < 1e-9) & (x > LINE[0] - 1e-9) & (x < LINE[-1] + 1e-9)
    there = np.flatnonzero(near)
    key = np.round(np.stack([x, z, axis * MM])[:, there] * 1e7).astype(int)
    _, of, count = np.unique(key, axis=1, return_inverse=True, return_counts=True)
    of = of.ravel()
    there, of = there[count[of] == 2], of[count[of] == 2]
    return there[np.lexsort((core[there], of))].reshape(-1, 2)


class Solid:
    """Flexibility of the pairs, their jumps under 1 MPa of pull and of bending, places."""

    def __init__(self):
        skfem = pytest.importorskip("skfem")
        mesh, core = split_bar(skfem)
        basis, K, axis = bricks(mesh, lambda at: stiffness(WOOD), 4)
        x, y, z = basis.doflocs
        end = np.flatnonzero((x > X[-1] - 1e-9) & (axis == 0))
        held = ((x < 1e-9) & (axis == 0)) | ((y < 1e-9) & (axis == 1))
        held[np.flatnonzero((axis == 2) & (x > X[-1] - 1e-9) & (y < 1e-9))[0]] = True
        held[end] = True
        free = np.flatnonzero(~held)
        # the end stays plane: it moves and turns as a whole
        n = len(free)
        rows = np.concatenate([free, end, end])
        columns = np.concatenate([np.arange(n), np.full(len(end), n), np.full(len(end), n + 1)])
        entries = np.concatenate([np.ones(n + len(end)), z[end] / DEPTH])
        T = sparse.csc_array((entries, (rows, columns)), shape=(basis.N, n + 2))
        inner = factor(T.T @ K @ T)
        mine = np.zeros(basis.N, dtype=bool)
        mine[basis.element_dofs[:, core]] = True
        there = pairs_of((x, y, z), axis, mine)
        rows = np.arange(len(there)).repeat(2)
        signs = np.tile([1.0, -1.0], len(there))
        J = sparse.csr_array((signs, (rows, there.ravel())), shape=(len(there), basis.N)) @ T
        self.x, self.axis = x[there[:, 0]], axis[there[:, 0]]
        self.D = J @ inner.solve(J.T.toarray())
        loads = np.zeros((n + 2, 2))
        loads[n, 0] = 0.5 * WIDTH * DEPTH * 1e6
        loads[n + 1, 1] = 0.5 * WIDTH * DEPTH / 6.0 * 1e6
        self.pulled, self.bent = (J @ inner.solve(loads)).T
        self.cell = np.searchsorted(LINE[1:], self.x + 1e-8)
        below = 0.5 * DEPTH - z[there[:, 0]]
        layer = np.searchsorted(LAYERS[1:], below + 1e-8)
        self.layer = np.minimum(layer, len(LAYERS) - 2)

    def settled(self, g, front, pressed):
        """Closing forces of a split, its faces in contact: tied rows, inverse, forces, pressed."""
        opened = self.cell < front[self.layer]
        normal = opened & (self.axis == 1)
        for _ in range(40):
            tied = np.flatnonzero(~opened | (normal & pressed))
            D = self.D[np.ix_(tied, tied)]
            D[np.diag_indices_from(D)] += 1e-11 * self.D.diagonal().max()
            inverse, force = np.linalg.inv(D), np.zeros(len(g))
            force[tied] = inverse @ g[tied]
            jump = g - self.D @ force
            inside = ~pressed & (jump < -1e-9 * np.abs(g).max())
            now = normal & ((pressed & (force < 0.0)) | inside)
            if np.array_equal(now, pressed & normal):
                return tied, inverse, force, now
            pressed = now
        raise AssertionError("contact did not settle")

    def grown(self, g, ranges):
        """Load (MPa) at which the split at the back passes every length, and each step's own."""
        front, pressed = np.zeros(len(LAYERS) - 1, dtype=int), np.zeros(len(g), dtype=bool)
        most, out = 0.0, []
        while front[0] < len(LINE) - 1:
            tied, inverse, force, pressed = self.settled(g, front, pressed)
            best, after = 0.0, front
            for first, last in ranges:
                new = front.copy()
                new[first : last + 1] += 1
                if new.max() < len(LINE) and np.all(np.diff(new) <= 0):
                    release = self.release(tied, inverse, force, front, new)
                    best, after = max((best, after), (release, new), key=lambda one: one[0])
            most = max(most, best**-0.5)
            if after[0] > front[0]:
                out.append((most, best**-0.5))
            front = after
        return np.array(out).T

    def release(self, tied, inverse, force, front, new):
        """Energy release over toughness of one step, of forces before on jumps after."""
        freed = (self.cell < new[self.layer]) & (self.cell >= front[self.layer])
        at = np.flatnonzero(freed[tied])
        jump = np.linalg.solve(inverse[np.ix_(at, at)], force[tied[at]])
        shut = (self.axis[tied[at]] == 1) & (jump < 0.0)
        at = at[~shut]
        jump = np.linalg.solve(inverse[np.ix_(at, at)], force[tied[at]])
        area = np.diff(LAYERS) @ (LINE[new] - LINE[front])
        each = 0.5 * force[tied[at]] * jump
        return max(float((each / TOUGH[self.axis[tied[at]]]).sum() / area), 1e-12)


def test_a_split_is_as_deep_as_drives_it_hardest():
    solid, layers = Solid(), range(len(LAYERS) - 1)
    _, plane = solid.grown(solid.pulled, [(0, layers[-1])])
    found, _ = solid.grown(solid.bent, [(i, j) for i in layers for j in layers if i <= j])
    middle = 0.5 * (LINE[1:] + LINE[:-1]) - LINE[0]
    ours = np.maximum.accumulate(plane / np.sqrt(deep_share(middle, DEPTH, WOOD)))
    assert ours[:6] / found[:6] == pytest.approx(1.0, abs=0.10)
    assert np.all(ours < 1.03 * found)
    # taken for a split of the back all the way, it would run at 0.6 of what the solid bears
    assert plane.max() < 0.7 * found[-1]
