"""Which of several bows is best at what, in figures and in a sentence or two."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from limbfe.studies.compare.compared import ComparedBow, Target, told_apart

SAME = 0.005
"""Two figures within this share of each other are called alike."""
LITTLE = 0.02
"""Spread of a figure over all bows, as a share, below which nobody is called the best."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One figure by which bows are ranked.

    Attributes
    ----------
    name : str
        As `ComparedBow.figure` takes it.
    better : {"low", "high"}
    praise : str
        What the best bow does, to follow its name.
    equal : str
        The target that makes all bows alike in it.
    """

    name: str
    better: Literal["low", "high"]
    praise: str
    equal: str = ""


JUDGED = (
    Judged(name="mass", better="low", praise="is the lightest", equal="mass"),
    Judged(name="mass_outer_third", better="low", praise="has the lightest outer limbs"),
    Judged(name="peak_strain", better="low", praise="strains its wood least", equal="strain"),
    Judged(name="evenness", better="high", praise="is strained most evenly"),
    Judged(name="stored", better="high", praise="stores most energy"),
    Judged(name="stored_per_mass", better="high", praise="stores most for its mass"),
    Judged(name="stored_per_strain", better="high", praise="stores most for its peak strain"),
    Judged(name="speed", better="high", praise="shoots fastest"),
    Judged(name="early_force", better="high", praise="pulls hardest early in the draw"),
    Judged(name="string_angle", better="low", praise="has the smallest string angle"),
    Judged(name="set_depth", better="low", praise="takes the least set"),
    Judged(name="strength_used", better="low", praise="uses least of its strength"),
    Judged(name="slip_strain", better="low", praise="suffers least from a slip of the tool"),
)


def ranked(bows: Sequence[ComparedBow], judged: Judged) -> list[ComparedBow]:
    """Return the bows, the best at one figure first."""
    sign = 1.0 if judged.better == "low" else -1.0
    return sorted(bows, key=lambda bow: sign * bow.figure(judged.name))


def best_bows(bows: Sequence[ComparedBow], target: Target) -> dict[str, tuple[int, ...]]:
    """Return the numbers of the best bow at every figure, and of those as good within `SAME`.

    Figures in which the bows hardly differ, or were made alike, are left out.
    """
    best: dict[str, tuple[int, ...]] = {}
    for judged in JUDGED:
        order = ranked(bows, judged)
        first, last = order[0].figure(judged.name), order[-1].figure(judged.name)
        if judged.equal == target.figure or abs(last - first) <= LITTLE * abs(last):
            continue
        alike = [bow for bow in order if abs(bow.figure(judged.name) - first) <= SAME * abs(first)]
        best[judged.name] = tuple(bow.number for bow in alike)
    return best


def summary(bows: Sequence[ComparedBow], best: Mapping[str, tuple[int, ...]]) -> Iterator[str]:
    """Yield one sentence on the bow that is best at most, and one on the others that are at any."""
    praises = {
        bow.number: [judged.praise for judged in JUDGED if bow.number in best.get(judged.name, ())]
        for bow in bows
    }
    titles = told_apart(bows)
    praised = sorted((n for n in praises if praises[n]), key=lambda n: -len(praises[n]))
    said = [f'{n} "{titles[n]}" {_listed(praises[n])}' for n in praised]
    if not said:
        yield "The bows hardly differ in any figure."
        return
    yield f"Bow {said[0]}."
    if said[1:]:
        yield f"Bow {'; bow '.join(said[1:])}."


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
