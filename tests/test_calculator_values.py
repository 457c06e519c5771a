"""What the calculator says, against values from outside; each row names its source."""

import math
import re

import pytest

from fieldkit.calculator import evaluate
from fieldkit.calculator.errors import NoAnswer, UnusableInput

# (expression, unit asked for, value, unit, half the last printed digit, source)
VALUES = [
    ("sqrt(500 W * 8 ohm)", "V", 63.25, "V", 0.005, "Ohm"),
    ("sqrt(500 W * 8 ohm)", None, 63.25, "V", 0.005, "the same, in the unit the trade has for it"),
    ("cable_loss(30 m, 2.5 mm^2, 8 ohm)", None, 20 * math.log10(1 + 0.4788 / 8), "dB", 5e-5, "IEC 60228 table 3"),
    ("longest_cable(0.5 dB, 2.5 mm², 8 Ω)", "m", 29.70, "m", 0.005, "IEC 60228 table 3 and 20·log10(1 + R/Z)"),
    ("4 dBu", "V", 1.2277, "V", 5e-5, "definition of dBu"),
    ("0 dBV", "dBu", 2.218, "dBu", 5e-4, "definitions of dBu and dBV"),
    ("-10 dBV", "V", 0.316228, "V", 5e-7, "definition of dBV"),
    ("parallel(8 ohm, 8 ohm, 4 ohm)", None, 2.0, "ohm", 5e-4, "Kirchhoff, 1/(1/8 + 1/8 + 1/4)"),
    ("limiter_voltage(300 W, 8 ohm)", "V", 48.99, "V", 0.005, "Ohm"),
    ("limiter_voltage(300 W, 8 ohm)", "dBu", 36.0, "dBu", 0.05, "Ohm, and the definition of dBu"),
    ("limiter_voltage(power=300 W, load=8 ohm)", "dBu", 36.0, "dBu", 0.05, "the same, by name"),
    ("82 ft", "m", 24.9936, "m", 5e-9, "1 ft = 0.3048 m, by definition"),
    ("5 ft 3 in", "m", 1.6002, "m", 5e-9, "1 in = 25.4 mm, by definition"),
    ("5' 3\"", "in", 63, "in", 5e-9, "12 in a foot"),
    ("10 AWG", "mm²", 5.261, "mm²", 5e-4, "ASTM B258"),
    ("awg(10)", "mm²", 5.261, "mm²", 5e-4, "the same, by function"),
    ("20 °C", "°F", 68, "°F", 1e-9, "definition"),
    ("310 W", "BTU/h", 1058, "BTU/h", 0.5, "1 W = 3.41214 BTU/h, by definition"),
    ("230 V * 16 A", "kVA", 3.68, "kVA", 5e-9, "P = V · I"),
    ("100 m / (343.2 m/s)", "ms", 291.375, "ms", 5e-4, "ISO 9613-1 annex A: 343.2 m/s at 20 °C"),
    ("20 dBu + 6 dB", None, 26, "dBu", 1e-9, "a level plus dB, by definition"),
    ("20 dBu - 4 dBu", None, 16, "dB", 1e-9, "level less level, by definition"),
    ("2,5 mm²", None, 2.5, "mm²", 1e-12, "decimal comma"),
    ("7.98 ohm/km * 60 m", "ohm", 0.4788, "ohm", 5e-9, "IEC 60228 table 3, out and back over 30 m"),
    ("1 / (2 * pi * 8 ohm * 100 µF)", "Hz", 198.94, "Hz", 0.005, "textbook corner frequency 1/(2πRC)"),
]


@pytest.mark.parametrize(("expression", "to", "value", "unit", "within", "source"), VALUES)
def test_values_from_outside(expression, to, value, unit, within, source):
    result = evaluate(expression, to)
    assert source
    assert result.unit == unit
    assert result.value == pytest.approx(value, abs=within)
    assert float(result.text.split()[0]) == pytest.approx(value, abs=within + 5e-6)


def test_an_exponent_after_a_unit_belongs_to_the_unit():
    # Nobody means 2.83 V², so that is refused; the square of 2.83 V is written with parentheses: 1.001 W (Ohm).
    assert evaluate("(2.83 V)^2 / 8 ohm").text == "1.00111 W"


@pytest.mark.parametrize(
    ("expression", "value"),
    [
        ("1 + 2 * 3", 7),
        ("(1 + 2) * 3", 9),
        ("-2^2", -4),
        ("2^3^2", 512),
        ("2 ** 3", 8),
        ("8 / 4 / 2", 1),
        ("10 - 4 - 3", 3),
        ("√(9) · 2 − 1", 5),
        ("1e3 ÷ 4", 250),
        ("3²", 9),
        (".5 + .25", 0.75),
        ("50 %", 0.5),
        ("round(2.567, 1)", 2.6),
        ("max(1, 5, 3) - min(4, 2)", 3),
        ("ln(exp(2))", 2),
        ("log10(1000) + log2(8)", 6),
        ("sin(30 deg) + cos(60 deg)", 1),
        ("abs(-3)", 3),
    ],
)
def test_mathematics(expression, value):
    result = evaluate(expression)
    assert (result.unit, result.value) == ("", pytest.approx(value, rel=1e-12))


@pytest.mark.parametrize(
    ("expression", "unit"),
    [
        ("82 ft", "ft"),
        ("230 V * 16 A", "W"),
        ("63 V / 8 ohm", "A"),
        ("63 V / 7 A", "ohm"),
        ("8 ohm * 10 µF", "s"),
        ("2 m * 3 m", "m²"),
        ("10 W / 2 ohm", "W/ohm"),
        ("4 dBu", "dBu"),
        ("class_5_resistance(2.5 mm²)", "ohm/m"),
        ("1 h + 30 min", "h"),
    ],
)
def test_units_of_results(expression, unit):
    assert evaluate(expression).unit == unit


@pytest.mark.parametrize(
    ("expression", "text"),
    [
        ("sqrt(500 W * 8 ohm)", "63.2456 V"),
        ("5 kW", "5.00000 kW"),
        ("1234567 W", "1234567.0 W"),
        ("0.0001 A", "0.000100000 A"),
        ("8 ohm", "8.00000 Ω"),
        ("123456 W", "123456 W"),
    ],
)
def test_the_value_comes_first_with_at_least_six_digits(expression, text):
    assert evaluate(expression).text == text


def test_ascii_only():
    assert evaluate("7.98 ohm/km", ascii_only=True).text == "7.98000 ohm/km"
    assert evaluate("2 m * 3 m", ascii_only=True).text == "6.00000 m2"


REFUSED = [
    ("4 dBu + 4 dBu", "two levels do not add up"),
    ("2 * 4 dBu", "no level in a product"),
    ("4 dBu * 8 ohm", "no level in a product"),
    ("sqrt(4 dBu)", "no level under a root"),
    ("1,000 W", "write 1000 W or 1.0 W"),
    ("cable_loss(30, 2.5 mm², 8 ohm)", "length: expected a length (m, mm, ft, in), got 30"),
    ("cable_loss(30 kg, 2.5 mm², 8 ohm)", "got 30 kg, which is a mass"),
    ("cable_loss(30 m, 2,5 mm², 8 ohm)", "write decimals with a point"),
    ("cable_loss(30 m, 2.5 mm²)", "load is missing"),
    ("cable_loss(30 m, 2.5 mm², 8 ohm, length=3 m)", "got 4 values"),
    ("cable_loss(30 m, 2.5 mm², laod=8 ohm)", "did you mean 'load'?"),
    ("cabel_loss(30 m, 2.5 mm², 8 ohm)", "did you mean 'cable_loss'?"),
    ("cable_loss(-30 m, 2.5 mm², 8 ohm)", "length: expected 0 m to"),
    ("cable_loss", "expected parentheses with values after cable_loss"),
    ("awg(14.5)", "no gauge"),
    ("3 furlong", "'furlong', which is unknown"),
    ("20 °C + 5 °C", "a difference in K"),
    ("3 m + 4 kg", "two of one kind"),
    ("3 m + 4", "two of one kind"),
    ("2^(1 m)", "plain number as an exponent"),
    ("(2 m)^0.3", "whole or half exponent"),
    ("3 4", "expected an operator"),
    ("(3", "expected a closing parenthesis"),
    ("3)", "expected an opening parenthesis"),
    ("", "expected an expression such as"),
    ("m", "expected a number before the unit"),
]


@pytest.mark.parametrize(("expression", "says"), REFUSED)
def test_input_that_cannot_be_used(expression, says):
    with pytest.raises(UnusableInput) as refused:
        evaluate(expression)
    assert says in str(refused.value)
    assert refused.value.exit_status == 2
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("expression", "to", "says"),
    [
        ("1/0", None, "divisor other than 0"),
        ("sqrt(-4)", None, "0 or more under a root"),
        ("0 V", "dBu", "above 0"),
        ("ln(0)", None, "above 0"),
        ("exp(1000)", None, "beyond"),
        ("2^64 * 1e300 * 1e300", None, "beyond"),
        ("parallel(0.0 ohm) / 0", None, "divisor"),
    ],
)
def test_calculations_without_an_answer(expression, to, says):
    with pytest.raises(NoAnswer) as refused:
        evaluate(expression, to)
    assert says in str(refused.value)
    assert refused.value.exit_status == 1


@pytest.mark.parametrize(
    ("expression", "to", "says"),
    [
        ("63 V", "m", "expected a unit of voltage (V, mV, dBu, dBV), got 'm', which is a length"),
        ("12 dB", "V", "voltage_ratio"),
        ("3 m", "dB", "which is a gain"),
        ("3", "m", "plain number"),
        ("20 °C", "m", "temperature"),
        ("4 dBu", "W", "level"),
        ("3 m", "parsec", "'parsec'"),
        ("3 m", "m; import os", "expected"),
    ],
)
def test_conversions_that_do_not_fit(expression, to, says):
    with pytest.raises(UnusableInput) as refused:
        evaluate(expression, to)
    assert says in str(refused.value)


def test_a_result_names_the_formulas_it_took():
    (used,) = evaluate("cable_loss(30 m, 2.5 mm², 8 ohm)").used
    assert used.name == "cable_loss"
    assert used.inputs == (("length", 30.0, "m"), ("area", 2.5, "mm²"), ("load", 8.0, "ohm"))
    assert used.source


def test_the_column_of_the_trouble():
    with pytest.raises(UnusableInput) as refused:
        evaluate("8 ohm + cable_loss(3, 2.5 mm², 8 ohm)")
    assert refused.value.column == 20


@pytest.mark.parametrize("expression", ["63 V^2 / 8 ohm", "2 V² / 8 ohm", "3 A^2 * 8 ohm", "1 + 5 ohm^2"])
def test_a_squared_unit_that_nobody_means_is_refused(expression):
    with pytest.raises(UnusableInput, match=r"expected parentheses around what is raised: \(\d+ \w+\)\^2"):
        evaluate(expression)


@pytest.mark.parametrize(
    ("expression", "value", "unit"),
    [
        ("3/8 in", 0.375, "in"),
        ("1/2 in", 0.5, "in"),
        ("5/3 in", 5 / 3, "1/in"),  # on no ruler: a quotient
        ("3 / 8 in * 2", 0.75, "in"),
        ("2 * 3/8 in", 0.75, "1/in"),  # a product goes on from the left
        ("2 mm^2", 2.0, "mm²"),
        ("3 m/s^2", 3.0, "m/s²"),
    ],
)
def test_a_fraction_of_an_inch_is_as_rulers_have_it(expression, value, unit):
    result = evaluate(expression)
    assert (result.value, result.unit) == (pytest.approx(value), unit)


def test_a_gauge_takes_the_table_of_gauges():
    # NFPA 70 chapter 9 table 8: stranded 14 AWG 3.14 ohm/kft at 75 °C; 20 °C by IEC 60028 is 3.14/0.3048/1.21615 ohm/km.
    loop = 2 * 30 * 3.14 / 304.8 / 1.21615
    loss = 20 * math.log10(1 + loop / 8)
    for call in ("cable_loss(30 m, 14 AWG, 8 ohm)", "cable_loss(length=30 m, area=14 AWG, load=8 ohm)"):
        result = evaluate(call)
        assert result.value == pytest.approx(loss, rel=1e-6)
        assert result.used[-1].name == "cable_loss_awg"
    with pytest.raises(UnusableInput, match="expected mm², got a gauge"):
        evaluate("longest_cable(0.5 dB, 14 AWG, 8 ohm)")


@pytest.mark.parametrize(
    ("expression", "says"),
    [
        ("cable_loss(30 m, 0.4 mm^2, 8 ohm)", "area: expected 0.5 mm² to 120 mm², got 0.4 mm²"),
        ("cable_loss(30 m, 150 mm^2, 8 ohm)", "area: expected 0.5 mm² to 120 mm²"),
        ("cable_loss_awg(30 m, 20 AWG, 8 ohm)", "gauge: expected -3 to 18, got 20"),
        ("solid_awg_resistance(6)", "gauge: expected 8 to 18, got 6"),
    ],
)
def test_sizes_that_no_table_prints_are_refused_with_the_range(expression, says):
    with pytest.raises(UnusableInput, match=re.escape(says)):
        evaluate(expression)
