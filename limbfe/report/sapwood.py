"""What sapwood does at the tips, as tables."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.report.tables import PRESSED, add_number, plain_table
from limbfe.studies.size.sapwood import SapwoodStudy
from limbfe.units import UnitSystem

LIKE = 0.05
"""Strengths used that differ by less than this share are alike: no maker tells them apart."""


def sapwood_tables(study: SapwoodStudy, units: UnitSystem) -> RenderableType:
    """Return the answer in words and the bows it rests on."""
    return Group(
        Text(study.source.title, style="bold"),
        Text(""),
        Text(sapwood_sentence(study, units)),
        Text(""),
        _table("Sapwood of the outer thirds thinned from the back", study, units, "left"),
        _table("Other depths of sapwood there, the limb as thick as it is", study, units, "of it"),
        Text(
            "Sapwood and thickness are means over the stations of the outer thirds. Strength used "
            f"in compression: {PRESSED}."
        ),
    )


def sapwood_sentence(study: SapwoodStudy, units: UnitSystem) -> str:
    """Return how thick the sapwood may stay and what taking it off does."""
    now, bare = study.thinned[0], study.thinned[-1]
    limit = f"{_used(study.limit)} of its strength"
    words = f"{_depth(study, units)}. "
    if study.thin_to is None:
        words += f"Thinned from the back, all of it may go before wood there works at {limit}. "
    elif study.thin_to > 0.97:
        words += f"Thinned from the back, wood there passes {limit} at once: leave the tips thick. "
    else:
        left = units.length(study.thin_to * now.sapwood)
        words += f"Thinned from the back, {left} must stay"
        over = study.thinned[-1].used_outer > study.limit
        words += f", or wood there works at over {limit}. " if over else ". "
    if study.gives_way is not None:
        gone = units.length(study.gives_way.sapwood)
        return words + f"With {gone} of it left the bow gives way: {study.gives_way.words}."
    if bare.used_outer > study.limit:
        return words + (
            f"With all {units.length(now.sapwood)} taken off, it would work at "
            f"{_used(bare.used_outer)}, now {_used(now.used_outer)}."
        )
    return words + (
        f"Taking off all {units.length(now.sapwood)} changes the draw weight by "
        f"{bare.force / now.force - 1.0:+.1%} and the mass of the outer thirds by "
        f"{bare.mass_outer / now.mass_outer - 1.0:+.0%}; their strength used goes from "
        f"{_used(now.used_outer)} to {_used(bare.used_outer)}."
    )


def _depth(study: SapwoodStudy, units: UnitSystem) -> str:
    """Return whether more or less sapwood changes anything while the limb stays as thick."""
    none, most = study.kept[0], study.kept[-1]
    used = [row.used_outer for row in study.kept]
    band = " to ".join(dict.fromkeys((_used(min(used)), _used(max(used)))))
    if max(used) - min(used) <= LIKE * max(used):
        return (
            "In limbs this thick the depth of the sapwood hardly matters: with none of it, and "
            f"with up to {units.length(most.sapwood)}, the outer thirds work at {band} of their "
            "strength"
        )
    worst = f"{_used(study.limit)} of their strength"
    if study.may_stay is None:
        return (
            "In limbs this thick any depth of sapwood may stay: the outer thirds work at "
            f"{band} of their strength, no more than {worst}"
        )
    if study.may_stay == none.share:
        bare = _used(none.used_outer)
        return f"Without sapwood too ({bare}) the outer thirds work at over {worst}: too thin"
    depth = units.length(study.may_stay * study.thinned[0].thickness)
    return (
        f"In limbs this thick up to {study.may_stay:.0%} of the tips may be sapwood, about "
        f"{depth}: with more the outer thirds work at over {worst}"
    )


def _used(value: float) -> str:
    """Return strength used; far past 1 the figure itself says nothing more."""
    return f"{value:.0%}" if value <= 2.0 else "over 200%"


def _table(title: str, study: SapwoodStudy, units: UnitSystem, share: str) -> Table:
    """Return bows; one that is past its limit breaks, and a folding limb has no draw weight."""
    table, limit = plain_table(title), study.limit
    headings = (share, "sapwood", "thickness", "draw weight", "strength used, outer thirds")
    for heading in (*headings, "elsewhere", "mass of outer thirds"):
        add_number(table, heading)
    for row in study.thinned if share == "left" else study.kept:
        table.add_row(
            f"{row.share:.0%}",
            units.length(row.sapwood),
            units.length(row.thickness),
            units.force(row.force) if row.used_outer <= limit else "breaks",
            _used(row.used_outer),
            _used(row.used_inner),
            units.mass(row.mass_outer),
        )
    return table
