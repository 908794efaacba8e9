"""Whether the knots and patches of a case fit the limb they are said to be in."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np

from limbfe.case.messages import Loc, Problem
from limbfe.case.schema import CaseFile
from limbfe.case.zone_tables import DecayTable, KnotTable
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave
from limbfe.units import both_lengths

SWIRL_REACH = 3.0
"""Radii from a knot's middle beyond which the fibres run nearly straight: the disturbance of the
flow round an ellipse falls with the square of the distance, below 7 degrees at three radii."""


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


def zone_cautions(file: CaseFile) -> tuple[str, ...]:
    """Return one line for each zone that is accepted and cannot be judged: those in the handle."""
    half = file.grip.stiff_length / 2.0
    zones: list[tuple[str, KnotTable | DecayTable]] = [
        *(("knot", knot) for knot in file.knot),
        *(("decay", decay) for decay in file.decay),
    ]
    return tuple(
        f'{kind} "{zone.name}" lies in the stiff handle, {both_lengths(zone.at)} from the middle '
        "of the grip: nothing bends there, so it is not judged"
        for kind, zone in zones
        if zone.at < half
    )


def signed_station(zone: KnotTable | DecayTable) -> float:
    """Return the zone's station along the whole bow (m), negative on the lower limb."""
    return zone.at if zone.limb == "upper" else -zone.at


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
    shapes = shape_at(stave, np.array([signed_station(zone)]))
    width, thickness = float(shapes.width[0]), float(shapes.thickness[0])
    if zone.face in ("back", "belly"):
        return width, thickness, "wide"
    return thickness, width, "thick"


def _knot(knot: KnotTable, loc: Loc, stave: Stave) -> Iterator[Problem]:
    if knot.state == "filled" and knot.filler is None:
        yield Problem(
            (*loc, "state"),
            'needs a filler; add filler = { E = "2.5 GPa", tension = "40 MPa", shear = "20 MPa" }',
        )
    if knot.state != "filled" and knot.filler is not None:
        yield Problem((*loc, "state"), 'has a filler; write state = "filled" or drop the filler')
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
    yield from _severity(decay, loc)
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


def _severity(decay: DecayTable, loc: Loc) -> Iterator[Problem]:
    if decay.stage is not None:
        return
    if decay.multipliers is None:
        yield Problem(
            loc,
            'needs a stage, "incipient", "moderate" or "advanced", or multipliers = { E = 0.9, '
            "... }",
        )
        return
    names = type(decay.multipliers).model_fields
    missing = [name for name in names if getattr(decay.multipliers, name) is None]
    if missing:
        yield Problem(
            (*loc, "multipliers"),
            f"lacks {', '.join(missing)}; give them all, or a stage that supplies the rest",
        )
    elif decay.rot is not None:
        yield Problem((*loc, "rot"), "says nothing beside a full set of multipliers; drop it")
