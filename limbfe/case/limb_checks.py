"""Whether the columns of the limbs describe a limb that can exist."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from limbfe.case.messages import Loc, Problem
from limbfe.case.schema import CaseFile, CornerTable, CrownTable, LimbTable
from limbfe.curves import monotone_cubic
from limbfe.stave.columns import COLUMNS, NAMED
from limbfe.units import both_lengths, unit_factor

FASTEST_TWIST = math.radians(5.0) / 0.01
"""rad/m."""
LIMBS = ("upper", "lower")
STEEPEST_TIP = math.radians(80.0)
"""Most that a tip may be bent from the line of the grip, rad."""


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


def said_of_all(file: CaseFile, name: str) -> float | None:
    """Return what a case says of the whole stave for a column, m or rad; its default otherwise."""
    column = NAMED[name]
    value = None
    if column.whole is not None:
        table, key = column.whole
        value = getattr(getattr(file, table), key)
    if isinstance(value, CrownTable):
        return value.crown
    return value if isinstance(value, float) else column.default


def columns(table: LimbTable) -> Iterator[tuple[str, tuple[float, ...]]]:
    """Yield the columns that a limb table gives, station apart."""
    for name in COLUMNS:
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
                elif name in ("crown", "ring_radius") and not value > 0.0:
                    yield Problem(loc, f"must be above zero{_FLATTEST[name]}")
                elif name in ("lean", "twist") and not abs(value) < math.radians(60.0):
                    yield Problem(loc, "must lie between -60 and 60 degrees")
                elif name in SLOPES and not abs(value) < STEEPEST:
                    yield Problem(loc, f"{TOO_STEEP}; bare numbers are degrees")


SLOPES = ("run_out", "sideways_grain", "spiral")
STEEPEST = math.radians(45.0)
TOO_STEEP = 'is steeper than 45 degrees; write a slope such as "1 in 25"'
_FLATTEST = {"crown": '; write "flat" where the back is flat', "ring_radius": ""}
_SCALES = {
    "station": (0.15, 2.0, "a limb", "long"),
    "width": (0.003, 0.15, "a limb", "wide"),
    "thickness": (0.002, 0.1, "a limb", "thick"),
    "crown": (0.001, 10.0, "an arch", "in radius"),
    "ring_radius": (0.001, 10.0, "a pith", "below the back"),
}


def _scales(file: CaseFile) -> Iterator[Problem]:
    """Refuse sizes that no bow has: nearly always a slip of the unit."""
    for side, table in each_table(file):
        for name, (low, high, noun, word) in _SCALES.items():
            values = getattr(table, name) or ()
            if name == "station":
                values = values[-1:]
            for k, value in enumerate(values):
                if low <= value <= high or (NAMED[name].flat and math.isinf(value)):
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
    """Refuse a back that leaves its straight line faster than its own length allows.

    Sideways no limb grows steeper than 0.6; a tip may be bent up to `STEEPEST_TIP` to the back.
    """
    for side, table in each_table(file):
        nothing = (0.0,) * len(table.station)
        reflex, sideways = table.reflex or nothing, table.sideways or nothing
        steep = _steepest(table.station, reflex, sideways)
        rows = zip(table.station, reflex, sideways, strict=True)
        for k, (low, high) in enumerate(itertools.pairwise(rows)):
            run, ahead, aside = (b - a for a, b in zip(low, high, strict=True))
            if abs(aside) > 0.6 * run or math.hypot(ahead, aside) >= run:
                name = "reflex" if abs(ahead) >= abs(aside) else "sideways"
                yield Problem(
                    ("limb", side, name, k + 1),
                    f"moves by {both_lengths(math.hypot(ahead, aside))} within "
                    f"{both_lengths(run)} of limb; it is the distance from a straight line, in "
                    "the unit of the table: measure again",
                )
                break
            if steep[k] > math.sin(STEEPEST_TIP):
                found = (
                    "more than 90"
                    if steep[k] >= 1.0
                    else f"{math.degrees(math.asin(steep[k])):.0f}"
                )
                yield Problem(
                    ("limb", side, "reflex", k + 1),
                    f"bends the back to {found} degrees from the line of the grip here, as a "
                    f"smooth curve through the stations, and {math.degrees(STEEPEST_TIP):.0f} are "
                    "the most; measure again, at more stations round the bend",
                )
                break


def _steepest(
    station: Sequence[float], reflex: Sequence[float], sideways: Sequence[float]
) -> list[float]:
    """Return the steepest slope between any two stations of the smooth curve through them."""
    x = np.array(station)
    curve = monotone_cubic(x, np.column_stack([reflex, sideways]))
    share = np.linspace(0.0, 1.0, 9)
    at = x[:-1, None] + share * np.diff(x)[:, None]
    return [float(slope) for slope in np.hypot(*np.moveaxis(curve(at, 1), -1, 0)).max(axis=1)]


def _turning(file: CaseFile) -> Iterator[Problem]:
    """Refuse a limb twisted faster than wood grows: nearly always a slip of the unit."""
    for side, table in each_table(file):
        rows = itertools.pairwise(zip(table.station, table.twist or (), strict=False))
        for k, ((low, before), (high, after)) in enumerate(rows):
            if abs(after - before) > FASTEST_TWIST * (high - low):
                yield Problem(
                    ("limb", side, "twist", k + 1),
                    f"turns by {math.degrees(abs(after - before)):.3g} degrees within "
                    f"{both_lengths(high - low)} of limb, and 5 degrees within 10 mm (0.39 in) is "
                    "allowed; it is the angle against the middle of the grip, not of the piece",
                )
                break


def _once(file: CaseFile) -> Iterator[Problem]:
    """Refuse what is said both of the whole stave and at its stations."""
    back = file.section.back
    for side, table in each_table(file):
        for name, _ in columns(table):
            whole = NAMED[name].whole
            if name == "crown" and back != "crowned":
                yield Problem(
                    ("section", "back"),
                    f'stands beside the crown column of [limb.{side}]; write back = "crowned" and '
                    "keep the column, or drop the column",
                )
            elif name != "crown" and whole and whole[1] in file.grain.model_fields_set:
                yield Problem(
                    whole, f"is given at the stations of [limb.{side}] too; keep one of them"
                )
        if back == "crowned" and table.crown is None:
            yield Problem(
                ("section", "back"),
                f'needs a crown column in [limb.{side}]; add one, or write back = {{ crown = "90 '
                'mm" }}',
            )


def _grip_joint(file: CaseFile) -> Iterator[Problem]:
    """Both limbs share the section at the middle of the grip."""
    if file.limb.both is not None or file.limb.upper is None or file.limb.lower is None:
        return
    for name in COLUMNS:
        upper, lower = getattr(file.limb.upper, name), getattr(file.limb.lower, name)
        otherwise = said_of_all(file, name) or 0.0
        at_upper = upper[0] if upper is not None else otherwise
        at_lower = lower[0] if lower is not None else otherwise
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
    belly = file.section.belly
    for side, table in each_table(file):
        for k, (width, thickness) in enumerate(zip(table.width, table.thickness, strict=True)):
            arch = 0.0
            at = f"at station {both_lengths(table.station[k])} of [limb.{side}]"
            crown = said_of_all(file, "crown") if table.crown is None else table.crown[k]
            if crown is not None and math.isfinite(crown):
                loc: Loc = ("section", "back", "crown")
                if table.crown is not None:
                    loc = ("limb", side, "crown", k)
                if crown < 0.5 * width:
                    yield Problem(
                        loc,
                        f"is less than half the width {at} ({both_lengths(width)} wide); give a "
                        "larger radius",
                    )
                    return
                arch = crown - math.sqrt(crown**2 - 0.25 * width**2)
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
    _turning,
    _once,
    _grip_joint,
    _layers,
    _outline,
)
"""In this order; each relies on those before it."""
