"""The shop sheet: what hangs over the bench, on one printed page."""

from __future__ import annotations

from typing import Any

import numpy as np

from limbfe.analysis.bow.cautions import STANDING_CAUTIONS
from limbfe.analysis.results.assessment import Assessment
from limbfe.analysis.zones.zone_verdict import ZoneVerdict
from limbfe.report.answer import RANKS
from limbfe.report.draw import SAFETY
from limbfe.report.tables import STRUNG, strain_words, strung_length
from limbfe.stave.profile import shape_at
from limbfe.units import UnitSystem, say

MOST_STATIONS = 26
"""Rows that leave room for knots and cautions on one page; more are thinned out evenly."""
MOST_ZONES, MOST_CAUTIONS = 7, 5


def shop_sheet(assessment: Assessment, units: UnitSystem) -> dict[str, Any]:
    """Return what the sheet shows: a heading, stations, knots and cautions."""
    curve = assessment.drawn.curve
    own = [
        say(line, units)
        for line in (*assessment.drawn.when_braced, *assessment.drawn.cautions)
        if line not in STANDING_CAUTIONS
    ]
    if len(own) > MOST_CAUTIONS:
        more = len(own) - MOST_CAUTIONS
        own = [*own[:MOST_CAUTIONS], f"and {more} more: see Cautions in the report"]
    braced = strung_length(assessment.drawn)
    zones = [
        {
            "name": f"{zone.kind} {zone.name}",
            "where": f"{zone.limb} {units.length(zone.at)}",
            "verdict": zone.verdict,
            "fails": _fails(zone, braced, units),
        }
        for zone in sorted(
            assessment.zones, key=lambda zone: (-RANKS[zone.verdict], -zone.strength_used)
        )
    ]
    return {
        "unit": units.scale("length")[1],
        "weight": units.force(float(curve.force[-1])),
        "draw": units.length(float(curve.draw_length[-1])),
        "brace": units.length(assessment.drawn.brace_height),
        "stations": _stations(assessment, units),
        "zones": zones[:MOST_ZONES],
        "more_zones": max(0, len(zones) - MOST_ZONES),
        "cautions": [*own, SAFETY],
    }


def _fails(zone: ZoneVerdict, braced: float, units: UnitSystem) -> str:
    """Return the draw at which a zone fails first; a split that stays short is no failure."""
    split, rupture = zone.draw_length_at_split, zone.draw_length_at_rupture
    short = zone.split_course == "stays short"
    first = min((x for x in (None if short else split, rupture) if x is not None), default=None)
    if first is not None:
        return _at(first, braced, units)
    return "-" if split is None else f"no; hairline {_at(split, braced, units)}"


def _at(draw: float, braced: float, units: UnitSystem) -> str:
    return STRUNG if draw <= braced else f"at {units.length(draw)}"


def _stations(assessment: Assessment, units: UnitSystem) -> list[dict[str, str]]:
    """Return the stations from the upper tip to the lower, as measures are read at the bench."""
    stave, limb = assessment.setup.stave, assessment.limb
    shapes = shape_at(stave, stave.x)
    count = len(stave.x)
    kept = np.arange(count)
    if count > MOST_STATIONS:
        kept = np.unique(np.linspace(0, count - 1, MOST_STATIONS).round().astype(int))
    rows = []
    for k in kept[::-1]:
        x = float(stave.x[k])
        back, belly = (
            float(np.interp(x, limb.x, one)) for one in (limb.back_strain, limb.belly_strain)
        )
        used = float(np.interp(x, limb.x, limb.strength_used))
        rows.append(
            {
                "at": f"{'upper' if x > 0.0 else 'lower' if x < 0.0 else 'grip'} "
                f"{units.number('length', abs(x))}",
                "width": units.number("length", float(shapes.width[k])),
                "thickness": units.number("length", float(shapes.thickness[k])),
                "back": strain_words(back),
                "belly": strain_words(belly),
                "used": f"{used:.0%}{' !' if used >= 1.0 else ''}",
            }
        )
    return rows
