"""Limbs that swing on after the shot and are bent farther than they were drawn."""

from __future__ import annotations

from collections.abc import Mapping

from limbfe.analysis.shot.strains import LimbStrains
from limbfe.units import Quantity, Sentence, Words

FARTHER = 1.05
"""Times the greatest strain of full draw, from which it is told."""


def swinging_on(arrow: float, found: Mapping[str, float], strains: LimbStrains) -> list[Words]:
    """Return what is strained farther after the arrow (kg) has left than at full draw.

    Parameters
    ----------
    found : mapping
        `ShotResult.extremes`.
    """
    words: list[Words] = []
    for what, after, drawn in (
        ("back is stretched", found["back_strain_max_after"], strains.back_drawn.max()),
        ("belly is shortened", found["belly_strain_max_after"], -strains.belly_drawn.min()),
    ):
        if after > FARTHER * drawn:
            words.append(
                Sentence(
                    f"after an arrow of {{}} has left, the limbs swing on and somewhere the {what} "
                    f"by {100.0 * after:.2f} %, at full draw by {100.0 * drawn:.2f} % at most: "
                    "what clear wood bears is judged for the draw alone",
                    Quantity("mass", arrow),
                )
            )
    return words
