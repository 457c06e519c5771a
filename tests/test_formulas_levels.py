"""Levels and gains against their definitions and worked rigs."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.formulas import levels
from fieldkit.formulas.ohms_law import voltage_from_power


@pytest.mark.parametrize(
    ("level_dbu", "voltage_v"),
    # 0 dBu is √(1 mW · 600 ohm); +4 dBu is the professional line level, 1.2277 V.
    [(0, 0.774597), (4, 1.2277)],
)
def test_dbu_is_one_milliwatt_in_600_ohm(level_dbu, voltage_v):
    half_digit = 0.5 * 10 ** (-6 if voltage_v < 1 else -4)
    assert levels.voltage_from_dbu(level_dbu) == pytest.approx(voltage_v, abs=half_digit)
    assert levels.dbu_from_voltage(voltage_v) == pytest.approx(level_dbu, abs=0.0005)


def test_zero_dbv_in_dbu():
    assert levels.voltage_from_dbv(0) == 1
    assert levels.dbu_from_voltage(levels.voltage_from_dbv(0)) == pytest.approx(2.218, abs=0.0005)


def test_minus_10_dbv_is_the_consumer_line_level():
    # −10 dBV is 0.316 V and −7.78 dBu (from memory).
    assert levels.voltage_from_dbv(-10) == pytest.approx(0.316, abs=0.0005)
    assert levels.dbu_from_voltage(levels.voltage_from_dbv(-10)) == pytest.approx(-7.78, abs=0.005)


def test_watts_as_levels():
    # By definition: 1 W is 0 dBW and 30 dBm, 1 kW is 30 dBW.
    assert levels.dbw_from_power(1) == 0
    assert levels.dbm_from_power(1) == 30
    assert levels.dbw_from_power(1000) == pytest.approx(30, rel=1e-12)
    # A milliwatt in 600 ohm is both 0 dBm and 0 dBu.
    assert levels.dbm_from_power(0.001) == pytest.approx(0, abs=1e-12)
    assert levels.dbu_from_voltage(voltage_from_power(0.001, 600)) == pytest.approx(0, abs=1e-12)


@given(st.floats(-150, 90))
def test_levels_come_back(level):
    assert levels.dbu_from_voltage(levels.voltage_from_dbu(level)) == pytest.approx(level, abs=1e-9)
    assert levels.dbv_from_voltage(levels.voltage_from_dbv(level)) == pytest.approx(level, abs=1e-9)
    assert levels.dbw_from_power(levels.power_from_dbw(level)) == pytest.approx(level, abs=1e-9)
    assert levels.dbm_from_power(levels.power_from_dbm(level)) == pytest.approx(level, abs=1e-9)


@given(st.floats(-150, 150))
def test_gains_come_back(gain_db):
    assert levels.voltage_gain_db(levels.voltage_ratio(gain_db), 1) == pytest.approx(gain_db, abs=1e-9)
    assert levels.power_gain_db(levels.power_ratio(gain_db), 1) == pytest.approx(gain_db, abs=1e-9)
    assert levels.power_ratio(gain_db) == pytest.approx(levels.voltage_ratio(gain_db) ** 2, rel=1e-12)
    assert levels.output_for_input(levels.input_for_output(10, gain_db), gain_db) == pytest.approx(10, rel=1e-9)


@pytest.mark.parametrize(
    ("power_w", "load_ohm", "level_dbu"),
    # Ohm's law and the definition of dBu.
    [(100, 16, 34.26), (600, 16, 42.04)],
)
def test_power_as_a_level_at_the_output(power_w, load_ohm, level_dbu):
    assert levels.dbu_from_power(power_w, load_ohm) == pytest.approx(level_dbu, abs=0.005)
    volts = voltage_from_power(power_w, load_ohm)
    assert levels.dbu_from_voltage(volts) == pytest.approx(level_dbu, abs=0.005)


def test_300_w_through_32_5_db_of_gain():
    # Ohm's law and the definition of dBu: +36.0 dBu out, +3.5 dBu in.
    volts = voltage_from_power(300, 8)
    assert levels.dbu_from_power(300, 8) == pytest.approx(36.0, abs=0.05)
    assert levels.input_level_for_output(volts, 32.5) == pytest.approx(3.5, abs=0.05)
    at_input = levels.dbu_from_voltage(levels.input_for_output(volts, 32.5))
    assert levels.input_level_for_output(volts, 32.5) == pytest.approx(at_input, abs=1e-9)


def test_gain_of_500_w_from_1_5_v():
    assert levels.gain_from_sensitivity(500, 8, 1.5) == pytest.approx(32.5, abs=0.05)


@pytest.mark.parametrize(("gain_db", "sensitivity_v"), [(26, 3.170), (32, 1.589), (38, 0.796)])
def test_sensitivity_of_500_w(gain_db, sensitivity_v):
    # Definition of gain.
    assert levels.sensitivity_from_gain(500, 8, gain_db) == pytest.approx(sensitivity_v, abs=0.0005)
    back_db = levels.gain_from_sensitivity(500, 8, levels.sensitivity_from_gain(500, 8, gain_db))
    assert back_db == pytest.approx(gain_db, abs=1e-9)


def test_section_driven_above_its_rating():
    # 250 W on a section rated 75 W: 10·log10(250/75).
    assert levels.power_gain_db(250, 75) == pytest.approx(5.2, abs=0.05)


def test_bridging_adds_6_02_db():
    assert levels.bridged_gain(32) - 32 == pytest.approx(6.02, abs=0.005)
    # One leg: −6.02 dB and a quarter of the power.
    leg = levels.bridged_leg_voltage(28.28)
    assert levels.voltage_gain_db(leg, 28.28) == pytest.approx(-6.02, abs=0.005)
    assert levels.power_ratio(levels.voltage_gain_db(leg, 28.28)) == pytest.approx(0.25, rel=1e-9)
    # The same output level needs half the input.
    assert levels.input_for_output(40, levels.bridged_gain(32)) == pytest.approx(
        levels.input_for_output(40, 32) / 2, rel=1e-12
    )


def test_full_scale():
    # A converter that clips at +22 dBu has +4 dBu at −18 dBFS; common practice, no source.
    assert levels.level_below_full_scale(4, 22) == -18


@pytest.mark.parametrize(
    ("function", "args", "message"),
    [
        (levels.dbu_from_voltage, (0,), "expected a voltage above 0 V, got 0 V"),
        (levels.dbv_from_voltage, (-1,), "expected a voltage above 0 V, got -1 V"),
        (levels.dbw_from_power, (0,), "expected a power above 0 W, got 0 W"),
        (levels.dbm_from_power, (math.nan,), "expected a power above 0 W, got nan W"),
        (levels.dbu_from_power, (0, 8), "expected a power above 0 W, got 0 W"),
        (levels.dbu_from_power, (1, 0), "expected a load above 0 ohm, got 0 ohm"),
        (levels.voltage_gain_db, (0, 1), "expected an output voltage above 0 V, got 0 V"),
        (levels.voltage_gain_db, (1, 0), "expected an input voltage above 0 V, got 0 V"),
        (levels.power_gain_db, (0, 1), "expected an output power above 0 W, got 0 W"),
        (levels.power_gain_db, (1, 0), "expected an input power above 0 W, got 0 W"),
        (levels.gain_from_sensitivity, (0, 8, 1), "expected a power above 0 W, got 0 W"),
        (levels.gain_from_sensitivity, (1, 0, 1), "expected a load above 0 ohm, got 0 ohm"),
        (levels.gain_from_sensitivity, (1, 8, 0), "expected a sensitivity above 0 V, got 0 V"),
        (levels.sensitivity_from_gain, (-1, -8, 32), "expected a power of 0 W or more, got -1 W"),
        (levels.sensitivity_from_gain, (1, -8, 32), "expected a load of 0 ohm or more, got -8 ohm"),
        (levels.input_level_for_output, (0, 32), "expected an output voltage above 0 V, got 0 V"),
    ],
)
def test_what_has_no_level_is_refused(function, args, message):
    with pytest.raises(ValueError, match=message):
        function(*args)
