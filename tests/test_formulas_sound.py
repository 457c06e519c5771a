"""Sound in air against published tables, textbooks and general-purpose libraries."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.calculator import evaluate
from fieldkit.formulas import air, coverage, delays, exposure, filters, interference, sound

temperatures = st.floats(-20, 50)


def exact_mid_band(number):
    """Give the exact mid-band frequency of ISO 9613-1: 1000 · 10^(3k/10), so that "8 kHz" is 7943.28 Hz."""
    return 1000 * 10 ** (0.3 * number)


@pytest.mark.parametrize(
    ("temperature_c", "speed"),
    # ISO 9613-1:1993 annex A, 343.2 · √(T/293.15).
    [(0, 331.286), (10, 337.296), (20, 343.200), (30, 349.005), (40, 354.714)],
)
def test_speed_of_sound(temperature_c, speed):
    assert air.speed_of_sound(temperature_c) == pytest.approx(speed, abs=0.0005)


@pytest.mark.parametrize(
    ("temperature_c", "humidity", "octave", "db_per_km", "half_digit"),
    # ISO 9613-1:1993 table 1, as transcribed by the test suites of two open acoustics packages.
    [
        (20, 0.50, 0, 4.66, 0.005), (20, 0.70, 0, 4.98, 0.005), (30, 0.50, 2, 24.5, 0.05),
        (20, 1.00, 2, 19.4, 0.05), (10, 0.70, 0, 3.66, 0.005), (25, 0.50, 0, 5.68, 0.005),
    ],
)  # fmt: skip
def test_air_absorption_of_table_1(temperature_c, humidity, octave, db_per_km, half_digit):
    found = 1000 * air.air_absorption(exact_mid_band(octave), temperature_c, humidity)
    assert found == pytest.approx(db_per_km, abs=half_digit)


@pytest.mark.parametrize(
    ("octave", "db_per_km"),
    # ISO 9613-2:1996 table 2, 20 °C and 70 %, 63 Hz to 8 kHz.
    list(zip(range(-4, 4), [0.1, 0.3, 1.1, 2.8, 5.0, 9.0, 22.9, 76.6], strict=True)),
)
def test_air_absorption_of_part_2(octave, db_per_km):
    found = 1000 * air.air_absorption(exact_mid_band(octave), 20, 0.7)
    assert found == pytest.approx(db_per_km, abs=0.05)


@given(temperatures, st.floats(0.1, 1), st.floats(50, 9000))
def test_air_takes_more_of_higher_tones(temperature_c, humidity, frequency_hz):
    lower = air.air_absorption(frequency_hz, temperature_c, humidity)
    assert 0 < lower < air.air_absorption(1.1 * frequency_hz, temperature_c, humidity)
    assert air.air_loss(1000, frequency_hz, temperature_c, humidity) == pytest.approx(1000 * lower)


def test_delays_of_distances():
    # 100 m and one foot at 20 °C: 291.375 ms and 0.8881 ms, from c of ISO 9613-1.
    assert 1e3 * delays.delay_of_distance(100, 20) == pytest.approx(291.375, abs=0.0005)
    assert 1e3 * delays.delay_of_distance(0.3048, 20) == pytest.approx(0.8881, abs=0.00005)


@given(st.floats(0, 1000), temperatures)
def test_distance_and_delay_come_back(distance_m, temperature_c):
    delay_s = delays.delay_of_distance(distance_m, temperature_c)
    assert delays.distance_of_delay(delay_s, temperature_c) == pytest.approx(distance_m, abs=1e-9)
    assert delays.delay_of_samples(delays.delay_in_samples(delay_s, 96_000), 96_000) == pytest.approx(delay_s)


def test_tower_by_coordinates():
    # Own, worked by hand: |main − listener| = √(70² + 6.3²) = 70.283 m, |tower − listener| = √(20² + 3.3²) =
    # 20.270 m, difference 50.013 m, over 343.2 m/s 145.72 ms.
    main_m = delays.distance_between(0, 0, 8, 70, 0, 1.7)
    tower_m = delays.distance_between(50, 0, 5, 70, 0, 1.7)
    assert 1e3 * delays.alignment_delay(main_m, tower_m, 20) == pytest.approx(145.72, abs=0.005)
    assert 1e3 * delays.alignment_delay(main_m, tower_m, 20, 0.015) == pytest.approx(160.72, abs=0.005)


def test_tower_in_the_calculator():
    text = (
        "alignment_delay(distance_between(0 m, 0 m, 8 m, 70 m, 0 m, 1.7 m), "
        "distance_between(50 m, 0 m, 5 m, 70 m, 0 m, 1.7 m), 20 °C, 15 ms)"
    )
    assert evaluate(text).value == pytest.approx(0.16072, abs=0.000005)


@given(st.floats(0, 200), st.floats(0, 200), temperatures, temperatures)
def test_a_change_of_air_is_the_difference_of_two_alignments(reference_m, own_m, before_c, after_c):
    change = delays.delay_change(reference_m, own_m, before_c, after_c)
    before = delays.alignment_delay(reference_m, own_m, before_c)
    assert before + change == pytest.approx(delays.alignment_delay(reference_m, own_m, after_c), abs=1e-12)


def test_arc():
    # Own, worked by hand: 10 − √(100 − 16) = 0.8349 m, over 343.2 m/s 2.433 ms.
    assert 1e3 * delays.arc_delay(10, 4, 20) == pytest.approx(2.433, abs=0.0005)
    with pytest.raises(ValueError, match="expected a place across of at most the radius of 3 m, got 4 m"):
        delays.arc_delay(3, 4)


def test_end_fire():
    # Four at 1 m and 20 °C: 0, 2.914, 5.828, 8.741 ms, and silent behind at 42.9 and 85.8 Hz (array theory).
    found = [1e3 * delays.end_fire_delay(1, number, 20) for number in (1, 2, 3, 4)]
    assert found == pytest.approx([0, 2.914, 5.828, 8.741], abs=0.0005)
    assert [interference.end_fire_null(1, 4, n, 20) for n in (1, 2)] == pytest.approx([42.9, 85.8], abs=0.05)
    with pytest.raises(ValueError, match="expected a null from 1 to 3 for 4 subs, got 4"):
        interference.end_fire_null(1, 4, 4)


def test_end_fire_null_is_one():
    """The vectors of four subs, seen from behind, summed one by one."""
    frequency_hz = interference.end_fire_null(1, 4, 1, 20)
    turn = 2 * math.pi * frequency_hz * 2 * 1 / 343.2  # there and back: path and delay both grow by the spacing
    assert abs(sum(complex(math.cos(turn * n), math.sin(turn * n)) for n in range(4))) == pytest.approx(0, abs=1e-9)


def test_levels_of_several_sources():
    # *Sound System Engineering*, chapter 2.
    assert sound.add_incoherent(90, 96) == pytest.approx(96.97, abs=0.005)
    assert sound.add_incoherent(80, 80) == pytest.approx(83.01, abs=0.005)
    assert sound.add_coherent(80, 80) == pytest.approx(86.02, abs=0.005)


@given(st.lists(st.floats(0, 140), min_size=1, max_size=5))
def test_a_sum_is_at_least_the_loudest(levels):
    assert max(levels) - 1e-9 <= sound.add_incoherent(*levels) <= sound.add_coherent(*levels) + 1e-9


def test_sensitivities():
    # Open reference pages: 100 dB at 2.83 V and 1 m is 97.0, 100.0, 103.0 dB at 1 W for 4, 8, 16 ohm.
    found = [sound.sensitivity_at_1_watt(100, impedance) for impedance in (4, 8, 16)]
    assert found == pytest.approx([97.0, 100.0, 103.0], abs=0.05)
    assert sound.sensitivity_at_voltage(sound.sensitivity_at_1_watt(100, 4), 4) == pytest.approx(100)
    assert sound.level_of_power(92, 160) == pytest.approx(114.0, abs=0.05)
    # By definition 2.83 V is a watt in 8 ohm, so that both ways give one level.
    assert sound.level_of_voltage(97, 40, 10) == pytest.approx(sound.level_of_power(97, 200, 10), abs=1e-9)
    assert sound.power_for_level(92, sound.level_of_power(92, 160, 7), 7) == pytest.approx(160)


def test_level_with_distance():
    # Inverse square law: 2, 4, 10, 32 m against 1 m.
    found = [sound.distance_loss(distance) for distance in (2, 4, 10, 32)]
    assert found == pytest.approx([-6.02, -12.04, -20, -30.10], abs=0.005)
    assert sound.level_at_distance(100, 1) == 100


def test_wavelengths():
    assert interference.half_wavelength(60, 20) == pytest.approx(2.860, abs=0.0005)  # 343.2 / 120, worked by hand
    assert interference.quarter_wavelength(60, 20) == pytest.approx(1.430, abs=0.0005)


def test_comb():
    # *Master Handbook of Acoustics*: 1 ms has nulls at 500, 1500, 2500 Hz, at odd multiples only.
    assert [interference.comb_null(0.001, n) for n in (1, 2, 3)] == [500, 1500, 2500]
    assert interference.comb_peak(0.001, 1) == 1000
    with pytest.raises(ValueError, match="cancel"):
        interference.delayed_sum(500, 0.001)
    assert interference.delayed_sum(1000, 0.001) == pytest.approx(6.0206, abs=0.00005)


def test_gradient_pair():
    # 1 m apart: 0 dB at 28.6 Hz, +6.02 dB at 85.8 Hz, a null at 171.6 Hz: 2·|sin(2πfd/c)|, worked by hand.
    assert interference.gradient_front(28.6, 1, 20) == pytest.approx(0, abs=0.005)
    assert interference.gradient_front(85.8, 1, 20) == pytest.approx(6.02, abs=0.005)
    with pytest.raises(ValueError, match="cancel"):
        interference.gradient_front(171.6, 1, 20)


def test_coverage():
    assert coverage.coverage_width(90, 2) == pytest.approx(4, abs=0.0005)  # tan 45° is 1
    assert coverage.coverage_width(60, 20) == pytest.approx(23.094, abs=0.0005)  # 40 / √3
    assert coverage.meeting_distance(4, 90) == pytest.approx(2)
    assert coverage.coverage_angle(coverage.coverage_width(75, 3), 3) == pytest.approx(75)


def test_crossovers():
    # S. Linkwitz, JAES 24(1): fourth order −6.0206 dB each at the corner, 0 dB together; second order cancels.
    assert filters.linkwitz_riley_low_pass(100, 100, 4) == pytest.approx(-6.0206, abs=0.00005)
    assert filters.linkwitz_riley_sum(100, 100, 4) == pytest.approx(0, abs=1e-9)
    with pytest.raises(ValueError, match="cancel"):
        filters.linkwitz_riley_sum(100, 100, 2)
    assert filters.linkwitz_riley_inverted_sum(100, 100, 2) == pytest.approx(0, abs=1e-9)
    assert filters.butterworth_low_pass(100, 100, 3) == pytest.approx(-3.0103, abs=0.00005)
    assert filters.linkwitz_riley_high_pass(50, 100, 4) == pytest.approx(-24.61, abs=0.005)
    # 2.5 ms are a quarter of a period of 100 Hz: two vectors of a half at a right angle, −3.01 dB.
    assert filters.linkwitz_riley_sum(100, 100, 4, 0.0025) == pytest.approx(-3.01, abs=0.005)


@pytest.mark.parametrize("order", [2, 4, 6, 8])
@pytest.mark.parametrize("frequency_hz", [20.0, 70.0, 100.0, 180.0, 900.0])
def test_crossovers_against_an_independent_engine(order, frequency_hz):
    """Butterworth polynomials of numpy's making, squared, at an analogue frequency."""
    import numpy as np

    half = order // 2
    poles = np.exp(1j * np.pi * (2 * np.arange(1, half + 1) + half - 1) / (2 * half))
    s = 1j * frequency_hz / 100.0
    low = (1 / np.prod(s - poles)) ** 2
    high = (s**half / np.prod(s - poles)) ** 2
    assert filters.linkwitz_riley_low_pass(frequency_hz, 100, order) == pytest.approx(20 * np.log10(abs(low)))
    assert filters.linkwitz_riley_high_pass(frequency_hz, 100, order) == pytest.approx(20 * np.log10(abs(high)))
    late = np.exp(-2j * np.pi * frequency_hz * 0.0013)
    both = 20 * np.log10(abs(low + high * late))
    assert filters.linkwitz_riley_sum(frequency_hz, 100, order, 0.0013) == pytest.approx(both, abs=1e-6)


def test_exposure_times():
    # CDC/NIOSH: 85, 88, 91, 94, 97, 100 dBA for 8, 4, 2, 1, ½, ¼ h.
    found = [exposure.niosh_time(level) / 3600 for level in (85, 88, 91, 94, 97, 100)]
    assert found == pytest.approx([8, 4, 2, 1, 0.5, 0.25])
    # 29 CFR 1910.95 appendix A: 92 dBA allows 6.06 h; eight hours of it are 132 %.
    assert exposure.osha_time(92) / 3600 == pytest.approx(6.06, abs=0.005)
    assert exposure.osha_dose(92, 8 * 3600) == pytest.approx(1.32, abs=0.005)


def test_exposure_of_a_day():
    # Textbook example: 6 h at 92, 1.4 h at 98, 0.5 h at 107, 0.1 h at 115 dBA are 258.0 %, TWA 96.84.
    hours = [(92, 6), (98, 1.4), (107, 0.5), (115, 0.1)]
    dose = exposure.osha_dose(*(part for level, time in hours for part in (level, 3600 * time)))
    assert dose == pytest.approx(2.580, abs=0.0005)
    assert exposure.osha_average(dose) == pytest.approx(96.84, abs=0.005)
    # 4 h at 95 and 4 h at 90 are 150 % (a published page says 125).
    assert exposure.osha_dose(95, 4 * 3600, 90, 4 * 3600) == pytest.approx(1.5)


def test_averages():
    # Own, worked by hand: half the time at 100 dB and half silent is 3.01 dB less.
    assert exposure.equivalent_level(100, 900, 0, 900) == pytest.approx(96.99, abs=0.005)
    # Twice the level of 100 dB in power fills the 15 min of the WHO standard (2022) in half the time.
    assert exposure.time_within_average(103.0103, 100, 900) == pytest.approx(450, abs=0.05)
    assert exposure.time_within_average(90, 100, 900) == 900
    # Directive 2003/10/EC: eight hours at a level are that level.
    assert exposure.daily_exposure_level(87, 8 * 3600) == 87
