"""Ten ways to taper one board, all brought to 35 lbf at 27 in: what each costs and gives.

python cases/studies/tapers.py tapers.png
"""

import sys
from pathlib import Path

import matplotlib.pyplot as plt

import limbfe

TAPERS = Path(__file__).parents[1] / "tapers"


def study(cases):
    """Return one row for each bow at the common weight, the least strained first."""
    return sorted(
        limbfe.compare(cases, draw_weight="35 lbf").rows(), key=lambda r: r["peak_strain"]
    )


def picture(rows, path):
    """Draw strain and stored energy side by side, a line for each bow."""
    names = [row["name"].replace("_", " ") for row in rows]
    figure, both = plt.subplots(1, 2, sharey=True, figsize=(11, 1.5 + 0.45 * len(rows)))
    shown = (
        ("peak_strain", 100, "hardest worked strain of the limb, %", "{:.2f}", "#8c510a"),
        ("stored_J", 1, "energy the limbs give back, J", "{:.1f}", "#01665e"),
    )
    for axes, (key, scale, label, form, color) in zip(both, shown, strict=True):
        values = [scale * row[key] for row in rows]
        axes.barh(names, values, color=color)
        for k, value in enumerate(values):
            axes.text(value, k, " " + form.format(value), va="center")
        axes.set_xlabel(label)
        axes.margins(x=0.12)
        axes.spines[["top", "right"]].set_visible(False)
    both[0].invert_yaxis()
    figure.suptitle("The same board, the same 35 lbf (156 N) at 27 in: the less strain the safer")
    figure.tight_layout()
    figure.savefig(path, dpi=130)


if __name__ == "__main__":
    picture(study(sorted(TAPERS.glob("*.toml"))), sys.argv[1])
