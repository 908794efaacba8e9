"""Wood left at a knot until it is sound."""

import numpy as np
import pytest

from limbfe.api import assess, read_case, size
from limbfe.errors import CaseError
from limbfe.studies.case_file import write_case

from .make import knotty_bow


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    return read_case(knotty_bow(tmp_path_factory.mktemp("knotty")))


@pytest.mark.slow
def test_the_written_case_is_judged_sound(case, tmp_path):
    plain = size(case, 110.0)
    assert plain.zones[0].verdict != "sound"
    mended = size(case, 110.0, mend=True, blank_allowance=0.006)
    at = np.isclose(mended.x, 0.29)
    assert mended.left_for[int(np.flatnonzero(at)[0])] == "knot hole"
    assert mended.thickness[at] > np.interp(0.29, plain.x, plain.thickness)
    again = assess(read_case(write_case(mended.case, tmp_path / "mended.toml", [])))
    assert again.zones[0].verdict == "sound"
    assert again.drawn.curve.force[-1] == pytest.approx(110.0, rel=1e-3)


@pytest.mark.slow
def test_more_wood_than_there_is_names_the_knot(case):
    with pytest.raises(CaseError, match="knot hole needs the limb"):
        size(case, 145.0, mend=True)
