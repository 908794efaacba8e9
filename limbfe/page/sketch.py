"""The bow drawn from what can be read of a case: back, belly, side, and one section."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from limbfe.case.build import build_stave
from limbfe.case.limb_checks import limb_tables
from limbfe.case.schema import Case
from limbfe.frames import Array
from limbfe.page.columns import Rows, quantity_or_none, read_rows
from limbfe.stave.columns import COLUMNS, read_between
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Knot, radius_at
from limbfe.stave.marks import signed_station
from limbfe.stave.outline import back_z, backing_z, belly_z, sapwood_z
from limbfe.stave.profile import SectionShapes
from limbfe.stave.stave import Stave
from limbfe.units import IMPERIAL, METRIC

POINTS = 90
"""Places along the bow at which it is drawn, beside its stations."""
ACROSS = 41
"""Points across a section."""
SHAPE = ("width", "thickness", "sapwood", "lean", "backing", "crown")


def draw_sketch(raw: Mapping[str, Any], case: Case | None, at: float | None) -> dict[str, Any]:
    """Return the drawing in mm, ready to be laid out.

    Parameters
    ----------
    raw : mapping
        The case as TOML gave it, CSV columns filled in, however wrong.
    case : Case or None
        The same, where it was found sound: knots are then drawn as the bow has them.
    at : float or None, m
        Station of the section; the middle of the upper limb when left out.

    Returns
    -------
    dict
        ``"bow"``: `x`, `half_width`, `aside` (to the archer's right), `back` (ahead), `thickness`,
        `sapwood`, `backing` along it, the `stations` with their row in the case, the `grip`'s
        half length; None where there is nothing to draw.
        ``"zones"``: knots and patches on their faces, with what is known of their size.
        ``"section"``: see `_section`.
    """
    rows = _rows(raw, case)
    if rows is None:
        return {"bow": None, "zones": [], "section": None}
    x = np.unique(np.concatenate([np.linspace(rows.x[0], rows.x[-1], POINTS), rows.x]))
    known = read_between(rows.x, rows.columns, x)
    zero = np.zeros_like(x)
    stave = None if case is None else build_stave(case)
    return {
        "bow": {
            "x": _mm(x),
            "half_width": _mm(0.5 * known["width"]),
            "aside": _mm(known.get("sideways", zero)),
            "back": _mm(known.get("reflex", zero)),
            "thickness": _mm(known["thickness"]),
            "sapwood": _mm(known.get("sapwood", zero)),
            "backing": _mm(known.get("backing", zero)),
            "grip": _grip(raw),
            "stations": [
                {"x": round(1e3 * float(x), 2), "limb": side, "row": row}
                for x, (side, row) in zip(rows.x, rows.place, strict=True)
            ],
        },
        "zones": _zones(raw, rows, stave),
        "section": _section(raw, rows, stave, at),
    }


def _mm(values: Array) -> list[float]:
    return [round(1e3 * float(value), 2) for value in values]


def _rows(raw: Mapping[str, Any], case: Case | None) -> Rows | None:
    """Return the stations: those a taper stands for where there is one and it is sound."""
    if case is not None and case.file.taper is not None:
        tables = limb_tables(case.file)
        table = tables["upper"][1]
        limb = {name: getattr(table, name) for name in ("station", *COLUMNS)}
        given = {name: np.array(values) for name, values in limb.items() if values is not None}
        station = given.pop("station")
        x = np.concatenate([-station[:0:-1], station])
        columns = {name: np.concatenate([v[:0:-1], v]) for name, v in given.items()}
        return Rows(x=x, columns=columns, place=(("taper", 0),) * len(x))
    return read_rows(raw.get("limb"))


def _grip(raw: Mapping[str, Any]) -> float:
    grip = raw.get("grip")
    if not isinstance(grip, Mapping):
        return 0.0
    length = quantity_or_none(grip.get("stiff_length"), "length", grip.get("unit"))
    return 0.0 if length is None else round(500.0 * max(length, 0.0), 2)


def _tables(raw: Mapping[str, Any], kind: str) -> Sequence[Any]:
    tables = raw.get(kind)
    return tables if isinstance(tables, list) else ()


_SIZES = ("at", "across", "diameter", "far_diameter", "length", "width", "depth")


def _zones(raw: Mapping[str, Any], rows: Rows, stave: Stave | None) -> list[dict[str, Any]]:
    """Return every knot and patch of which limb, station, face and place across can be read."""
    found = []
    for kind in ("knot", "decay"):
        for k, table in enumerate(_tables(raw, kind)):
            if not isinstance(table, Mapping) or table.get("limb") not in ("upper", "lower"):
                continue
            sizes = {
                name: quantity_or_none(table.get(name), "length", table.get("unit"))
                for name in _SIZES
            }
            at, across = sizes["at"], sizes["across"]
            if at is None or across is None or table.get("face") not in FACES:
                continue
            x = signed_station(str(table["limb"]), at)
            aside = np.interp(x, rows.x, rows.columns["sideways"]) if _sideways(rows) else 0.0
            zone = {
                "kind": kind,
                "row": k,
                "name": str(table.get("name", ""))[:60],
                "face": table["face"],
                "state": str(table.get("state", table.get("stage", "")))[:20],
                "x": round(1e3 * x, 2),
                "aside": round(1e3 * float(aside), 2),
                **{
                    name: round(1e3 * value, 2)
                    for name, value in sizes.items()
                    if value is not None
                },
            }
            if stave is not None and kind == "knot":
                zone["far"] = _far(stave.knots[k], float(aside))
            found.append(zone)
    return found


FACES = ("back", "belly", "left", "right")


def _sideways(rows: Rows) -> bool:
    return "sideways" in rows.columns


def _far(knot: Knot, aside: float) -> dict[str, Any] | None:
    """Return where a knot leaves on the opposite face; None if it does not reach it."""
    if knot.far_radius <= 0.0 or knot.face not in ("back", "belly"):
        return None
    end = knot.entry + knot.length * knot.direction
    return {
        "x": round(1e3 * float(end[0]), 2),
        "across": round(1e3 * float(end[1]), 2),
        "aside": round(1e3 * aside, 2),
        "diameter": round(2e3 * knot.far_radius, 2),
        "face": "belly" if knot.face == "back" else "back",
    }


def _section(
    raw: Mapping[str, Any], rows: Rows, stave: Stave | None, at: float | None
) -> dict[str, Any]:
    """Return the section at a station, looking up the bow, the archer's right to the right.

    `outline`, `sapwood`, `backing` are lines of (y, z) in mm, `zones` closed ones with `kind` and
    `name`; `twist` in degrees is how far it is turned; `words` say where it is and its size.
    """
    x = 0.5 * float(rows.x[-1]) if at is None else float(np.clip(at, rows.x[0], rows.x[-1]))
    here = read_between(rows.x, rows.columns, np.array([x]))
    shapes = _shapes(raw, here, x)
    half = 0.5 * float(here["width"][0])
    y = half * np.sin(np.linspace(-0.5 * math.pi, 0.5 * math.pi, ACROSS))
    with np.errstate(invalid="ignore"):
        back, belly = back_z(shapes, y[None])[0], belly_z(shapes, y[None])[0]
        lines = {
            "sapwood": np.maximum(sapwood_z(shapes, y[None])[0], belly),
            "backing": np.maximum(backing_z(shapes, y[None])[0], belly),
        }
    belly = np.minimum(belly, back)
    outline = np.concatenate([np.stack([y, back], 1), np.stack([y, belly], 1)[::-1]])
    limb = "middle of the grip" if x == 0.0 else "upper limb" if x > 0.0 else "lower limb"
    place = limb if x == 0.0 else f"{limb}, {_both(abs(x))} from the middle of the grip"
    size = ", ".join(
        f"{_both(float(here[name][0]))} {word}"
        for name, word in (("width", "wide"), ("thickness", "thick"), ("sapwood", "of sapwood"))
        if name in here and here[name][0] > 0.0
    )
    return {
        "x": round(1e3 * x, 2),
        "outline": _line(outline),
        **{name: _line(np.stack([y, z], 1)) for name, z in lines.items() if name in here},
        "twist": round(math.degrees(float(here["twist"][0])), 2) if "twist" in here else 0.0,
        "zones": [] if stave is None else _cut_zones(stave, x),
        "words": f"{place}: {size}",
    }


def _both(metres: float) -> str:
    """Return a length in mm and as a ruler in inches shows it."""
    return f"{METRIC.length(metres)} ({IMPERIAL.length(metres)})"


def _line(points: Array) -> list[list[float]]:
    return [[round(1e3 * float(y), 3), round(1e3 * float(z), 3)] for y, z in points]


def _shapes(raw: Mapping[str, Any], here: Mapping[str, Array], x: float) -> SectionShapes:
    """Return the outline at one station; flat where the case does not say yet."""
    table = raw.get("section")
    section: Mapping[str, Any] = table if isinstance(table, Mapping) else {}
    back, belly = section.get("back"), section.get("belly")
    half = 0.5 * float(here["width"][0])
    crown = here["crown"] if "crown" in here and back == "crowned" else np.array([math.inf])
    if isinstance(back, Mapping):
        radius = quantity_or_none(back.get("crown"), "length")
        if radius is not None and radius > half:
            crown = np.array([radius])
    corner = 0.0
    if isinstance(belly, Mapping):
        given = quantity_or_none(belly.get("corner"), "length") or 0.0
        corner = min(max(given, 0.0), half, float(here["thickness"][0]))
    zero = np.zeros(1)
    return SectionShapes(
        x=np.array([x]),
        **{name: here.get(name, zero) for name in SHAPE if name != "crown"},
        crown=crown,
        belly="round" if belly == "round" else "corner" if corner > 0.0 else "flat",
        belly_corner=corner,
    )


def _cut_zones(stave: Stave, x: float) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for knot in stave.knots:
        line = _knot_cut(knot, x)
        if line is not None:
            found.append({"kind": "knot", "name": knot.name, "line": _line(line)})
    for decay in stave.decays:
        line = _decay_cut(decay, x)
        if line is not None:
            found.append({"kind": "decay", "name": decay.name, "line": _line(line)})
    return found


def _knot_cut(knot: Knot, x: float) -> Array | None:
    """Return the outline of a knot's cone in the plane of a section, shape (n, 2), m."""
    s = np.linspace(-0.2 * knot.length, 1.2 * knot.length, 41)
    middle = knot.entry + s[:, None] * knot.direction
    radius = radius_at(knot, s)
    inside = radius**2 - (middle[:, 0] - x) ** 2
    if not np.any(inside > 0.0):
        return None
    there, reach = middle[inside > 0.0, 1:], np.sqrt(inside[inside > 0.0])
    y, z = knot.direction[1:] / np.hypot(*knot.direction[1:])
    aside = reach[:, None] * np.array([-z, y])
    return np.concatenate([there + aside, (there - aside)[::-1]])


def _decay_cut(decay: Decay, x: float) -> Array | None:
    """Return the outline of a patch in the plane of a section, shape (n, 2), m."""
    left = 1.0 - ((x - decay.center[0]) / decay.semi_axes[0]) ** 2
    if left <= 0.0:
        return None
    turn = np.linspace(0.0, 2.0 * math.pi, 33)
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    ellipse: Array = decay.center[1:] + math.sqrt(left) * decay.semi_axes[1:] * ring
    return ellipse
