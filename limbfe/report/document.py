"""The report: one page that opens from disk, prints, and reads on a phone."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.analysis.results.assessment import Assessment
from limbfe.analysis.zones.verdicts import JudgedZone
from limbfe.analysis.zones.zone_verdict import ZoneVerdict
from limbfe.report import plates
from limbfe.report.answer import answer, zone_name
from limbfe.report.assess import verdict_sentence
from limbfe.report.draw_limits import breaking_sentence
from limbfe.report.plates import Plate
from limbfe.report.shop_sheet import shop_sheet
from limbfe.report.tables import (
    FIRST,
    STRING_CAPTION,
    STRING_HEADINGS,
    STRING_LIES,
    band_words,
    draw_length_words,
    load_words,
    split_words,
    strain_words,
    string_rows,
    strung_length,
    wrinkle_words,
)
from limbfe.stave.profile import shape_at
from limbfe.units import IMPERIAL, METRIC, UnitSystem, say
from limbfe.version import __version__
from limbfe.whole_file import whole_file
from limbfe.wood.source import Assumption, origin

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SIGNS = {"sound": "\u2713", "watch": "!", "expect a split": "\u2715", "expect rupture": "\u2715"}
"""Before the words of a verdict, so that colour is never the only carrier."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Figures:
    """The pictures of a whole bow, drawn once for files and page.

    Attributes
    ----------
    bow : Figure or None
        None where nothing can draw in 3D; `missing` says why.
    faces, strength, draw : Figure
    missing : str
    """

    bow: Figure | None
    faces: Figure
    strength: Figure
    draw: Figure
    missing: str


def write_report(assessment: Assessment, figures: Figures, path: Path, units: UnitSystem) -> Path:
    """Write the report as one self-contained HTML file and return its path.

    Parameters
    ----------
    assessment : Assessment
    figures : Figures
    path : Path
    units : UnitSystem
    """
    with whole_file(path) as partial:
        partial.write_text(make_report(assessment, figures, units), encoding="utf-8")
    return path


def make_report(assessment: Assessment, figures: Figures, units: UnitSystem) -> str:
    """Return the report as HTML; every text of the case is escaped."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("limbfe.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["sign"] = SIGNS.__getitem__
    scene, unavailable = _scene(assessment, figures, units)
    clear = assessment.clear_limb
    return environment.get_template("report.html").render(
        title=assessment.setup.title,
        question=assessment.setup.question,
        answer=answer(assessment, units),
        summary=verdict_sentence(assessment, units),
        drawn_on="" if clear is None else breaking_sentence(clear, units),
        facts=_facts(assessment, units),
        sheet=shop_sheet(assessment, units),
        scene=scene,
        unavailable=unavailable,
        pictures=_pictures(assessment, figures, units),
        cards=[_card(zone, units, strung_length(assessment.drawn)) for zone in assessment.judged],
        sections=plates.section_plates(assessment, units),
        string_lies={
            "title": STRING_LIES,
            "headings": STRING_HEADINGS,
            "rows": string_rows(assessment.drawn, units),
            "caption": STRING_CAPTION,
        },
        spot_rows=_spot_rows(assessment, units),
        stations=_station_rows(assessment, units),
        has_sapwood=assessment.setup.stave.sapwood_wood is not None,
        cautions=[
            say(line, units) for line in (*assessment.drawn.when_braced, *assessment.drawn.cautions)
        ],
        assumptions=_grouped(assessment.drawn.assumptions, units),
        version=__version__,
    )


def _scene(assessment: Assessment, figures: Figures, units: UnitSystem) -> tuple[str, str]:
    """Return the page in which the bow can be turned, or why there is none."""
    from limbfe.view.bow.page import make_page, page_available

    missing = figures.missing or page_available()
    if missing:
        return "", missing
    return make_page(assessment, result="strength_used", units=units.name, framed=True), ""


def _pictures(assessment: Assessment, figures: Figures, units: UnitSystem) -> dict[str, Plate]:
    made = {
        "strength": plates.plate(
            figures.strength,
            plates.strength_words(assessment, units),
            "Above: the worst of each station, with every knot and patch of decay and the "
            "band of what is uncertain about it. Below: stretch of the back and squeeze of the "
            "belly, with the strains at which clear wood gives way.",
            "svg",
        ),
        "faces": plates.plate(
            figures.faces,
            plates.faces_words(assessment, units),
            "Both faces laid flat, the lower limb on the left. Dark is worked hard; black with a "
            "hatch is past the strength.",
        ),
        "draw": plates.plate(
            figures.draw,
            plates.curve_words(assessment, units),
            "The shaded area is the work put in.",
            "svg",
        ),
    }
    if figures.bow is not None:
        words = plates.bow_words(assessment, units)
        caption = "Unstrung, braced and drawn, in true proportions."
        made["bow"] = plates.plate(figures.bow, words, caption)
    return made


def _facts(assessment: Assessment, units: UnitSystem) -> list[tuple[str, str, str]]:
    """Return the figures at the head of the page: name, value, the same in the other units."""
    other = IMPERIAL if units.name == "metric" else METRIC
    curve = assessment.drawn.curve
    force, draw = float(curve.force[-1]), float(curve.draw_length[-1])
    energy = float(curve.energy[-1])
    height, tension = assessment.drawn.brace_height, float(curve.tension[-1].mean())
    return [
        ("draw weight", units.force(force), other.force(force)),
        ("draw length", units.length(draw), other.length(draw)),
        ("work put in", units.energy(energy), other.energy(energy)),
        ("brace height", units.length(height), other.length(height)),
        ("string tension, drawn", units.force(tension), other.force(tension)),
        ("set after rest", units.rough_length(assessment.set_depth), "string follow, mean of tips"),
    ]


def _card(zone: JudgedZone, units: UnitSystem, braced: float) -> dict[str, Any]:
    defect: ZoneVerdict = zone.result
    return {
        "name": zone_name(defect),
        "where": f"{defect.limb} limb, {units.length(defect.at)} from the middle of the grip",
        "verdict": defect.verdict,
        "advice": say(defect.advice, units),
        "plate": plates.close_up_plate(zone, units),
        "rows": [
            (FIRST, defect.mode),
            ("strength used", _used(defect)),
            ("splits at", draw_length_words(defect.draw_length_at_split, units, braced)),
            (
                "breaks at",
                draw_length_words(defect.draw_length_at_rupture, units, braced),
            ),
            ("chance of failure it adds", _chance(defect.failure_probability)),
            ("split at full draw", split_words(defect, units)),
            ("load it leaves the limb", load_words(defect)),
        ],
    }


def _used(defect: ZoneVerdict) -> str:
    """Return strength used, and of a belly that wrinkles how far."""
    return "; ".join((band_words(defect), *wrinkle_words(defect)))


def _chance(value: float) -> str:
    return "under 1 in 100" if value < 0.01 else f"about {value:.0%}"


def _spot_rows(assessment: Assessment, units: UnitSystem) -> list[tuple[str, ...]]:
    from limbfe.view.bow.faces import whole_width

    surface = assessment.surface
    return [
        (
            f"{spot.limb}, {units.length(spot.at)}",
            spot.face,
            "whole width" if whole_width(surface, spot) else units.length(spot.across),
            units.stress(spot.stress),
            f"{spot.strain:+.2%}",
            spot.mode,
            f"{spot.strength_used:.0%}",
        )
        for spot in assessment.hot_spots
    ]


def _station_rows(assessment: Assessment, units: UnitSystem) -> list[dict[str, Any]]:
    stave, limb = assessment.setup.stave, assessment.limb
    shapes = shape_at(stave, stave.x)
    rows = []
    for k in reversed(range(len(stave.x))):
        x = float(stave.x[k])
        used = float(np.interp(x, limb.x, limb.strength_used))
        rows.append(
            {
                "limb": "upper" if x > 0 else "lower" if x < 0 else "grip",
                "at": units.length(abs(x)),
                "width": units.length(float(shapes.width[k])),
                "thickness": units.length(float(shapes.thickness[k])),
                "sapwood": units.length(float(shapes.sapwood[k])),
                "back": strain_words(float(np.interp(x, limb.x, limb.back_strain))),
                "belly": strain_words(float(np.interp(x, limb.x, limb.belly_strain))),
                "used": used,
            }
        )
    return rows


def _grouped(
    assumptions: tuple[Assumption, ...], units: UnitSystem
) -> dict[str, list[tuple[str, str]]]:
    """Return what was assumed by subject: what was taken, and where it comes from."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for one in assumptions:
        source = say(origin(one.source), units) if one.source else ""
        groups.setdefault(one.subject, []).append((say(one.value, units), source))
    return groups
