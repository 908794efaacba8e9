"""All fibres of all sections in one compiled pass."""

from __future__ import annotations

from limbfe.fem.compiled import compiled
from limbfe.frames import Array


@compiled
def strain_fibres(
    fibre: Array,
    weights: Array,
    modulus: Array,
    start: Array,
    slope: Array,
    strains: Array,
    plastic: Array,
    resultants: Array,
    softening: Array,
    crushed: Array,
    stress: Array,
) -> None:
    """Strain p fibres in each of S sections; `limbfe.section.fibre_law.crush` in a loop.

    Parameters
    ----------
    fibre : ndarray, shape (S, p, 6)
        The strain along the grain per generalised strain.
    weights, modulus, plastic : ndarray, shape (S, p)
    start, slope : ndarray, shape (lines, S, p)
        See `limbfe.section.fibre_law.FibreLaw`.
    strains : ndarray, shape (S, 6)
    resultants : ndarray, shape (S, 6)
        What the crushed fibres add to those of the elastic section is added.
    softening : ndarray, shape (S, 6, 6)
        Written: what the yielding fibres take from the elastic stiffness.
    crushed, stress : ndarray, shape (S, p)
        Written: the new state, the stress along the grain.
    """
    lines = len(start)
    for s in range(len(strains)):
        total, soft = resultants[s], softening[s]
        for i in range(6):
            for j in range(6):
                soft[i, j] = 0.0
        for p in range(fibre.shape[1]):
            f = fibre[s, p]
            strain = 0.0
            for i in range(6):
                strain += f[i] * strains[s, i]
            E, old = modulus[s, p], plastic[s, p]
            trial = -E * (strain + old)
            step, rise = 0.0, 0.0
            if trial > 0.0:
                for k in range(lines):
                    over = trial - start[k, s, p] - slope[k, s, p] * old
                    if over > 0.0 and over > step * (E + slope[k, s, p]):
                        rise = slope[k, s, p]
                        step = over / (E + rise)
            new = old + step
            crushed[s, p] = new
            stress[s, p] = E * (strain + new)
            if new > 0.0:
                lacking = E * new * weights[s, p]
                for i in range(6):
                    total[i] += f[i] * lacking
            if step > 0.0:
                softer = E * E / (E + rise) * weights[s, p]
                for i in range(6):
                    for j in range(i + 1):
                        soft[i, j] += softer * f[i] * f[j]
        for i in range(6):
            for j in range(i):
                soft[j, i] = soft[i, j]
