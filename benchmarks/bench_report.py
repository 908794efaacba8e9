"""Report: what a page of pictures costs on top of the computation, for every shipped case.

Run with ``python -m pytest benchmarks/bench_report.py``.  The size of the file and of the 3D page
inside it stand beside each time; the page that turns is to stay below 3 MB.
"""

from pathlib import Path

import pytest

from limbfe.analysis.assess import assess_closely
from limbfe.analysis.solve import solve_bow
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.report.files import Wanted, write_files
from limbfe.units import METRIC
from limbfe.view.page import make_page, page_available
from limbfe.view.probe import probe_rendering

CASES = sorted((Path(__file__).parents[1] / "cases").glob("*.toml"))


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_pictures_and_report(benchmark, path, tmp_path):
    solved = solve_bow(build_setup(read_case(path)))
    assessment, zones = assess_closely(solved)

    def write():
        wanted = Wanted(pictures=True, series=False)
        write_files(
            solved, assessment, zones, tmp_path, wanted=wanted, units=METRIC, say=lambda text: None
        )

    benchmark.pedantic(write, rounds=3, iterations=1)
    benchmark.extra_info["report_bytes"] = (tmp_path / "report.html").stat().st_size


def test_page_that_turns(benchmark):
    missing = page_available() or probe_rendering().reason
    if missing:
        pytest.skip(missing)
    solved = solve_bow(build_setup(read_case(CASES[-1])))
    assessment, _ = assess_closely(solved)
    page = benchmark.pedantic(
        make_page, (assessment,), {"result": "strength_used", "units": "metric"}, rounds=3
    )
    benchmark.extra_info["page_bytes"] = len(page.encode())
    assert len(page.encode()) < 3_000_000
