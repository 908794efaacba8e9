"""What sapwood does at the tips, as tables."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.report.tables import CRUSHED
from limbfe.studies.sapwood import SapwoodRow, SapwoodStudy
from limbfe.units import UnitSystem


def sapwood_tables(study: SapwoodStudy, units: UnitSystem) -> RenderableType:
    """Return the answer in words and the bows it rests on."""
    return Group(
        Text(study.source.title, style="bold"),
        Text(""),
        Text(sapwood_sentence(study, units)),
        Text(""),
        _table("Sapwood of the outer thirds thinned from the back", study.thinned, units, "left"),
        _table(
            "Other depths of sapwood there, the limb as thick as it is", study.kept, units, "of it"
        ),
        Text(
            "Sapwood and thickness are means over the stations of the outer thirds. Strength used "
            f"past 100% in compression: {CRUSHED}."
        ),
    )


def sapwood_sentence(study: SapwoodStudy, units: UnitSystem) -> str:
    """Return how thick the sapwood may stay and what taking it off does."""
    now, bare = study.thinned[0], study.thinned[-1]
    limit = _used(study.limit)
    if study.may_stay is None:
        words = "Any depth of sapwood may stay at the tips of limbs this thick"
    else:
        depth = units.length(study.may_stay * now.thickness)
        share = f"{study.may_stay:.0%}"
        words = f"In limbs this thick sapwood may make up {share} of the tips, about {depth}"
    words += (
        f": the outer thirds then work at no more than {limit} of their strength (full strength, "
        "or what the hardest worked place of the bow reaches now). "
    )
    if study.thin_to is None:
        words += "Thinned from the back, all of it may go by that limit. "
    elif study.thin_to > 0.97:
        words += "Thinning it from the back passes that limit at once: the tips need their depth. "
    else:
        left = units.length(study.thin_to * now.sapwood)
        words += f"Thinned from the back, {left} must stay by that limit. "
    return words + (
        f"Taking off all {units.length(now.sapwood)} changes the draw weight by "
        f"{bare.force / now.force - 1.0:+.1%} and the mass of the outer thirds by "
        f"{bare.mass_outer / now.mass_outer - 1.0:+.0%}; their strength used goes from "
        f"{_used(now.used_outer)} to {_used(bare.used_outer)}."
    )


def _used(value: float) -> str:
    """Return strength used; far past crushing the figure itself says nothing more."""
    return f"{value:.0%}" if value <= 2.0 else "over 200%"


def _table(title: str, rows: tuple[SapwoodRow, ...], units: UnitSystem, share: str) -> Table:
    table = Table(title=title, title_justify="left")
    headings = (share, "sapwood", "thickness", "draw weight", "strength used, outer thirds")
    for heading in (*headings, "elsewhere", "mass of outer thirds"):
        table.add_column(heading, justify="right")
    for row in rows:
        table.add_row(
            f"{row.share:.0%}",
            units.length(row.sapwood),
            units.length(row.thickness),
            units.force(row.force),
            _used(row.used_outer),
            _used(row.used_inner),
            units.mass(row.mass_outer),
        )
    return table
