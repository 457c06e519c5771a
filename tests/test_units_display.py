"""Numbers and units for people, and conversions between units."""

import math

import pytest
from budget import asked_of_each, tries
from hypothesis import assume, given
from hypothesis import strategies as st

from fieldkit.units import UNITS, UnitError, convert, format_number, format_value, parse_quantity, to_display

SYMBOLS = list(UNITS)


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (2.6667, 3, "2.67"),
        (2.7, 3, "2.7"),
        (4.0, 3, "4"),
        (1058.2, 3, "1058"),  # the whole part is never rounded away
        (0.00012345, 3, "0.000123"),
        (0.1 + 0.2, 15, "0.3"),
        (9.999, 3, "10"),
        (0.09996, 3, "0.1"),
        (-0.0, 3, "0"),
        (-0.00000000000001, 3, "-1e-14"),
        (1e15, 3, "1e15"),
        (1.234e20, 3, "1.23e20"),
        (123456789.0, 3, "123456789"),
        (-6.0, 3, "-6"),
        (2.5, 1, "2"),  # to even, as floats are rounded
        (math.nan, 3, "no value"),
        (math.inf, 3, "infinite"),
        (-math.inf, 3, "minus infinite"),
    ],
)
def test_numbers(value, digits, text):
    assert format_number(value, digits) == text


def test_less_than_one_digit_is_refused():
    with pytest.raises(UnitError, match="expected at least 1 digit, got 0"):
        format_number(1.5, 0)


@pytest.mark.parametrize(
    ("value", "unit", "text", "plain"),
    [
        (0.00047, "H", "0.47 mH", "0.47 mH"),
        (4.7e-5, "F", "47 µF", "47 uF"),
        (1e-7, "F", "0.1 µF", "0.1 uF"),
        (2400, "W", "2400 W", "2400 W"),
        (12000, "W", "12 kW", "12 kW"),
        (1200, "Hz", "1200 Hz", "1200 Hz"),
        (9999.6, "Hz", "10 kHz", "10 kHz"),
        (2.6667, "ohm", "2.67 Ω", "2.67 ohm"),
        (0.00798, "ohm", "7.98 mΩ", "7.98 mohm"),
        (2.2e-5, "ohm", "22 µΩ", "22 uohm"),
        (20000, "kohm", "20 MΩ", "20 Mohm"),
        (0.05, "kg", "50 g", "50 g"),
        (12000, "kg", "12000 kg", "12000 kg"),
        (2.5, "mm2", "2.5 mm²", "2.5 mm2"),
        (18, "degC", "18 °C", "18 degC"),
        (-0.01, "°C", "-0.01 °C", "-0.01 degC"),
        (90, "deg", "90°", "90 deg"),
        (0.02, "s", "20 ms", "20 ms"),
        (20, "ms", "20 ms", "20 ms"),
        (0.05, "m", "50 mm", "50 mm"),
        (0.001, "dB", "0.001 dB", "0.001 dB"),
        (60, "%", "60 %", "60 %"),
        (0, "F", "0 F", "0 F"),
        (0.6, "", "0.6", "0.6"),
        (14, "AWG", "14 AWG", "14 AWG"),
        (-1, "AWG", "2/0 AWG", "2/0 AWG"),
        (13.2, "AWG", "13.2 AWG", "13.2 AWG"),
        (343.2, "m/s", "343 m/s", "343 m/s"),
        (0.00798, "ohm/m", "0.00798 Ω/m", "0.00798 ohm/m"),
        (1.7e-8, "ohm·m", "0.000000017 Ω·m", "0.000000017 ohm*m"),
        (0.5, "1/s", "0.5 1/s", "0.5 1/s"),
        (math.inf, "ohm", "infinite", "infinite"),
        (math.nan, "V", "no value", "no value"),
    ],
)
def test_values(value, unit, text, plain):
    assert format_value(value, unit) == text
    assert format_value(value, unit, ascii_only=True) == plain
    assert plain.isascii()


@pytest.mark.parametrize("unit", ["furlong", "ohm/furlong", "ohm/", "/", "\x00"])
def test_unknown_units_are_refused(unit):
    with pytest.raises(UnitError, match="expected a unit, got "):
        format_value(1.5, unit)


@asked_of_each([(symbol,) for symbol in SYMBOLS])
def test_every_unit_has_plain_ascii(symbol):
    assert format_value(1, symbol, ascii_only=True).isascii()


@given(
    st.sampled_from(SYMBOLS),
    st.floats(1e-6, 1e9),
    st.booleans(),
    st.integers(3, 12),
    st.booleans(),
)
@tries(100)
def test_what_is_shown_is_read_back(symbol, size, negative, digits, ascii_only):
    unit = UNITS[symbol]
    number = -size if negative else size
    if unit.scale == "gauge":
        number = float(round(size) % 44 - 3)
    elif unit.scale == "level":
        number = math.remainder(number, 200)
    assume(number == 0 or abs(number) > 1e-6)
    shown = parse_quantity(format_value(number, symbol, digits, ascii_only=ascii_only))
    assert UNITS[shown.unit].computes_in == unit.computes_in
    assert convert(shown.number, shown.unit, symbol) == pytest.approx(number, rel=0.5000001 * 10 ** (1 - digits))


@pytest.mark.parametrize(
    ("value", "unit", "to", "result", "tolerance"),
    [
        # By definition of dBu (0 dBu is √0.6 V) and dBV (0 dBV is 1 V), printed digits as in common tables.
        (0, "dBu", "V", 0.774597, 5e-7),
        (0, "dBV", "dBu", 2.218, 5e-4),
        (4, "dBu", "V", 1.2277, 5e-5),
        (math.sqrt(300 * 8), "V", "dBu", 36.0, 0.05),  # 300 W into 8 ohm
        (40.00, "V", "dBu", 34.26, 5e-3),
        (97.98, "V", "dBu", 42.04, 5e-3),
        (0, "dBm", "W", 0.001, 0),
        (0, "dBW", "W", 1, 0),
        (0, "dBW", "dBm", 30, 1e-12),
        # Ten times the volts is 20 dB, ten times the watts 10 dB, by definition.
        (20, "dBV", "V", 10, 0),
        (20, "dBu", "V", 7.74597, 5e-6),
        (10, "dBW", "W", 10, 0),
        (20, "dBm", "mW", 100, 1e-12),
        (1, "W", "BTU/h", 3.41214, 5e-6),
        (310, "W", "BTU/h", 1058, 0.5),
        (68, "°F", "°C", 20, 1e-12),
        (20, "°C", "K", 293.15, 1e-12),
        (5.261, "mm²", "AWG", 10, 1e-3),
        (1, "ft", "mm", 304.8, 1e-12),
        (101325, "Pa", "hPa", 1013.25, 1e-12),
        (60, "%", "%", 60, 0),
    ],
)
def test_conversions(value, unit, to, result, tolerance):
    assert convert(value, unit, to) == pytest.approx(result, rel=1e-14, abs=tolerance)
    assert to_display(value, unit, to) == convert(value, unit, to)


@pytest.mark.parametrize(
    ("unit", "to"),
    [
        ("m", "kg"),
        ("W", "VA"),
        ("VA", "W"),
        ("dBu", "dBm"),
        ("dB", "dBu"),
        ("mm", "mm²"),
        ("%", "dB"),
        ("V", "W"),
    ],
)
def test_units_of_different_things_do_not_convert(unit, to):
    with pytest.raises(UnitError, match=f"expected a unit of .*, got '{to}', which is a unit of "):
        convert(1, unit, to)


def test_the_ends_of_a_level():
    assert convert(0, "V", "dBu") == -math.inf
    assert convert(0, "W", "dBm") == -math.inf
    with pytest.raises(UnitError, match=r"expected at least 0 V, got -1.0, which has no dBu"):
        convert(-1.0, "V", "dBu")


PAIRS = [(a, b) for a in SYMBOLS for b in SYMBOLS if UNITS[a].computes_in == UNITS[b].computes_in and a != b]


@given(st.sampled_from(PAIRS), st.floats(0.01, 40))
@tries(80)
def test_there_and_back(pair, number):
    unit, to = pair
    back = convert(convert(number, unit, to), to, unit)
    # A temperature loses digits to its zero point, a level to its logarithm.
    assert back == pytest.approx(number, rel=1e-9, abs=1e-9)


@given(st.floats(-120, 60), st.floats(0.001, 60))
def test_a_higher_level_is_more_volts_and_six_db_doubles(level, step):
    assert convert(level + step, "dBu", "V") > convert(level, "dBu", "V")
    doubled = convert(level + 20 * math.log10(2), "dBu", "V")
    assert doubled == pytest.approx(2 * convert(level, "dBu", "V"), rel=1e-12)
