"""What amplifiers take and heat, how programme spreads, and when an output counts as mains."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.formulas import consumption, programme, touch
from fieldkit.formulas.conductors import read_table


def test_heat_in_the_unit_of_cooling():
    # 1 W is 3.41214 BTU/h, by definition of the International table unit.
    assert consumption.heat_in_btu(1) == pytest.approx(3.41214, abs=0.000005)
    assert consumption.heat_in_btu(310) == pytest.approx(1058, abs=0.5)
    assert consumption.heat_in_watts(consumption.heat_in_btu(310)) == pytest.approx(310)


def test_a_switching_amplifier_at_an_eighth():
    # η 0.85, idle 60 W, 2 × 1000 W at 1/8: 354 W in, 104 W of heat, 1.54 A at 230 V (P = idle + out / η).
    output = consumption.amplifier_output(1000, 1 / 8, 2)
    assert output == 250
    assert consumption.amplifier_mains_power(output, 60, 0.85) == pytest.approx(354, abs=0.5)
    assert consumption.amplifier_heat(output, 60, 0.85) == pytest.approx(104, abs=0.5)
    assert consumption.amplifier_mains_current(output, 60, 0.85, 230) == pytest.approx(1.54, abs=0.005)


@pytest.mark.parametrize(("share", "efficiency"), [(1, 0.785), (1 / 3, 0.453), (1 / 8, 0.278)])
def test_ideal_class_b(share, efficiency):
    # Textbook values of the ideal class B stage: π/4 at full power, less with the root of the share.
    assert consumption.class_b_efficiency(share) == pytest.approx(efficiency, abs=0.0005)


def test_full_power_efficiency_does_not_hold_at_an_eighth():
    # The trap: with the efficiency of full power, a linear amplifier's heat at 1/8 is less than half of the truth.
    honest = consumption.amplifier_heat(125, 45, consumption.linear_efficiency(0.62, 1 / 8))
    naive = consumption.amplifier_heat(125, 45, 0.62)
    assert honest == pytest.approx(45 + 125 / (0.62 * 0.35355) - 125, abs=0.05)
    assert naive < honest / 2


def test_idle_is_all_that_an_idle_amplifier_takes():
    assert consumption.amplifier_mains_power(consumption.amplifier_output(1000, 0, 4), 60, 0.85) == 60


def test_programme_sums_to_12_5_db_above_its_flat_part():
    # IEC 60268-1 table II: the whole is 12.5 dB (± 0.1) above a flat band.
    levels = read_table("iec_60268_1_programme")["level_db"]
    total = sum(10 ** (level / 10) for level in levels)
    assert 17.58 <= total <= 18.2  # 10^1.245 and 10^1.26


@pytest.mark.parametrize(("crossover", "share"), [(890, 0.333), (10**3.25, 0.179)])
def test_share_above_a_crossover(crossover, share):
    # Computed from IEC 60268-1 table II; what tables print as 1.8 kHz is 10^3.25 = 1778 Hz.
    assert programme.programme_share_above(crossover) == pytest.approx(share, abs=0.0005)
    assert programme.programme_share_below(crossover) == pytest.approx(1 - share, abs=0.0005)


@pytest.mark.parametrize("place", range(32))
def test_at_an_exact_edge_whole_bands_lie_above(place):
    # IEC 61260-1, base ten: edges at 10^(1.25 + k/10) Hz. Rounded to two figures (1.1 for 1.122 kHz) 14 of them are off.
    powers = [10 ** (level / 10) for level in read_table("iec_60268_1_programme")["level_db"]]
    edge = 10 ** (1.25 + place / 10)
    assert programme.programme_share_above(edge) == pytest.approx(sum(powers[place:]) / sum(powers), abs=1e-9)


@given(st.floats(1, 100_000), st.floats(1, 100_000))
def test_sections_share_the_whole(one, other):
    low, high = sorted((one, other))
    parts = (
        programme.programme_share_below(low),
        programme.programme_share_between(low, high),
        programme.programme_share_above(high),
    )
    assert sum(parts) == pytest.approx(1)
    assert all(-1e-12 <= part <= 1 for part in parts)


def test_ends_of_the_programme():
    assert programme.programme_share_above(10) == pytest.approx(1)
    assert programme.programme_share_above(30_000) == 0


@pytest.mark.parametrize(("volts", "watts"), [(30, 112.5), (50, 312.5), (71, 630), (120, 1800)])
def test_sine_power_of_the_thresholds_on_8_ohm(volts, watts):
    # IEC 62368-1 table 4 (30 V, 50 V), IEC 60065 clause 9.1.1.1 (71 V, 120 V); U²/Z.
    assert touch.touch_threshold_power(volts, 8) == pytest.approx(watts, abs=0.5)
    assert touch.touch_threshold(volts + 0.01) == volts


def test_nothing_passed_below_30_volts():
    assert touch.touch_threshold(30) == 0
    assert touch.touch_threshold(0) == 0
