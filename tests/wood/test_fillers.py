"""What holes are filled with."""

import pytest

from limbfe.errors import MaterialError
from limbfe.wood.fillers import filler_names, find_filler


@pytest.mark.parametrize("name", filler_names())
def test_every_filler_says_where_its_figures_are_from(name):
    row = find_filler(name)
    for figure in ("E: ", "tension: ", "shear: "):
        assert figure in str(row.source.text)
    assert "print" in row.source.flag.value or "no published" in row.source.flag.value


def test_an_unfilled_epoxy():
    """Unfilled laminating epoxy: E 2.5 to 3.5 GPa, tension 50 to 70 MPa, shear 25 to 40 MPa (from
    memory); the bond is not counted on for more than the resin."""
    row = find_filler("Epoxy-resin")
    assert 2.5e9 <= row.E <= 3.5e9
    assert row.tension < 50e6
    assert row.shear < 25e6


def test_dust_makes_a_filler_weaker():
    epoxy, dusty, glue = map(find_filler, ("epoxy", "sawdust and epoxy", "Glue and wood dust"))
    assert epoxy.tension > dusty.tension > glue.tension
    assert epoxy.E > dusty.E > glue.E


def test_an_unknown_filler_is_refused_with_those_there_are():
    with pytest.raises(MaterialError, match='did you mean "epoxy"') as error:
        find_filler("epoxi")
    for name in filler_names():
        assert f'"{name}"' in str(error.value)
