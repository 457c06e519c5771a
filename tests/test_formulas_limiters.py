"""Limiter thresholds, and the crest factors and peak ratings that they rest on."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.formulas import crest, limiters, ohms_law

WATTS = st.floats(1, 10_000)
OHMS = st.floats(1, 100)


def test_limiter_voltage_is_ohms_law():
    assert limiters.limiter_voltage(300, 8) == pytest.approx(48.99, abs=0.005)


def test_aes2_rating_as_thresholds():
    # AES2, reproduced: 600 W on 6 ohm with noise of crest 2 is 60 V rms and 120 V peak.
    assert limiters.thermal_threshold(600, 6, 0) == 60
    assert limiters.peak_threshold_from_continuous(600, 6) == 120
    assert limiters.peak_voltage_from_peak_power(crest.peak_power(600), 6) == 120


@given(WATTS, OHMS)
def test_thermal_margin_of_3_db_is_half_the_power(power_w, impedance_ohm):
    volts = limiters.thermal_threshold(power_w, impedance_ohm)
    # 10^(−3/10) = 0.5012, by definition.
    power = ohms_law.power_from_voltage(volts, impedance_ohm)
    assert power == pytest.approx(power_w * 0.5012, rel=0.0001)


@given(WATTS, OHMS)
def test_peak_limiter_stands_one_crest_above_the_rating(power_w, impedance_ohm):
    rms = limiters.limiter_voltage(power_w, impedance_ohm)
    peak = limiters.peak_threshold_from_continuous(power_w, impedance_ohm)
    # Crest 2 is 6.02 dB.
    assert crest.crest_factor_db(peak, rms) == pytest.approx(6.02, abs=0.005)
    assert crest.peak_voltage(rms, crest.crest_factor_db(peak, rms)) == pytest.approx(peak, rel=1e-12)


def test_peak_watts_of_a_box_and_of_an_amplifier_are_not_alike():
    # V_peak²/Z of a sine is twice its watts: 500 W sine into 8 ohm peaks where a "1000 W peak" box does.
    assert crest.sine_peak_voltage(500, 8) == pytest.approx(89.44, abs=0.005)
    assert limiters.peak_voltage_from_peak_power(1000, 8) == pytest.approx(89.44, abs=0.005)


def test_sine_has_a_crest_of_3_01_db():
    rms = ohms_law.voltage_from_power(500, 8)
    assert crest.crest_factor_db(crest.sine_peak_voltage(500, 8), rms) == pytest.approx(3.01, abs=0.005)


def test_square_wave_has_none():
    assert crest.crest_factor_db(10, 10) == 0


def test_times_of_a_sub_from_40_hz():
    # Common practice, no source: one period, and sixteen of them.
    assert limiters.attack_time(40) == 0.025
    assert limiters.release_time(40) == 0.4


def test_crest_of_12_db_is_an_eighth():
    # 2 / 10^1.2, "1/8 power".
    assert crest.average_power_share(12) == pytest.approx(0.1262, abs=0.00005)
    assert crest.average_power(1000, 12) == pytest.approx(126.2, abs=0.05)


def test_rated_sine_is_its_own_average():
    sine_db = 20 * math.log10(math.sqrt(2))
    assert crest.average_power_share(sine_db) == pytest.approx(1, rel=1e-12)
    assert crest.average_power(500, sine_db) == pytest.approx(500, rel=1e-12)


@given(WATTS, OHMS, st.floats(3.02, 30))
def test_average_power_from_its_own_peaks(power_w, load_ohm, crest_db):
    # Another way round: the peaks of the sine, less the crest, as rms volts.
    rms = crest.sine_peak_voltage(power_w, load_ohm) / 10 ** (crest_db / 20)
    by_volts = ohms_law.power_from_voltage(rms, load_ohm)
    assert crest.average_power(power_w, crest_db) == pytest.approx(by_volts, rel=1e-9)


def test_gap_between_ratings():
    # 10·log10(16), by definition.
    assert crest.rating_gap_db(150, 2400) == pytest.approx(12.0, abs=0.05)
    assert crest.rating_gap_db(300, crest.peak_power(300)) == pytest.approx(6.02, abs=0.005)
    # "Programme" is twice: common practice, no source.
    assert crest.rating_gap_db(300, crest.programme_power(300)) == pytest.approx(3.01, abs=0.005)


@pytest.mark.parametrize(
    ("function", "args", "message"),
    [
        (limiters.limiter_voltage, (-1, -8), "expected a power of 0 W or more, got -1 W"),
        (limiters.thermal_threshold, (1, -8), "expected an impedance of 0 ohm or more, got -8 ohm"),
        (
            limiters.peak_threshold_from_continuous,
            (math.nan, 8),
            "expected a power of 0 W or more, got nan W",
        ),
        (limiters.peak_voltage_from_peak_power, (-1, 8), "expected a power of 0 W or more, got -1 W"),
        (limiters.attack_time, (0,), "expected a frequency above 0 Hz, got 0 Hz"),
        (limiters.release_time, (-1,), "expected a frequency above 0 Hz, got -1 Hz"),
        (crest.crest_factor_db, (0, 1), "expected a peak voltage above 0 V, got 0 V"),
        (crest.crest_factor_db, (1, 0), "expected an rms voltage above 0 V, got 0 V"),
        (crest.sine_peak_voltage, (-1, -8), "expected a power of 0 W or more, got -1 W"),
        (crest.sine_peak_voltage, (1, -8), "expected a load of 0 ohm or more, got -8 ohm"),
        (crest.rating_gap_db, (0, 1), "expected a continuous power above 0 W, got 0 W"),
        (crest.rating_gap_db, (1, 0), "expected a peak power above 0 W, got 0 W"),
    ],
)
def test_what_makes_no_threshold_is_refused(function, args, message):
    with pytest.raises(ValueError, match=message):
        function(*args)
