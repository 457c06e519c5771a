"""Measures: the text as typed, its value, and what each dimension refuses."""

import copy
import pickle

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit import units
from fieldkit.units import (
    DIMENSIONS,
    Angle,
    ApparentPower,
    Area,
    Capacitance,
    Current,
    Duration,
    Frequency,
    Gain,
    Impedance,
    Inductance,
    Length,
    Level,
    Mass,
    Measure,
    Power,
    Pressure,
    Ratio,
    Resistance,
    SoundLevel,
    Temperature,
    UnitError,
    Voltage,
    measure_class,
)

ALL = [
    Angle, ApparentPower, Area, Capacitance, Current, Duration, Frequency, Gain, Impedance, Inductance,
    Length, Level, Mass, Power, Pressure, Ratio, Resistance, SoundLevel, Temperature, Voltage,
]  # fmt: skip


def test_keeps_what_was_typed():
    length = Length("82 ft")
    assert length == "82 ft"
    assert isinstance(length, str)
    assert hash(length) == hash("82 ft")
    assert length.value == pytest.approx(24.9936, rel=1e-15)  # own, by hand: 82 · 0.3048
    assert f"{length}, {length:>8}" == "82 ft,    82 ft"


def test_outer_spaces_go_and_inner_ones_stay():
    assert Length(" 82  ft\n") == "82  ft"


@pytest.mark.parametrize(
    ("measure", "text", "value"),
    [
        # own, worked by hand from the definitions of the units
        (Area, "2.5 mm²", 2.5),
        (Area, "0.25 cm²", 25),
        (Mass, "27 kg", 27),
        (Mass, "500 g", 0.5),
        (Temperature, "68 °F", 20),
        (Temperature, "20 C", 20),
        (Voltage, "230 V", 230),
        (Current, "300 mA", 0.3),
        (Power, "1.4 kW", 1400),
        (Power, "1000 BTU/h", 293.07107),
        (ApparentPower, "3.68 kVA", 3680),
        (Resistance, "0 ohm", 0),
        (Resistance, "250 mΩ", 0.25),
        (Impedance, "8 ohm", 8),
        (Inductance, "0.47 mH", 0.00047),
        (Capacitance, "47 µF", 4.7e-5),
        (Frequency, "1.2 kHz", 1200),
        (Duration, "500 ms", 0.5),
        (Duration, "2 h", 7200),
        (Level, "0 dBu", 0.774597),
        (Level, "+4 dBu", 1.2276530),
        (Level, "0 dBV", 1),
        (Level, "775 mV", 0.775),
        (Gain, "-6 dB", -6),
        (Gain, "\N{MINUS SIGN}6 dB", -6),
        (Ratio, "60 %", 0.6),
        (Ratio, "0.6", 0.6),
        (Ratio, "0,6", 0.6),
        (Ratio, "1", 1),
        (Pressure, "1013.25 hPa", 101325),
        (Pressure, "1013.25 mbar", 101325),
        (SoundLevel, "96 dB", 96),
        (SoundLevel, "96 dB SPL", 96),
        (Angle, "90°", 90),
        (Angle, "90 deg", 90),
    ],
)
def test_values(measure, text, value):
    assert measure(text).value == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    ("measure", "text", "message"),
    [
        (Length, "66 kg", "expected a length (m, mm, ft, in), got '66 kg', which is a mass"),
        (Length, "20", "expected a length such as '20 m', got '20', which has no unit"),
        (Length, "", "expected a length such as '20 m', got '', which is empty"),
        (Length, "20 mn", ("expected a length (m, mm, ft, in), got '20 mn', "
                            "whose unit 'mn' is unknown; did you mean 'mm'?")),
        (Length, "-3 m", "expected a length from 0 to 10000 m, got '-3 m'"),
        (Length, "-5 ft 3 in", "expected a length from 0 to 10000 m, got '-5 ft 3 in'"),
        (Length, "14 AWG", "expected a length (m, mm, ft, in), got '14 AWG', which is an area"),
        (Area, "2.5 mm", "expected an area (mm², AWG), got '2.5 mm', which is a length; write '2.5 mm²'"),
        (Area, "0 mm²", "expected an area above 0 and up to 1000 mm², got '0 mm²'"),
        (Temperature, "68 F", ("expected a temperature (°C, °F, K), got '68 F', "
                               "which is a capacitance; write '68 °F'")),
        (Temperature, "20°", ("expected a temperature (°C, °F, K), got '20°', "
                              "which is an angle; write '20 °C' or '20 °F'")),
        (Temperature, "300 °C", "expected a temperature from -60 to 120 °C, got '300 °C'"),
        (Temperature, "-60.1 °C", "expected a temperature from -60 to 120 °C, got '-60.1 °C'"),
        (Power, "500 VA", "expected a power (W, kW, BTU/h), got '500 VA', which is an apparent power"),
        (ApparentPower, "500 W", "expected an apparent power (VA, kVA), got '500 W', which is a power"),
        (Power, "1,000 W", ("expected a power such as '350 W', got '1,000 W', whose comma has two readings; "
                            "it could be one or one thousand; write 1000 W or 1.0 W")),
        (Impedance, "0 ohm", "expected an impedance above 0 and up to 1000000 ohm, got '0 ohm'"),
        (Inductance, "5 h", ("expected an inductance (H, mH, µH), got '5 h', "
                             "which is a duration; write '5 H'")),
        (Voltage, "4 dBu", "expected a voltage (V, mV, kV), got '4 dBu', which is a level"),
        (Level, "4 dBm", "expected a level (dBu, dBV, V, mV), got '4 dBm', which is a power level"),
        (Level, "0 V", "expected a level above 0 and up to 10000 V, got '0 V'"),
        (Gain, "4 dBu", "expected a gain (dB), got '4 dBu', which is a level"),
        (Ratio, "60", "expected a ratio from 0 to 1, got '60'; write '60 %'"),
        (Ratio, "nan", "expected a ratio such as '60 %', got 'nan', which does not begin with a number"),
        (Ratio, "6 dB", "expected a ratio (%), got '6 dB', which is a gain"),
        (Frequency, "0 Hz", "expected a frequency above 0 and up to 1000000 Hz, got '0 Hz'"),
        (Frequency, "10k", ("expected a frequency (Hz, kHz), got '10k', whose unit 'k' is unknown; "
                            "a lone 'k' is no unit: write it out, as in kHz")),
        (Capacitance, "4 MF", ("expected a capacitance (F, µF, nF), got '4 MF', "
                               "whose unit 'MF' is unknown; did you mean 'mF'?")),
    ],
)  # fmt: skip
def test_refusals_in_the_words_of_the_dimension(measure, text, message):
    with pytest.raises(UnitError, match=r"^expected ") as caught:
        measure(text)
    assert str(caught.value) == message


@pytest.mark.parametrize("measure", ALL)
def test_the_ends_of_the_range(measure):
    unit = measure.unit or "%"
    high = measure.high if measure.unit else measure.high * 100
    assert measure(f"{high!r} {unit}").value == pytest.approx(measure.high)
    with pytest.raises(UnitError, match=f"{measure.high:.0f}( [^ ]+)?, got '"):
        measure(f"{high * 1.001!r} {unit}")
    if measure.low:
        assert measure(f"{measure.low!r} {unit}").value == measure.low
    with pytest.raises(UnitError, match=", got '"):
        measure(f"{measure.low - 0.1!r} {unit}")


@pytest.mark.parametrize("thing", [20, 2.5, True, None, ["20 m"]])
def test_what_is_not_text_is_refused(thing):
    with pytest.raises(UnitError, match=r"^expected a length such as '20 m', got .+, which is not text in quotes$"):
        Length(thing)


@pytest.mark.parametrize(("text", "gauge"), [("14 AWG", 14), ("AWG 0", 0), ("2/0 AWG", -1), ("2.5 mm²", None)])
def test_gauge_of_an_area(text, gauge):
    assert Area(text).awg == gauge


def test_every_class_is_declared_and_looked_up():
    for measure in ALL:
        assert measure_class(measure.dimension) is measure
        declared = DIMENSIONS[measure.dimension]
        assert (measure.unit, measure.low, measure.high) == (declared.unit, declared.low, declared.high)
        assert getattr(units, measure.__name__) is measure
        assert measure.low < measure.high
    assert set(ALL) == set(Measure.__subclasses__())
    with pytest.raises(UnitError, match=r"expected a dimension \(length, .*\), got 'colour'"):
        measure_class("colour")


@pytest.mark.parametrize("measure", ALL)
def test_the_example_in_a_message_is_accepted(measure):
    declared = DIMENSIONS[measure.dimension]
    assert measure.low <= measure(declared.example).value <= measure.high
    for symbol in declared.typical:
        number = "14" if symbol == "AWG" else "20" if symbol == "°F" else "293" if symbol == "K" else "1"
        assert measure.low <= measure(f"{number} {symbol}").value <= measure.high


@pytest.mark.parametrize(
    ("measure", "value", "unit", "text"),
    [
        (Length, 20, None, "20 m"),
        (Length, 24.9936, "ft", "82 ft"),
        (Area, Area("2/0 AWG").value, "AWG", "2/0 AWG"),
        (Ratio, 0.6, "%", "60 %"),
        (Ratio, 0.6, None, "0.6"),
        (Temperature, 20, "degF", "68 °F"),
        (Capacitance, 4.7e-5, "uF", "47 µF"),
        (Level, 1.0, "dBV", "0 dBV"),
        (Power, 123456.789, None, "123456.789 W"),
    ],
)
def test_made_from_a_value(measure, value, unit, text):
    made = measure.of(value, unit)
    assert made == text
    assert made.value == pytest.approx(value, rel=1e-12)


def test_made_in_the_wrong_unit_is_refused():
    with pytest.raises(UnitError, match="which is a mass"):
        Length.of(20, "kg")
    with pytest.raises(UnitError, match="does not begin with a number"):
        Length.of(float("nan"))


def test_copies_and_pickles():
    area = Area("14 AWG")
    for other in (copy.copy(area), copy.deepcopy(area), pickle.loads(pickle.dumps(area))):  # noqa: S301 - our own bytes
        assert (type(other), other, other.value, other.awg) == (Area, area, area.value, 14)


class Cable(msgspec.Struct, frozen=True):
    length: Length | None = None


def test_decoded_by_a_hook_that_sees_only_the_class():
    def make(kind, thing):
        return kind(thing)

    cable = msgspec.convert({"length": "82 ft"}, Cable, dec_hook=make)
    assert type(cable.length) is Length
    assert msgspec.to_builtins(cable, enc_hook=str) == {"length": "82 ft"}
    assert msgspec.json.encode(cable, enc_hook=str) == b'{"length":"82 ft"}'
    with pytest.raises(msgspec.ValidationError, match=r"got '82 kg', which is a mass - at `\$.length`"):
        msgspec.convert({"length": "82 kg"}, Cable, dec_hook=make)


@given(st.sampled_from(ALL), st.text(max_size=60))
def test_any_text_is_a_measure_or_a_unit_error(measure, text):
    try:
        made = measure(text)
    except UnitError as error:
        message = str(error)
    else:
        message = ""
        assert measure.low <= made.value <= measure.high
    assert message.isprintable()


@given(st.sampled_from(ALL), st.floats(0.001, 0.999))
def test_values_within_the_range_come_back(measure, part):
    value = measure.low + part * (measure.high - measure.low)
    assert measure.of(value).value == pytest.approx(value, rel=1e-11, abs=1e-9)
