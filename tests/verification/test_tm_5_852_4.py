"""US Army TM 5-852-4, Table 2-2, Specific gravity-strength relation at 12 % moisture (courtesy
Forest Products Laboratory; read): MOR 25,700 G^1.25 psi, modulus 2,800 G 1000 psi, maximum crushing
12,200 G psi, compression at the proportional limit 8,750 G psi.

A guard against slips in the species table: the regression's own scatter is wide, so the bounds are.
"""

import numpy as np
import pytest

from limbfe.wood import find_species, species_names
from limbfe.wood.table import read_rules

PSI = 6894.757
ROWS = [n for n in species_names() if n != "moso bamboo"]


def ratios(name):
    row = find_species(name)
    gravity = row.dry["density"].value / (1000 * (1 + row.moisture))
    return np.array(
        [
            row.dry["bending_strength"].value / (25700 * PSI * gravity**1.25),
            row.dry["bending_modulus"].value / (2.8e6 * PSI * gravity),
            row.dry["compression_strength"].value / (12200 * PSI * gravity),
        ]
    )


@pytest.mark.parametrize("name", ROWS)
def test_every_row_lies_near_the_regression(name):
    assert np.all(ratios(name) > 0.60)
    assert np.all(ratios(name) < 1.35)


def test_the_table_as_a_whole_follows_the_regression():
    mean = np.mean([ratios(name) for name in ROWS], axis=0)
    np.testing.assert_allclose(mean, 1.0, atol=0.12)


def test_proportional_limit_over_crushing():
    """8,750 / 12,200 = 0.717 against 0.75 of ANC-18, sec. 2.1001 (read)."""
    rule = read_rules()["proportional_limit"]["hardwood"]
    assert rule == pytest.approx(8750 / 12200, abs=0.04)
