"""The pictures of a report: each carried inside the page, with words that say what it shows."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from limbfe.analysis.results.assessment import Assessment
from limbfe.analysis.wood.hot_spots import HotSpot
from limbfe.analysis.wood.strain_limits import limb_limits
from limbfe.analysis.zones.verdicts import JudgedZone
from limbfe.analysis.zones.zone_verdict import ZoneVerdict
from limbfe.report.tables import smoothness_words
from limbfe.stave.marks import signed_station
from limbfe.stave.profile import shape_at
from limbfe.units import UnitSystem
from limbfe.view import labels, theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SECTIONS = 4
SAME_PLACE = 0.015
"""Hot spots nearer to each other along the limb than this (m) share one section."""
CLOSE_UP_PANELS = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plate:
    """A picture as the page carries it.

    Attributes
    ----------
    source : str
        A ``data:`` address.
    width, height : int
        In pixels of the page.
    alt : str
        What it shows, with the figures.
    caption : str
    """

    source: str
    width: int
    height: int
    alt: str
    caption: str


def plate(figure: Figure, alt: str, caption: str, kind: Literal["png", "svg"] = "png") -> Plate:
    """Return a figure as a plate: lines as SVG, filled maps and bodies as PNG."""
    out = io.BytesIO()
    with theme.typography():
        if kind == "svg":
            figure.savefig(out, format="svg", metadata={"Date": None})
            data, media = out.getvalue(), "svg+xml"
        else:
            figure.savefig(out, format="png", dpi=figure.dpi)
            data, media = out.getvalue(), "png"
    width, height = (round(float(96 * size)) for size in figure.get_size_inches())
    source = f"data:image/{media};base64,{base64.b64encode(data).decode('ascii')}"
    return Plate(source=source, width=width, height=height, alt=alt, caption=caption)


def bow_words(assessment: Assessment, units: UnitSystem) -> str:
    """Return what the picture of the bow shows."""
    curve = assessment.drawn.curve
    spots = labels.chief_hot_spots(assessment, SECTIONS)
    marked = [labels.hot_spot_text(spot, units.name) for spot in spots]
    marked += [labels.defect_text(defect, units.name) for defect in assessment.zones]
    brace = units.length(assessment.drawn.brace_height)
    draw, weight = units.length(float(curve.draw_length[-1])), units.force(float(curve.force[-1]))
    return (
        f"The bow from the archer's left: unstrung, braced to {brace} and drawn to {draw} with "
        f"{weight}. Strength used at full draw: {'; '.join(marked)}."
    )


def strength_words(assessment: Assessment, units: UnitSystem) -> str:
    """Return what the curves of strength used and strain show."""
    limb = assessment.limb
    limits = limb_limits(assessment.setup.stave, assessment.hot_spots)
    peaks = []
    for name, mask in (("lower", limb.x < 0), ("upper", limb.x > 0)):
        worst = np.flatnonzero(mask)[np.argmax(limb.strength_used[mask])]
        at = units.length(abs(float(limb.x[worst])))
        peaks.append(f"{limb.strength_used[worst]:.2f} at {at} in the {name} limb")
    zones = "".join(
        f" {labels.defect_text(defect, units.name)} "
        f"({defect.strength_used_low:.2f} to {defect.strength_used_high:.2f}), {defect.verdict}."
        for defect in assessment.zones
    )
    return (
        f"Curves along both limbs. Strength used rises to {' and '.join(peaks)}.{zones} "
        f"Strain: back up to {limb.back_strain.max():+.2%}, clear wood breaks at "
        f"{limits.back:+.2%}; belly down to {limb.belly_strain.min():+.2%}, keeps a set beyond "
        f"{-limits.belly_set:+.2%} and may wrinkle beyond {-limits.belly_wrinkles:+.2%}."
    )


def faces_words(assessment: Assessment, units: UnitSystem) -> str:
    """Return what the maps of back and belly show."""
    spots = labels.ranked_hot_spots(assessment)
    said = []
    for face in ("back", "belly"):
        most = next((spot for spot in spots if spot.face == face), None)
        if most is not None:
            said.append(labels.hot_spot_text(most, units.name))
    zones = [labels.zone_text(d.name, d.kind, d.at, units.name) for d in assessment.zones]
    marked = f" Marked: {', '.join(zones)}." if zones else ""
    most_used = "; ".join(said)
    return f"Back and belly laid flat, coloured by strength used. Most: {most_used}.{marked}"


def curve_words(assessment: Assessment, units: UnitSystem) -> str:
    """Return what the draw curve shows."""
    from limbfe.view.bow.draw_curve import shown_first_pull, stiffness

    curve = assessment.drawn.curve
    step, step_name = labels.pull_step(units.name)
    rise = units.force(step * float(stiffness(curve)[-1]))
    set_depth = units.rough_length(assessment.set_depth)
    shown = shown_first_pull(assessment) is not None
    again = f" A second line: the first pull, before the set of {set_depth}." if shown else ""
    return (
        f"Draw curve: from nothing at {units.length(float(curve.draw_length[0]))} (braced) to "
        f"{units.force(float(curve.force[-1]))} at {units.length(float(curve.draw_length[-1]))}; "
        f"the work put in is {units.energy(float(curve.energy[-1]))}; at full draw the force rises "
        f"{rise} per {step_name}. {smoothness_words(assessment.drawn, units)}{again}"
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionPlate:
    """A section where clear wood works hard, with the hot spots that lie in it."""

    title: str
    size: str
    spots: tuple[HotSpot, ...]
    plate: Plate


def section_plates(assessment: Assessment, units: UnitSystem) -> tuple[SectionPlate, ...]:
    """Return the sections at the worst place of each face of each limb, worst first."""
    groups: list[list[HotSpot]] = []
    for spot in labels.chief_hot_spots(assessment, SECTIONS):
        near = (g for g in groups if g[0].limb == spot.limb and abs(g[0].at - spot.at) < SAME_PLACE)
        group = next(near, None)
        if group is None:
            groups.append([spot])
        else:
            group.append(spot)
    return tuple(_section_plate(assessment, tuple(group), units) for group in groups)


def _section_plate(
    assessment: Assessment, spots: tuple[HotSpot, ...], units: UnitSystem
) -> SectionPlate:
    from limbfe.analysis.wood.section_field import section_field
    from limbfe.view.section.picture import draw_section

    x = signed_station(spots[0].limb, spots[0].at)
    view = section_field(assessment.setup, assessment.limb, x)
    stave = assessment.setup.stave
    shapes = shape_at(stave, np.array([x]))
    names = tuple(knot.name for knot in stave.knots)
    size = (
        f"{units.length(float(shapes.width[0]))} wide, "
        f"{units.length(float(shapes.thickness[0]))} thick"
    )
    if stave.sapwood_wood is not None:
        size += f", sapwood {units.length(float(shapes.sapwood[0]))} at mid-width"
    alt = (
        f"Section of the {spots[0].limb} limb at {units.length(abs(x))}: {size}. Stress along the "
        f"limb from {units.stress(float(np.nanmin(view.stress)))} on the belly to "
        f"{units.stress(float(np.nanmax(view.stress)))} on the back."
    )
    title = f"{spots[0].limb.capitalize()} limb at {units.length(abs(x))}"
    figure = draw_section(view, names, units=units.name)
    caption = (
        "Left: the wood, with the run of its rings. Right: squeeze and stretch along the limb."
    )
    return SectionPlate(title=title, size=size, spots=spots, plate=plate(figure, alt, caption))


def close_up_plate(zone: JudgedZone, units: UnitSystem) -> Plate | None:
    """Return the close-up of a knot or patch; None where nothing loads it."""
    from limbfe.analysis.zones.close_up import close_up
    from limbfe.view.zone.picture import draw_defect

    if zone.local is None:
        return None
    view = close_up(zone.result, zone.local, most=CLOSE_UP_PANELS)
    numbers = "; ".join(
        panel.mode if panel.window is None else f"{panel.mode}: {panel.window.strength_used:.2f}"
        for panel in view.panels
    )
    return plate(
        draw_defect(view, units=units.name),
        f"{_called(zone.result, units)} close up, fibres drawn as lines. Strength used in the wood "
        f"that decides: {numbers}.",
        "Fibres as lines, strength used as colour; the box is the wood that decides. Below, how "
        "the piece of limb bends, enlarged, beside its bend without it.",
    )


def _called(defect: ZoneVerdict, units: UnitSystem) -> str:
    text = labels.zone_text(defect.name, defect.kind, defect.at, units.name)
    return text[0].upper() + text[1:]
