"""A loudspeaker's impedance over frequency, time constants, and constant-voltage lines."""

import cmath
import math

import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.formulas import constant_voltage as line
from fieldkit.formulas import impedance
from fieldkit.formulas import time_constants as times
from fieldkit.formulas.loads import parallel
from fieldkit.formulas.solving import solve

# Re 5.5 ohm, fs 40 Hz, Qms 5, Qes 0.4: R. H. Small, JAES 20(5), from memory.
SMALL = {"resistance_ohm": 5.5, "resonance_hz": 40, "qms": 5, "motional_ohm": 68.75}


def test_coil_of_5_6_ohm_and_half_a_millihenry():
    # √(5.6² + 3.1416²) = 6.42.
    assert impedance.coil_impedance(5.6, 0.0005, 1000) == pytest.approx(6.42, abs=0.005)
    assert impedance.coil_impedance(5.6, 0.0005, 0) == 5.6


def test_peak_at_resonance():
    assert impedance.impedance_at_resonance(5.5, 5, 0.4) == pytest.approx(74.25, abs=0.005)
    assert impedance.motional_resistance(5.5, 74.25) == pytest.approx(5.5 * 5 / 0.4, rel=1e-12)
    assert impedance.section_impedance(40, **SMALL) == pytest.approx(74.25, rel=1e-12)


def test_q_measured_back_from_the_impedance_curve():
    # Small's measuring method (JAES 20(5), from memory): where |Z| = √(Re · Zmax) on both sides of fs,
    # f1 · f2 = fs² and Qms = fs · √(Zmax/Re) / (f2 − f1); Qes = Qms / (Zmax/Re − 1).
    level = math.sqrt(5.5 * 74.25)

    def crossing(low, high):
        rising = abs(impedance.section_impedance(low, **SMALL)) < level
        for _ in range(80):
            middle = (low + high) / 2
            below = abs(impedance.section_impedance(middle, **SMALL)) < level
            low, high = (middle, high) if below == rising else (low, middle)
        return low

    first, second = crossing(1, 40), crossing(40, 1000)
    assert first * second == pytest.approx(40**2, rel=1e-6)
    mechanical = 40 * math.sqrt(74.25 / 5.5) / (second - first)
    assert mechanical == pytest.approx(5, rel=1e-6)
    assert mechanical / (74.25 / 5.5 - 1) == pytest.approx(0.4, rel=1e-6)


def test_total_q_of_the_same_driver():
    # Small: 5 · 0.4 / 5.4.
    assert impedance.total_q(5, 0.4) == pytest.approx(0.370, abs=0.0005)


def test_limits_of_a_section():
    # Direct current meets the coil alone; far above resonance the coil's own impedance.
    assert impedance.section_impedance(0, inductance_h=0.0005, **SMALL) == 5.5
    high = impedance.section_impedance(5000, inductance_h=0.0005, **SMALL)
    assert abs(high) == pytest.approx(impedance.coil_impedance(5.5, 0.0005, 5000), rel=0.01)


def test_series_capacitor_is_open_for_direct_current():
    section = impedance.section_impedance(0, 6, capacitance_f=10e-6)
    assert section == complex(math.inf, 0)
    assert parallel(section, 8 + 0j) == 8


@pytest.mark.parametrize("frequency_hz", [20, 40, 160, 1000, 10_000])
def test_section_against_scikit_rf(frequency_hz):
    # An independent engine: the driver as L, C and R in scikit-rf, seen through a series capacitor and coil.
    res, qms, fs, coil, capacitor = 68.75, 5, 40, 0.0005, 10e-6
    # Res with Qms = ω·C·Res at resonance.
    cmes = qms / (2 * math.pi * fs * res)
    lces = 1 / ((2 * math.pi * fs) ** 2 * cmes)
    frequency = skrf.Frequency(frequency_hz, frequency_hz, 1, unit="Hz")
    media = skrf.media.DefinedGammaZ0(frequency, z0=50, gamma=0j)
    network = (
        media.capacitor(capacitor)
        ** media.inductor(coil)
        ** media.resistor(5.5)
        ** media.shunt_inductor(lces)
        ** media.shunt_capacitor(cmes)
        ** media.resistor(res)
        ** media.short()
    )
    expected = network.z[0, 0, 0]
    section = impedance.section_impedance(frequency_hz, inductance_h=coil, capacitance_f=capacitor, **SMALL)
    assert cmath.isclose(section, expected, rel_tol=1e-6)


def test_lowest_impedance_of_an_8_ohm_box():
    # IEC 60268-5 clause 16.1: at least 80 %; 6.4 passes for 8 ohm and 6.39 fails.
    assert impedance.minimum_rated_impedance(8) <= 6.4
    assert impedance.minimum_rated_impedance(8) > 6.39


def test_direct_current_estimate_is_in_the_usual_range():
    # Common practice, no source: 0.7 to 0.85 of the rated impedance.
    assert 0.7 * 8 <= impedance.dc_resistance_estimate(8) <= 0.85 * 8


@given(st.floats(1e-6, 1), st.floats(1e-9, 1e-3))
def test_reactances_meet_at_resonance(inductance_h, capacitance_f):
    frequency_hz = times.lc_resonance(inductance_h, capacitance_f)
    coil = impedance.inductor_reactance(inductance_h, frequency_hz)
    assert impedance.capacitor_reactance(capacitance_f, frequency_hz) == pytest.approx(coil, rel=1e-9)


@given(st.floats(0.1, 1e5), st.floats(1e-9, 1e-2))
def test_reactance_equals_resistance_at_the_corner(resistance_ohm, part):
    corner = times.rc_corner_frequency(resistance_ohm, part)
    assert impedance.capacitor_reactance(part, corner) == pytest.approx(resistance_ohm, rel=1e-9)
    of_tau = times.corner_from_time_constant(times.rc_time_constant(resistance_ohm, part))
    assert of_tau == pytest.approx(corner, rel=1e-9)
    corner = times.rl_corner_frequency(resistance_ohm, part)
    assert impedance.inductor_reactance(part, corner) == pytest.approx(resistance_ohm, rel=1e-9)
    of_tau = times.corner_from_time_constant(times.rl_time_constant(resistance_ohm, part))
    assert of_tau == pytest.approx(corner, rel=1e-9)


def test_one_time_constant():
    # 1/e = 0.3679, textbook.
    assert times.decay_voltage(100, 1, 1) == pytest.approx(36.79, abs=0.005)
    assert times.rise_voltage(100, 1, 1) == pytest.approx(63.21, abs=0.005)
    # 99.3 % after five, textbook.
    assert times.rise_voltage(100, 5, 1) == pytest.approx(99.3, abs=0.05)


@given(st.floats(1, 500), st.floats(0.01, 1), st.floats(0.001, 100))
def test_discharge_time_leads_to_its_voltage(voltage_v, share, time_constant_s):
    time_s = times.discharge_time(voltage_v, voltage_v * share, time_constant_s)
    left = times.decay_voltage(voltage_v, time_s, time_constant_s)
    assert left == pytest.approx(voltage_v * share, rel=1e-9)
    loss_db = -20 * math.log10(share)
    assert times.decay_time(loss_db, time_constant_s) == pytest.approx(time_s, rel=1e-9, abs=1e-9)


def test_sixty_decibels_take_6_9_time_constants():
    # ln 1000 = 6.908, textbook.
    assert times.decay_time(60, 1) == pytest.approx(6.908, abs=0.0005)


def test_energy_in_a_capacitor():
    # ½ · 10 mF · (100 V)² = 50 J, textbook.
    assert times.stored_energy(0.01, 100) == 50


@pytest.mark.parametrize(("power_w", "load_ohm"), [(1, 5000), (5, 1000), (10, 500), (100, 50)])
def test_taps_on_a_70_v_line(power_w, load_ohm):
    # EIA practice page: 70.7 V stands for 100 V / √2.
    assert line.line_load(line.NOMINAL_70_V, power_w) == pytest.approx(load_ohm, rel=1e-12)
    assert line.line_load(70.7, power_w) == pytest.approx(load_ohm, rel=0.001)


def test_three_taps_on_a_70_v_line():
    # EIA practice page: 6 + 10 + 10 W are 192.3 ohm.
    assert line.taps_load(line.NOMINAL_70_V, 6, 10, 10) == pytest.approx(192.3, abs=0.05)
    each = [line.line_load(line.NOMINAL_70_V, tap_w) for tap_w in (6, 10, 10)]
    assert parallel(*each) == pytest.approx(192.3, abs=0.05)


def test_100_v_line_for_each_unknown_in_turn():
    # Ohm's law: 100 V, 250 W, 40 ohm, 2.5 A.
    assert line.line_load(100, 250) == 40
    assert line.line_power(100, 40) == 250
    assert line.line_current(100, 250) == 2.5
    assert solve(line.line_load, "power", 40, line_v=100) == pytest.approx(250, rel=1e-6)
    assert solve(line.line_load, "line_v", 40, power=250) == pytest.approx(100, rel=1e-6)


def test_tap_of_a_100_v_transformer_on_70_v_gives_half():
    assert line.tap_power(10, 100, line.NOMINAL_70_V) == pytest.approx(5, rel=1e-12)


@given(st.floats(25, 200), st.floats(0.5, 200), st.floats(2, 32))
def test_turns_ratio_transforms_the_load(line_v, power_w, load_ohm):
    ratio = line.turns_ratio(line_v, power_w, load_ohm)
    assert ratio**2 * load_ohm == pytest.approx(line.line_load(line_v, power_w), rel=1e-9)


@pytest.mark.parametrize(
    ("function", "args", "message"),
    [
        (impedance.capacitor_reactance, (0, 1), "expected a capacitance above 0 F, got 0 F"),
        (impedance.capacitor_reactance, (1, 0), "expected a frequency above 0 Hz, got 0 Hz"),
        (impedance.impedance_at_resonance, (5.5, 5, 0), "expected an electrical Q above 0, got 0"),
        (impedance.motional_resistance, (6, 5), "expected a peak of at least the coil's 6 ohm, got 5 ohm"),
        (impedance.total_q, (0, 1), "expected a mechanical Q above 0, got 0"),
        (impedance.total_q, (1, 0), "expected an electrical Q above 0, got 0"),
        (impedance.section_impedance, (-1, 6), "expected a frequency of 0 Hz or more, got -1 Hz"),
        (impedance.section_impedance, (1, -6), "expected a resistance of 0 ohm or more, got -6 ohm"),
        (times.rl_time_constant, (0, 1), "expected a resistance above 0 ohm, got 0 ohm"),
        (times.rc_corner_frequency, (0, 1), "expected a resistance above 0 ohm, got 0 ohm"),
        (times.rc_corner_frequency, (1, 0), "expected a capacitance above 0 F, got 0 F"),
        (times.rl_corner_frequency, (1, 0), "expected an inductance above 0 H, got 0 H"),
        (times.lc_resonance, (0, 1), "expected an inductance above 0 H, got 0 H"),
        (times.lc_resonance, (1, 0), "expected a capacitance above 0 F, got 0 F"),
        (times.corner_from_time_constant, (0,), "expected a time constant above 0 s, got 0 s"),
        (times.decay_voltage, (1, 1, 0), "expected a time constant above 0 s, got 0 s"),
        (times.rise_voltage, (1, 1, 0), "expected a time constant above 0 s, got 0 s"),
        (times.discharge_time, (10, 11, 1), "expected a final voltage above 0 and up to 10 V, got 11 V"),
        (line.line_load, (100, 0), "expected a power above 0 W, got 0 W"),
        (line.taps_load, (100,), "expected a power above 0 W, got 0 W"),
        (line.line_power, (100, 0), "expected a load above 0 ohm, got 0 ohm"),
        (line.line_current, (0, 100), "expected a line voltage above 0 V, got 0 V"),
        (line.tap_power, (10, 0, 100), "expected a printed voltage above 0 V, got 0 V"),
        (line.turns_ratio, (100, 0, 8), "expected a power above 0 W, got 0 W"),
        (line.turns_ratio, (100, 10, 0), "expected a load above 0 ohm, got 0 ohm"),
    ],
)
def test_what_cannot_be_divided_is_refused(function, args, message):
    with pytest.raises(ValueError, match=message):
        function(*args)


def test_a_resonance_without_its_q_is_refused():
    with pytest.raises(ValueError, match="expected a mechanical Q above 0, got 0"):
        impedance.section_impedance(100, 6, resonance_hz=40, motional_ohm=60)
