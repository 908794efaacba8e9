"""What is known of a bow while it is still being assessed, a line each, for who watches."""

from __future__ import annotations

from limbfe.analysis.bow.drawn import DrawnBow
from limbfe.analysis.wood.hot_spots import HotSpot
from limbfe.analysis.zones.zone_verdict import ZoneVerdict
from limbfe.failure.verdict import MODE_NAMES
from limbfe.report.tables import band_words
from limbfe.units import UnitSystem, say


def finding_line(one: DrawnBow | HotSpot | ZoneVerdict, units: UnitSystem) -> str:
    """Return a drawn bow, a place of its clear wood or a verdict in a line.

    A bow that breaks or gives way when braced is told so first.
    """
    if isinstance(one, DrawnBow):
        first = "".join(f"{say(words, units)}. " for words in one.when_braced)
        curve = one.curve
        drawn = (
            f"{units.force(float(curve.force[-1]))} at {units.length(float(curve.draw_length[-1]))}"
        )
        kept = "" if one.kept is None else f", set {units.rough_length(one.kept.mean)}"
        return f"{first}draws {drawn}{kept}"
    where = f"{one.limb} {units.length(one.at)}"
    if isinstance(one, HotSpot):
        return f"clear wood, {where}, {one.face}: {one.how_hard}"
    if one.mode == MODE_NAMES["yield"]:
        used = f"{one.wrinkling_used:.2f} times where they may show"
    else:
        used = band_words(one)
    return f"{one.words}, {where}: {one.verdict} ({one.mode}, {used})"
