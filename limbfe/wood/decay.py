"""What rot leaves of the wood's stiffness, strength, toughness and density."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType

import numpy as np

from limbfe.errors import MaterialError
from limbfe.wood.source import GIVEN, Flag, Source


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DecayEffect:
    """Multipliers of the sound wood's properties inside a decayed patch.

    Attributes
    ----------
    E, G : float
        Young's moduli and shear moduli.
    density : float
    tension, compression, shear : float
        Strengths along the grain; `compression` also acts on the proportional limit.
    across : float
        Tension and compression strength across the grain.
    toughness : float
        All three fracture energies.
    sources : mapping of str to Source
        One entry per multiplier.

    Raises
    ------
    MaterialError
        If a multiplier is not above 0 and at most 1.
    """

    E: float
    G: float
    density: float
    tension: float
    compression: float
    shear: float
    across: float
    toughness: float
    sources: Mapping[str, Source] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for item in fields(self):
            if item.name == "sources":
                continue
            value = getattr(self, item.name)
            if not (np.isfinite(value) and 0.0 < value <= 1.0):
                raise MaterialError(
                    f"decay multiplier {item.name} = {value:g}: must lie above 0 and at most 1; "
                    "where the wood is gone model a missing knot instead"
                )
        object.__setattr__(self, "sources", MappingProxyType(dict(self.sources)))


MASS_LOSS: Mapping[str, float] = MappingProxyType(
    {"incipient": 0.03, "moderate": 0.10, "advanced": 0.30}
)
"""Mass loss taken to stand for each stage (assumed)."""

ROTS = ("brown", "white")
_MASS_LOSS_SOURCE = "mass loss assumed for the stage: 3, 10 and 30 %"
_WITOMSKI = (
    "P. Witomski, W. Olek, J. T. Bonarski, Construction and Building Materials (2016), abstract: "
    "Scots pine decayed by brown and white rot"
)
# Mass loss at which half of the property is lost.
_BENDING_HALF = {"brown": 0.07, "white": 0.20}
_COMPRESSION_HALF = {"brown": 0.20, "white": 0.30}
_MODULUS_HALF = {"brown": 0.20, "white": 0.40}
_ACROSS = {
    "brown": {"incipient": 0.85, "moderate": 0.50, "advanced": 0.15},
    "white": {"incipient": 0.90, "moderate": 0.70, "advanced": 0.40},
}
_TOUGHNESS = {
    "brown": {"incipient": 0.40, "moderate": 0.10, "advanced": 0.03},
    "white": {"incipient": 0.60, "moderate": 0.20, "advanced": 0.10},
}


def decay_laws(mass_loss: float, rot: str) -> tuple[float, float, float]:
    """Return what a known mass loss leaves of modulus, tension and compression strength.

    Parameters
    ----------
    mass_loss : float
        Fraction of the dry mass lost, 0 to 0.35: the laws were fitted to laboratory decay and
        reach zero stiffness not far beyond.
    rot : {"brown", "white"}

    Returns
    -------
    E, tension, compression : float
        Multipliers.

    Raises
    ------
    MaterialError
        If the mass loss is outside the range or the rot unknown.

    Notes
    -----
    Bending (and so tension) strength falls exponentially, compression strength and modulus
    linearly, each through its half value: at 7 % (brown) or 20 % (white) mass loss for bending,
    20 or 30 % for compression, 20 or 40 % for the modulus.

    References
    ----------
    P. Witomski, W. Olek, J. T. Bonarski, Construction and Building Materials (2016), abstract:
    Scots pine, Coniophora puteana and Trametes versicolor.
    """
    _check_rot(rot)
    if not 0.0 <= mass_loss <= 0.35:
        raise MaterialError(
            f"mass loss = {mass_loss:g}: the decay laws hold from 0 to 0.35 (a fraction, not per "
            "cent); beyond that model a missing knot"
        )
    return (
        1.0 - 0.5 * mass_loss / _MODULUS_HALF[rot],
        float(np.exp2(-mass_loss / _BENDING_HALF[rot])),
        1.0 - 0.5 * mass_loss / _COMPRESSION_HALF[rot],
    )


def decay_effect(stage: str, rot: str) -> DecayEffect:
    """Return what a stage of rot leaves of the sound wood's properties.

    Parameters
    ----------
    stage : {"incipient", "moderate", "advanced"}
        Discoloured but hard; softened; crumbling.
    rot : {"brown", "white"}

    Returns
    -------
    DecayEffect

    Raises
    ------
    MaterialError
        If stage or rot is unknown.

    Notes
    -----
    Looks do not tell strength: brown rot can take a tenth of it before any loss of mass can be
    measured, and 20 to 80 % at a mass loss of 5 to 10 % (FPL, Wood Handbook, FPL-GTR-190 (2010),
    ch. 5, Decay).  Toughness goes first and almost entirely below 10 % (W. W. Wilcox, Review of
    literature on the effects of early stages of decay on wood strength, Wood and Fiber 9 (1978)
    252-257, abstract).
    """
    if stage not in MASS_LOSS:
        raise MaterialError(f'stage = "{stage}": use one of {", ".join(MASS_LOSS)}')
    _check_rot(rot)
    E, tension, compression = decay_laws(MASS_LOSS[stage], rot)
    law = Source(text=f"{_WITOMSKI}; {_MASS_LOSS_SOURCE}", flag=Flag.ASSUMED)
    same = Source(
        text=f"shear moduli taken to fall as Young's moduli do; {law.text}", flag=Flag.ASSUMED
    )
    guess = Source(
        text="a guess: shear and strength across the grain fall less than bending strength",
        flag=Flag.ASSUMED,
    )
    toughness = Source(
        text="a guess after W. W. Wilcox, Wood and Fiber 9 (1978) 252-257, abstract: toughness "
        "nearly gone below 10 % mass loss",
        flag=Flag.ASSUMED,
    )
    return DecayEffect(
        E=E,
        G=E,
        density=1.0 - MASS_LOSS[stage],
        tension=tension,
        compression=compression,
        shear=_ACROSS[rot][stage],
        across=_ACROSS[rot][stage],
        toughness=_TOUGHNESS[rot][stage],
        sources={
            "E": law,
            "G": same,
            "density": Source(text=_MASS_LOSS_SOURCE, flag=Flag.ASSUMED),
            "tension": law,
            "compression": law,
            "shear": guess,
            "across": guess,
            "toughness": toughness,
        },
    )


def given_decay_effect(
    multipliers: Mapping[str, float], base: DecayEffect | None = None
) -> DecayEffect:
    """Return a decay effect with multipliers of the user's own.

    Parameters
    ----------
    multipliers : mapping of str to float
        By the names of `DecayEffect`.
    base : DecayEffect or None
        Where the rest comes from; None when all are given.

    Returns
    -------
    DecayEffect

    Raises
    ------
    MaterialError
        If a name is unknown, one is missing, or a value is impossible.
    """
    names = [item.name for item in fields(DecayEffect) if item.name != "sources"]
    unknown = [name for name in multipliers if name not in names]
    if unknown:
        raise MaterialError(
            f"decay multiplier {unknown[0]}: not one of {', '.join(names)}; correct its name"
        )
    missing = [name for name in names if name not in multipliers]
    if base is None and missing:
        raise MaterialError(
            f"decay multipliers: {', '.join(missing)} not given; give them, or a stage and "
            "the kind of rot"
        )
    values = {} if base is None else {name: getattr(base, name) for name in missing}
    sources = {} if base is None else {name: base.sources[name] for name in missing}
    return DecayEffect(
        **values,
        **{name: float(value) for name, value in multipliers.items()},
        sources=sources | dict.fromkeys(multipliers, GIVEN),
    )


def _check_rot(rot: str) -> None:
    if rot not in ROTS:
        raise MaterialError(f'rot = "{rot}": use "brown" or "white"')
