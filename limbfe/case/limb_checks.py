"""Whether the columns of the limbs describe a limb that can exist."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator

from limbfe.case.messages import Problem
from limbfe.case.schema import CaseFile, CornerTable, CrownTable, LimbTable
from limbfe.units import both_lengths, unit_factor

LIMBS = ("upper", "lower")


def limb_tables(file: CaseFile) -> dict[str, tuple[str, LimbTable]]:
    """Return each limb's heading and table: both stand under "both" when the limbs are alike."""
    if file.limb.both is not None:
        return dict.fromkeys(LIMBS, ("both", file.limb.both))
    return {
        limb: (limb, table) for limb in LIMBS if (table := getattr(file.limb, limb)) is not None
    }


def each_table(file: CaseFile) -> Iterator[tuple[str, LimbTable]]:
    """Yield every limb table once, with its heading."""
    yield from dict(limb_tables(file).values()).items()


def _limbs(file: CaseFile) -> Iterator[Problem]:
    limb = file.limb
    if limb.both is not None:
        for name in LIMBS:
            if getattr(limb, name) is not None:
                yield Problem(
                    ("limb", name),
                    "stands beside [limb.both]; keep [limb.both] for limbs alike, or write "
                    "[limb.upper] and [limb.lower]",
                )
    elif limb.upper is None and limb.lower is None:
        yield Problem(
            ("limb",),
            "holds no limb; add [limb.both], or [limb.upper] and [limb.lower], or a [taper]",
        )
    else:
        for name, other in zip(LIMBS, reversed(LIMBS), strict=True):
            if getattr(limb, name) is None:
                yield Problem(
                    ("limb", other),
                    f"stands without [limb.{name}]; add it, or write [limb.both] for limbs alike",
                )


_COLUMNS = ("width", "thickness", "sapwood", "lean", "backing", "reflex", "sideways")


def columns(table: LimbTable) -> Iterator[tuple[str, tuple[float, ...]]]:
    """Yield the columns that a limb table gives, station apart."""
    for name in _COLUMNS:
        values = getattr(table, name)
        if values is not None:
            yield name, values


def _stations(file: CaseFile) -> Iterator[Problem]:
    for side, table in each_table(file):
        loc = ("limb", side, "station")
        if len(table.station) < 2:
            yield Problem(loc, "needs at least two stations: 0 at the grip and one at the nock")
            continue
        if table.station[0] != 0.0:
            yield Problem(
                (*loc, 0),
                f"the first station must be 0, the middle of the grip; {_measured(table)}",
            )
        for k, (low, high) in enumerate(itertools.pairwise(table.station)):
            if not high > low:
                yield Problem(
                    (*loc, k + 1),
                    f"stations must increase and the one before is {both_lengths(low)}; sort the "
                    "rows or remove the double one",
                )
                break
            if high - low < 1e-4:
                yield Problem((*loc, k + 1), "stations must be at least 0.1 mm apart; remove one")
                break
        for name, values in columns(table):
            if len(values) != len(table.station):
                yield Problem(
                    ("limb", side, name),
                    f"has {len(values)} values for {len(table.station)} stations; give one for "
                    "each",
                )


def _measured(table: LimbTable) -> str:
    if table.station[-1] == 0.0:
        return "were these measured from the tip? Then turn every column round"
    return "measure from there"


def _tips(file: CaseFile) -> Iterator[Problem]:
    """Refuse a limb that is both widest and thickest at its nock: columns written tip first."""
    for side, table in each_table(file):
        if table.width[-1] > table.width[0] and table.thickness[-1] > table.thickness[0]:
            yield Problem(
                ("limb", side, "width", len(table.width) - 1),
                f"is the nock, wider than the grip ({both_lengths(table.width[0])}) and thicker "
                "too; stations count from the grip: were these measured from the tip? Then turn "
                "the other columns round",
            )


def _signs(file: CaseFile) -> Iterator[Problem]:
    for side, table in each_table(file):
        for name, values in columns(table):
            for k, value in enumerate(values):
                loc = ("limb", side, name, k)
                if name in ("width", "thickness") and not value > 0.0:
                    yield Problem(loc, "must be above zero at every station, the nock included")
                elif name in ("sapwood", "backing") and value < 0.0:
                    yield Problem(loc, "cannot be negative; write 0 where there is none")
                elif name == "lean" and not abs(value) < math.radians(60.0):
                    yield Problem(loc, "must lie between -60 and 60 degrees")


_SCALES = {
    "station": (0.15, 2.0, "a limb", "long"),
    "width": (0.003, 0.15, "a limb", "wide"),
    "thickness": (0.002, 0.1, "a limb", "thick"),
}


def _scales(file: CaseFile) -> Iterator[Problem]:
    """Refuse sizes that no bow has: nearly always a slip of the unit."""
    for side, table in each_table(file):
        for name, (low, high, noun, word) in _SCALES.items():
            values = getattr(table, name)
            if name == "station":
                values = values[-1:]
            for k, value in enumerate(values):
                if low <= value <= high:
                    continue
                at = len(table.station) - 1 if name == "station" else k
                yield Problem(
                    ("limb", side, name, at),
                    f"is {noun} {both_lengths(value)} {word}, and between "
                    f"{both_lengths(low)} and {both_lengths(high)} is allowed"
                    + _unit_slip(values, low, high, table.unit),
                )
                break


def _unit_slip(values: tuple[float, ...], low: float, high: float, unit: str | None) -> str:
    """Return a guess at the unit that was meant by a column read in `unit`."""
    if unit is not None:
        for meant in ("mm", "cm", "in", "m", "ft"):
            ratio = unit_factor(meant, "length") / unit_factor(unit, "length")
            if all(low <= ratio * value <= high for value in values):
                return f'; was unit = "{meant}" meant?'
    return "; check the number and its unit"


def _course(file: CaseFile) -> Iterator[Problem]:
    """Refuse a back that leaves its straight line faster than its own length allows."""
    for side, table in each_table(file):
        nothing = (0.0,) * len(table.station)
        reflex, sideways = table.reflex or nothing, table.sideways or nothing
        rows = zip(table.station, reflex, sideways, strict=True)
        for k, (low, high) in enumerate(itertools.pairwise(rows)):
            run, ahead, aside = (b - a for a, b in zip(low, high, strict=True))
            # The smooth curve through the stations is up to half again as steep as its chords.
            if math.hypot(ahead, aside) > 0.6 * run:
                name = "reflex" if abs(ahead) >= abs(aside) else "sideways"
                yield Problem(
                    ("limb", side, name, k + 1),
                    f"moves by {both_lengths(math.hypot(ahead, aside))} within "
                    f"{both_lengths(run)} of limb; it is the distance from a straight line, in "
                    "the unit of the table: measure again",
                )
                break


def _grip_joint(file: CaseFile) -> Iterator[Problem]:
    """Both limbs share the section at the middle of the grip."""
    if file.limb.both is not None or file.limb.upper is None or file.limb.lower is None:
        return
    for name in _COLUMNS:
        upper, lower = getattr(file.limb.upper, name), getattr(file.limb.lower, name)
        at_upper = upper[0] if upper is not None else 0.0
        at_lower = lower[0] if lower is not None else 0.0
        if abs(at_upper - at_lower) > 1e-9:
            loc = ("limb", "lower" if lower is not None else "upper", name, 0)
            yield Problem(
                loc,
                "differs from the other limb's value at station 0, and both limbs share the middle "
                "of the grip; give the same value in both",
            )


def _layers(file: CaseFile) -> Iterator[Problem]:
    for side, table in each_table(file):
        nothing = (0.0,) * len(table.station)
        sapwood, backing = table.sapwood or nothing, table.backing or nothing
        for k, thickness in enumerate(table.thickness):
            if sapwood[k] + backing[k] >= thickness:
                name = "sapwood" if sapwood[k] >= backing[k] else "backing"
                beside = " with the backing" if sapwood[k] and backing[k] else ""
                yield Problem(
                    ("limb", side, name, k),
                    f"leaves no heartwood{beside}: the limb is {both_lengths(thickness)} thick "
                    "there; correct it, or call an all-sapwood stave [wood.whole]",
                )
                break
    tables = [table for _, table in each_table(file)]
    for name in ("sapwood", "backing"):
        present = any(any(getattr(table, name) or ()) for table in tables)
        if not present and getattr(file.wood, name) is not None:
            yield Problem(
                ("wood", name),
                f"is described, but no limb has a {name} column; add its thickness at each station",
            )
    if file.wood.backing is None and any(any(table.backing or ()) for table in tables):
        side = next(side for side, table in each_table(file) if any(table.backing or ()))
        yield Problem(
            ("limb", side, "backing"), "is given, but not its wood; describe it in [wood.backing]"
        )


def _outline(file: CaseFile) -> Iterator[Problem]:
    back, belly = file.section.back, file.section.belly
    for side, table in each_table(file):
        for k, (width, thickness) in enumerate(zip(table.width, table.thickness, strict=True)):
            arch = 0.0
            at = f"at station {both_lengths(table.station[k])} of [limb.{side}]"
            if isinstance(back, CrownTable):
                loc = ("section", "back", "crown")
                if back.crown < 0.5 * width:
                    yield Problem(
                        loc,
                        f"is less than half the width {at} ({both_lengths(width)} wide); give a "
                        "larger radius",
                    )
                    return
                arch = back.crown - math.sqrt(back.crown**2 - 0.25 * width**2)
                if arch > 0.9 * thickness:
                    yield Problem(
                        loc,
                        f"arches the back by {both_lengths(arch)} {at}, nearly the whole "
                        f"thickness of {both_lengths(thickness)}; give a larger radius",
                    )
                    return
            room = min(0.5 * width, thickness - arch)
            if isinstance(belly, CornerTable) and belly.corner > room:
                yield Problem(
                    ("section", "belly", "corner"),
                    f"does not fit {at}: at most {both_lengths(room)} there; make it smaller",
                )
                return


LIMB_CHECKS: tuple[Callable[[CaseFile], Iterator[Problem]], ...] = (
    _limbs,
    _stations,
    _signs,
    _scales,
    _tips,
    _course,
    _grip_joint,
    _layers,
    _outline,
)
"""In this order; each relies on those before it."""
