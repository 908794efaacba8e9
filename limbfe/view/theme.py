"""One look for every picture: colours, result scales, type, and how a picture is written.

Scales are perceptually uniform and darken with the value, so that they survive colour
blindness and a grey print; nothing is told by colour alone.
"""

from __future__ import annotations

import os
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from limbfe.frames import Array
from limbfe.units import IMPERIAL, UnitName
from limbfe.whole_file import whole_file

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colorbar import Colorbar
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure

Result = Literal["strength_used", "axial_strain", "axial_stress", "wood"]
RESULTS: tuple[Result, ...] = ("strength_used", "axial_strain", "axial_stress", "wood")

PAPER = "#fbfaf6"
INK = "#22201c"
FAINT = "#8a857b"
RULE = "#d9d5cb"
GHOST = "#b5a582"
STRING = "#35506b"
BACK = "#b3521e"
BELLY = "#1f5f8b"
KNOT = "#0b4a5a"
DECAY = "#3f7d4e"
GRIP = "#3b3733"
WOOD_TONES = ("#a9713f", "#ecd3a0", "#7f9a5f")
OTHER_LETTERS = (
    *("Noto Sans CJK SC", "Noto Sans CJK JP", "WenQuanYi Zen Hei", "PingFang SC"),
    *("Noto Sans Arabic", "Noto Naskh Arabic", "Geeza Pro", "Microsoft YaHei"),
    *("Arial Unicode MS", "Segoe UI"),
)
"""Type for letters that the pictures' own lacks, where it is installed."""
WOOD_NAMES = ("heartwood", "sapwood", "backing")
BEYOND = "#0b0712"
"""Above the last step of a scale."""
USED_STEPS = np.linspace(0.0, 1.5, 16)
"""Steps of the scale of strength used; they go on past 1 in colours of their own."""
DOTS_PER_INCH = 130


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scale:
    """How one result is shown: its name with unit, factor to that unit, and colours."""

    label: str
    factor: float
    centred: bool


_SCALES: dict[str, Scale] = {
    "strength_used": Scale(
        label="strength used (1: wood of typical strength bears no more)",
        factor=1.0,
        centred=False,
    ),
    "axial_strain": Scale(label="strain along the limb, %", factor=100.0, centred=True),
    "axial_stress": Scale(label="stress along the grain, MPa", factor=1e-6, centred=True),
}
SCALED = tuple(_SCALES)
"""Results that have a scale."""
_POUNDS = Scale(
    label="stress along the grain, 1000 psi",
    factor=1e-3 / IMPERIAL.scale("stress")[0],
    centred=True,
)


def scale_of(result: str, units: UnitName) -> Scale:
    """Return how a result is shown to a reader."""
    return _POUNDS if (result, units) == ("axial_stress", "imperial") else _SCALES[result]


def stress_unit(units: UnitName) -> str:
    """Return the unit of the scale of stresses."""
    return scale_of("axial_stress", units).label.rpartition(", ")[2]


def value_range(result: str, values: Any, units: UnitName = "metric") -> tuple[float, float]:
    """Return the limits of a result's scale, in the scale's unit.

    Strength used always runs over the same steps, so that two bows can be compared by eye; strain
    and stress run equally far to both sides of zero, to a round number.
    """
    scale = scale_of(result, units)
    if not scale.centred:
        return float(USED_STEPS[0]), float(USED_STEPS[-1])
    reach = float(np.nanmax(np.abs(values))) * scale.factor if np.size(values) else 0.0
    top = round_up(reach) if reach > 0.0 else 1.0
    return -top, top


def round_up(value: float) -> float:
    """Return the next of 1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8 times a power of ten."""
    power = 10.0 ** np.floor(np.log10(value))
    steps = np.array([1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0])
    return float(steps[np.searchsorted(steps, value / power - 1e-9)] * power)


@lru_cache(maxsize=8)
def colour_map(result: str) -> Colormap:
    """Return the colours of a result: pale is idle, dark is worked hard.

    Strength used has a colour for every step of `USED_STEPS`: yellow to red up to 1, then, after a
    jump, violet to nearly black.
    """
    from matplotlib import colormaps
    from matplotlib.colors import ListedColormap

    if _SCALES[result].centred:
        return colormaps["coolwarm"]
    within = int(np.count_nonzero(USED_STEPS[1:] < 1.0 + 1e-9))
    shares = np.concatenate(
        [np.linspace(0.97, 0.56, within), np.linspace(0.40, 0.14, len(USED_STEPS) - 1 - within)]
    )
    steps = ListedColormap(colormaps["inferno"](shares), "limbfe_strength")
    return steps.with_extremes(over=BEYOND, bad=RULE)


@lru_cache(maxsize=1)
def darkening() -> Colormap:
    """Return colours without steps from pale to dark, for whatever runs from little to much."""
    from matplotlib import colormaps
    from matplotlib.colors import LinearSegmentedColormap

    shades = colormaps["inferno"](np.linspace(0.99, 0.16, 256))
    return LinearSegmentedColormap.from_list("limbfe_darkening", shades)


def add_colour_bar(
    figure: Figure,
    result: str,
    values: Any,
    place: tuple[float, float, float, float],
    units: UnitName = "metric",
) -> Colorbar:
    """Add the colours of a result with their numbers and its name, and return the bar.

    Parameters
    ----------
    figure : Figure
    result : str
        One of `SCALED`.
    values : array_like
        Whose range the scale has, SI.
    place : tuple
        Left, bottom, width and height as shares of the figure.
    units : {"metric", "imperial"}
    """
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize

    scale = scale_of(result, units)
    bar = figure.colorbar(
        ScalarMappable(Normalize(*value_range(result, values, units)), colour_map(result)),
        cax=figure.add_axes(place), orientation="horizontal",
        extend="neither" if scale.centred else "max",
    )  # fmt: skip
    bar.set_label(scale.label, labelpad=2)
    bar.outline.set_visible(False)
    if not scale.centred:
        bar.ax.axvline(1.0, color=PAPER, lw=2.5)
        bar.set_ticks(list(USED_STEPS[::2]))
    return bar


def hatch(past: Any) -> None:
    """Hatch a filled contour that is past 1 finely, so that print without colour tells it."""
    past.set_edgecolor(FAINT)
    past.set_linewidth(0.0)


def wood_colours(layer: Array) -> Array:
    """Return the wood tone of every layer number (0 heart, 1 sap, 2 backing), shape (..., 3)."""
    from matplotlib.colors import to_rgb

    tones = np.array([to_rgb(tone) for tone in WOOD_TONES])
    colours: Array = tones[np.asarray(layer).astype(np.int64)]
    return colours


@contextmanager
def typography() -> Iterator[None]:
    """Set type, lines and background for the Matplotlib figures made inside."""
    from matplotlib import rc_context

    settings: dict[Any, Any] = {
        "font.family": list(_families()),
        "font.size": 11.0,
        "axes.titlesize": 12.0,
        "axes.titleweight": "bold",
        "axes.titlelocation": "left",
        "axes.labelsize": 11.0,
        "axes.edgecolor": FAINT,
        "axes.labelcolor": INK,
        "axes.facecolor": PAPER,
        "axes.grid": True,
        "axes.axisbelow": True,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "figure.facecolor": PAPER,
        "grid.color": RULE,
        "grid.linewidth": 0.8,
        "text.color": INK,
        # Names and titles are the user's: a dollar sign in one begins no formula.
        "text.parse_math": False,
        "xtick.color": INK,
        "ytick.color": INK,
        "legend.frameon": False,
        "lines.linewidth": 2.0,
        "hatch.linewidth": 0.8,
    }
    with rc_context(settings), warnings.catch_warnings():
        # `lacking_letters` tells of these in plain words
        warnings.filterwarnings("ignore", message=r"Glyph \d+ .* missing from (current )?font")
        yield


@cache
def _families() -> tuple[str, ...]:
    """Return the pictures' own type, then what is installed for the letters it lacks."""
    from matplotlib import font_manager

    known = {font.name for font in font_manager.fontManager.ttflist}
    return ("DejaVu Sans", *(name for name in OTHER_LETTERS if name in known))


def lacking_letters(text: str) -> str:
    """Return the letters of a text that no type on this machine has; pictures show boxes there."""
    from matplotlib import font_manager

    files = {font_manager.findfont(name) for name in _families()}
    known = set().union(*(font_manager.get_font(file).get_charmap() for file in files))
    return "".join(sorted({letter for letter in text if ord(letter) not in known}))


def font_file() -> str:
    """Return the file of the type used in all pictures."""
    from matplotlib import get_data_path

    return str(Path(get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf")


def mark_grip(axes: Axes, half: float, level: float = 0.5) -> None:
    """Shade the handle that does not bend, named at a height of the axes from 0 to 1.

    Parameters
    ----------
    axes : Axes
        Stations of the bow to the right.
    half : float
        Half the handle's length, in the axes' unit; 0 for a bow that bends through the hand.
    level : float
    """
    if half > 0.0:
        axes.axvspan(-half, half, color=RULE, lw=0, zorder=3)
    else:
        axes.axvline(0.0, color=FAINT, lw=1.2, ls=":")
    axes.text(
        0.0, level, "grip", transform=axes.get_xaxis_transform(), rotation=90, ha="center",
        va="center", fontsize=10.5, zorder=4,
    )  # fmt: skip


def new_figure(width: float, height: float) -> Figure:
    """Return an empty figure of a size in inches; needs no screen and no pyplot state."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), dpi=DOTS_PER_INCH)
    FigureCanvasAgg(figure)
    return figure


def save_figure(figure: Figure, path: str | os.PathLike[str]) -> Path:
    """Write a figure as PNG (or what the suffix says), whole or not at all."""
    with typography(), whole_file(path) as partial:
        # Given no suffix, Matplotlib would add one and write beside the file that is kept.
        suffix = partial.suffix.removeprefix(".") or "png"
        colour = figure.get_facecolor()
        figure.savefig(partial, dpi=figure.dpi, facecolor=colour, format=suffix)
    return Path(path)
