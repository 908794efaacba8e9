"""The one place that turns a stave on the bench into a bow held upright.

On the bench right is that of somebody at the butt who looks towards the top, back up.  The archer
looks at the belly.  With the top end up, right on the bench is the archer's left; turned end for
end, the butt up, it is the archer's right.  Slopes against "going up" change sign in both cases: in
one the side is swapped, in the other the way.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from limbfe.frames import Array
from limbfe.log.line import End

ArcherSide = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Turn:
    """How numbers of the bench read on the bow when one end of the stave is up.

    Examples
    --------
    >>> Turn("top").side("left"), Turn("butt").side("left")
    ('right', 'left')
    """

    upper_end: End

    @property
    def way(self) -> float:
        """1 where going up the stave is going up the bow, else -1."""
        return 1.0 if self.upper_end == "top" else -1.0

    def across(self, right: Any) -> Any:
        """Return a distance to the archer's right from one to the right on the bench."""
        return -self.way * right

    def slope(self, right_going_up_the_stave: Array) -> Array:
        """Return the slope to the archer's right going up the bow; of a spiral the tangent."""
        return -right_going_up_the_stave

    def along(self, up_the_stave: Any) -> Any:
        """Return a distance, or a slope of depth, going up the bow."""
        return self.way * up_the_stave

    def lean_of_back(self, right: Array) -> Array:
        """Return how far the back faces the archer's right from how far it leans right."""
        turned: Array = -self.way * right
        return turned

    def side(self, face: Literal["left", "right"]) -> ArcherSide:
        """Return the archer's name of a side of the bench."""
        if self.upper_end == "butt":
            return face
        return "left" if face == "right" else "right"
