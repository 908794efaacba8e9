"""How much of a standing attack is run: a sample, or with LIMBFE_MANY=10 the whole."""

from __future__ import annotations

import os


def many(sample: int) -> int:
    """Return how many files, bows or trials to draw where the slow suite draws `sample`."""
    return sample * int(os.environ.get("LIMBFE_MANY", "1"))
