"""What tells a zone, a knot or a decayed patch, from every other of a bow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ZoneKind = Literal["knot", "decay"]


@dataclass(frozen=True, slots=True)
class ZoneLabel:
    """Kind and name, as it is spoken of."""

    kind: ZoneKind
    name: str

    def __str__(self) -> str:
        return f'{self.kind} "{self.name}"'
