"""Values with units: parsed, refused, shown.

Conversion factors: NIST Special Publication 811 (2008), Appendix B (from memory; inch, pound and
standard gravity are exact by definition).
"""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbfe.units import (
    IMPERIAL,
    KINDS,
    METRIC,
    DrawReach,
    Kind,
    Length,
    Sentence,
    ToolLength,
    UnitError,
    parse_quantity,
    say,
    unit_factor,
    unit_system,
)
from limbfe.units.parse import _UNITS, unit_size

VALUES: list[tuple[str, Kind, float]] = [
    ("25 mm", "length", 0.025),
    ("25mm", "length", 0.025),
    ("2.5cm", "length", 0.025),
    ("1.68 m", "length", 1.68),
    ("28 in", "length", 0.7112),
    ("1 3/8 in", "length", 0.034925),
    ("-1 3/8 in", "length", -0.034925),
    ("3/4 in", "length", 0.01905),
    ("11-3/4 in", "length", 0.29845),
    ("-11-3/4 in", "length", -0.29845),
    ("11½ in", "length", 0.2921),
    ("11 ½ in", "length", 0.2921),
    ("-⅝ in", "length", -0.015875),
    ("1\u20444 in", "length", 0.00635),
    ("1 ft 3 in", "length", 0.381),
    ("5 ft 6 1/2 in", "length", 1.6891),
    ("5'6½\"", "length", 1.6891),
    ("-1 feet 3 inches", "length", -0.381),
    ("5 ft", "length", 1.524),
    ("+.5 mm", "length", 5e-4),
    ("-20 mm", "length", -0.02),
    ("1e1 mm", "length", 0.01),
    ("5\u00a0mm", "length", 0.005),
    ("0", "length", 0.0),
    ("45 lbf", "force", 45 * 0.45359237 * 9.80665),
    ("20 kgf", "force", 196.133),
    ("40 kN", "force", 4e4),
    ("9.8 GPa", "stress", 9.8e9),
    ("120 N/mm2", "stress", 120e6),
    ("120 N/mm^2", "stress", 120e6),
    ("120 N/mm²", "stress", 120e6),
    ("1000 psi", "stress", 6894757.293168361),
    ("1.5 Mpsi", "stress", 1.5e6 * 6894.757293168361),
    ("7 g", "mass", 0.007),
    ("100 grain", "mass", 6.479891e-3),
    ("680 kg/m3", "density", 680.0),
    ("0.68 g/cm^3", "density", 680.0),
    ("42 lb/ft3", "density", 42 * 16.018463373960142),
    ("350 J/m2", "fracture energy", 350.0),
    ("0.35 N/mm", "fracture energy", 350.0),
    ("10 kJ/m2", "fracture energy", 1e4),
    ("6 deg", "angle", math.radians(6)),
    ("6 °", "angle", math.radians(6)),
    ("0.1 rad", "angle", 0.1),
    ("1 in 25", "angle", math.atan(1 / 25)),
    ("-1 in 12.5", "angle", -math.atan(1 / 12.5)),
    ("1:25", "angle", math.atan(1 / 25)),
    ("9 %", "fraction", 0.09),
]


@pytest.mark.parametrize(("text", "kind", "expected"), VALUES)
def test_values_become_si(text: str, kind: Kind, expected: float) -> None:
    assert parse_quantity(text, kind) == pytest.approx(expected, rel=1e-12)


REFUSED: list[tuple[str, Kind, str]] = [
    ("25", "length", 'has no unit; a length is needed, such as "25 mm"'),
    ("", "length", "is not a number with a unit"),
    ("mm", "length", "is not a number with a unit"),
    ("about 25 mm", "length", "is not a number with a unit"),
    ("1 2 mm", "length", "is not a number with a unit"),
    ("1-2 mm", "length", "is not a number with a unit"),
    ("1 ft 3 mm", "length", "unknown unit"),
    ("1 ft 3 4 in", "length", 'unknown unit "ft 3 4 in"'),
    ("5 ft 1/0 in", "length", "divides by zero"),
    ("nan mm", "length", "is not a finite number"),
    ("-inf mm", "length", "is not a finite number"),
    ("1e999 mm", "length", "is too large"),
    ("25,4 mm", "length", "write a decimal point"),
    ("1,700 mm", "length", "nothing between thousands"),
    ("1/0 in", "length", "divides by zero"),
    ("1 -3/8 in", "length", "sign inside the fraction"),
    ("45 lbf", "length", "is a force and must be a length"),
    ("4200 lb", "force", 'write "lbf" or "kgf"'),
    ('28 "', "length", 'did you mean "in"?'),
    ("9.8 gpa", "stress", 'did you mean "GPa"?'),
    ("5 milimetre", "length", 'did you mean "millimetre"?'),
    ("5 furlongs", "length", 'unknown unit "furlongs"; '),
    ("5 s", "length", "is a time and must be a length"),
    ("5 N m", "length", "is in a unit of another kind"),
    ("5 mm mm", "length", "is in a unit of another kind"),
    ("6 deg", "fraction", "is an angle and must be a percentage"),
    ("1 in 25", "length", "is a slope and must be a length"),
    ("1 in 0", "angle", "slope of run 0"),
    ("5 m^9^9^9^9", "length", 'unknown unit "m^9^9^9^9"'),
    ("5 m**(9**9**9)", "length", "unknown unit"),
    ("5 [length]", "length", "unknown unit"),
    ("5 {reason}", "length", 'unknown unit "{reason}"'),
    ("5 __import__('os')", "length", "unknown unit"),
    ("5 mm" + " " * 99, "length", "too long"),
]


@pytest.mark.parametrize(("text", "kind", "words"), REFUSED)
def test_what_cannot_be_meant_is_refused(text: str, kind: Kind, words: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_quantity(text, kind)
    assert words in str(caught.value)


@pytest.mark.parametrize("kind", KINDS)
def test_the_example_of_each_kind_is_of_that_kind_only(kind: Kind) -> None:
    example = KINDS[kind].example
    assert parse_quantity(example, kind) > 0.0
    for other in KINDS:
        if KINDS[other].dimensions != KINDS[kind].dimensions:
            with pytest.raises(UnitError, match=r"must be an? "):
                parse_quantity(example, other)


@settings(deadline=None)
@given(st.text(max_size=80), st.sampled_from(sorted(KINDS)))
def test_any_text_gives_a_finite_number_or_a_refusal(text: str, kind: Kind) -> None:
    try:
        value, message = parse_quantity(text, kind), ""
    except UnitError as error:
        value, message = 0.0, str(error)
    assert math.isfinite(value)
    assert message.isprintable()


@settings(deadline=None)
@given(
    st.floats(-1e6, 1e6),
    st.sampled_from(("mm", "cm", "m", "in", "ft")),
    st.sampled_from(("mm", "cm", "m", "in", "ft")),
)
def test_a_length_is_the_same_in_every_unit(value: float, one: str, other: str) -> None:
    si = parse_quantity(f"{value!r} {one}", "length")
    again = parse_quantity(f"{si / unit_factor(other, 'length')!r} {other}", "length")
    assert again == pytest.approx(si, rel=1e-12, abs=1e-12)


def test_units_are_those_of_pint() -> None:
    pint = pytest.importorskip("pint")
    registry = pint.UnitRegistry()
    registry.define("klbf = 1e3 lbf")
    registry.define("Mpsi = 1e6 psi = msi")
    for name, (factor, _) in _UNITS.items():
        assert factor == pytest.approx(registry(name).to_base_units().magnitude), name


def test_a_product_of_units_is_read_from_left_to_right() -> None:
    size = unit_size("lb in/s2 m")
    assert size is not None
    assert size[0] == pytest.approx(0.45359237 * 0.0254)
    assert size[1] == (2, 1, -2, 0)
    assert unit_size("kg m-3") == unit_size("kg/m^3") == (1.0, (-3, 1, 0, 0))
    assert unit_size("mm stone") is unit_size("/mm") is unit_size("") is None


def test_the_units_load_nothing_heavy() -> None:
    code = (
        "import sys, limbfe.units as u\n"
        "u.parse_quantity('2 ft', 'length')\n"
        "assert not {'pint', 'numpy'} & set(sys.modules)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_a_sentence_waits_for_its_reader() -> None:
    words = Sentence("leave {} of {name}", Length(0.0195), name=Sentence("the {}", "limb"))
    assert say(words, METRIC) == "leave 19.5 mm of the limb"
    assert say(words, IMPERIAL) == "leave 49/64 in of the limb"
    assert str(words) == "leave 19.5 mm (0.77 in) of the limb"
    with pytest.raises(TypeError, match="f-string"):
        f"{words}"
    with pytest.raises(TypeError, match="f-string"):
        f"{Length(1.0)}"


def test_values_are_shown_in_the_reader_s_units() -> None:
    assert METRIC.length(0.0195) == "19.5 mm"
    assert METRIC.length(0.71149) == "711 mm"
    assert METRIC.length(-1e-9) == "0.0 mm"
    assert IMPERIAL.length(0.0195) == "49/64 in"
    assert IMPERIAL.length(0.7112) == "28 in"
    assert METRIC.force(200.17) == "200 N"
    assert IMPERIAL.force(200.17) == "45.0 lbf"
    assert METRIC.stress(83.94e6) == "83.9 MPa"
    assert IMPERIAL.stress(83.94e6) == "12174 psi"
    assert METRIC.modulus(9.84e9) == "9.84 GPa"
    assert IMPERIAL.modulus(9.84e9) == "1.43 Mpsi"
    assert METRIC.energy(51.2) == "51.2 J"
    assert IMPERIAL.energy(51.2) == "37.8 ft lbf"
    assert METRIC.moment(31.4) == "31.4 N m"
    assert IMPERIAL.moment(31.4) == "278 in lbf"
    assert METRIC.mass(0.0075) == "7.5 g"
    assert IMPERIAL.mass(0.0075) == "0.26 oz"
    assert METRIC.density(681.2) == "681 kg/m3"
    assert IMPERIAL.density(681.2) == "42.5 lb/ft3"
    assert IMPERIAL.angle(0.1) == "5.7 deg"
    assert unit_system("imperial") is IMPERIAL
    assert unit_system("metric") is METRIC


def test_lengths_in_steps_of_a_tool_keep_what_is_said_true():
    """What is at least needed goes up to the next 1 mm or 1/16 in, a reach goes down; by hand."""
    needed, reach = ToolLength(0.0041), DrawReach(0.6105)
    assert (say(needed, METRIC), say(needed, IMPERIAL)) == ("5 mm", "3/16 in")
    assert (say(reach, METRIC), say(reach, IMPERIAL)) == ("610 mm", "24 in")
    assert str(needed) == "5 mm (3/16 in)"
    # whole steps stay what they are, whatever a conversion left of them
    for kind in (ToolLength, DrawReach):
        assert say(kind(0.1 * 3 * 0.01), METRIC) == "3 mm"
        assert say(kind(3 * 0.0254 / 16), IMPERIAL) == "3/16 in"


def test_scales_for_axes_are_those_of_the_tables() -> None:
    assert METRIC.scale("length") == (1e-3, "mm")
    factor, name = IMPERIAL.scale("force")
    assert name == "lbf"
    assert factor == pytest.approx(unit_factor("lbf", "force"))
    for kind, unit in (("length", "in"), ("stress", "psi"), ("modulus", "Mpsi"), ("mass", "oz")):
        shown = IMPERIAL.scale(kind)
        quantity: Kind = "stress" if kind == "modulus" else kind  # type: ignore[assignment]
        assert shown == pytest.approx((unit_factor(unit, quantity), unit))


def test_numbers_that_only_a_slip_can_be_stay_short():
    assert METRIC.length(1e305) == "1e+308 mm"
    assert METRIC.length(-2.5e6) == "-2.5e+09 mm"
    assert METRIC.length(1e5) == "100000000 mm"


@pytest.mark.parametrize("text", ["45 lb", "45 lbs", "45#", "45 pounds", "45 LBS", "45 lbf"])
def test_a_draw_weight_in_pounds_is_a_force(text: str) -> None:
    """Nobody pulls a mass (common practice: a bow is named by its pounds)."""
    assert parse_quantity(text, "draw weight") == pytest.approx(45 * 0.45359237 * 9.80665)
    assert parse_quantity("20 kg", "draw weight") == pytest.approx(20 * 9.80665)
