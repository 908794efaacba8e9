"""What the sign of a measure means: words for it, and the picture that shows it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Sign:
    """One signed measure.

    Attributes
    ----------
    plus, minus : str
        Which way a value above and below zero points.
    picture : str
        Of the page's small pictures the one that shows it: "across" (the limb from its back),
        "ahead" (from the side), "thicker" and "turned" (its section), "slope" (fibres in the
        face), "out" (fibres from the side), "up" (the bow upright).
    """

    plus: str
    minus: str
    picture: str


_RIGHT = ("to the archer's right", "to the archer's left", "across")
_SLOPE = (
    "fibres go to the archer's right going up the bow",
    "fibres go to the archer's left going up the bow",
    "slope",
)
_OUT = (
    "fibres come out at the back going up the bow",
    "fibres come out at the belly going up the bow",
    "out",
)
_UP = ("above the middle of the grip", "below the middle of the grip", "up")
_THICKER = (
    "sapwood thicker on the archer's right",
    "sapwood thicker on the archer's left",
    "thicker",
)
_AHEAD = ("the tip lies ahead, towards the target", "it lies behind, towards the archer", "ahead")

_SIGNS = {
    ("limb", "reflex"): Sign(*_AHEAD),
    ("taper", "reflex"): Sign(*_AHEAD),
    ("limb", "sideways"): Sign(*_RIGHT),
    ("limb", "lean"): Sign(*_THICKER),
    ("taper", "lean"): Sign(*_THICKER),
    ("limb", "twist"): Sign(
        "the back faces more to the archer's right",
        "the back faces more to the archer's left",
        "turned",
    ),
    ("limb", "run_out"): Sign(*_OUT),
    ("grain", "run_out"): Sign(*_OUT),
    ("limb", "sideways_grain"): Sign(*_SLOPE),
    ("grain", "sideways"): Sign(*_SLOPE),
    ("limb", "spiral"): Sign(*_SLOPE),
    ("grain", "spiral"): Sign(*_SLOPE),
    ("grip", "hand_at"): Sign(*_UP),
    ("grip", "arrow_at"): Sign(*_UP),
    ("string", "nock_offset"): Sign("towards the back", "towards the belly", "ahead"),
    ("knot", "across"): Sign(*_RIGHT),
    ("decay", "across"): Sign(*_RIGHT),
    ("knot", "lean"): Sign("the branch leans to the tip", "it leans to the grip", "out"),
}


_RIGHT_OF_LINE = ("to the right of the snapped line", "to the left of the snapped line", "across")
_OF_STAVE = {
    ("stave", "fibre"): Sign(
        "it has wandered to the right", "it has wandered to the left", "slope"
    ),
    ("stave", "twist"): Sign("the back leans to the right", "the back leans to the left", "turned"),
    ("stave", "pith_across"): Sign(*_RIGHT_OF_LINE),
    ("grain", "spiral"): Sign(
        "fibres go to the right going up the stave",
        "fibres go to the left going up the stave",
        "slope",
    ),
    **{(table, "across"): Sign(*_RIGHT_OF_LINE) for table in ("knot", "decay", "check", "fix")},
    ("check", "across_to"): Sign(*_RIGHT_OF_LINE),
    ("knot", "lean"): Sign("the branch leans to the top", "it leans to the butt", "out"),
}
"""Of a stave left and right are those of somebody at its butt."""


def sign_of(table: str, key: str, kind: str = "bow") -> Sign | None:
    """Return what the sign of a key of a table means, None where it has none to speak of.

    Parameters
    ----------
    table, key : str
    kind : {"bow", "stave"}
        Of what file.
    """
    return (_OF_STAVE if kind == "stave" else _SIGNS).get((table, key))
