"""Draw the README's pictures of the elm longbow again: ``python cases/pictures/draw.py``."""

from __future__ import annotations

import io
from pathlib import Path

from matplotlib.figure import Figure
from PIL import Image

from limbfe.analysis.zones.close_up import close_up
from limbfe.api import assess
from limbfe.view import theme
from limbfe.view.bow.limb import draw_bow
from limbfe.view.zone.picture import draw_defect

HERE = Path(__file__).parent
SIZE = 0.62
COLOURS = 200
"""Smaller than on the screen and in one palette each, so that both stay below 150 kB."""


def save_small(figure: Figure, path: Path) -> None:
    """Write a figure, reduced."""
    out = io.BytesIO()
    with theme.typography():
        figure.savefig(out, dpi=figure.dpi)
    with Image.open(out) as whole:
        size = (round(SIZE * whole.width), round(SIZE * whole.height))
        image = whole.convert("RGB").resize(size, Image.Resampling.LANCZOS)
    palette = image.quantize(COLOURS)
    image.quantize(palette=palette, dither=Image.Dither.FLOYDSTEINBERG).save(path, optimize=True)


def main() -> None:
    """Draw the bow and its knot."""
    assessment = assess(HERE.parent / "elm_longbow.toml")
    save_small(draw_bow(assessment), HERE / "elm_bow.png")
    knot = next(zone for zone in assessment.judged if zone.result.name == "A")
    assert knot.local is not None
    save_small(draw_defect(close_up(knot.result, knot.local, most=2)), HERE / "elm_knot.png")


if __name__ == "__main__":
    main()
