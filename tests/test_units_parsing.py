"""Reading what a person types: spellings, commas, feet and inches, wire gauges, and what is refused."""

import math
from itertools import pairwise

import pytest
from budget import tries
from fluids.piping import t_from_gauge
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.units import UNITS, UnitError, find_unit, parse_quantity, shown, spellings, units_of

# One of the unit, in the computing unit. NIST SP 811 (2008) appendix B.8, printed digits; exact ones in full.
SP_811 = [
    ("1 ft", 0.3048, 0),
    ("1 in", 0.0254, 0),
    ("1 yd", 0.9144, 0),
    ("1 lb", 0.45359237, 0),  # international yard and pound agreement of 1959
    ("1 oz", 0.02834952, 5e-9),
    ("1 t", 1000, 0),
    ("1 BTU/h", 0.2930711, 5e-8),
    ("1 bar", 1e5, 0),
    ("1 h", 3600, 0),
    ("1 min", 60, 0),
]


@pytest.mark.parametrize(("text", "value", "tolerance"), SP_811)
def test_units_outside_the_si(text, value, tolerance):
    assert parse_quantity(text).value == pytest.approx(value, rel=1e-15, abs=tolerance)


def test_one_watt_is_3_41214_btu_per_hour():
    # By definition: 1 W = 3.41214 BTU/h.
    assert 1 / parse_quantity("1 BTU/h").value == pytest.approx(3.41214, abs=5e-6)


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        # Fixed points, by definition of the scales.
        ("32 °F", 0), ("212 °F", 100), ("-40 °F", -40), ("68 °F", 20), ("0 K", -273.15), ("293.15 K", 20),
    ],
)  # fmt: skip
def test_temperatures(text, celsius):
    assert parse_quantity(text).value == pytest.approx(celsius, abs=1e-12)


@pytest.mark.parametrize(
    ("symbol", "texts"),
    [
        ("ohm", ["8 Ω", "8 \u2126", "8 ohm", "8 ohms", "8Ω", "8 Ohm", "8 OHMS"]),
        ("ohm", ["8\u00a0ohm", "8\u2009Ω", "8\u202fΩ", "8\tΩ"]),
        ("kohm", ["8 kΩ", "8 kohm", "8 k\u2126", "8 Kohm", "8 kiloohms"]),
        ("mohm", ["8 mΩ", "8 mohm", "8 milliohm"]),
        ("Mohm", ["8 MΩ", "8 Mohm"]),
        ("mm²", ["8 mm²", "8 mm2", "8 mm^2", "8 mm**2", "8 sq mm", "8 MM2", "8 square millimetres"]),
        ("µF", ["8 µF", "8 \u03bcF", "8 uF", "8 UF", "8 microfarads", "8 uf"]),
        ("m", ["8 m", "8 metre", "8 metres", "8 meter", "8 Meters", "  8   m ", "+8 m"]),
        ("mm", ["8 mm", "8 millimetres", "8 millimeter"]),
        ("ft", ["8 ft", "8 foot", "8 feet", "8'", "8′", "8’", "8 FT", "8 ft."]),
        ("in", ["8 in", "8 inch", "8 inches", '8"', "8″", "8”", "8''", "8 in."]),
        ("lb", ["8 lb", "8 lbs", "8 pounds"]),
        ("kg", ["8 kg", "8 Kg", "8 KG", "8 kilograms"]),
        ("V", ["8 V", "8 v", "8 volt", "8 volts"]),
        ("W", ["8 W", "8 w", "8 watt", "8 Watts"]),
        ("kW", ["8 kW", "8 kw", "8 KW", "8 kilowatts"]),
        ("mW", ["8 mW", "8 milliwatts"]),
        ("MW", ["8 MW", "8 megawatts"]),
        ("kHz", ["8 kHz", "8 khz", "8 KHz", "8 KHZ", "8 kilohertz"]),
        ("°C", ["8 °C", "8°C", "8 ° C", "8 C", "8 degC", "8 deg C", "8 c"]),
        ("°C", ["8 ℃", "8 ºC", "8 ˚C", "8 degrees Celsius"]),
        ("°F", ["8 °F", "8 degF", "8 deg F", "8 ℉", "8 °f"]),
        ("deg", ["8°", "8 deg", "8 degrees", "8 °"]),
        ("%", ["8 %", "8%", "8 percent", "8 per cent"]),
        ("dBu", ["8 dBu", "8 dbu", "8 DBU"]),
        ("ms", ["8 ms", "8 milliseconds"]),
        ("s", ["8 s", "8 sec", "8 seconds"]),
        ("VA", ["8 VA", "8 va"]),
        ("BTU/h", ["8 BTU/h", "8 btu/h", "8 BTU/hr", "8 Btu/h"]),
    ],
)  # fmt: skip
def test_spellings_of_one_unit(symbol, texts):
    for text in texts:
        quantity = parse_quantity(text)
        assert (quantity.number, quantity.unit, quantity.dimension) == (8, symbol, UNITS[symbol].dimension), text


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("2,5 mm²", 2.5),
        ("2.5 mm²", 2.5),
        ("0,500 m", 0.5),
        ("0,5 m", 0.5),
        (",5 m", 0.5),
        (".5 m", 0.5),
        ("1234,5 m", 1234.5),
        ("1234,567 m", 1234.567),
        ("1,00 m", 1.0),
        ("1,0000 m", 1.0),
        ("1.000 m", 1.0),
        ("4,7e-3 m", 0.0047),
        ("1e3 m", 1000.0),
        ("1E+3 m", 1000.0),
        ("-6 m", -6.0),
        ("\N{MINUS SIGN}6 m", -6.0),
        ("- 6 m", -6.0),
    ],
)
def test_numbers(text, number):
    assert parse_quantity(text).number == number


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("1,000 W", "it could be one or one thousand; write 1000 W or 1.0 W"),
        ("12,500 W", "it could be 12.5 or 12500; write 12500 W or 12.5 W"),
        ("-1,234 dB", "it could be 1.234 or 1234; write 1234 dB or 1.234 dB"),
        ("1,000e3 W", "whose comma has two readings"),
        ("1,000.5 W", "more than one decimal sign"),
        ("1.000,5 W", "more than one decimal sign"),
        ("1,2,3 W", "more than one decimal sign"),
        ("1..5 W", "more than one decimal sign"),
        ("1,000,000 W", "more than one decimal sign"),
        ("1_000 m", "whose number is in parts; write the digits together, as in 1000"),
        ("2 500 W", "whose number is in parts; write the digits together, as in 2500"),
        ("1'000 m", "whose number is in parts; write the digits together, as in 1000"),
        ("1e400 m", "which is too large a number"),
        ("1e99999 m", "which is too large a number"),
        ("1e308 km", "which is too large a number"),
        ("1e5 dBu", "which is too large a number"),
        ("1e300 dBu", "which is too large a number"),
        ("nan m", "does not begin with a number"),
        ("inf m", "does not begin with a number"),
        ("-inf m", "does not begin with a number"),
        ("ohm 8", "does not begin with a number; write '8 ohm'"),
        ("m", "does not begin with a number"),
        ("8", "which has no unit"),
        ("-", "does not begin with a number"),
        ("", "which is empty"),
        (" \u2009\t ", "which is empty"),
        ("１２ m", "does not begin with a number; write the digits 0 to 9"),
        ("1２ m", "whose digits are not plain ones; write 0 to 9"),
        ("٣ m", "does not begin with a number; write the digits 0 to 9"),
        ("2.5 mm*", "whose unit 'mm*' is unknown"),
        ("(((", "does not begin with a number"),
        ("5, m", "whose unit ', m' is unknown"),
        ("0x10 m", "is unknown"),
        ("2*3 m", "is unknown"),
        ("100 W rms", "whose unit 'W rms' is unknown; write '100 W' alone"),
        ("10k", "a lone 'k' is no unit: write it out, as in km, kg, kA"),
        ("20 M", "a lone 'M' is no unit"),
        ("5 mw", "did you mean 'mW' or 'MW'?"),
        ("5 Mw", "did you mean 'mW' or 'MW'?"),
        ("5 MV", "did you mean 'mV'?"),
        ("5 mhz", "did you mean 'MHz'?"),
        ("5 MM", "did you mean 'mm'?"),
        ("5 PA", "did you mean 'Pa'?"),
        ("5 dBv", "write 'dBV' (0 dBV is 1 V) or 'dBu' (0 dBu is 0.775 V)"),
        ("5 dbv", "write 'dBV' (0 dBV is 1 V) or 'dBu' (0 dBu is 0.775 V)"),
        ("5 metrs", "did you mean 'metre'?"),
        ("5 V rms", "is unknown"),
        ("20 \u202em", "whose unit '\\u202em' is unknown"),
        ("20\u200bm", "is unknown"),
        ("20 m\n30 m", "is unknown"),
        ("5 ft 13 in", "whose inches are not under 12; write 6 ft 1 in"),
        ("5 ft 12 in", "whose inches are not under 12; write 6 ft 0 in"),
        ("5 ft 3", "whose feet and inches are unclear; write it as in 5 ft 3 in"),
        ("5'3", "whose feet and inches are unclear"),
        ("5.5 ft 3 in", "whose feet and inches are unclear"),
        ("5 ft -3 in x", "whose feet and inches are unclear"),
        ("99 AWG", "no gauge from 4/0 to 40"),
        ("5/0 AWG", "no gauge from 4/0 to 40"),
        ("13.5 AWG", "no gauge from 4/0 to 40"),
        ("-1 AWG", "no gauge from 4/0 to 40"),
        ("AWG", "does not begin with a number"),
    ],
)
def test_refused(text, says):
    with pytest.raises(UnitError, match="expected a number with a unit such as '20 m', got ") as caught:
        parse_quantity(text)
    assert says in str(caught.value)
    assert caught.value.text == text


@pytest.mark.parametrize(
    "text",
    ["5 ft 3 in", "5' 3\"", "5'3\"", "5′ 3″", "5′3″", "5’ 3”", "5' 3''", "5ft3in", "5 feet 3 inches",
     "5'-3\"", "5 FT 3 IN", "5 ft. 3 in.", "5 ft 2 2/2 in", "5.25 ft", "63 in"],
)  # fmt: skip
def test_five_feet_three(text):
    # own, worked by hand: 63 in · 25.4 mm = 1600.2 mm
    assert parse_quantity(text).value == pytest.approx(1.6002, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        # own, worked by hand, 25.4 mm an inch
        ("5 ft 3 1/2 in", 63.5 * 25.4),
        ("5 ft 3½ in", 63.5 * 25.4),
        ("5 ft ½ in", 60.5 * 25.4),
        ("5' 3 1/2\"", 63.5 * 25.4),
        ("5 ft 3,5 in", 63.5 * 25.4),
        ("5 ft 0 in", 1524),
        ("5 ft", 1524),
        ("66 in", 1676.4),
        ("3/8 in", 9.525),
        ("1 1/2 in", 38.1),
        ("1½ in", 38.1),
        ("-5 ft 3 in", -1600.2),
        ("\N{MINUS SIGN}5' 3\"", -1600.2),
    ],
)
def test_feet_inches_and_fractions(text, millimetres):
    assert parse_quantity(text).value * 1000 == pytest.approx(millimetres, rel=1e-12)


@pytest.mark.parametrize("text", ["14 AWG", "AWG 14", "14AWG", "AWG14", "14 awg", " 14  Awg "])
def test_gauge_before_and_after(text):
    quantity = parse_quantity(text)
    assert (quantity.number, quantity.unit, quantity.dimension) == (14, "AWG", "area")


@pytest.mark.parametrize(
    ("text", "number"), [("2/0 AWG", -1), ("00 AWG", -1), ("AWG 4/0", -3), ("0 AWG", 0), ("1/0 AWG", 0)]
)
def test_aughts(text, number):
    assert parse_quantity(text).number == number


def test_gauge_areas_as_printed():
    # ASTM B258 as reproduced: 10 AWG 2.588 mm, 5.261 mm².
    assert parse_quantity("10 AWG").value == pytest.approx(5.261, abs=5e-4)
    # From memory, NFPA 70 chapter 9 table 8: 4/0 AWG is 107.2 mm².
    assert parse_quantity("4/0 AWG").value == pytest.approx(107.2, abs=0.05)


@pytest.mark.parametrize("gauge", [0, *range(2, 37, 2)])
def test_gauge_diameters_against_the_table_of_a_library(gauge):
    # fluids.piping, its AWG table, printed to thousandths of an inch or finer.
    diameter = 2 * math.sqrt(parse_quantity(f"{gauge} AWG").value / math.pi)
    assert diameter == pytest.approx(t_from_gauge(gauge, SI=True, schedule="AWG") * 1000, rel=5e-3)


def test_gauges_get_thinner_by_one_ratio():
    # ASTM B258: 39 steps of equal ratio from 0.46 in (4/0) to 0.005 in (36); area goes with the square.
    areas = [parse_quantity(text).value for text in ("4/0 AWG", "3/0 AWG", "2/0 AWG", *(f"{n} AWG" for n in range(41)))]
    for thick, thin in pairwise(areas):
        assert thick / thin == pytest.approx(92 ** (2 / 39), rel=1e-12)


def test_twenty_c_is_a_temperature_and_f_a_capacitance():
    assert parse_quantity("20 C").dimension == "temperature"
    assert parse_quantity("68 F").dimension == "capacitance"


def test_milliwatts_and_megawatts_stay_apart():
    assert parse_quantity("5 mW").value == pytest.approx(0.005)
    assert parse_quantity("5 MW").value == pytest.approx(5e6)
    for text in ("5 mw", "5 Mw"):
        with pytest.raises(UnitError, match="did you mean 'mW' or 'MW'"):
            parse_quantity(text)


@pytest.mark.parametrize("text", ["x" * 10_000, "9" * 10_000 + " m", "1," * 5_000, "5 ft " * 2_000, "\x00" * 10_000])
def test_long_text_is_answered_shortly(text):
    with pytest.raises(UnitError, match=r"which is 1000[02] characters long") as caught:
        parse_quantity(text)
    assert len(str(caught.value)) < 200


def test_shown_is_one_short_line():
    assert shown("a\nb\x1b[31m\u202e") == r"'a\nb\x1b[31m\u202e'"
    assert shown("y" * 61) == "'" + "y" * 57 + "...'"
    assert len(shown("\x00" * 500)) <= 62
    assert shown("Amp [/A]") == "'Amp [/A]'"
    assert shown(12) == "12"
    assert len(shown(10**90)) <= 62


def test_error_carries_its_parts():
    with pytest.raises(ValueError, match="expected a number") as caught:
        parse_quantity("20 mn")
    error = caught.value
    assert isinstance(error, UnitError)
    assert (error.text, error.problem) == ("20 mn", "whose unit 'mn' is unknown")
    assert error.expected.startswith("a number")
    assert error.hint.startswith("did you mean")


def test_every_spelling_is_found_and_every_symbol_listed_first():
    listed = list(spellings())
    assert len(set(listed)) == len(listed)
    assert listed[: len(UNITS)] == list(UNITS)
    for spelling in listed:
        assert find_unit(spelling).symbol in UNITS
    assert set(spellings("impedance")) == set(spellings("resistance"))
    assert {unit.symbol for unit in units_of("level")} >= {"dBu", "dBV", "V", "mV"}


def test_unknown_unit_is_refused():
    with pytest.raises(UnitError, match=r"expected a unit, got 'm{57}\.\.\.', which is unknown$"):
        find_unit("m" * 10_000)
    with pytest.raises(UnitError, match="expected a unit, got 'furlong', which is unknown"):
        find_unit("furlong")


@given(st.text(max_size=120))
def test_any_text_is_a_quantity_or_a_unit_error(text):
    _quantity_or_one_line(text)


# Text made of what the parser looks at, so that its branches meet each other.
PIECES = ["1", "12", "0", "5", "3", ".", ",", "-", "+", "e", " ", "/", "'", '"', "ft", "in", "m", "k", "µ",
          "Ω", "AWG", "°", "C", "F", "dB", "V", "½", "\u2009", "_", "²", "\u202e", "٣", "(", "*"]  # fmt: skip


@given(st.lists(st.sampled_from(PIECES), max_size=12).map("".join))
@tries(120)
def test_any_mixture_is_a_quantity_or_a_unit_error(text):
    _quantity_or_one_line(text)


def _quantity_or_one_line(text):
    try:
        quantity = parse_quantity(text)
    except UnitError as error:
        message = str(error)
    else:
        message = ""
        assert math.isfinite(quantity.number)
        assert math.isfinite(quantity.value)
        assert quantity.unit in UNITS
    assert message.isprintable()
    assert len(message) < 300


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e9, max_value=1e9))
def test_a_number_in_full_is_read_back_exactly(number):
    quantity = parse_quantity(f"{number!r} m")
    assert (quantity.number, quantity.value) == (number, number)
