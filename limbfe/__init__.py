"""Finite-element simulation of wooden bow limbs.

>>> import limbfe
>>> case = limbfe.read_case("cases/elm_longbow.toml")
>>> case.title
'Elm longbow, coppice course, stave 11'
"""

from __future__ import annotations

from typing import Any

from limbfe.version import __version__

__all__ = ["__version__", "assess", "draw", "read_case", "section_at"]


def __getattr__(name: str) -> Any:
    # Loaded on first use, so that the command line answers before NumPy is imported.
    if name in ("assess", "draw", "read_case", "section_at"):
        from limbfe import api

        return getattr(api, name)
    raise AttributeError(f"module 'limbfe' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
