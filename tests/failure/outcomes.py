"""Made outcomes of a zone that was judged, for tests of the words that follow from them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbfe.failure.probability import Probability
from limbfe.failure.problem import LocalOutcome, ModeOutcome, ZoneUse, factors
from limbfe.failure.splits.criterion import Split
from limbfe.failure.splits.grain_split import GrainSplit, Line, Way


def mode(name, typical, high=None):
    return ModeOutcome(
        mode=name,
        low=0.9 * typical,
        typical=typical,
        high=typical if high is None else high,
        x=0.1,
        y=0.01 * len(name),
        z=0.02,
        high_y=-0.01 * len(name),
        high_z=0.03,
        angle=0.0,
        length=2e-3,
    )


def followed(start, run):
    """A split in the wood that starts and runs at given loads, 3 mm and more long."""
    length = np.array([0.001, 0.003, 0.006, 0.02, 0.05])
    need = np.array([0.5 * start, 0.9 * start, run, 0.9 * run, 0.9 * run])
    split = Split(start=start, start_length=0.003, length=length, need=need, end=0.06)
    way = Way(split=split, lines=(0,), mix=1.2, fibres=np.ones(5))
    return GrainSplit(ways=(way,), joint=None, short=0.008, lines=(Line(start=0.004, side=0.0),))


def outcome(
    fibre=0.3, split=0.2, crush=0.1, *, fibre_high=None, split_high=None, demand=None, starts=None
):
    modes = {
        "fibre": mode("fibre", fibre, fibre_high),
        "opening": mode("opening", split, split_high),
        "sliding": mode("sliding", 0.5 * split),
        "split": replace(mode("split", split, split_high), mix=1.2),
        "yield": mode("yield", crush),
    }
    chance = None
    if demand is not None:
        samples, without = np.sort(demand), np.zeros(len(demand))
        rupture = float((samples > 1.0).mean())
        chance = Probability(rupture=rupture, split=0.0, clear=0.0, demand=samples, without=without)
    return LocalOutcome(
        zone="A",
        modes=modes,
        rupture=factors(modes["fibre"]),
        split=factors(modes["split"]),
        strength_ratio=0.8,
        tension_ratio=0.7,
        use=ZoneUse(zone=fibre, sound=0.2, limb=0.25),
        clear={"fibre": 0.25},
        bond_used=0.0,
        probability=chance,
        fields=(),
        grain_split=None if starts is None else followed(starts, 1.0 / split),
    )


def scattered(share_above_one):
    """Strength used of 1000 staves, evenly from 0 to where that share of them is above 1."""
    return np.linspace(0.0, 1.0 / (1.0 - share_above_one), 1001)
