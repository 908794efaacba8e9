"""What to measure next: whatever takes most of the uncertainty away and can be measured."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from limbfe.failure.indices import Index
from limbfe.studies.chance.bows import FULL
from limbfe.studies.chance.quick import Chances
from limbfe.studies.chance.results import Step
from limbfe.units import Length, Sentence, Words

LEAST = 0.02
"""Share of the variance below which a measurement is not worth a line."""
MOST = 3

_WAYS: Mapping[str, str] = {
    "stiffness": "bend an offcut for its stiffness, or read the bow on the tiller (fit)",
    "tension strength": "break an offcut in bending, for its bending strength",
    "crushing strength": "bend an offcut until its belly yields, or read the set (fit)",
    "splitting strength": "split an offcut, for its strength across the grain",
    "stiffness along the limb": "read the bow on the tiller at several stations (fit)",
    "sapwood": "bend an offcut of sapwood and one of heartwood",
    "moisture": "measure the wood's moisture, or weigh an offcut oven-dry",
    "string": "hang a weight on the string and see how far it stretches",
    "knots": "probe the knots with a thin needle, for their size inside",
    "decay": "probe the patch with a needle, for its true extent",
    "draw length": "mark the arrow, and draw to the mark",
}


def steps(chances: Chances, indices: Mapping[str, Mapping[str, Index]]) -> tuple[Step, ...]:
    """Return what to measure next, for failure and then for draw weight, the most telling first.

    By the first-order index: what knowing an input takes away on average.
    """
    found = []
    for of in ("failure", "draw weight"):
        told = sorted(indices.get(of, {}).items(), key=lambda one: -one[1].first)
        known = [(name, index) for name, index in told if name in (*_WAYS, "thickness", "width")]
        for name, index in known[:MOST]:
            if index.first - index.first_off > LEAST:
                found.append(Step(what=_way(chances, name), of=of, less=index.first))
    return tuple(found)


def _way(chances: Chances, name: str) -> Words:
    if name in _WAYS:
        return _WAYS[name]
    at = telling_station(chances, name)
    limb = "upper" if at > 0.0 else "lower"
    fine = 0.5 * getattr(chances.inputs.spread, "calliper" if name == "thickness" else "tape")
    words = "measure the {} again, most of all {} up the {} limb, to {}"
    return Sentence(words, name, Length(abs(at)), limb, Length(fine))


def telling_station(chances: Chances, name: str) -> float:
    """Return the place (m) at which an error of thickness or width moves the draw weight most."""
    inputs, bow = chances.inputs, chances.bow
    k = len(inputs.nodes)
    first = 3 if name == "width" else 3 + k
    spread = bow.spread[first : first + k]
    by_node = bow.terms["force"][first : first + k, FULL]
    by_node = np.divide(by_node, spread, out=np.zeros(k), where=spread > 0.0)
    onto = inputs.onto / inputs.wide if name == "width" else inputs.onto
    return float(inputs.measured[np.abs(by_node @ onto).argmax()])
