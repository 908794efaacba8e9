"""A pull on a long string is refused where the bow would not hold still, and warns of a set."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.long_string import pull_long_string
from limbfe.analysis.bow.setup import adjust
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.errors import ConvergenceError, GeometryError

CASES = Path(__file__).parents[3] / "cases"


def ash(width=1.0, thickness=1.0):
    setup = build_setup(read_case(CASES / "ash_flatbow.toml"))
    stave = setup.stave
    stave = replace(
        stave,
        width=width * stave.width,
        thickness=thickness * stave.thickness,
        outline=replace(stave.outline, belly="flat", belly_corner=0.0),
    )
    return adjust(setup, stave=stave, analysis={"elements_per_limb": 8, "fineness": 0.3})


def test_a_limb_deeper_than_wide_kicks_over_and_is_refused():
    setup = ash(width=0.2, thickness=2.0)
    with pytest.raises(
        ConvergenceError, match="the bow is not stable: the least push sideways"
    ) as error:
        pull_long_string(setup, 1.9, force=300.0)
    assert not error.value.last_state.stable
    assert error.value.draw_length > 0.0


def test_caution_past_the_proportional_limit():
    setup = ash()
    wood = setup.stave.heartwood
    limit = wood.strength.compression_proportional_limit / wood.elasticity.E_L
    said = []
    for force in np.linspace(60.0, 200.0, 8):
        pulled = pull_long_string(setup, 1.9, force=float(force))
        assert len(pulled.cautions) == np.sum(pulled.strain_there > limit)
        said.append(len(pulled.cautions))
    assert said[0] == 0
    assert said[-1] == 2
    assert f"{limit:.2%}" in str(pulled.cautions[0])
    with pytest.raises(GeometryError, match="wood breaks near 1 %; pull less"):
        pull_long_string(setup, 1.9, force=20000.0)


WIDE, THICK, PULL = 0.04, 0.012, 0.2


def straight(thickness):
    """A straight limb of one width, held at its middle by the nearest node, flat in section."""
    setup = ash()
    stave = setup.stave
    return adjust(
        setup,
        stave=replace(
            stave,
            width=np.full_like(stave.x, WIDE),
            thickness=thickness(np.abs(stave.x) / stave.x[-1]),
            reflex=np.zeros_like(stave.x),
            stiff_length=0.0,
        ),
        stringing={"nock_offset": 0.0},
        analysis={"elements_per_limb": 24},
    )


def test_stations_come_down_as_statics_by_hand_says():
    """A prismatic limb under a small pull: w(x) = (F/2) x^2 (3 L - x) / (6 E I).

    A cantilever loaded at its end (S. Timoshenko, Strength of Materials, part I; from memory).  At
    the middle of a slack string each nock takes half the pull; what the string pulls along the bow
    acts through how far the limb has come down, with the square of the force.
    """
    setup = straight(lambda far: np.full_like(far, THICK))
    flex = pull_long_string(setup, 2.4, force=PULL).flex
    length = float(setup.stave.x[-1])
    bending = setup.stave.heartwood.elasticity.E_L * WIDE * THICK**3 / 12.0
    far = np.abs(flex.x)
    by_hand = 0.5 * PULL * far**2 * (3.0 * length - far) / (6.0 * bending)
    outer = far > 0.2
    assert flex.down[-1][outer] == pytest.approx(by_hand[outer], rel=0.01)
    assert flex.tips[:, 1] == pytest.approx(np.linspace(0.1, 1.0, 10) * flex.tips[-1, 1], rel=0.01)
    assert flex.stiffness == pytest.approx(1.0, abs=1e-3)
    # an even limb of the same tip works less hard at the grip: there this one bends too much
    assert np.all(flex.bending[far < 0.2] > 1.2)
    assert np.all(flex.bending[(far > 0.6) & (far < 0.8)] < 0.9)


def test_a_limb_as_thick_as_the_root_of_its_lever_is_even():
    """6 (F/2) (L - x) / (b h^2) is the skin's stress (beam theory); h^2 as L - x makes it one."""
    setup = straight(lambda far: THICK * np.sqrt(np.maximum(1.0 - far, 0.03)))
    flex = pull_long_string(setup, 2.4, force=PULL).flex
    length, E_L = float(setup.stave.x[-1]), setup.stave.heartwood.elasticity.E_L
    inner = np.abs(flex.x) < 0.75 * length
    assert flex.bending[inner] == pytest.approx(1.0, abs=0.04)
    assert flex.even_strain == pytest.approx(
        3.0 * PULL * length / (WIDE * THICK**2 * E_L), rel=0.04
    )
    assert flex.even_down[inner] == pytest.approx(flex.down[-1][inner], rel=0.04)


def test_a_thick_place_is_stiff_and_the_other_limb_is_told():
    setup = straight(lambda far: THICK * np.sqrt(np.maximum(1.0 - far, 0.03)))
    stave = setup.stave
    thick = np.where(np.abs(stave.x - 0.435) < 0.01, 1.15, 1.0) * stave.thickness
    flex = pull_long_string(
        adjust(setup, stave=replace(stave, thickness=thick)), 2.4, force=PULL
    ).flex
    k = int(np.argmin(np.abs(flex.x - 0.435)))
    assert flex.bending[k] == pytest.approx(1.15**-2, rel=0.05)
    assert flex.stiffness[k] == pytest.approx(1.15**3, rel=0.05)
    assert flex.stiffness[int(np.argmin(np.abs(flex.x + 0.435)))] < 0.7
