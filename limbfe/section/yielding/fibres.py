"""All fibres of all sections in compiled passes.

Arrays hold S sections of m elements with q fibres each.  What a section's crushed fibres add to its
elastic resultants stays as it is until some are crushed further, so a pass over sections that were
crushed before looks only at elements in which that may happen: a bound on the strain in an element
costs a tenth of its fibres.
"""

from __future__ import annotations

import numpy as np

from limbfe.compiled import compiled, compiled_inside
from limbfe.frames import Array


@compiled_inside
def _crush_further(
    E: float,
    old: float,
    strain: float,
    start: Array,
    slope: Array,
    level: Array,
    at: tuple[int, int, int],
) -> tuple[float, float]:
    """Return by how much a fibre is crushed further, and the rise of the line it then stands on.

    `fibre_law.crush` for one fibre: the greatest step of all lines, 0 if none is passed.
    """
    s, e, q = at
    trial, step, rise = -E * (strain + old), 0.0, 0.0
    last = len(start) - 1
    for k in range(last):
        over = trial - start[k, s, e, q] - slope[k, s, e, q] * old
        if over > 0.0 and over > step * (E + slope[k, s, e, q]):
            rise = slope[k, s, e, q]
            step = over / (E + rise)
    fall = slope[last, s, e, q]
    down = (trial - start[last, s, e, q] - fall * old) / (E + fall)
    level_step = (trial - level[s, e, q]) / E
    if level_step < down:
        down, fall = level_step, 0.0
    if down > step:
        step, rise = down, fall
    return step, rise


@compiled
def press_fibres(
    middle: Array,
    spread: Array,
    fibre: Array,
    weights: Array,
    modulus: Array,
    start: Array,
    slope: Array,
    level: Array,
    reference: Array,
    earliest: Array,
    limit: Array,
    plastic: Array,
    strains: Array,
    resultants: Array,
    softening: Array,
    keep: bool,
) -> None:
    """Strain sections from a state they are in.

    Parameters
    ----------
    middle, spread : ndarray, shape (S, m, 6)
        Of the rows of `fibre` in an element, the middle of their range and half its width.
    fibre : ndarray, shape (S, m, q, 6)
        Strain along the grain per generalised strain.
    weights, modulus, level : ndarray, shape (S, m, q)
    start, slope : ndarray, shape (lines, S, m, q)
        See `limbfe.section.yielding.fibre_law.FibreLaw`.
    reference : ndarray, shape (S, 6)
        Strains from which the bounds are taken.
    earliest, limit, plastic : ndarray, shapes (S, m), (S, m, q), (S, m, q)
        The state: least shortening from the reference at which an element is crushed further;
        shortening beyond which a fibre is; how far it is crushed.
    strains : ndarray, shape (S, 6)
    resultants : ndarray, shape (S, 6)
        What fibres add by being crushed further is added.
    softening : ndarray, shape (S, 6, 6)
        Written: what these fibres take from the elastic stiffness; nothing where they are kept.
    keep : bool
        Whether the state moves to these strains.
    """
    change = np.empty(6)
    for s in range(len(strains)):
        soft, at, total = softening[s], strains[s], resultants[s]
        for i in range(6):
            change[i] = at[i] - reference[s, i]
            for j in range(6):
                soft[i, j] = 0.0
        for e in range(earliest.shape[1]):
            mid, half, away, near = middle[s, e], spread[s, e], 0.0, 0.0
            for i in range(6):
                away += half[i] * abs(change[i])
                near += mid[i] * change[i]
            if away - near <= earliest[s, e]:
                continue
            least = np.inf
            for q in range(limit.shape[2]):
                f = fibre[s, e, q]
                strain = 0.0
                for i in range(6):
                    strain += f[i] * at[i]
                if -strain > limit[s, e, q]:
                    E, old = modulus[s, e, q], plastic[s, e, q]
                    step, rise = _crush_further(E, old, strain, start, slope, level, (s, e, q))
                    if step > 0.0:
                        lacking = E * step * weights[s, e, q]
                        for i in range(6):
                            total[i] += f[i] * lacking
                        if keep:
                            # it now stands at its limit
                            plastic[s, e, q], limit[s, e, q] = old + step, -strain
                        else:
                            softer = E * E / (E + rise) * weights[s, e, q]
                            for i in range(6):
                                for j in range(i + 1):
                                    soft[i, j] += softer * f[i] * f[j]
                if keep:
                    room = limit[s, e, q]
                    for i in range(6):
                        room += f[i] * reference[s, i]
                    least = min(least, room)
            if keep:
                earliest[s, e] = least
        for i in range(6):
            for j in range(i):
                soft[j, i] = soft[i, j]


@compiled
def strain_fibres(
    fibre: Array,
    weights: Array,
    modulus: Array,
    start: Array,
    slope: Array,
    level: Array,
    strains: Array,
    plastic: Array,
    resultants: Array,
    softening: Array,
    crushed: Array,
    stress: Array,
) -> None:
    """Strain every fibre of sections from any state.

    Parameters
    ----------
    fibre, weights, modulus, start, slope, level, plastic, strains, softening
        As in `press_fibres`.
    resultants : ndarray, shape (S, 6)
        What the crushed fibres add to those of the elastic section is added.
    crushed, stress : ndarray, shape (S, m, q)
        Written: the new state, the stress along the grain.
    """
    for s in range(len(strains)):
        soft = softening[s]
        for i in range(6):
            for j in range(6):
                soft[i, j] = 0.0
        for e in range(fibre.shape[1]):
            for q in range(fibre.shape[2]):
                f = fibre[s, e, q]
                strain = 0.0
                for i in range(6):
                    strain += f[i] * strains[s, i]
                E, old = modulus[s, e, q], plastic[s, e, q]
                step, rise = _crush_further(E, old, strain, start, slope, level, (s, e, q))
                new = old + step
                crushed[s, e, q] = new
                stress[s, e, q] = E * (strain + new)
                if new > 0.0:
                    lacking = E * new * weights[s, e, q]
                    for i in range(6):
                        resultants[s, i] += f[i] * lacking
                if step > 0.0:
                    softer = E * E / (E + rise) * weights[s, e, q]
                    for i in range(6):
                        for j in range(i + 1):
                            soft[i, j] += softer * f[i] * f[j]
        for i in range(6):
            for j in range(i):
                soft[j, i] = soft[i, j]
