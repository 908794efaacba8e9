"""What the types cannot see: whether the numbers of a case describe a bow."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from limbfe.analysis.bow.setup import LEAST_BRACE
from limbfe.case.limb_checks import LIMB_CHECKS, STEEPEST, TOO_STEEP, each_table, limb_tables
from limbfe.case.messages import Problem, first_found
from limbfe.case.schema import CaseFile
from limbfe.case.wood_checks import wood_problems
from limbfe.memory import ANYWAY, MOST_MEMORY, large_is_allowed
from limbfe.units import both_lengths

SHORTEST_DRAW, LONGEST_DRAW = 0.1, 1.5
"""Draw lengths (m) that a bow may have."""
SHORTEST_LOAD = 1.0
"""Seconds for which a bow is held drawn at the least; the curve of strength over the duration of
load rises without end towards shorter ones."""

MOST_WORK = 400.0
"""Of elements a limb times the cube of the fineness, as time and memory grow: ten seconds or so."""

MEMORY = (0.28e9, 0.3e6)
"""Bytes that a draw takes at most: at all, and for every step times elements a limb times the
square of the fineness (measured: 0.20 to 0.34 MB, with 30 to 300 steps and 12 to 100 elements)."""
MOST_ZONES = 60
"""Knots and patches of one bow: each is judged by models of its own, a second or two."""


def file_problems(file: CaseFile) -> Iterator[Problem]:
    """Yield what is physically impossible or contradictory, the most basic first."""
    return first_found(check(file) for check in _CHECKS)


def _work(file: CaseFile) -> Iterator[Problem]:
    """Refuse meshes that a slip of the pen makes so fine that no end is in sight."""
    if large_is_allowed():
        return
    elements, fineness = file.analysis.elements_per_limb, file.analysis.fineness
    if elements * fineness**3 > MOST_WORK:
        most = math.floor(100.0 * (MOST_WORK / elements) ** (1.0 / 3.0)) / 100.0
        yield Problem(
            ("analysis", "fineness"),
            f"with elements_per_limb = {elements} takes too long; at most {most:g} goes with that "
            f"many elements, and at 2 the sections are exact to some millionths{ANYWAY}",
        )
        return
    base, each = MEMORY
    a_step = each * elements * fineness**2
    if base + a_step * file.draw.steps > MOST_MEMORY:
        yield Problem(
            ("draw", "steps"),
            f"with elements_per_limb = {elements} and fineness = {fineness:g} takes some "
            f"{(base + a_step * file.draw.steps) / 1e9:.1f} GB of memory; at most "
            f"{math.floor((MOST_MEMORY - base) / a_step)} steps go with them, and 30 are plenty"
            f"{ANYWAY}",
        )
    for name, zones in (("knot", file.knot), ("decay", file.decay)):
        if len(zones) > MOST_ZONES:
            yield Problem(
                (name, MOST_ZONES),
                f"is one of {len(zones)}; a bow may have {MOST_ZONES}: leave out those that are "
                f"smaller than the tip of a pencil{ANYWAY}",
            )


def _sizes(file: CaseFile) -> Iterator[Problem]:
    """Refuse sizes that no bow has: nearly always a slip of the unit."""
    yield from _scale("draw", "length", file.draw.length, SHORTEST_DRAW, LONGEST_DRAW)
    if file.string.brace_height is not None:
        yield from _scale("string", "brace_height", file.string.brace_height, LEAST_BRACE, 0.6)
    for table, key, seconds in (
        ("draw", "held", file.draw.held),
        ("string", "strung", file.string.strung),
    ):
        if seconds is not None and seconds < SHORTEST_LOAD:
            yield Problem(
                (table, key),
                f"must be {SHORTEST_LOAD:g} s or more, a quick draw; check the number and its unit",
            )
    if file.string.stiffness is not None and not 500.0 <= file.string.stiffness <= 1e7:
        yield Problem(
            ("string", "stiffness"),
            "must lie between 500 N and 10000 kN: it is the force for a strain of 1, not the load "
            "the string bears; EA of a thin string is some tens of kN",
        )
    if file.string.mass is not None and file.string.mass > 0.2:
        yield Problem(("string", "mass"), "must be at most 200 g; a bow string weighs 5 to 20 g")


def _scale(table: str, key: str, value: float, low: float, high: float) -> Iterator[Problem]:
    if not low <= value <= high:
        yield Problem(
            (table, key),
            f"must lie between {both_lengths(low)} and {both_lengths(high)}; check the number "
            "and its unit",
        )


def _grip(file: CaseFile) -> Iterator[Problem]:
    grip = file.grip
    shortest = min(table.station[-1] for _, table in each_table(file))
    if grip.half > 0.8 * shortest:
        yield Problem(
            ("grip", "stiff_length"),
            f"leaves hardly any limb to bend: the shorter limb is {both_lengths(shortest)} long; "
            "it is the length of the handle only",
        )
    reach = grip.half if grip.stiff_length > 0.0 else 0.15 * shortest
    if grip.hold == "hand" and abs(grip.hand_at) > reach:
        yield Problem(
            ("grip", "hand_at"),
            f"lies outside the grip, which reaches {both_lengths(reach)} from its middle; "
            "positive is above the middle, negative below",
        )
    if abs(grip.arrow_at) > 0.3 * shortest:
        yield Problem(
            ("grip", "arrow_at"),
            f"lies too far up the limb: at most {both_lengths(0.3 * shortest)} from the middle of "
            "the grip",
        )


def _string(file: CaseFile) -> Iterator[Problem]:
    string, loc = file.string, ("string",)
    if string.brace_height is None and string.length is None:
        yield Problem(
            loc, 'needs a brace height or a length; add for instance brace_height = "150 mm"'
        )
    elif string.brace_height is not None and string.length is not None:
        yield Problem(
            (*loc, "length"), "is given beside brace_height; keep one, the other follows from it"
        )
    if string.stiffness is None and string.material is None:
        yield Problem(
            loc,
            'needs a stiffness EA, such as stiffness = "40 kN", or a material with strands',
        )
    elif string.stiffness is not None and string.material is not None:
        yield Problem((*loc, "material"), "is given beside stiffness; keep one")
    elif string.material is not None and string.strands is None:
        yield Problem((*loc, "material"), "needs a strand count; add for instance strands = 12")
    elif string.material is None and string.strands is not None:
        yield Problem((*loc, "strands"), "says nothing without a material; add material or drop it")


def _shot(file: CaseFile) -> Iterator[Problem]:
    shot = file.shot
    pair = (("hand_mass", shot.hand_mass), ("hand_stiffness", shot.hand_stiffness))
    given = [key for key, value in pair if value is not None]
    if len(given) == 1:
        other = "hand_stiffness" if given == ["hand_mass"] else "hand_mass"
        yield Problem(("shot", given[0]), f"says nothing without {other}; give both, or neither")
    elif given and file.grip.hold != "hand":
        yield Problem(
            ("shot", "hand_mass"),
            f'says nothing of a bow held by a {file.grip.hold}; write hold = "hand" in [grip]',
        )


def _reach(file: CaseFile) -> Iterator[Problem]:
    """Compare brace, string and draw with the bow and with each other."""
    limbs = limb_tables(file)
    length = sum(table.station[-1] for _, table in limbs.values())
    thickness = limbs["upper"][1].thickness[0]
    draw, brace, string = file.draw.length, file.string.brace_height, file.string.length
    if brace is not None and brace + thickness >= draw:
        yield Problem(
            ("string", "brace_height"),
            f"puts the braced string {both_lengths(brace + thickness)} from the back, and "
            f"[draw] length is {both_lengths(draw)}; draw further than the brace height",
        )
    if draw >= 0.75 * length:
        yield Problem(
            ("draw", "length"),
            f"is out of reach of a bow {both_lengths(length)} long; check both and their units",
        )
    if string is None:
        return
    slack = sum(math.hypot(table.station[-1], draw) for _, table in limbs.values())
    if string >= slack:
        yield Problem(
            ("string", "length"),
            f"would still hang loose at full draw: the straight bow is {both_lengths(length)} "
            f"long and at this draw reaches {both_lengths(slack)}; give a shorter string",
        )
    if string < 0.6 * length:
        yield Problem(
            ("string", "length"),
            f"is too short for a bow {both_lengths(length)} long; check it and its unit",
        )


def _nocks(file: CaseFile) -> Iterator[Problem]:
    for side, table in each_table(file):
        if abs(file.string.nock_offset) > 5.0 * table.thickness[-1]:
            yield Problem(
                ("string", "nock_offset"),
                f"lies far outside the tip of [limb.{side}], which is "
                f"{both_lengths(table.thickness[-1])} thick; check it and its unit",
            )
            return
        if file.string.nock_offset > 0.5 * table.thickness[-1] + 1e-9:
            yield Problem(
                ("string", "nock_offset"),
                f"lies behind the back of the tip of [limb.{side}], which is "
                f"{both_lengths(table.thickness[-1])} thick: the string would cross the limb from "
                "the back; give at most half of that, less than nothing towards the belly",
            )
            return


def _grain(file: CaseFile) -> Iterator[Problem]:
    for name in ("run_out", "sideways", "spiral"):
        if not abs(getattr(file.grain, name)) < STEEPEST:
            yield Problem(("grain", name), TOO_STEEP)


_CHECKS: tuple[Callable[[CaseFile], Iterator[Problem]], ...] = (
    wood_problems,
    _work,
    *LIMB_CHECKS,
    _sizes,
    _grip,
    _string,
    _shot,
    _reach,
    _nocks,
    _grain,
)
