"""The worked studies: each runs on few values and draws; whole and as typed in the slow suite."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest

from tests.many import many

CASES = Path(__file__).parents[2] / "cases"
STUDIES = sorted((CASES / "studies").glob("*.py"))
COARSE = "\n[analysis]\nelements_per_limb = 6\nfineness = 0.5\n"


@pytest.fixture
def module(request, monkeypatch):
    mpl.use("Agg")
    spec = importlib.util.spec_from_file_location(
        request.param, CASES / "studies" / f"{request.param}.py"
    )
    found = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(found)
    return found


@pytest.fixture
def coarse(tmp_path):
    """The elm longbow with few elements."""
    path = tmp_path / "elm.toml"
    path.write_text((CASES / "elm_longbow.toml").read_text() + COARSE)
    return path


def drawn(path: Path) -> bool:
    return path.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


@pytest.mark.slow
@pytest.mark.parametrize("module", ["moisture"], indirect=True)
def test_a_damp_bow_is_weaker(module, coarse, tmp_path):
    dry, damp = module.study(coarse, [0.08, 0.12])
    assert dry["draw_weight_N"] > damp["draw_weight_N"]
    module.picture([dry, damp], tmp_path / "out.png")
    assert drawn(tmp_path / "out.png")


@pytest.mark.slow
@pytest.mark.parametrize("module", ["knot"], indirect=True)
def test_a_larger_knot_uses_more(module, coarse, tmp_path):
    sizes, places, used = module.study(coarse, [4e-3, 14e-3], [0.0])
    assert used.shape == (2, 1)
    assert used[0, 0] < used[1, 0]
    module.picture(sizes, places, used, tmp_path / "out.png")
    assert drawn(tmp_path / "out.png")


@pytest.mark.slow
@pytest.mark.parametrize("module", ["tapers"], indirect=True)
def test_tapers_at_one_weight(module, tmp_path):
    paths = sorted(module.TAPERS.glob("*.toml"))[:2]
    rows = module.study(paths)
    assert [row["draw_weight_N"] for row in rows] == pytest.approx([155.69] * 2, rel=1e-3)
    assert rows[0]["peak_strain"] <= rows[1]["peak_strain"]
    assert np.isfinite(rows[0]["stored_J"])
    module.picture(rows, tmp_path / "out.png")
    assert drawn(tmp_path / "out.png")


def test_each_is_read_at_a_glance():
    assert max(len(script.read_text().splitlines()) for script in STUDIES) <= 60


@pytest.mark.slow
@pytest.mark.parametrize(
    "script",
    [one for one in STUDIES if many(1) > 1 or one.stem == "moisture"],
    ids=lambda p: p.stem,
)
def test_as_it_is_typed(script, tmp_path):
    """The others take minutes: their functions are tried above, on few values."""
    out = tmp_path / "out.png"
    subprocess.run([sys.executable, str(script), str(out)], check=True, capture_output=True)
    assert drawn(out)
