"""What moisture does to a bow: weight, set and how hard the belly works, from dry to damp.

python cases/studies/moisture.py moisture.png
"""

import sys
from pathlib import Path

import matplotlib.pyplot as plt

import limbfe

CASE = Path(__file__).parents[1] / "elm_longbow.toml"


def study(case, moisture="6:14:2 %"):
    """Return one row for each moisture at which the bow could be drawn."""
    return [row for row in limbfe.sweep(case, moisture=moisture).rows() if "draw_weight_N" in row]


def picture(rows, path):
    """Draw weight, set and the belly's strength used one above the other."""
    moisture = [row["moisture_percent"] for row in rows]
    sets = [0.5 * (row["set_mm_upper"] + row["set_mm_lower"]) for row in rows]
    belly = [100 * row["strength_used_compression"] for row in rows]
    panels = (
        ("draw weight, N", [row["draw_weight_N"] for row in rows], "#01665e"),
        ("set of the tips, mm", sets, "#8c510a"),
        ("belly's strength used, %", belly, "#b2182b"),
    )
    figure, all_axes = plt.subplots(len(panels), 1, sharex=True, figsize=(7, 7.5))
    for axes, (label, values, color) in zip(all_axes, panels, strict=True):
        axes.plot(moisture, values, "o-", color=color, lw=2)
        for x, y in zip(moisture, values, strict=True):
            axes.annotate(f"{y:.0f}", (x, y), (0, 7), textcoords="offset points", ha="center")
        axes.set_ylabel(label)
        axes.margins(y=0.3)
        axes.spines[["top", "right"]].set_visible(False)
    all_axes[-1].set_xlabel("moisture of the wood, %")
    figure.suptitle("The same elm bow from dry to damp")
    figure.tight_layout()
    figure.savefig(path, dpi=130)


if __name__ == "__main__":
    picture(study(CASE), sys.argv[1])
