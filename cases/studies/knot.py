"""Where a knot may sit: the elm longbow's knot across the limb, at three sizes.

python cases/studies/knot.py knot.png
"""

import sys
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np

import limbfe

CASE = Path(__file__).parents[1] / "elm_longbow.toml"
SIZES = np.array([3e-3, 6e-3, 9e-3])


def study(case, sizes=SIZES, across="-12:12:4 mm"):
    """Return sizes and places (m) and the strength used to break or split, shape of both."""
    sweep = limbfe.sweep(case, "A", diameter=sizes, across=across)
    return *(np.array(axis.values) for axis in sweep.axes), sweep.column("strength_used")


def picture(sizes, places, used, path):
    """Draw strength used against the place, a line for each size, what fails shaded."""
    figure, axes = plt.subplots(figsize=(8.5, 5))
    top = max(1.4, 1.1 * np.nanmax(used))
    axes.axhspan(1.0, top, color="#b2182b", alpha=0.12, lw=0)
    axes.text(1e3 * places[0], 1.03, "splits or breaks at full draw", color="#b2182b", va="bottom")
    for size, line, mark in zip(sizes, used, "osD", strict=False):
        axes.plot(1e3 * places, line, marker=mark, lw=2, label=f"{1e3 * size:.0f} mm knot")
    axes.axvline(0.0, color="0.6", lw=1, ls=":")
    axes.set_xlabel("place of the knot, mm from the middle of the back to the archer's right")
    axes.set_ylabel("strength used to break or split")
    axes.set_ylim(0.0, top)
    axes.legend(title="298 mm up the upper limb", loc="lower right", frameon=False)
    axes.spines[["top", "right"]].set_visible(False)
    axes.set_title("Where may a knot sit?")
    figure.tight_layout()
    figure.savefig(path, dpi=130)


if __name__ == "__main__":
    picture(*study(CASE), sys.argv[1])
