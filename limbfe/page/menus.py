"""Woods, strings and fillings to choose from, with their figures and where these come from."""

from __future__ import annotations

from functools import cache
from typing import Any

from limbfe.units import METRIC, say
from limbfe.wood.by_density import typical_woods
from limbfe.wood.fillers import filler_names, find_filler
from limbfe.wood.lookup import find_species, species_names
from limbfe.wood.source import origin
from limbfe.wood.strings import string_material, string_material_names
from limbfe.wood.table import Figure

_WOOD = {
    "density": ("density", 1.0, "kg/m3"),
    "bending_modulus": ("stiffness in bending", 1e-9, "GPa"),
    "bending_strength": ("breaks in bending at", 1e-6, "MPa"),
    "compression_strength": ("crushed along the grain at", 1e-6, "MPa"),
}


@cache
def describe_menus() -> dict[str, Any]:
    """Return ``"woods"``, ``"strings"`` and ``"fillers"``.

    Each is a list of ``{"name", "group", "also", "figures": [[words, value, source], ...]}``.
    """
    return {"woods": _woods(), "strings": _strings(), "fillers": _fillers()}


def _woods() -> list[dict[str, Any]]:
    found = []
    for name in species_names():
        row = find_species(name)
        at = f", at {100.0 * row.moisture:g} % moisture"
        found.append(
            {
                "name": row.name,
                "group": "measured",
                "also": [row.latin, *row.aliases],
                "figures": [_wood_figure(row.dry[key], key, at) for key in _WOOD if key in row.dry],
                "notes": [say(note, METRIC) for note in row.notes],
            }
        )
    for wood in typical_woods():
        found.append(
            {
                "name": wood.name,
                "group": "known by density only",
                "also": list(wood.aliases),
                "figures": [_wood_figure(wood.density, "density", "")],
                "notes": ["All but the density is that of an average wood as dense."],
            }
        )
    return sorted(found, key=lambda wood: (wood["group"] != "measured", str(wood["name"]).lower()))


def _wood_figure(figure: Figure, key: str, at: str) -> list[str]:
    words, factor, unit = _WOOD[key]
    return [words + at, f"{figure.value * factor:.3g} {unit}", say(origin(figure.source), METRIC)]


def _strings() -> list[dict[str, Any]]:
    found = []
    for name in string_material_names():
        row = string_material(name)
        figures = (
            ("one strand is", row.strand, ""),
            ("stretch: force for a strain of 1", f"{row.stiffness / 1e3:.3g} kN", "stiffness"),
            ("one strand breaks at", f"{row.strength:.3g} N", "strength"),
            ("weighs", f"{row.tex:.3g} g/km", "tex"),
        )
        found.append(
            {
                "name": row.name,
                "group": "",
                "also": [],
                "figures": [
                    [words, value, say(origin(row.sources[key]), METRIC) if key else ""]
                    for words, value, key in figures
                ],
                "notes": [],
            }
        )
    return found


def _fillers() -> list[dict[str, Any]]:
    found = []
    for name in filler_names():
        row = find_filler(name)
        figures = (("stiffness", row.E, 1e-9, "GPa"), ("tension", row.tension, 1e-6, "MPa"),
                   ("shear", row.shear, 1e-6, "MPa"))  # fmt: skip
        found.append(
            {
                "name": row.name,
                "group": "",
                "also": [],
                "figures": [
                    [words, f"{value * factor:.3g} {unit}", say(origin(row.source), METRIC)]
                    for words, value, factor, unit in figures
                ],
                "notes": [],
            }
        )
    return found
