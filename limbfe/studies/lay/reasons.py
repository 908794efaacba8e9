"""Why a layout is as it is, in sentences."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from limbfe.log.fate import KnotFate
from limbfe.log.laid import LaidLimb, Narrowest
from limbfe.log.line import Line
from limbfe.log.log import Log
from limbfe.studies.lay.patches import LaidPatch
from limbfe.units import Length, Sentence, Words

FATES = {
    "back": "stays on the back",
    "belly": "stays on the belly",
    "through": "goes through from back to belly",
    "edge": "is cut by an edge",
}


def layout_reasons(
    log: Log,
    line: Line,
    laid: LaidLimb,
    knots: tuple[KnotFate, ...],
    patches: tuple[LaidPatch, ...],
    told: dict[str, str],
    alike: bool,
) -> tuple[Words, ...]:
    """Return what a layout cuts, keeps and leaves over.

    `told` is what is to be said of the strength of a knot or patch, see `strength_told`.
    """
    return (
        _ends(log, line, alike),
        *_knots(knots, told),
        *_rot(log, patches, told),
        _grain(laid),
        _narrowest(laid.narrowest),
        _grip(line),
    )


def strength_told(used: dict[str, float], verdicts: dict[str, str]) -> dict[str, str]:
    """Return strength used and, where there is one, verdict of every knot and patch, in words."""
    return {
        name: f"strength used {share:.0%}" + (f", {verdicts[name]}" if name in verdicts else "")
        for name, share in used.items()
    }


def _ends(log: Log, line: Line, alike: bool) -> Words:
    butt, top = line.nocks
    words = "the {} end is up{}: {} past the nock at the butt end, {} past that at the top"
    why = ", and as both limbs are alike it may as well be down" if alike else ""
    return Sentence(words, line.upper_end, why, Length(butt), Length(log.length - top))


def _knots(knots: tuple[KnotFate, ...], told: dict[str, str]) -> Iterator[Words]:
    gone: dict[str, list[str]] = {}
    for knot in knots:
        if knot.fate == "gone":
            gone.setdefault(knot.gone_at, []).append(knot.name)
    for cut, names in gone.items():
        verb = "is" if len(names) == 1 else "are"
        yield f"{_listed(names)} {verb} gone with this cut: {cut}"
    for knot in knots:
        share = f", {told[knot.name]}" if knot.name in told else ""
        if knot.fate != "gone" and knot.diameter is not None and knot.edge is not None:
            if knot.edge >= 0.0:
                beside = Sentence("its rim {} from the nearer edge", Length(knot.edge))
            else:
                beside = Sentence("reaching {} past the edge", Length(-knot.edge))
            words = Sentence(
                "{} {}, {} across, {}{}",
                knot.name,
                FATES[knot.fate],
                Length(knot.diameter),
                beside,
                share,
            )
            yield words
        elif knot.swirl:
            yield f"the swirl beside {knot.name}, itself gone, stays in the edge{share}"


def _rot(log: Log, patches: tuple[LaidPatch, ...], told: dict[str, str]) -> Iterator[Words]:
    left = {patch.name: patch for patch in patches}
    for patch in log.patches:
        if patch.name not in left:
            yield f"the rot {patch.name} is cut away"
            continue
        share = f", {told[patch.name]}" if patch.name in told else ""
        one = left[patch.name]
        yield Sentence(
            "of the rot {} stays {} of width and {} of depth on the {}{}",
            patch.name,
            Length(one.width),
            Length(one.depth),
            one.face,
            share,
        )


def _grain(laid: LaidLimb) -> Words:
    slope = np.abs(np.tan(laid.sideways_slope) + np.tan(laid.spiral))
    k = int(np.argmax(slope))
    if slope[k] < 1.0 / 200.0:
        return "the line follows the fibres to better than 1 in 200 everywhere"
    return Sentence(
        "the line cuts the fibres at 1 in {:.0f} at most, {} from the butt",
        1.0 / slope[k],
        Length(float(laid.x[k])),
    )


def _narrowest(place: Narrowest) -> Words:
    return Sentence(
        "narrowest place: {} to spare on the {}, {} from the butt, beside a limb {} wide",
        Length(place.spare),
        place.side,
        Length(place.x),
        Length(place.width),
    )


def _grip(line: Line) -> Words:
    off = line.grip_off
    if abs(off) < 0.0005:
        return "tips and grip lie on one straight line"
    side = "right" if off > 0.0 else "left"
    return Sentence("the grip lies {} {} of the line between the tips", Length(abs(off)), side)


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
