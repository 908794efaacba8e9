"""String materials."""

import pytest

from limbfe.errors import MaterialError
from limbfe.wood import (
    string_breaking_force,
    string_mass,
    string_material,
    string_names,
    string_stiffness,
)


@pytest.mark.parametrize("name", string_names())
def test_stiffness_mass_and_strength_grow_with_the_strands(name):
    material = string_material(name)
    for measure in (string_stiffness, string_mass, string_breaking_force):
        assert measure(material, 14) == pytest.approx(14 * measure(material, 1))
    assert material.source.flag == "assumed"
    assert "lay_factor" in material.source.text


def test_polyethylene_stretches_least():
    """Common practice: modern strings of the same weight stretch far less than polyester."""
    stiff = string_material("hmpe"), string_material("polyester")
    per_mass = [string_stiffness(m, 10) / string_mass(m, 10) for m in stiff]
    assert per_mass[0] > 10 * per_mass[1]


def test_yarn_of_the_published_range():
    """DSM fact sheet CIS YA100 (2010): 112 to 137 N/tex; ten yarns of 1760 dtex weigh 1.76 g/m."""
    material = string_material("uhmwpe")
    yarns = string_stiffness(material, 10) / material.lay_factor
    assert 112 * 1760 < yarns < 137 * 1760
    assert string_mass(material, 10) == pytest.approx(1.76e-3)


def test_messages():
    with pytest.raises(MaterialError, match='did you mean "polyester"'):
        string_material("polyestr")
    with pytest.raises(MaterialError, match="at least 1"):
        string_stiffness(string_material("linen"), 0)
