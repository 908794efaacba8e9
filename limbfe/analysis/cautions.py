"""What every result must be read with."""

from __future__ import annotations

STANDING_CAUTIONS = (
    "Every verdict is an estimate from typical strengths of clear wood; your wood may be weaker. "
    "Where local rules or an experienced bowyer say otherwise, follow them.",
    "Wear eye protection whenever the bow is bent, and keep everyone, yourself included, out of "
    "line with the limbs.",
    "Never draw further than the bow has already been exercised to, and go up in small steps.",
    "Never let go of a drawn string without an arrow on it.",
    "The dust of some woods, yew and black locust among them, is toxic: wear a mask.",
)
