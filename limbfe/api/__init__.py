"""The Python functions, one for every command that computes; users reach them by `import limbfe`.

| file | what its functions are asked |
| --- | --- |
| `bow` | what one bow does, as its case states it |
| `bench` | what to do to one stave |
| `lay` | where the bow lies in a split log |
| `studies` | what many bows have in common |
| `given` | what they all take: a case or its path, values as numbers or as text |

Every function takes a `Case` or the path of a case file, and values as numbers in SI or as text
with a unit, as on the command line.  Every result holds read-only arrays in SI; `to_dict()` gives
what the command prints with ``--json``, `rows()` a table, one dictionary a row.  A function loads
what it needs when it is called: a draw shall not wait for the local models of knots.

A new function goes into the file of its question, then into the two lists here and into those of
`limbfe/__init__.py`.
"""

from limbfe.api.bench import fit, shave, size, size_sapwood, take_wood
from limbfe.api.bow import (
    assess,
    draw,
    draw_limits,
    judge_zone,
    pull,
    read_case,
    section_at,
    shoot,
    solve,
    string_on,
)
from limbfe.api.lay import lay, read_sheet
from limbfe.api.studies import (
    chance,
    compare,
    knot_map,
    rules,
    sweep,
    sweep_moisture,
    sweep_zone,
)

__all__ = [
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
    "sweep_moisture",
    "sweep_zone",
    "take_wood",
]
