from functools import lru_cache
from pathlib import Path

import pytest

from limbfe.analysis.assess import assess_solved
from limbfe.analysis.bow.exercise import exercise
from limbfe.analysis.bow.solve import SolvedBow, solve_bow, solve_elastic
from limbfe.analysis.results.assessment import Assessment
from limbfe.api import read_case
from limbfe.case.build import build_setup

CASES = sorted((Path(__file__).parents[2] / "cases").glob("*.toml"))


@lru_cache
def solved(path: Path) -> SolvedBow:
    return solve_bow(build_setup(read_case(path)))


@lru_cache
def elastic(path: Path) -> SolvedBow:
    return solve_elastic(build_setup(read_case(path)))


@lru_cache
def assessed(path: Path) -> Assessment:
    return assess_solved(solved(path))


QUICK = ("ash_flatbow",)


@pytest.fixture(
    scope="session",
    params=[
        pytest.param(path, marks=() if path.stem in QUICK else pytest.mark.slow, id=path.stem)
        for path in CASES
    ],
)
def case_path(request):
    return request.param


@pytest.fixture
def bow(case_path):
    return solved(case_path)


@pytest.fixture
def exercised(case_path):
    return exercise(solved(case_path))


@pytest.fixture
def elastic_bow(case_path):
    return elastic(case_path)


@pytest.fixture
def assessment(case_path):
    return assessed(case_path)
