"""The zones of a stave by name: a zone is a knot or a decayed patch."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from limbfe.errors import CaseError
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Knot
from limbfe.stave.stave import Stave

Zone = Knot | Decay


def zones_of(stave: Stave) -> tuple[Zone, ...]:
    """Return every zone of a stave, knots first, in the order of the case."""
    return (*stave.knots, *stave.decays)


def find_zone(stave: Stave, name: str) -> Zone:
    """Return the zone of a name.

    Raises
    ------
    CaseError
        If there is none; names those there are.
    """
    zones = zones_of(stave)
    for zone in zones:
        if zone.name == name:
            return zone
    raise no_such_zone(name, (zone.name for zone in zones))


def no_such_zone(name: str, known: Iterable[str]) -> CaseError:
    """Return the error of a name that no zone has."""
    there = ", ".join(known) or "none"
    return CaseError(f'"{name}": no knot or decay of that name in this case; it has: {there}')


def with_zone(stave: Stave, zone: Zone) -> Stave:
    """Return the stave with a zone in the place of the one of its name."""
    if isinstance(zone, Knot):
        return replace(
            stave, knots=tuple(zone if one.name == zone.name else one for one in stave.knots)
        )
    return replace(
        stave, decays=tuple(zone if one.name == zone.name else one for one in stave.decays)
    )
