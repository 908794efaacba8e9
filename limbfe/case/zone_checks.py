"""Whether the knots and patches of a case fit the limb they are said to be in."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Protocol

import numpy as np

from limbfe.case.messages import Loc, Problem
from limbfe.case.schema import CaseFile
from limbfe.case.zone_tables import DecayTable, FillerTable, KnotTable, MultipliersTable
from limbfe.stave.knot import SWIRL_REACH, knots_meet
from limbfe.stave.marks import signed_station
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave
from limbfe.units import Length, Sentence, both_lengths
from limbfe.wood.source import Assumption

MOST_LEAN = math.radians(60.0) + 1e-9
"""Of a branch, rad; a steeper one lies in the limb as a spike rather than crosses it."""


def zone_problems(file: CaseFile, stave: Stave) -> Iterator[Problem]:
    """Yield what is wrong with the knots and patches.

    Parameters
    ----------
    file : CaseFile
    stave : Stave
        The limbs, without knots and patches.
    """
    yield from _names(file)
    for k, knot in enumerate(file.knot):
        yield from _knot(knot, ("knot", k), stave)
    yield from _overlaps(file)
    for k, decay in enumerate(file.decay):
        yield from _decay(decay, ("decay", k), stave)


def zone_cautions(file: CaseFile) -> tuple[Assumption, ...]:
    """Return one line for each zone that is accepted and cannot be judged: those in the handle."""
    half = file.grip.half
    zones: list[tuple[str, KnotTable | DecayTable]] = [
        *(("knot", knot) for knot in file.knot),
        *(("decay", decay) for decay in file.decay),
    ]
    return tuple(
        Assumption(
            f'{kind} "{zone.name}"',
            Sentence(
                "lies in the stiff handle, {} from the middle of the grip: nothing bends there, "
                "so it is not judged",
                Length(zone.at),
            ),
        )
        for kind, zone in zones
        if zone.at < half
    )


def meeting_problems(stave: Stave) -> Iterator[Problem]:
    """Yield the knots that leave the limb at its end, or meet others inside it.

    Parameters
    ----------
    stave : Stave
        With its knots, in the order of the file.
    """
    for k, knot in enumerate(stave.knots):
        end = float(knot.entry[0] + knot.length * knot.direction[0])
        if not stave.x[0] < end < stave.x[-1]:
            yield Problem(
                ("knot", k, "lean"),
                "leads the branch out of the limb at its nock, and a knot runs from face to face; "
                "give the lean measured there, or none",
            )
    for (_, one), (k, two) in itertools.combinations(enumerate(stave.knots), 2):
        if one.face != two.face and knots_meet(one, two):
            yield Problem(
                ("knot", k, "at"),
                f'meets knot "{one.name}" inside the limb; enter a knot that shows on both faces '
                "once, with its far_diameter, and two that grow together as one that covers both",
            )


def _names(file: CaseFile) -> Iterator[Problem]:
    names = [(("knot", k), zone.name) for k, zone in enumerate(file.knot)]
    names += [(("decay", k), zone.name) for k, zone in enumerate(file.decay)]
    seen: set[str] = set()
    for loc, name in names:
        if name in seen:
            yield Problem(
                (*loc, "name"), "is the name of another knot or patch too; give each its own"
            )
        seen.add(name)


def _station(zone: KnotTable | DecayTable, loc: Loc, stave: Stave) -> Iterator[Problem]:
    tip = float(stave.x[-1] if zone.limb == "upper" else -stave.x[0])
    if zone.at < 0.0:
        other = "lower" if zone.limb == "upper" else "upper"
        yield Problem(
            (*loc, "at"),
            "stations count from the middle of the grip outward and are never negative; write "
            f'limb = "{other}" for the other limb',
        )
    elif zone.at >= tip:
        yield Problem(
            (*loc, "at"),
            f"lies beyond the nock of the {zone.limb} limb ({both_lengths(tip)}); measure from "
            "the middle of the grip along the back",
        )


def _face(zone: KnotTable | DecayTable, stave: Stave) -> tuple[float, float, str]:
    """Return the size of the zone's face across the limb, the wood behind it and its name."""
    shapes = shape_at(stave, np.array([signed_station(zone.limb, zone.at)]))
    width, thickness = float(shapes.width[0]), float(shapes.thickness[0])
    if zone.face in ("back", "belly"):
        return width, thickness, "wide"
    return thickness, width, "thick"


class _Filled(Protocol):
    @property
    def state(self) -> str: ...
    @property
    def filler(self) -> FillerTable | None: ...


def filler_problems(knot: _Filled, loc: Loc) -> Iterator[Problem]:
    """Yield what is wrong when a knot's state and its filler contradict each other."""
    if knot.state == "filled" and knot.filler is None:
        yield Problem(
            (*loc, "state"),
            'needs a filler; add filler = "epoxy" or filler = "wood dust and glue", or your own: '
            'filler = { E = "2.5 GPa", tension = "40 MPa", shear = "20 MPa" }',
        )
    if knot.state not in ("filled", "drilled") and knot.filler is not None:
        yield Problem(
            (*loc, "state"),
            'has a filler; write state = "filled" (or "drilled", where the hole was drilled before '
            "it was filled) or drop the filler",
        )


def _knot(knot: KnotTable, loc: Loc, stave: Stave) -> Iterator[Problem]:
    yield from filler_problems(knot, loc)
    if not abs(knot.lean) <= MOST_LEAN:
        yield Problem(
            (*loc, "lean"),
            "must lie between -60 and 60 degrees; it is measured from square to the limb, positive "
            "for a branch that grows towards the tip",
        )
        return
    wrong = list(_station(knot, loc, stave))
    yield from wrong
    if wrong:
        return
    room, _, word = _face(knot, stave)
    for key in ("diameter", "far_diameter"):
        size = getattr(knot, key)
        if size is not None and size >= room:
            yield Problem(
                (*loc, key),
                f"the limb is only {both_lengths(room)} {word} there; correct the knot or its "
                "place: no bow is left at a knot across the whole limb",
            )
            return
    beyond = abs(knot.across) - room / 2.0
    if beyond > SWIRL_REACH * knot.diameter / 2.0:
        yield Problem(
            (*loc, "across"),
            f"lies {both_lengths(beyond)} outside the limb, which is {both_lengths(room)} {word} "
            "there: too far for its swirl to reach the wood; correct it or leave the knot out",
        )


def _overlaps(file: CaseFile) -> Iterator[Problem]:
    for (_, one), (k, two) in itertools.combinations(enumerate(file.knot), 2):
        if (one.limb, one.face) != (two.limb, two.face):
            continue
        distance = math.hypot(one.at - two.at, one.across - two.across)
        if distance < 0.5 * (one.diameter + two.diameter):
            yield Problem(
                ("knot", k, "at"),
                f'overlaps knot "{one.name}", whose middle is {both_lengths(distance)} away; '
                "describe both as one knot that covers them",
            )


def _decay(decay: DecayTable, loc: Loc, stave: Stave) -> Iterator[Problem]:
    yield from severity_problems(decay, loc)
    wrong = list(_station(decay, loc, stave))
    yield from wrong
    if wrong:
        return
    room, deep, word = _face(decay, stave)
    if decay.width > room:
        yield Problem(
            (*loc, "width"),
            f"the limb is only {both_lengths(room)} {word} there; give at most that",
        )
    if decay.depth > deep:
        yield Problem(
            (*loc, "depth"),
            f"the limb is only {both_lengths(deep)} deep behind that face; give at most that",
        )
    if abs(decay.across) > room / 2.0:
        yield Problem(
            (*loc, "across"),
            f"lies outside the limb, which is {both_lengths(room)} {word} there; give at most "
            f"{both_lengths(room / 2.0)} to either side",
        )
    tip = float(stave.x[-1] if decay.limb == "upper" else -stave.x[0])
    outward, inward = tip - decay.at, decay.at + stave.half_grip
    if decay.length > 2.0 * outward:
        yield Problem(
            (*loc, "length"),
            f"reaches past the nock, which is {both_lengths(outward)} from its middle; give twice "
            "that at most, or the middle of the part that is on the limb",
        )
    elif decay.length > 2.0 * inward:
        yield Problem(
            (*loc, "length"),
            f"reaches through the grip into the other limb; give {both_lengths(2.0 * inward)} at "
            "most, and the rest as a patch of the other limb",
        )


class _Decayed(Protocol):
    @property
    def stage(self) -> str | None: ...
    @property
    def rot(self) -> str | None: ...
    @property
    def multipliers(self) -> MultipliersTable | None: ...


def severity_problems(decay: _Decayed, loc: Loc) -> Iterator[Problem]:
    """Yield what is wrong with what is said of how far a patch has gone."""
    if decay.multipliers is None:
        if decay.stage is not None:
            return
        yield Problem(
            loc,
            'needs a stage, "incipient", "moderate" or "advanced", or multipliers = { E = 0.9, '
            "... }",
        )
        return
    names = type(decay.multipliers).model_fields
    missing = [name for name in names if getattr(decay.multipliers, name) is None]
    if missing and decay.stage is None:
        yield Problem(
            (*loc, "multipliers"),
            f"lacks {', '.join(missing)}; give them all, or a stage that supplies the rest",
        )
    for key in ("stage", "rot"):
        if not missing and getattr(decay, key) is not None:
            yield Problem((*loc, key), "says nothing beside a full set of multipliers; drop it")
