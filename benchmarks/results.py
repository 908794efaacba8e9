"""Run the benchmarks and write RESULTS.md and scaling.png beside this file.

    python benchmarks/results.py             # everything, about twenty minutes on two cores
    python benchmarks/results.py RUN.json    # only write, from a run of pytest --benchmark-json

Run it on a machine that does nothing else.  A peer that does not import is left out, and said so.
"""

from __future__ import annotations

import importlib.metadata
import json
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np

HERE = Path(__file__).parent
LIBRARIES = ("numpy", "scipy", "numba", "pyvista", "openseespy", "sectionproperties")
LIBRARIES += ("scikit-fem", "felupe")

Run = dict[str, Any]

PAIRS = [
    (
        "test_one_section[1.0]",
        "test_one_section_by_sectionproperties[90-1.4]",
        "sectionproperties, one longbow section from outline to bending and torsion stiffness. "
        "Accuracies stand in the table above. Ours gives all 36 entries of the 6x6 for any "
        "anisotropic wood; the peer's isotropic warping gives areas, centroids, shear and torsion "
        "constants for any outline and meshes it with a general mesher.",
    ),
    (
        "test_brace_and_thirty_steps[20]",
        "test_peer_in_space[20]",
        "OpenSeesPy, three-dimensional. Its program is general and is driven from Python with "
        "hand-chosen steps; ours knows only bows.",
    ),
    (
        "test_brace_and_thirty_steps[20]",
        "test_peer_in_its_plane[20]",
        "OpenSeesPy, half of the symmetric bow in its plane, string length given; ours solves both "
        "limbs in space, finds the string's length and judges stability at every step.",
    ),
    (
        "test_plate[100k]",
        "test_plate_scikit_fem[100k]",
        "scikit-fem with SciPy's default direct solver, as its documentation shows it. Same mesh, "
        "quadrature and solution to 1e-8. Most of the gain is the ordering of the unknowns.",
    ),
    (
        "test_plate[100k]",
        "test_plate_felupe[100k]",
        "felupe with SciPy's default direct solver, the anisotropic field as a user-defined "
        "weak form. Same mesh and quadrature.",
    ),
]

SCALING = [
    ("test_brace_and_thirty_steps", None, "beam: elements a limb", "brace + 30 steps"),
    ("test_bow", "elements", "section: elements of each of 41", "6x6 of a bow"),
    ("test_plate", "unknowns", "plate: unknowns", "assembly + solve"),
    ("test_ensemble_of_random_stiffness", None, "ensemble: bows", "full draw"),
    ("test_study", None, "study: worker processes", "16 yielding bows"),
]


def main() -> None:
    """Run or read, then write."""
    if len(sys.argv) > 1:
        run = json.loads(Path(sys.argv[1]).read_text())
    else:
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "run.json"
            command = [sys.executable, "-m", "pytest", "-q", str(HERE), f"--benchmark-json={file}"]
            subprocess.run(command, check=True)
            run = json.loads(file.read_text())
    plot_scaling(run)
    (HERE / "RESULTS.md").write_text("\n".join(lines(run)) + "\n", encoding="utf-8")


def lines(run: Run) -> Iterator[str]:
    """Yield the lines of RESULTS.md."""
    machine, commit = run["machine_info"], run["commit_info"]
    yield "# Benchmarks\n"
    yield "Written by `python benchmarks/results.py`; do not edit.\n"
    cpu = machine.get("cpu", {})
    yield f"- machine: {cpu.get('brand_raw', machine['machine'])}, {cpu.get('count', '?')} cores"
    yield f"- system: {machine['system']}, Python {machine['python_version']}"
    yield f"- libraries: {', '.join(versions())}"
    changes = " with changes" if commit["dirty"] else ""
    yield f"- commit {commit['id'][:10]}{changes}, {run['datetime'][:10]}\n"
    yield "Times are medians; the spread is the range from the first to the third quartile.\n"
    groups = defaultdict(list)
    for bench in run["benchmarks"]:
        groups[bench["group"] or bench["fullname"].split("::")[0].split("/")[-1]].append(bench)
    for title, benches in groups.items():
        yield f"## {title}\n"
        yield "| what | time | spread | figures |"
        yield "| --- | ---: | ---: | --- |"
        for bench in benches:
            stats = bench["stats"]
            spread = f"{seconds(stats['q1'])} to {seconds(stats['q3'])}"
            row = (f"`{bench['name'][5:]}`", seconds(stats["median"]), spread)
            yield f"| {' | '.join((*row, figures(bench['extra_info'])))} |"
        yield ""
    yield from comparisons(run)
    yield "## Scaling\n"
    yield "![cost against size](scaling.png)\n"
    yield "Slopes are fitted to the logarithms: 1 is a cost in proportion to the size."


def comparisons(run: Run) -> Iterator[str]:
    """Yield every ratio to a peer with its spread and what it shows."""
    found = {bench["name"]: bench["stats"] for bench in run["benchmarks"]}
    yield "## Beside the peers\n"
    yield "Time of the peer over time of ours, same problem, same run.\n"
    for ours, peer, words in PAIRS:
        if ours not in found or peer not in found:
            yield f"- `{peer[5:]}`: not run here (the peer did not import)"
            continue
        a, b = found[ours], found[peer]
        ratio, low, high = b["median"] / a["median"], b["q1"] / a["q3"], b["q3"] / a["q1"]
        yield f"- **{ratio:.2g}** ({low:.2g} to {high:.2g}): {words}"
    yield ""


def versions() -> Iterator[str]:
    """Yield every library with its version."""
    for name in LIBRARIES:
        try:
            yield f"{name} {importlib.metadata.version(name)}"
        except importlib.metadata.PackageNotFoundError:
            yield f"{name} absent"


def seconds(value: float) -> str:
    """Return a time as text of three digits."""
    return f"{value:.3g} s" if value >= 1.0 else f"{1e3 * value:.3g} ms"


def figures(extra: dict[str, Any]) -> str:
    """Return what a benchmark noted beside its time."""
    return ", ".join(
        f"{key.replace('_', ' ')} {value:.3g}" if isinstance(value, float) else f"{key} {value}"
        for key, value in extra.items()
    )


def plot_scaling(run: Run) -> None:
    """Draw cost against size, one panel each."""
    fig, axes = plt.subplots(1, len(SCALING), figsize=(16, 3.4), layout="constrained")
    for ax, (name, key, label, title) in zip(axes, SCALING, strict=True):
        points = []
        for bench in run["benchmarks"]:
            if bench["name"].split("[")[0] == name:
                size = bench["extra_info"][key] if key else next(iter(bench["params"].values()))
                points.append((float(size), bench["stats"]["median"]))
        if not points:
            ax.set_axis_off()
            continue
        size, cost = np.array(sorted(points)).T
        if name == "test_study":
            ax.bar([str(int(value)) for value in size], cost, width=0.5, color="#1b4f72")
        else:
            slope = np.polyfit(np.log(size), np.log(cost), 1)[0]
            title = f"{title}, slope {slope:.2f}"
            ax.loglog(size, cost, "o-", color="#1b4f72")
            ax.set_xticks(size, [f"{value:,.0f}" for value in size], rotation=30)
            ax.set_xticks([], minor=True)
            ax.grid(alpha=0.3)
        ax.set_title(title, fontsize=10)
        ax.set(xlabel=label, ylabel="seconds")
    fig.savefig(HERE / "scaling.png", dpi=110)


if __name__ == "__main__":
    main()
