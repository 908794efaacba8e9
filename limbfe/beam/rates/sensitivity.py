"""Exact derivatives of a drawn bow by anything that changes its stiffness or its rest shape.

Direct differentiation: the equations of the braced bow give the change of the string's lengths,
those of the drawn bow everything else, each with the exact tangent of the converged state.
Sections that yield enter with the tangent of their law; while every fibre is loaded further and
none lets go, the law depends on the strains alone and the derivative is exact for it too.

References
----------
M. Kleiber, H. Antunez, T. D. Hien, P. Kowalczyk, Parameter Sensitivity in Nonlinear Mechanics,
Wiley (1997): the direct differentiation method (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.equilibrium.state import BowState
from limbfe.beam.model import DRAW, FORCE, HEIGHT, LENGTH, POINT, PULL, TENSION
from limbfe.beam.rates.changes import RestRates, SectionRates
from limbfe.beam.rates.linearised import Linearised, RestShape
from limbfe.errors import GeometryError
from limbfe.frames import Array, read_only

Keep = Literal["height", "length", "string"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sensitivity:
    """Derivatives of one state by p parameters, in units of the quantity per unit of parameter.

    Attributes
    ----------
    force : ndarray, shape (p,)
        Of the draw force at the given draw length.
    energy : ndarray, shape (p,)
        Of the work in limbs and string.
    positions : ndarray, shape (p, n, 3), bow's own frame
    string_points : ndarray, shape (p, 3, 3), bow's own frame
        Lower nock, nocking point, upper nock.
    free_string : ndarray, shape (p, 3, 3), bow's own frame
        Of the string that touches nothing, as in `BowState`.
    strains, resultants : ndarray, shape (p, n - 1, 2, 6), section axes
    string_tension, string_lengths : ndarray, shape (p, 2)
    nodes : ndarray, shape (p, n, 6)
        Translation and rotation of every node, in its own section axes.
    """

    force: Array
    energy: Array
    positions: Array
    string_points: Array
    free_string: Array
    strains: Array
    resultants: Array
    string_tension: Array
    string_lengths: Array
    nodes: Array

    @property
    def nocking_point(self) -> Array:
        """Of the nocking point, shape (p, 3), bow's own frame."""
        return self.string_points[:, 1]

    @property
    def tips(self) -> Array:
        """Of the lower and the upper tip, shape (p, 2, 3), bow's own frame."""
        return self.positions[:, [0, -1]]


def sensitivities_along(
    bow: Bow,
    states: Sequence[BowState],
    sections: Iterable[SectionRates],
    rest: RestRates,
    *,
    keep: Keep,
    drift: Sequence[float] | None = None,
) -> Iterator[Sensitivity]:
    """Yield exact derivatives at a braced and drawn states, one after the other.

    Parameters
    ----------
    bow : Bow
    states : sequence of BowState
        Braced first, then drawn to prescribed draw lengths; one without a pull is braced again, the
        string adjusted to the first brace height.
    sections : iterable of SectionRates
        Of each state; the next is asked for when the derivatives of the last have been used, so
        that it may build on them.
    rest : RestRates
    keep : {"height", "length", "string"}
        What stays while a parameter changes: the brace height; the string's whole length, the
        nocking point again level with the arrow; or the string with its nocking point.
    drift : sequence of float, optional
        How much of the first brace's change of draw length goes into that of each state; nothing
        when left out.

    Raises
    ------
    GeometryError
        For an unknown word.
    """
    if keep not in ("height", "length", "string"):
        raise GeometryError(f"sensitivity: keep = {keep!r}, wanted height, length or string")
    shape, lengths = RestShape(bow, rest), np.zeros((len(rest.nodes), 2))
    braced = states[0]
    first = {
        "height": (HEIGHT, braced.brace_height),
        "length": (LENGTH, float(np.sum(braced.string_lengths))),
        "string": (FORCE, 0.0),
    }[keep]
    controls = [first]
    for state in states[1:]:
        drawn = state.draw_force > 0.0
        controls.append((DRAW, state.draw_length) if drawn else (HEIGHT, state.brace_height))
    height = start = np.zeros(len(rest.nodes))
    along = zip(states, sections, controls, drift or np.zeros(len(states)), strict=True)
    for state, rates, (control, target), part in along:
        system = Linearised(bow, state, rates.tangent, control, target)
        source = system.source(shape, rates)
        step = system.solve(
            shape, source, rest, lengths, part * start if control == DRAW else height
        )
        if control in (HEIGHT, LENGTH):
            lengths = system.string_lengths(step, rest)
        if state is braced:
            start = system.draw_length_rates(step, rest)
            height = height if control == HEIGHT else system.height_rates(step, rest)
        yield _collect(system, (shape, rest), rates, source, step, lengths)


def _collect(
    system: Linearised,
    unstrung: tuple[RestShape, RestRates],
    rates: SectionRates,
    source: Array,
    step: Array,
    lengths: Array,
) -> Sensitivity:
    bow, path, state = system.bow, system.path, system.state
    shape, rest = unstrung
    chain, n = bow.chain, len(path.positions)
    nodes, border = step[:, : 6 * n].reshape(-1, n, 6), step[:, 6 * n :]
    moved = system.twist_rate(step) / chain.length[:, None]
    mean = source + np.einsum("mij,pmj->pmi", system.element, moved)
    forces = np.einsum("mgij,pmj->pmgi", chain.transport, mean)
    forces += np.einsum("pmgij,mj->pmgi", shape.transport, system.mean)
    strains = np.einsum("mgij,pmgj->pmgi", system.compliance, forces - rates.resultants)
    work = np.einsum("mgi,pmgi->pm", state.resultants, strains) + rates.energy_rates.sum(axis=2)
    energy = 0.5 * (work @ chain.length + shape.length @ rates.energy.sum(axis=1))
    given = np.einsum("mij,mj->mi", chain.extra, system.mean)
    extra = np.einsum("mi,pmi->pm", given, mean)
    if rates.give is not None:
        extra += 0.5 * np.einsum("mi,pmij,mj->pm", system.mean, rates.give, system.mean)
    energy += extra @ chain.length
    energy += 0.5 * shape.length @ np.einsum("mi,mi->m", given, system.mean)
    tension = path.border[TENSION:PULL]
    energy += (border[:, TENSION:PULL] * path.string + 0.5 * tension * lengths) @ (
        tension / bow.string.stiffness
    )
    ends = nodes[:, [0, -1]]
    nocks = ends[..., :3] + np.cross(ends[..., 3:], bow.model.nocks)
    nocks = np.einsum("tij,ptj->pti", path.rotations[[0, -1]], nocks)
    string = np.stack([nocks[:, 0], border[:, POINT:TENSION], nocks[:, 1]], axis=1)
    return Sensitivity(
        force=read_only(border[:, PULL]),
        energy=read_only(energy),
        positions=read_only(np.einsum("nij,pnj->pni", path.rotations, nodes[..., :3])),
        string_points=read_only(string),
        free_string=read_only(system.free_string(step, rest, string)),
        strains=read_only(strains),
        resultants=read_only(forces),
        string_tension=read_only(border[:, TENSION:PULL]),
        string_lengths=read_only(lengths),
        nodes=read_only(nodes),
    )
