"""How draw weight, energy, tiller and strength used change with thickness and width, exactly.

The converged states are differentiated with their own factored tangent; nothing is drawn again.
What a shaving at one station changes is one column of the answer.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

import numpy as np

from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.bow.stations import Stations
from limbfe.analysis.rates.crushing import CrushingRates, SectionChange
from limbfe.analysis.rates.hot_spot_rates import size_rates, strain_rates, stretched_rates
from limbfe.analysis.rates.stave_rates import (
    COLUMNS,
    SectionPair,
    changed_fibres,
    give_rates,
    section_pair,
    shape_rates,
    shares,
)
from limbfe.analysis.wood.hot_spots import HotSpot, Place, describe, locate_hot_spots, locate_worst
from limbfe.analysis.wood.limb_load import drawn_stress
from limbfe.analysis.wood.stress import WoodStress
from limbfe.beam import BowState, own_frame
from limbfe.beam.rates.changes import SectionRates, elastic_rates
from limbfe.beam.rates.sensitivity import Keep, Sensitivity, sensitivities_along
from limbfe.beam.strung.measures import arc_from_grip, limb_distances
from limbfe.errors import GeometryError
from limbfe.frames import Array, read_only
from limbfe.section.yielding.inelastic import FibreSection, lost_energy, stored_energy

_TILLER_STEP = 1e-4
"""Step (m of thickness or width) of the difference quotient of the tiller: geometry alone."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawDerivatives:
    """Derivatives by the columns of the stave, each at every station (s of them).

    A column's change at a station fades out along the column's own smooth curve towards the
    neighbouring stations.  Thickness is taken off at the belly, width at both sides.  The brace
    height stays, or the string's length where the case gives that.

    Attributes
    ----------
    x : ndarray, shape (s,), m
        The stave's stations, lower limb negative.
    columns : tuple of str
        ``"thickness"``, ``"width"``: the keys of every mapping.
    hot_spots : tuple of HotSpot, length h
    force : mapping to ndarray, shape (s,), N/m
        Of the draw weight at full draw.
    energy : mapping to ndarray, shape (s,), J/m
        Of the work put in from brace to full draw.
    strength_used : mapping to ndarray, shape (s, h), 1/m
    strains : mapping to ndarray, shape (s, S, 6), section axes
        Beam strains of the Gauss stations at full draw.
    tiller_braced, tiller_drawn : mapping to ndarray, shape (s,), m/m
        Of the tiller of `limbfe.analysis.bow.drawn.Tiller`, at the same places of the limbs.
    """

    x: Array
    columns: tuple[str, ...]
    hot_spots: tuple[HotSpot, ...]
    force: Mapping[str, Array]
    energy: Mapping[str, Array]
    strength_used: Mapping[str, Array]
    strains: Mapping[str, Array]
    tiller_braced: Mapping[str, Array]
    tiller_drawn: Mapping[str, Array]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Change:
    """One column's change: sections of both sides, where a station's change arrives, the give."""

    column: str
    pair: SectionPair
    fibres: tuple[FibreSection, FibreSection]
    share: Array
    give: Array | None

    @property
    def sections(self) -> SectionChange:
        """The same, of what yielding sections answer."""
        larger, smaller = self.fibres
        return SectionChange(larger=larger, smaller=smaller, step=self.pair.step, share=self.share)


def draw_derivatives(
    solved: SolvedBow,
    columns: tuple[str, ...] = ("thickness", "width"),
    *,
    spots: Literal["peaks", "stations"] = "peaks",
) -> DrawDerivatives:
    """Return exact derivatives of a solved bow, its belly yielding or not.

    Parameters
    ----------
    solved : SolvedBow
    columns : tuple of {"thickness", "width"}
    spots : {"peaks", "stations"}
        Where strength used is followed: at the hot spots of `limbfe.analysis.wood.hot_spots`, or at
        the hardest worked place of every Gauss station on the limbs clear of knots.

    Raises
    ------
    GeometryError
        For another column.

    Notes
    -----
    Of an exercised bow every state in which the exercise turned is gone through, so that what
    fibres were crushed by, and the string's length, change with the bow
    (`limbfe.analysis.rates.crushing`); states between two turns are left out.  Sections and
    strengths are differentiated by central differences of single sections
    (`limbfe.analysis.rates.stave_rates.STEP`), the bow itself directly.  A hot spot is followed at
    its own place in the wood; that the highest place moves as well changes its value in second
    order only.
    """
    unknown = [column for column in columns if column not in COLUMNS]
    if unknown:
        raise GeometryError(f"derivatives by {unknown[0]!r}: use one of {', '.join(COLUMNS)}")
    changes = tuple(_change(solved, column) for column in columns)
    at_brace, at_draw = _sensitivities(solved, changes)

    def split(values: Array) -> Mapping[str, Array]:
        parts = np.split(values, len(columns))
        return MappingProxyType(
            {column: read_only(part) for column, part in zip(columns, parts, strict=True)}
        )

    strains = split(at_draw.strains.reshape(len(at_draw.force), -1, 6))
    locate = locate_hot_spots if spots == "peaks" else locate_worst
    places, used = _hot_spots(solved, changes, strains, locate)
    return DrawDerivatives(
        x=solved.model.setup.stave.x,
        columns=columns,
        hot_spots=places,
        force=split(at_draw.force),
        energy=split(at_draw.energy - at_brace.energy),
        strength_used=used,
        strains=strains,
        tiller_braced=split(_tiller_rates(solved, solved.braced, at_brace)),
        tiller_drawn=split(_tiller_rates(solved, solved.full_draw, at_draw)),
    )


def _change(solved: SolvedBow, column: str) -> _Change:
    pair = section_pair(solved.model.stations, column)
    return _Change(
        column=column,
        pair=pair,
        fibres=changed_fibres(solved.model.stations, solved.section, pair),
        share=shares(solved.model.stations, column),
        give=give_rates(solved.model, column),
    )


def _hot_spots(
    solved: SolvedBow,
    changes: tuple[_Change, ...],
    strains: Mapping[str, Array],
    locate: Callable[[Stations, WoodStress, WoodStress], tuple[Place, ...]],
) -> tuple[tuple[HotSpot, ...], Mapping[str, Array]]:
    """Return the hot spots and the derivatives (s, h) of their strength used."""
    stations = solved.model.stations
    inside, skin = drawn_stress(solved)
    places = locate(stations, skin, inside)
    by_strain = strain_rates(solved, places)
    stretched = stretched_rates(solved, tuple((change.pair, change.fibres) for change in changes))
    factor = np.array([skin.size if place.mode == "tension" else 1.0 for place in places])
    sized = np.array([place.used if place.mode == "tension" else 0.0 for place in places])
    used = {}
    for change, of_size in zip(changes, stretched.by_size, strict=True):
        by_size = size_rates(solved, places, change.pair, change.fibres)
        station = [place.station for place in places]
        moved = strains[change.column][:, station]
        rate = np.einsum("phi,hi->ph", moved, by_strain) + change.share[:, station] * by_size
        size = np.einsum("psi,si->p", strains[change.column], stretched.by_strain)
        size += change.share @ of_size
        used[change.column] = read_only(factor * rate + size[:, None] * sized)
    spots = (describe(stations, skin if place.on_skin else inside, place) for place in places)
    return tuple(spots), MappingProxyType(used)


def _sensitivities(
    solved: SolvedBow, changes: tuple[_Change, ...]
) -> tuple[Sensitivity, Sensitivity]:
    """Return the derivatives of the braced and the fully drawn state, column after column."""
    model, way = solved.model, solved.way
    rest = shape_rates(model, tuple(change.column for change in changes))
    states = tuple(state for state, _ in way)
    crushing = CrushingRates(
        solved.section, tuple(change.sections for change in changes), len(rest.nodes)
    )
    elastic, give = not solved.plastic.any(), _give_rates(changes)
    along = (
        _elastic_rates(solved, state, changes)
        if elastic
        else _section_rates(crushing, state, plastic, give)
        for state, plastic in way
    )
    keep: Keep = "height" if model.setup.stringing.brace_height is not None else "length"
    start, full = states[0].draw_length, states[-1].draw_length
    # the exercise goes by shares of the way from the first brace to full draw
    drift = [(full - state.draw_length) / (full - start) for state in states]
    found = []
    for one in sensitivities_along(model.bow, states, along, rest, keep=keep, drift=drift):
        found.append(one)
        if not elastic:
            crushing.hand_on(one.strains)
    return found[-2], found[-1]


def _elastic_rates(
    solved: SolvedBow, state: BowState, changes: tuple[_Change, ...]
) -> SectionRates:
    shape = solved.model.bow.chain.stiffness.shape[:2]
    rates = [
        change.share[:, :, None, None]
        * change.pair.slope(change.pair.larger.sections.K, change.pair.smaller.sections.K)
        for change in changes
    ]
    stiffness = np.concatenate(rates).reshape(-1, *shape, 6, 6)
    sections = elastic_rates(solved.model.bow, state, stiffness)
    return replace(sections, give=_give_rates(changes))


def _section_rates(
    crushing: CrushingRates, state: BowState, plastic: Array, give: Array | None
) -> SectionRates:
    shape, strains = state.strains.shape[:2], state.strains.reshape(-1, 6)
    here, rates = crushing.at(strains, plastic)
    work = crushing.energy(strains)
    by_change = [
        change.share
        * change.slope(
            *(
                _work(section, strains, one.plastic)
                for section, one in zip(change.both(), sides, strict=True)
            )
        )
        for change, sides in zip(crushing.changes, crushing.sides, strict=True)
    ]
    return SectionRates(
        tangent=here.tangent.reshape(*shape, 6, 6),
        resultants=rates.reshape(-1, *shape, 6),
        energy=_work(crushing.section, strains, here.plastic).reshape(shape),
        energy_rates=(work + np.concatenate(by_change)).reshape(-1, *shape),
        give=give,
    )


def _give_rates(changes: tuple[_Change, ...]) -> Array | None:
    """Return the rates (p, n - 1, 6, 6) of what the elements give besides their sections."""
    rates = [
        change.share.reshape(len(change.share), -1, 2).mean(axis=2)[..., None, None] * change.give
        for change in changes
        if change.give is not None
    ]
    return np.concatenate(rates) if rates else None


def _work(section: FibreSection, strains: Array, plastic: Array) -> Array:
    return np.asarray(stored_energy(section, strains, plastic) + lost_energy(section, plastic))


def _tiller_rates(solved: SolvedBow, state: BowState, found: Sensitivity) -> Array:
    """Return the tiller's derivatives, shape (p,)."""
    model = solved.model
    stave = model.setup.stave
    half_way = 0.5 * float(min(-stave.x[0], stave.x[-1]))
    x = arc_from_grip(model.bow)
    positions = own_frame(model.bow, state, state.positions)
    string = own_frame(model.bow, state, state.free_string)
    rates = np.empty(len(found.force))
    for k in range(len(rates)):
        sides = [
            limb_distances(
                x, positions + h * found.positions[k], string + h * found.free_string[k], half_way
            )
            for h in (_TILLER_STEP, -_TILLER_STEP)
        ]
        change = (sides[0] - sides[1]) / (2.0 * _TILLER_STEP)
        rates[k] = change[1] - change[0]
    return rates
