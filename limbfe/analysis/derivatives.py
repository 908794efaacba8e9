"""How draw weight, energy, tiller and strength used change with thickness and width, exactly.

The converged states are differentiated with their own factored tangent; nothing is drawn again.
What a shaving at one station changes is one column of the answer.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

from limbfe.analysis.hot_spot_rates import size_rates, strain_rates
from limbfe.analysis.hot_spots import Place, describe, locate_hot_spots, locate_worst
from limbfe.analysis.limb_load import drawn_stress
from limbfe.analysis.model import LimbModel
from limbfe.analysis.rates import (
    COLUMNS,
    SectionPair,
    changed_fibres,
    section_pair,
    shape_rates,
    shares,
)
from limbfe.analysis.results import HotSpot
from limbfe.analysis.solve import SolvedBow
from limbfe.analysis.stress import WoodStress
from limbfe.beam import BowState, own_frame
from limbfe.beam.measures import arc_from_grip, limb_distances
from limbfe.beam.rates import SectionRates, elastic_rates
from limbfe.beam.sensitivity import Sensitivity, state_sensitivities
from limbfe.errors import GeometryError
from limbfe.frames import Array, read_only
from limbfe.section.inelastic import FibreSection, fibre_response, lost_energy, stored_energy

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
        Of the tiller of `limbfe.analysis.results.Tiller`, at the same places of the limbs.
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
    """One column's change: sections of both sides, and where every station's change arrives."""

    column: str
    pair: SectionPair
    fibres: tuple[FibreSection, FibreSection]
    share: Array


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
        Where strength used is followed: at the hot spots of `limbfe.analysis.hot_spots`, or at
        the hardest worked place of every Gauss station on the limbs clear of knots.

    Raises
    ------
    GeometryError
        For another column.

    Notes
    -----
    A yielding belly: a fibre that is pressed ever further follows a law of the strain alone, so
    the converged state and its tangent suffice.  A fibre that has let go before full draw keeps
    what it was crushed by.  Sections and strengths are differentiated by central differences of
    single sections (`limbfe.analysis.rates.STEP`), the bow itself directly.  A hot spot is
    followed at its own place in the wood; that the highest place moves as well changes its value
    in second order only.
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
    pair = section_pair(solved.model, column)
    return _Change(
        column=column,
        pair=pair,
        fibres=changed_fibres(solved.model, solved.section, pair),
        share=shares(solved.model, column),
    )


def _hot_spots(
    solved: SolvedBow,
    changes: tuple[_Change, ...],
    strains: Mapping[str, Array],
    locate: Callable[[LimbModel, WoodStress, WoodStress], tuple[Place, ...]],
) -> tuple[tuple[HotSpot, ...], Mapping[str, Array]]:
    """Return the hot spots and the derivatives (s, h) of their strength used."""
    model = solved.model
    inside, skin = drawn_stress(solved)
    places = locate(model, skin, inside)
    by_strain = strain_rates(solved, places)
    used = {}
    for change in changes:
        by_size = size_rates(solved, places, change.pair, change.fibres)
        station = [place.station for place in places]
        moved = strains[change.column][:, station]
        rate = np.einsum("phi,hi->ph", moved, by_strain) + change.share[:, station] * by_size
        used[change.column] = read_only(rate)
    spots = (describe(model, skin if place.on_skin else inside, place) for place in places)
    return tuple(spots), MappingProxyType(used)


def _sensitivities(
    solved: SolvedBow, changes: tuple[_Change, ...]
) -> tuple[Sensitivity, Sensitivity]:
    """Return the derivatives of the braced and the fully drawn state, column after column."""
    model, states = solved.model, (solved.braced, solved.full_draw)
    at_brace = _section_rates(solved, states[0], solved.plastic[0], changes)
    at_draw = _section_rates(solved, states[1], solved.plastic[-1], changes)
    braced, drawn = state_sensitivities(
        model.bow,
        states,
        (at_brace, at_draw),
        shape_rates(model, tuple(change.column for change in changes)),
        keep="height" if model.setup.brace_height is not None else "length",
    )
    return braced, drawn


def _section_rates(
    solved: SolvedBow, state: BowState, plastic: Array, changes: tuple[_Change, ...]
) -> SectionRates:
    shape = solved.model.bow.chain.stiffness.shape[:2]
    if not solved.plastic.any():
        rates = [
            change.share[:, :, None, None]
            * change.pair.slope(change.pair.larger.sections.K, change.pair.smaller.sections.K)
            for change in changes
        ]
        stiffness = np.concatenate(rates).reshape(-1, *shape, 6, 6)
        return elastic_rates(solved.model.bow, state, stiffness)
    strains = state.strains.reshape(-1, 6)
    start = let_go(solved.section, strains, plastic)
    here = fibre_response(solved.section, strains, start)
    forces, energies = [], []
    for change in changes:
        both = [fibre_response(section, strains, start) for section in change.fibres]
        work = [
            _work(section, strains, one.plastic)
            for section, one in zip(change.fibres, both, strict=True)
        ]
        slope = change.pair.slope(both[0].resultants, both[1].resultants)
        forces.append(change.share[..., None] * slope)
        energies.append(change.share * change.pair.slope(work[0], work[1]))
    return SectionRates(
        tangent=here.tangent.reshape(*shape, 6, 6),
        resultants=np.concatenate(forces).reshape(-1, *shape, 6),
        energy=_work(solved.section, strains, here.plastic).reshape(shape),
        energy_rates=np.concatenate(energies).reshape(-1, *shape),
    )


def let_go(section: FibreSection, strains: Array, plastic: Array) -> Array:
    """Return the crushing of the fibres that have let go since, zero where one is still pressed.

    From this state one step to `strains` gives `plastic` again.
    """
    pressed = fibre_response(section, strains, np.zeros_like(plastic)).plastic
    return np.where(plastic > pressed + 1e-9, plastic, 0.0)


def _work(section: FibreSection, strains: Array, plastic: Array) -> Array:
    return np.asarray(stored_energy(section, strains, plastic) + lost_energy(section, plastic))


def _tiller_rates(solved: SolvedBow, state: BowState, found: Sensitivity) -> Array:
    """Return the tiller's derivatives, shape (p,)."""
    model = solved.model
    stave = model.setup.stave
    half_way = 0.5 * float(min(-stave.x[0], stave.x[-1]))
    x = arc_from_grip(model.bow)
    positions = own_frame(model.bow, state, state.positions)
    string = own_frame(model.bow, state, state.string_points)
    rates = np.empty(len(found.force))
    for k in range(len(rates)):
        sides = [
            limb_distances(
                x, positions + h * found.positions[k], string + h * found.string_points[k], half_way
            )
            for h in (_TILLER_STEP, -_TILLER_STEP)
        ]
        change = (sides[0] - sides[1]) / (2.0 * _TILLER_STEP)
        rates[k] = change[1] - change[0]
    return rates
