"""Finite-element simulation of wooden bow limbs.

>>> import limbfe
>>> case = limbfe.read_case("cases/elm_longbow.toml")
>>> case.title
'Elm longbow, overworked on purpose, coppice course, stave 11'
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from limbfe.version import __version__

if TYPE_CHECKING:
    from limbfe.api import (
        assess,
        chance,
        compare,
        draw,
        draw_limits,
        fit,
        judge_zone,
        knot_map,
        lay,
        pull,
        read_case,
        read_sheet,
        rules,
        section_at,
        shave,
        shoot,
        size,
        size_sapwood,
        solve,
        string_on,
        sweep,
        take_wood,
    )

__all__ = [
    "__version__",
    "assess",
    "chance",
    "compare",
    "draw",
    "draw_limits",
    "fit",
    "judge_zone",
    "knot_map",
    "lay",
    "pull",
    "read_case",
    "read_sheet",
    "rules",
    "section_at",
    "shave",
    "shoot",
    "size",
    "size_sapwood",
    "solve",
    "string_on",
    "sweep",
    "take_wood",
]


def __getattr__(name: str) -> Any:
    # Loaded on first use, so that the command line answers before NumPy is imported.
    if name in __all__:
        from limbfe import api

        return getattr(api, name)
    raise AttributeError(f"module 'limbfe' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
