"""Formulas that nothing else in the suite holds against the outside: by other engines, and by printed tables."""

import cmath
import math

import numpy as np
import pytest

from fieldkit.formulas import (
    crest,
    exposure,
    feeders,
    filters,
    generators,
    harmonics,
    impedance,
    mains,
    protection,
    sound,
)


@pytest.mark.parametrize("order", [1, 2, 3, 4, 8])
@pytest.mark.parametrize("tone_hz", [20.0, 50.0, 99.0, 100.0, 400.0])
def test_butterworth_high_pass_against_its_poles(order, tone_hz):
    """The response worked from the poles on a circle, evenly spread in the left half plane (any filter textbook)."""
    corner = 2.0 * math.pi * 100.0
    poles = [corner * cmath.exp(1j * math.pi * (2 * k + order + 1) / (2 * order)) for k in range(order)]
    s = 2j * math.pi * tone_hz
    response = s**order / math.prod(s - pole for pole in poles)
    assert filters.butterworth_high_pass(tone_hz, 100.0, order) == pytest.approx(20.0 * math.log10(abs(response)))


@pytest.mark.parametrize(
    ("level_dba", "hours", "minutes", "seconds"),
    # NIOSH publication 98-126, table 1-1, as printed; 109 dBA and above are rounded to whole seconds there
    [
        (85, 8, 0, 0),
        (88, 4, 0, 0),
        (91, 2, 0, 0),
        (94, 1, 0, 0),
        (97, 0, 30, 0),
        (100, 0, 15, 0),
        (103, 0, 7, 30),
        (106, 0, 3, 45),
        (109, 0, 1, 53),
        (112, 0, 0, 56),
        (115, 0, 0, 28),
    ],
)
def test_niosh_dose_is_one_for_each_row_of_the_printed_table(level_dba, hours, minutes, seconds):
    time_s = 3600.0 * hours + 60.0 * minutes + seconds
    assert exposure.niosh_dose(level_dba, time_s) == pytest.approx(1.0, abs=0.51 / (time_s - 0.5))


def test_niosh_doses_add():
    # Own, worked by hand: half of the 4 h at 88 dBA and half of the 15 min at 100 dBA
    assert exposure.niosh_dose(88, 7200, 100, 450) == pytest.approx(1.0)


@pytest.mark.parametrize("power_factor", [1.0, 0.9, 0.8])
def test_the_longest_three_phase_feeder_loses_what_was_allowed(power_factor):
    """Worked with phasors: the sending volts that give the receiving ones, line by line."""
    length_m = feeders.longest_three_phase_feeder(0.03, 6.0, 32.0, 230.0, power_factor)
    cable_ohm = complex(0.0225 / 6.0, 0.08e-3) * length_m  # IEC 60364-5-52:2009 annex G
    current_a = 32.0 * cmath.exp(-1j * math.acos(power_factor))
    lost_v = abs(230.0 + current_a * cable_ohm) - 230.0
    # The standard's formula leaves out the part across the volts, which is second order.
    assert lost_v == pytest.approx(0.03 * 230.0, rel=0.01)


def test_a_feeder_takes_volts_as_a_phasor_does():
    per_metre = feeders.feeder_ohm_per_metre(16.0, 0.8)
    assert per_metre == pytest.approx((complex(0.0225 / 16.0, 0.08e-3) * complex(0.8, -0.6)).real)
    assert feeders.feeder_loop_resistance(100.0, 16.0) == pytest.approx(2 * 100 * 0.0225 / 16)


@pytest.mark.parametrize(
    ("gauge", "ohm_per_1000_ft"),
    # NFPA 70 chapter 9 table 8, uncoated copper, stranded, 75 °C, as printed
    [(14, 3.14), (12, 1.98), (10, 1.24), (8, 0.778), (6, 0.491)],
)
def test_gauges_as_printed_at_75_degrees(gauge, ohm_per_1000_ft):
    # Half of the last digit; the table's own temperature factor is 0.00323 from 75 °C, ours goes by way of 20 °C
    found = feeders.gauge_feeder_resistance(gauge) * 304.8
    assert found == pytest.approx(ohm_per_1000_ft, rel=0.005)
    drop_v = feeders.gauge_voltage_drop(30.48, gauge, 10.0)
    assert drop_v == pytest.approx(2.0 * 0.1 * ohm_per_1000_ft * 10.0, rel=0.005)
    # A balanced load has no neutral current and loses half; all on one line loses both ways, as one phase does.
    assert feeders.unbalanced_gauge_voltage_drop(30.48, gauge, 10.0, 0.0) == pytest.approx(drop_v / 2)
    assert feeders.unbalanced_gauge_voltage_drop(30.48, gauge, 10.0, 10.0) == pytest.approx(drop_v)


def wave(*orders):
    """Give a period of a wave: pairs of order and rms share."""
    time = np.linspace(0.0, 2.0 * np.pi, 4096, endpoint=False)
    return sum(math.sqrt(2.0) * share * np.sin(order * time) for order, share in orders)


def rms(values):
    return float(np.sqrt(np.mean(values**2)))


@pytest.mark.parametrize("share", [0.0, 0.1, 0.6, 0.95])
def test_the_third_harmonic_and_the_rest_make_the_whole(share):
    line = 10.0 * wave((1, math.sqrt(1.0 - share**2)), (3, share))
    assert rms(line) == pytest.approx(10.0)
    spectrum = np.abs(np.fft.rfft(line)) / len(line) * math.sqrt(2.0)
    assert harmonics.current_of_third(10.0, share) == pytest.approx(spectrum[3], abs=1e-9)
    assert harmonics.current_without_third(10.0, share) == pytest.approx(spectrum[1], abs=1e-9)


def test_peak_and_rms_of_a_sine_as_sampled():
    sine = 40.0 * wave((1, 1.0))
    assert crest.sine_peak(40.0) == pytest.approx(float(np.max(sine)), rel=1e-6)
    assert crest.sine_of_peak(float(np.max(sine))) == pytest.approx(rms(sine), rel=1e-6)


def test_three_phases_of_a_generator_carry_its_rating():
    phase_a = generators.generator_phase_current(21_000.0, 230.0)
    volts, amperes = 230.0 * wave((1, 1.0)), phase_a * wave((1, 1.0))
    assert 3.0 * float(np.mean(volts * amperes)) == pytest.approx(21_000.0)
    assert generators.generator_phase_current(6_000.0, 230.0, 1.0) == pytest.approx(6_000.0 / 230.0)


def test_supply_volts_as_they_are_printed_everywhere():
    # IEC 60038: 230 V ± 10 %; the band of 207 V to 253 V is printed in EN 50160 and in every meter's handbook
    assert mains.minimum_supply_voltage(230.0) == pytest.approx(207.0)
    assert mains.maximum_supply_voltage(230.0) == pytest.approx(253.0)


def test_an_endless_line_of_small_sources_loses_3_db_a_doubling():
    """Intensities of many small sources added up, no formula of lines in it."""
    places = np.linspace(-20_000.0, 20_000.0, 2_000_001)

    def level_db(distance_m):
        return 10.0 * math.log10(float(np.sum(1.0 / (distance_m**2 + places**2))))

    for distance_m in (2.0, 10.0, 40.0):
        found = level_db(distance_m) - level_db(1.0)
        assert sound.line_source_loss(distance_m) == pytest.approx(found, abs=0.02)


@pytest.mark.parametrize(("length_m", "tone_hz"), [(4.0, 1000.0), (2.0, 4000.0), (6.0, 500.0)])
def test_a_line_ends_where_its_end_is_a_quarter_wave_farther_than_its_middle(length_m, tone_hz):
    distance_m = sound.line_source_transition(length_m, tone_hz)
    later_m = math.hypot(distance_m, length_m / 2.0) - distance_m
    assert later_m == pytest.approx(343.2 / tone_hz / 4.0, rel=0.02)


@pytest.mark.parametrize(
    ("rated", "lowest", "judged"),
    # IEC 60268-5 allows 80 % of the rating: 6.4 of 8 ohm, 3.2 of 4 ohm
    [(8.0, 6.4, 8.0), (8.0, 7.0, 8.0), (8.0, 5.6, 7.0), (4.0, 3.2, 4.0), (4.0, 2.4, 3.0)],
)
def test_a_rating_that_the_modulus_does_not_hold_counts_as_less(rated, lowest, judged):
    assert impedance.judged_impedance(rated, lowest) == pytest.approx(judged)


def test_the_80_percent_rule_as_a_share():
    # NFPA 70 210.20(A): continuous loads up to 80 % of 20 A are 16 A
    assert protection.load_share(16.0, 20.0) == pytest.approx(0.8)


def test_noise_that_just_does_not_clip_averages_half_of_the_sine():
    """Noise clipped at twice its rms, as the rating standards have it, scaled so that its peaks reach the sine's."""
    noise = np.random.default_rng(1).normal(size=400_000)
    for _ in range(60):  # clip and bring the crest to 2
        noise = np.clip(noise, -2.0 * rms(noise), 2.0 * rms(noise))
    volts = noise / np.max(np.abs(noise)) * math.sqrt(2.0 * 377.0 * 8.0)
    assert np.max(np.abs(volts)) / rms(volts) == pytest.approx(2.0, rel=0.02)
    assert crest.clean_power(377.0) == pytest.approx(rms(volts) ** 2 / 8.0, rel=0.03)
