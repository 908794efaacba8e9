"""Rules about knots and decay: each is judged by its own local model, layer by layer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.limb_load import limb_load
from limbfe.analysis.zones.verdicts import local_problem
from limbfe.failure.local import judge_zone
from limbfe.failure.verdict import breaking_used
from limbfe.stave.knot import Knot
from limbfe.stave.marked import make_decay, make_knot
from limbfe.stave.marks import Limb, Mark, PatchSize, signed_station
from limbfe.stave.named_zones import Zone
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave
from limbfe.studies.rules.family import limb_base
from limbfe.studies.rules.rule import COMMON_PRACTICE, Rule
from limbfe.studies.rules.tried import breaking, drawn, refined, rise, weight
from limbfe.units import Length, Sentence
from limbfe.wood.decay import decay_effect

NAME = "A"
ELEMENT = 1e-3
"""Side of the elements (m) at the zone: twice a judgement's, within 2 per cent of it."""
FLARE = 0.06
"""Length (m) over which a limb widens towards a knot that is left more width."""
PATCH = 0.04
"""Length (m) of a patch of decay."""


def knot_with_width(bow: SolvedBow, size: float) -> dict[str, float]:
    """Put a live knot into the back of a working limb and widen the limb by its diameter."""
    stave = bow.model.setup.stave
    limb, at, lot = _place(bow, 0.35, 0.65)
    width = _width(stave, limb, at)
    wider = _swollen(refined(stave), limb, at, size * width)
    knot = _knot(wider, limb, at, lot * 0.15 * width, size * width)
    return _judged(bow, replace(wider, knots=(knot,)), knot)


def knot_outside(bow: SolvedBow, size: float) -> dict[str, float]:
    """Put a live knot into the back of the outer third of a limb, no width left for it."""
    stave = bow.model.setup.stave
    limb, at, lot = _place(bow, 0.72, 0.92)
    width = _width(stave, limb, at)
    knot = _knot(stave, limb, at, lot * 0.15 * width, size * width)
    return _judged(bow, replace(stave, knots=(knot,)), knot)


def decay_outside(bow: SolvedBow, share: float) -> dict[str, float]:
    """Put a moderately decayed patch into the back at a share of the limb's length."""
    stave = bow.model.setup.stave
    limb, at, lot = _place(bow, share, share)
    width = _width(stave, limb, at)
    thickness = float(shape_at(stave, np.array([signed_station(limb, at)])).thickness[0])
    patch = make_decay(
        stave,
        Mark(name=NAME, limb=limb, at=at, face="back", across=lot * 0.15 * width),
        PatchSize(length=PATCH, width=0.5 * width, depth=0.25 * thickness),
        effect=decay_effect("moderate", "brown"),
        stage="moderate",
        rot="brown",
    )
    return _judged(bow, replace(stave, decays=(patch,)), patch)


def _place(bow: SolvedBow, inner: float, outer: float) -> tuple[Limb, float, float]:
    """Return limb, station (m from the grip) and a lot in [-1, 1], the same for every value."""
    stave = bow.model.setup.stave
    rng = np.random.default_rng([int(1e6 * v) for v in (stave.x[-1], stave.width.max())])
    limb: Limb = "upper" if rng.random() < 0.5 else "lower"
    base = limb_base(stave.stiff_length)
    length = float(stave.x[-1] if limb == "upper" else -stave.x[0]) - base
    lot, share = rng.uniform(-1.0, 1.0), inner + (outer - inner) * rng.random()
    return limb, base + share * length, float(lot)


def _width(stave: Stave, limb: Limb, at: float) -> float:
    return float(shape_at(stave, np.array([signed_station(limb, at)])).width[0])


def _swollen(stave: Stave, limb: Limb, at: float, extra: float) -> Stave:
    """Return the stave wider by `extra` around a place, faded out on both sides."""
    distance = np.abs(stave.x - signed_station(limb, at))
    flat = 2.0 * extra
    more = extra * (1.0 - rise(distance, flat, flat + FLARE))
    return replace(stave, width=stave.width + more)


def _knot(stave: Stave, limb: Limb, at: float, across: float, diameter: float) -> Knot:
    mark = Mark(name=NAME, limb=limb, at=at, face="back", across=across)
    return make_knot(stave, mark, diameter=diameter, state="live")


def _judged(bow: SolvedBow, stave: Stave, zone: Zone) -> dict[str, float]:
    """Draw the bow with the zone in it and judge the zone.

    Of the layers from back to belly the outermost ones are judged: tension is largest at the
    back, and a cone from the pith parts the fibres of the back most.  The advice and the failure
    probability, which need many more solves, are left out.
    """
    other = drawn(bow.model.setup, stave)
    problem, _ = local_problem(other.model, limb_load(other), zone)
    lost = 1.0 - weight(other) / weight(bow)
    if problem is None:
        return {"measure": 0.0, "weight_loss": lost}
    ends = tuple({id(one): one for one in (problem.layers[0], problem.layers[-1])}.values())
    outcome = judge_zone(replace(problem, layers=ends, element_size=ELEMENT))
    low, typical, high = breaking_used(outcome)
    return {
        "measure": typical,
        "low": low,
        "high": high,
        "fibre": outcome.modes["fibre"].typical,
        "split": outcome.modes["split"].typical,
        "clear_fibre": outcome.clear["fibre"],
        "strength_ratio": outcome.strength_ratio,
        "clear_bow": breaking(bow),
        "weight_loss": lost,
    }


RULES = (
    Rule(
        name="knot_width",
        words="A knot narrower than a third of the width is harmless if its width is left.",
        label=f"{COMMON_PRACTICE}; a standard would allow a knot of a third 0.76 of the strength: "
        "ASTM D245, narrow-face knot (from memory)",
        study="a live knot is put into the back between 0.35 and 0.65 of the limb and the limb is "
        "left wider by its diameter; harmless means that neither a break nor a split is expected",
        varied="knot's diameter, share of the width",
        values=(0.1, 0.2, 1 / 3, 0.45),
        at=1 / 3,
        show_value="share",
        measured="strength used to break or split at the knot",
        show_measure="used",
        low=-np.inf,
        high=1.0,
        target=None,
        loose=0.0,
        trial=knot_with_width,
        why="width makes up for the wood that is missing, not for the fibres that run round the "
        "knot: beside it they part along the grain long before they break",
    ),
    Rule(
        name="knot_outside",
        words="A knot in the outer third of the limb does not matter.",
        label=COMMON_PRACTICE,
        study="a live knot is put into the back between 0.72 and 0.92 of the limb, no width left "
        "for it; it does not matter if neither a break nor a split is expected",
        varied="knot's diameter, share of the width",
        values=(0.15, 0.25, 0.35, 0.5),
        at=0.25,
        show_value="share",
        measured="strength used to break or split at the knot",
        show_measure="used",
        low=-np.inf,
        high=1.0,
        target=None,
        loose=0.0,
        trial=knot_outside,
        why="a well-tillered limb is strained nearly as hard in its outer third as at its middle; "
        "only the last tenth is idle",
    ),
    Rule(
        name="decay",
        words="Decay near the tip does not matter.",
        label=f"{COMMON_PRACTICE}; a handbook would discard the piece, since looks do not tell "
        "what strength is left: FPL, Wood Handbook, FPL-GTR-190 (2010), ch. 5, Decay (read)",
        study=Sentence(
            "a patch of moderate brown rot, {} long, half as wide and a quarter as deep as the "
            "limb, is put into the back; it does not matter if no break or split is expected",
            Length(PATCH),
        ),
        varied="place of the patch, share of the limb",
        values=(0.95, 0.9, 0.8, 0.7, 0.5),
        at=0.9,
        show_value="share",
        measured="strength used to break or split at the patch",
        show_measure="used",
        low=-np.inf,
        high=1.0,
        target=None,
        loose=0.0,
        trial=decay_outside,
        why="rot takes more of the strength than of the stiffness, so a patch still carries load "
        "it can no longer bear; near the tip there is little load, but rot further along than it "
        "looks has less strength than was reckoned with",
    ),
)
