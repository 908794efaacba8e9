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
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from matplotlib.ticker import LogLocator, NullLocator
from numpy.typing import NDArray
from peers import comparison_lines

HERE = Path(__file__).parent
LIBRARIES = ("numpy", "scipy", "numba", "pyvista", "openseespy", "sectionproperties")
LIBRARIES += ("scikit-fem", "felupe")

Run = dict[str, Any]
Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One plot of cost against size: benchmarks by name, each a line, and where sizes stand."""

    title: str
    size: str
    benches: dict[str, str]
    key: str = ""
    cost: str = "seconds"


PLATE = {
    "test_plate": "limbfe",
    "test_plate_scikit_fem": "scikit-fem",
    "test_plate_felupe": "felupe",
}
BOW = {
    "test_brace_and_thirty_steps": "limbfe",
    "test_peer_in_space": "OpenSeesPy",
    "test_peer_in_its_plane": "OpenSeesPy, half bow in its plane",
}
PANELS = (
    Panel(title="Brace and 30 steps", size="elements a limb", benches=BOW),
    Panel(
        title="41 sections of a bow to 6x6",
        size="elements of a section",
        benches={"test_bow": "limbfe"},
        key="elements",
    ),
    Panel(title="Plate, assembled and solved", size="unknowns", benches=PLATE, key="unknowns"),
    Panel(title="Study", size="processes", benches={"test_study": "96 yielding bows"}),
    Panel(
        title="41 sections of a bow to 6x6",
        size="elements of a section",
        benches={"test_bow": "limbfe"},
        key="elements",
        cost="memory_MB",
    ),
    Panel(title="Plate", size="unknowns", benches=PLATE, key="unknowns", cost="memory_MB"),
)
LINES = (("#1b4f72", "o-"), ("#b3521e", "s--"), ("#6b6b6b", "^:"))
"""Colour, marker and dash of ours and of the peers."""


def main() -> None:
    """Run or read, then write."""
    if len(sys.argv) > 1:
        run = json.loads(Path(sys.argv[1]).read_text())
    else:
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "run.json"
            command = [
                sys.executable,
                "-m",
                "pytest",
                "-q",
                "-n0",
                str(HERE),
                f"--benchmark-json={file}",
            ]
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
    yield "Times are medians; the spread is the range from the first to the third quartile."
    yield "Memory is what a computation holds at its fullest moment beyond what its process held"
    yield "before it, and for commands the largest memory of the whole process"
    yield "(`benchmarks/machine.py`).\n"
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
    yield "## Beside the peers\n"
    yield "Time of the peer over time of ours, same problem, same run; in brackets the spread, from"
    yield "the least to the largest quotient of quartiles.\n"
    yield from comparison_lines(run["benchmarks"])
    yield "## Scaling\n"
    yield "![cost against size](scaling.png)\n"
    yield "Slopes are fitted to the logarithms: 1 is a cost in proportion to the size. By"
    yield "processes the dotted line is a gain in proportion to their number."


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
    """Draw time and memory against size, and time against processes."""
    fig, axes = plt.subplots(2, 3, figsize=(13, 7.7), layout="constrained")
    for ax, panel in zip(axes.flat, PANELS, strict=True):
        several = len(panel.benches) > 1
        for (name, label), (colour, style) in zip(panel.benches.items(), LINES, strict=False):
            size, cost = points(run, name, panel)
            if len(size) == 0:
                continue
            slope = np.polyfit(np.log(size), np.log(cost), 1)[0] if len(size) > 1 else 0.0
            text = f"{label}, slope {slope:.2f}" if several else f"{label}: slope {slope:.2f}"
            ax.loglog(size, cost, style, color=colour, label=text)
            if panel.size == "processes":
                ax.loglog(size, cost[0] * size[0] / size, ":", color="#6b6b6b")
            ax.set_xticks(size, [f"{value:,.0f}" for value in size])
        ax.set_xticks([], minor=True)
        ax.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 3.0, 5.0)))
        ax.yaxis.set_major_formatter("{x:g}")
        ax.yaxis.set_minor_locator(NullLocator())
        ax.grid(alpha=0.3)
        ax.set_title(panel.title, fontsize=11)
        ax.set(xlabel=panel.size, ylabel="memory, MB" if panel.cost == "memory_MB" else "seconds")
        if ax.lines:
            ax.legend(fontsize=8.5, frameon=False)
    fig.savefig(HERE / "scaling.png", dpi=100)


def points(run: Run, name: str, panel: Panel) -> tuple[Points, Points]:
    """Return the sizes and costs of one benchmark, in the order of size."""
    found = []
    for bench in run["benchmarks"]:
        extra = bench["extra_info"]
        if bench["name"].split("[")[0] != name or panel.cost not in {"seconds", *extra}:
            continue
        size = extra[panel.key] if panel.key else next(iter(bench["params"].values()))
        cost = bench["stats"]["median"] if panel.cost == "seconds" else extra[panel.cost]
        found.append((float(size), float(cost)))
    size, cost = np.array(sorted(found)).reshape(-1, 2).T
    return size, cost


if __name__ == "__main__":
    main()
