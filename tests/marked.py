"""A knot or a patch from one dictionary: where it shows, how large it is, what it is."""

from __future__ import annotations

from typing import Any

from limbfe.stave.decay import Decay
from limbfe.stave.knot import Knot
from limbfe.stave.marked import make_decay, make_knot
from limbfe.stave.marks import Mark, PatchSize
from limbfe.stave.stave import Stave

WHERE, SIZE = ("name", "limb", "at", "face", "across"), ("length", "width", "depth")


def marked_knot(stave: Stave, **values: Any) -> Knot:
    mark = Mark(**{name: values.pop(name) for name in WHERE})
    return make_knot(stave, mark, **values)


def marked_decay(stave: Stave, **values: Any) -> Decay:
    mark = Mark(**{name: values.pop(name) for name in WHERE})
    size = PatchSize(**{name: values.pop(name) for name in SIZE})
    return make_decay(stave, mark, size, **values)
