"""B. Bohannan, Effect of size on bending strength of wood members, FPL 56 (1966), taken up in ASTM
D245: clear, straight-grained softwood beams of one span over depth bear ``(2 in / depth)^(1/9)`` of
the bending strength of the 2 in bar (from memory, good confidence in the exponent; that the width
does not matter, as found there, is left out: here all three sizes grow).

Only the tension side has an effect of size here.  The belly yields, so a weaker back takes less
than in proportion from the bending strength, and the exponent of the tension strength must be
higher than the beams'.  Douglas-fir, whose beams were tested, was used to choose it among 8, 9, 10
and 12; ash is a check.
"""

import numpy as np
import pytest

from limbfe.wood import make_wood
from limbfe.wood.belly import BellyLaw, bending_strength
from limbfe.wood.weakest_link import SHAPE

DEPTHS = np.array([4.0, 8.0, 12.0])


def computed(species, shape):
    wood = make_wood(name="bar", species=species, moisture=0.12, given={}, cov={})
    s = wood.strength
    law = BellyLaw(
        modulus=wood.elasticity.E_L,
        crushing=s.compression,
        limit=s.compression_proportional_limit,
        plateau=s.compression_plateau,
    )
    weaker = (2.0 / DEPTHS) ** (3.0 / shape)
    bent = [bending_strength(law, share * s.tension) for share in weaker]
    return np.array(bent) / bending_strength(law, s.tension)


@pytest.mark.parametrize(("species", "most"), [("Douglas-fir", 0.01), ("white ash", 0.02)])
def test_bending_strength_falls_with_depth(species, most):
    measured = (2.0 / DEPTHS) ** (1.0 / 9.0)
    assert np.abs(computed(species, SHAPE) / measured - 1.0).max() < most


def test_no_other_exponent_comes_as_near():
    measured = (2.0 / DEPTHS) ** (1.0 / 9.0)
    miss = {
        shape: np.abs(computed("Douglas-fir", shape) / measured - 1.0).max()
        for shape in (8.0, 9.0, 10.0, 12.0)
    }
    assert min(miss, key=miss.get) == SHAPE
