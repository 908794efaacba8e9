"""From a checked case file to the objects the physics knows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np

from limbfe.analysis.bow.setup import Analysis, BowSetup, Drawing, Holding, Shooting, Stringing
from limbfe.case.assumptions import list_assumptions
from limbfe.case.limb_checks import limb_tables, said_of_all
from limbfe.case.schema import Case, CaseFile, CornerTable, LimbTable
from limbfe.case.wood_tables import WoodTable
from limbfe.case.zone_tables import DecayTable, FillerTable, KnotTable
from limbfe.errors import CaseError, Fault, GeometryError, MaterialError
from limbfe.frames import Array
from limbfe.stave.columns import COLUMNS, NAMED, names_of
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Filler, Knot
from limbfe.stave.marked import make_decay, make_knot
from limbfe.stave.marks import Mark, PatchSize
from limbfe.stave.stave import Belly, Grain, Outline, Stave
from limbfe.wood.decay import DecayEffect, decay_effect, given_decay_effect
from limbfe.wood.duration import HELD, lasting_strength
from limbfe.wood.species import make_wood
from limbfe.wood.strings import (
    string_breaking_force,
    string_mass,
    string_material,
    string_stiffness,
)
from limbfe.wood.wood import PROPERTIES, Wood

WORSE_ROT = "brown"
"""Kind of rot taken when a case names a stage only: the one that leaves less strength."""


def build_setup(case: Case) -> BowSetup:
    """Return the bow of a case and what is done to it, in SI.

    Parameters
    ----------
    case : Case

    Returns
    -------
    BowSetup
        Stave, string, hold, draw and fineness, with every assumption in words.

    Raises
    ------
    CaseError
        If the wood lacks a property, or the numbers describe no possible stave.
    """
    file, stave = case.file, build_stave(case)
    held = HELD if file.draw.held is None else file.draw.held
    with _named(case.path):
        stiffness, mass = _string(file, float(stave.x[-1] - stave.x[0]))
    return BowSetup(
        title=file.title,
        question=file.question,
        stave=_held(stave, held),
        stringing=Stringing(
            stiffness=stiffness,
            mass=mass,
            nock_offset=file.string.nock_offset,
            brace_height=file.string.brace_height,
            length=file.string.length,
            strung=file.string.strung,
            strength=_string_strength(file),
        ),
        holding=Holding(
            kind=file.grip.hold, hand_at=file.grip.hand_at, arrow_at=file.grip.arrow_at
        ),
        drawing=Drawing(length=file.draw.length, steps=file.draw.steps, held=held),
        analysis=Analysis(
            elements_per_limb=file.analysis.elements_per_limb,
            fineness=file.analysis.fineness,
        ),
        assumptions=list_assumptions(file, stave),
        shooting=Shooting(
            arrow=None if file.arrow is None else file.arrow.mass,
            shaft_diameter=None if file.arrow is None else file.arrow.shaft_diameter,
            arrow_length=None if file.arrow is None else file.arrow.length,
            drag_coefficient=None if file.arrow is None else file.arrow.drag_coefficient,
            tip_mass=0.0 if file.tips is None else file.tips.mass,
            serving=file.string.serving,
            loss_factor=file.shot.loss_factor,
            string_loss_factor=file.shot.string_loss_factor,
            string_diameter=file.string.diameter,
            hand_mass=file.shot.hand_mass,
            hand_stiffness=file.shot.hand_stiffness,
        ),
    )


def _held(stave: Stave, seconds: float) -> Stave:
    """Return the stave with the strengths of its woods under a load of some seconds."""

    def lasting(wood: Wood) -> Wood:
        return replace(wood, strength=lasting_strength(wood.strength, seconds))

    sap, backing = stave.sapwood_wood, stave.backing_wood
    return replace(
        stave,
        heartwood=lasting(stave.heartwood),
        sapwood_wood=None if sap is None else lasting(sap),
        backing_wood=None if backing is None else lasting(backing),
    )


def build_stave(case: Case, bare: Stave | None = None) -> Stave:
    """Return the stave of a case with its knots and patches.

    Parameters
    ----------
    case : Case
    bare : Stave, optional
        What `bare_stave` returns of it, where that is known.

    Raises
    ------
    CaseError
        If the wood lacks a property, or the numbers describe no possible stave.
    """
    stave = bare_stave(case) if bare is None else bare
    with _named(case.path):
        return replace(
            stave,
            knots=tuple(_knot(knot, stave) for knot in case.file.knot),
            decays=tuple(_decay(decay, stave) for decay in case.file.decay),
        )


def bare_stave(case: Case) -> Stave:
    """Return the stave of a case without knots and patches.

    Raises
    ------
    CaseError
        If the wood lacks a property, or the numbers describe no possible stave.
    """
    file = case.file
    limbs = {limb: table for limb, (_, table) in limb_tables(file).items()}
    columns = {
        name: join_limbs(limbs["lower"], limbs["upper"], name, said_of_all(file, name))
        for name in COLUMNS
    }
    belly = file.section.belly
    kind: Belly = "corner" if isinstance(belly, CornerTable) else belly
    with _named(case.path):
        return Stave(
            x=join_limbs(limbs["lower"], limbs["upper"], "station"),
            **{name: columns[name] for name in names_of("stave")},
            outline=Outline(
                crown=columns["crown"],
                belly=kind,
                belly_corner=belly.corner if isinstance(belly, CornerTable) else 0.0,
            ),
            grain=Grain(**{name: columns[name] for name in names_of("grain")}),
            heartwood=_main_wood(file),
            sapwood_wood=_sapwood(file) if np.any(columns["sapwood"]) else None,
            backing_wood=_backing(file),
            knots=(),
            decays=(),
            stiff_length=file.grip.stiff_length,
        )


def join_limbs(
    lower: LimbTable, upper: LimbTable, name: str, otherwise: float | None = None
) -> Array:
    """Return one column of both limbs, lower tip to upper tip.

    Parameters
    ----------
    lower, upper : LimbTable
    name : str
    otherwise : float, optional
        Taken on a limb that does not give the column, m or rad; else the column's default.

    Returns
    -------
    ndarray, shape (n,), m or rad
        The station at the middle of the grip, which both limbs share, comes once.
    """
    if otherwise is None:
        otherwise = NAMED[name].default
    below, above = (
        np.array(getattr(table, name) or [otherwise] * len(table.station), dtype=np.float64)
        for table in (lower, upper)
    )
    if name == "station":
        below = -below
    return np.concatenate([below[:0:-1], above])


def given_properties(table: WoodTable) -> dict[str, float]:
    """Return the properties a wood table gives, in SI."""
    return {name: value for name in PROPERTIES if (value := getattr(table, name)) is not None}


def _main_wood(file: CaseFile) -> Wood:
    name = "whole" if file.wood.whole is not None else "heartwood"
    return _wood(name, main_table(file), None)


def main_table(file: CaseFile) -> WoodTable:
    """Return the table of the wood below the sapwood, or of the whole stave."""
    table = file.wood.whole or file.wood.heartwood
    if table is None:
        raise CaseError("no wood; add [wood.whole] or [wood.heartwood]")
    return table


def _sapwood(file: CaseFile) -> Wood:
    """Return the sapwood; the main wood under that name when the case describes none."""
    if file.wood.sapwood is not None:
        return _wood("sapwood", file.wood.sapwood, main_table(file).moisture)
    return replace(_main_wood(file), name="sapwood")


def _backing(file: CaseFile) -> Wood | None:
    if file.wood.backing is None:
        return None
    return _wood("backing", file.wood.backing, main_table(file).moisture)


def _wood(name: str, table: WoodTable, moisture: float | None) -> Wood:
    """Return a wood; `moisture` is that of the rest of the stave, per cent."""
    if table.moisture is not None:
        moisture = table.moisture
    return make_wood(
        name=name,
        species=table.species,
        moisture=None if moisture is None else moisture / 100.0,
        given=given_properties(table),
        cov={str(name): value for name, value in table.cov.items()},
    )


def _mark(table: KnotTable | DecayTable) -> Mark:
    return Mark(name=table.name, limb=table.limb, at=table.at, face=table.face, across=table.across)


def filler_of(table: FillerTable) -> Filler:
    """Return what a hole was filled with."""
    return Filler(E=table.E, tension=table.tension, shear=table.shear)


def _knot(table: KnotTable, stave: Stave) -> Knot:
    return make_knot(
        stave,
        _mark(table),
        diameter=table.diameter,
        far_diameter=table.far_diameter,
        lean=table.lean,
        state=table.state,
        filler=None if table.filler is None else filler_of(table.filler),
    )


def _decay(table: DecayTable, stave: Stave) -> Decay:
    return make_decay(
        stave,
        _mark(table),
        PatchSize(length=table.length, width=table.width, depth=table.depth),
        effect=_effect(table),
        stage=table.stage or "given",
        rot="given" if table.stage is None else table.rot or WORSE_ROT,
    )


def _effect(table: DecayTable) -> DecayEffect:
    base = None if table.stage is None else decay_effect(table.stage, table.rot or WORSE_ROT)
    if table.multipliers is None:
        given = {}
    else:
        given = {
            name: value
            for name, value in table.multipliers.model_dump().items()
            if value is not None
        }
    return given_decay_effect(given, base)


def _string(file: CaseFile, bow_length: float) -> tuple[float, float]:
    """Return the string's stiffness EA (N) and mass (kg)."""
    string = file.string
    length = bow_length if string.length is None else string.length
    if string.material is not None and string.strands is not None:
        material = string_material(string.material)
        stiffness = string_stiffness(material, string.strands)
        mass = string_mass(material, string.strands) * length
    else:
        stiffness, mass = string.stiffness or 0.0, 0.0
    return stiffness, mass if string.mass is None else string.mass


def _string_strength(file: CaseFile) -> float | None:
    """Return the force at which the string's yarns break (N), None if only EA is given."""
    string = file.string
    if string.material is None or string.strands is None:
        return None
    return string_breaking_force(string_material(string.material), string.strands)


@contextmanager
def _named(path: Path) -> Iterator[None]:
    """Put the case file's name before what a lower floor refuses."""
    try:
        yield
    except (GeometryError, MaterialError) as error:
        found = re.match(r"(wood\.\w+): |(string) (?=\w+ = )", str(error))
        if found is None:
            raise CaseError(f"{path}: {error}") from error
        table, words = found[1] or found[2], str(error)[found.end() :]
        fault = Fault(loc=tuple(table.split(".")), words=words)
        raise CaseError(f"{path}: [{table}] {words}", faults=(fault,)) from error
