"""Report: what pictures and the page cost on top of the computation, by knots and patches.

Run with ``python -m pytest benchmarks/bench_report.py``.  The size of the file and of the 3D page
inside it stand beside each time; the page that turns is to stay below 3 MB.
"""

import re
from pathlib import Path

import pytest

import limbfe
from limbfe.report.files import Wanted, write_files
from limbfe.units import METRIC
from limbfe.view.bow.page import make_page, page_available
from limbfe.view.probe import probe_rendering

ELM = Path(__file__).parents[1] / "cases" / "elm_longbow.toml"
PLACES = (298, 190, 420, 540, 660, 760)
"""Of the elm bow's knot on its upper limb, mm; it has its own patch on the lower limb."""


def solved_with(zones, folder):
    """Draw the elm bow with its knot at the first of some places, its patch last."""
    head, knot, patch = re.split(r"(?=\[\[)", ELM.read_text(encoding="utf-8"))
    knots = [
        knot.replace('"A"', f'"A{number}"').replace('"298 mm"', f'"{place} mm"')
        for number, place in enumerate(PLACES[: max(zones - 1, 0)])
    ]
    path = folder / "elm.toml"
    path.write_text("".join([head, *knots, *([patch] if zones else [])]), encoding="utf-8")
    return limbfe.solve(path)


@pytest.mark.parametrize("zones", [0, 2, 6])
@pytest.mark.benchmark(group="elm bow: pictures and report, by knots and patches")
def test_pictures_and_report(benchmark, zones, tmp_path):
    assessment = limbfe.assess(solved_with(zones, tmp_path))
    assert len(assessment.judged) == zones

    def write():
        write_files(
            assessment,
            tmp_path,
            wanted=Wanted(pictures=True),
            units=METRIC,
            say=lambda text: None,
            remark=lambda text: None,
        )

    benchmark.pedantic(write, rounds=3, iterations=1, warmup_rounds=1)
    benchmark.extra_info["report_bytes"] = (tmp_path / "report.html").stat().st_size


def test_page_that_turns(benchmark, tmp_path):
    missing = page_available() or probe_rendering().reason
    if missing:
        pytest.skip(missing)
    assessment = limbfe.assess(solved_with(2, tmp_path))
    page = benchmark.pedantic(
        make_page, (assessment,), {"result": "strength_used", "units": "metric"}, rounds=3
    )
    benchmark.extra_info["page_bytes"] = len(page.encode())
    assert len(page.encode()) < 3_000_000
