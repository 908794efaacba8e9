"""What a layout assumes, and what its reader is warned of."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from limbfe.analysis.zones.verdicts import GRAVITY
from limbfe.case.limb_checks import each_table
from limbfe.case.load import read_case
from limbfe.case.sheet_load import keeps_round_back
from limbfe.case.sheet_schema import Sheet
from limbfe.log.log import Log
from limbfe.stave.recurve import recurved
from limbfe.studies.lay.results import Layout
from limbfe.units import Length, Sentence, Words

STEEP_GRAIN = 0.1
"""Slope of grain in the face past which a caution is given: 1 in 10 takes a quarter of the strength
(`limbfe rules`)."""

SOUND = GRAVITY[0]
SIZES_STAY = (
    "; its thickness is kept in the middle, so it draws less than with a flatter back "
    "([bow] draw_weight sizes it)"
)
MISSED = 0.001
"""How far (m) a line may pass beside a point that was fixed before that is told."""
FLATTER = 0.0005
"""Wood (m) that is missing at the edges of a back before that is told."""
NEAR_EDGE = 0.003
"""Wood (m) between a knot's rim and the edge below which the edge is to be left wider."""


def assumptions(sheet: Sheet, log: Log, tabulated: bool) -> tuple[Words, ...]:
    """Return what the sheet does not say and what was taken instead."""
    stave, given = sheet.file.stave, sheet.file.spare.model_fields_set
    out: list[Words] = []
    if not log.round:
        out.append(
            "no pith measured: rings are taken flat, branches straight in, and the back of the "
            "wanted bow stays as its case has it"
        )
    elif keeps_round_back(sheet.file, sheet.bow.file):
        pith = log.at("pith", log.x)
        out.append(
            Sentence(
                "the bow keeps the round back of its stave, outermost ring whole: an arch of {} to "
                "{} in radius, the depth of the pith, whatever back the wanted bow has{}",
                Length(float(pith.min())),
                Length(float(pith.max())),
                SIZES_STAY if sheet.file.bow.draw_weight is None else "",
            )
        )
    if stave.fibre is None and sheet.file.grain.spiral == 0.0:
        out.append("no fibre followed: fibres are taken to run along the snapped line")
    if stave.rise is None:
        out.append("no rise measured: the back is taken straight")
    if stave.twist is None:
        out.append("no twist measured: the back is taken untwisted")
    for name, words in (
        ("edge", "least wood beside the limb"),
        ("end", "least wood past each nock"),
        ("straightness", "grip off the line between the tips"),
    ):
        if name not in given:
            out.append(Sentence("{} {}", words, Length(getattr(sheet.file.spare, name))))
    if log.bark > 0.0:
        out.append(Sentence("{} of bark on the back: depths count from under it", Length(log.bark)))
    if log.patches:
        out.append("in the search rot counts as a dead knot as wide; assessed as it is")
    if any(mark.face == "belly" for mark in log.marks):
        out.append("a knot measured on the belly is taken to go on to the back")
    if not tabulated and log.marks:
        out.append("first look: knots count by the width they leave, nothing is assessed")
    return tuple(out)


def cautions(sheet: Sheet, log: Log, best: Layout) -> tuple[Words, ...]:
    """Return what the reader of a layout is warned of."""
    return tuple(_cautions(sheet, log, best))


def _cautions(sheet: Sheet, log: Log, best: Layout) -> Iterator[Words]:
    bent = bool(np.any(recurved(best.bow)))
    if bent:
        yield (
            "the wanted bow's recurve is bent in by heat once it is roughed out: laid.toml has its "
            "reflex on top of the stave's, the pictures show the stave before"
        )
    if sheet.file.bow.case is not None:
        own = [
            name
            for _, table in each_table(read_case(sheet.bow.path).file)
            for name in ("reflex", "sideways", "twist")
            if any(getattr(table, name) or ()) and not (name == "reflex" and bent)
        ]
        if own:
            yield Sentence(
                "the wanted bow's own {} is left out: laid.toml has the stave's",
                " and ".join(dict.fromkeys(own)),
            )
    slope = float(np.max(np.abs(np.tan(best.laid.sideways_slope))))
    if slope > STEEP_GRAIN:
        yield f"grain is cut across at 1 in {1.0 / slope:.0f}: the limb is that much weaker there"
    if best.laid.thin_sapwood:
        yield "the sapwood is thicker than the limb in places: 1 mm of heartwood is assumed there"
    if log.cracks:
        yield Sentence(
            "a check runs further than it shows: {} past its end were kept clear", Length(0.02)
        )
    laid = best.laid
    short = laid.width**2 / 8.0 * (1.0 / laid.ring_radius - 1.0 / laid.crown)
    k = int(np.argmax(short))
    if short[k] > FLATTER:
        yield Sentence(
            "the stave's back is rounder than that under the backing: it has to be planed down, "
            "and laid.toml is up to {} too thick at its edges; want the bow that much thinner",
            Length(float(short[k])),
        )
    for point in sheet.file.fix.through:
        missed = abs(float(best.line.offset_at(point.at)) - point.across)
        if best.line.x[0] <= point.at <= best.line.x[-1] and missed > MISSED:
            yield Sentence(
                "the line passes {} beside the point that was fixed {} from the butt: edges, "
                "checks and straightness let it no nearer",
                Length(missed),
                Length(point.at),
            )
    doubtful = [f"{name}: {word}" for name, word in best.verdicts.items() if word != SOUND]
    if doubtful:
        yield f"{'; '.join(doubtful)} (assess laid.toml: it says what would make it sound)"
    for knot in best.knots:
        if knot.name in best.in_edge:
            yield (
                f"{knot.name} is cut by the edge, where common practice trusts no knot, whatever "
                "its figure: leave more width there, or another line"
            )
        elif knot.edge is not None and knot.edge < NEAR_EDGE:
            yield f"{knot.name} lies at the edge: leave more width there until it is tillered"
