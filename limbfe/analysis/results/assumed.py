"""What the models take for granted of every stave, with where it comes from."""

from __future__ import annotations

from collections.abc import Iterator

from limbfe.analysis.piece.traces import BULGE, DECAY_GRADING
from limbfe.analysis.zones.layer_wood import SPLIT_SPECIMEN, WITHIN_PIECE
from limbfe.failure.probability import MODEL_SCATTER
from limbfe.failure.problem import Band
from limbfe.stave.knot_wood import EPOXY_ASSUMED, KNOT_POISSON
from limbfe.stave.stave import Stave
from limbfe.units import Length, Sentence
from limbfe.wood.bar import HOLDS, WRINKLES
from limbfe.wood.belly import FALL, LEFT_AT_PEAK
from limbfe.wood.source import Assumption, Flag, Source
from limbfe.wood.weakest_link import SHAPE

_JCSS = "Joint Committee on Structural Safety, Probabilistic Model Code, part 3.5 (2006)"


def stretched_assumption(size: float) -> Assumption:
    """Return what the volume of stretched wood takes from the strength of its back.

    Parameters
    ----------
    size : float
        Of `limbfe.analysis.wood.stretched.size_factor`.
    """
    return Assumption(
        "tension strength",
        f"of this bow's back = {1.0 / size:.2f} of that of a test bar's, which stretches "
        f"{size**SHAPE:.2g} times less wood: weakest link, exponent {SHAPE:g}",
        Source(
            text="from the fall of bending strength with depth, ASTM D245, (2 in / depth)^(1/9), "
            "and from test pieces pulled apart (not looked up in print)",
            flag=Flag.MEMORY_FAIR,
        ),
    )


def model_assumptions(stave: Stave) -> Iterator[Assumption]:
    """Yield what applies to a stave."""
    band = Band()
    yield Assumption(
        "belly",
        f"strain left when the crushing strength is just reached = {LEFT_AT_PEAK:.3%}",
        Source(
            text="Norway spruce, Maas and Wittel, wood-rheology (data archive, 2026)",
            flag=Flag.READ,
        ),
    )
    yield Assumption(
        "belly",
        f"strain over which its stress then falls to a plateau = {FALL:.1%}",
        Source(
            text="chosen: between 0.2 and 1 % the work that breaks a bar changes by a tenth",
            flag=Flag.ASSUMED,
        ),
    )
    yield Assumption(
        "strength used in compression",
        "the share of its bending strength that a bar of the wood has reached when its belly is "
        "shortened as far",
        Source(text="by the belly's own law", flag=Flag.DERIVED),
    )
    yield Assumption(
        "wrinkles (frets)",
        f"may show from {WRINKLES:.0%} of that",
        Source(
            text="chosen; test bars show them before they bear most (not looked up in print)",
            flag=Flag.ASSUMED,
        ),
    )
    yield Assumption(
        "belly",
        f"gives way for good at {HOLDS:g} times the shortening at which it reached its plateau",
        Source(text=_JCSS, flag=Flag.READ),
    )
    states = {knot.state for knot in stave.knots}
    if states:
        yield Assumption(
            "knots",
            f"bulge of the rings over a knot = {BULGE:g} radii",
            Source(text="low end of 0.2 to 0.5", flag=Flag.MEMORY_FAIR),
        )
        yield Assumption("knots", f"Poisson's ratio {KNOT_POISSON:g} of a knot in every plane")
    bond = Sentence("bond averaged over {} of the rim", Length(band.bond_window))
    if any(knot.filler is not None for knot in stave.knots):
        yield Assumption("fillers", bond)
    if any(knot.hollow or knot.state == "dead" for knot in stave.knots):
        yield EPOXY_ASSUMED
        yield Assumption(EPOXY_ASSUMED.subject, bond)
    if stave.knots or stave.decays:
        yield from _zones(band)
    if stave.decays:
        yield Assumption(
            "decay",
            f"loss grows over {DECAY_GRADING:g} of the patch's radius from its rim: a gradual rim",
        )


def _zones(band: Band) -> Iterator[Assumption]:
    yield Assumption(
        "windows",
        "for splits {:g} to {:g} of the length that follows from toughness and strength by the "
        "average stress criterion".format(*band.split_factor),
    )
    yield Assumption(
        "windows",
        Sentence(
            "for fibres that length kept between {} and {}, which is the lower bound for 33 of the "
            "36 woods of the table",
            *map(Length, band.fibre_window),
        ),
    )
    yield Assumption(
        "chance of failure",
        f"model scatter {100.0 * MODEL_SCATTER:g} %, {WITHIN_PIECE:g} of the variance within a "
        "piece (across the grain and in shear), correlation of tension across the grain "
        "with tension along it and with shear",
        Source(text=_JCSS, flag=Flag.READ),
    )
    yield Assumption(
        "chance of failure",
        "the four other correlations of strengths",
        Source(text=_JCSS, flag=Flag.MEMORY_FAIR),
    )
    yield Assumption(
        "chance of failure",
        f"stressed volume of {1e6 * SPLIT_SPECIMEN:g} ml behind strengths across the grain and in "
        "shear",
        Source(text="ASTM D143", flag=Flag.MEMORY_FAIR),
    )
