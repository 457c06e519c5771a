"""Mains: supplies, feeders, neutrals, protection and generators, against standards and worked cases."""

import cmath
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.commands.cli import run
from fieldkit.formulas import feeders, generators, harmonics, mains, protection

AMPS = st.floats(0, 400)


def calculated(capsys, expression, *more):
    assert run(["calc", expression, *more]) == 0
    return float(capsys.readouterr().out.split()[0])


@pytest.mark.parametrize(
    ("amps", "kva"),
    [(16, 3.68), (32, 7.36), (63, 14.49)],  # 230 V · I, by definition
)
def test_va_of_single_phase_circuits(amps, kva):
    assert mains.circuit_va(230, amps) / 1000 == pytest.approx(kva, abs=0.005)
    assert mains.circuit_current(kva * 1000, 230) == pytest.approx(amps, abs=0.005)


@pytest.mark.parametrize(
    ("amps", "kva"),
    [(16, 11.09), (32, 22.17), (63, 43.65), (125, 86.60)],  # √3 · 400 V · I, by definition
)
def test_va_of_three_phase_circuits(amps, kva):
    assert mains.three_phase_va(400, amps) / 1000 == pytest.approx(kva, abs=0.005)
    assert mains.three_phase_current(kva * 1000, 400) == pytest.approx(amps, abs=0.01)


def test_volts_of_three_phases():
    # 230/400 and 120/208: √3, by definition; the names are rounded.
    assert mains.line_to_line_voltage(230) == pytest.approx(398.4, abs=0.05)
    assert mains.line_to_line_voltage(120) == pytest.approx(207.8, abs=0.05)
    assert mains.line_to_neutral_voltage(400) == pytest.approx(230.9, abs=0.05)


@given(st.floats(1, 50_000), st.floats(100, 480), st.floats(0.3, 1))
def test_power_factor_leads_there_and_back(power_w, voltage_v, factor):
    apparent = mains.va_of_watts(power_w, factor)
    assert mains.watts_of_va(apparent, factor) == pytest.approx(power_w)
    assert mains.mains_current(power_w, voltage_v, factor) == pytest.approx(apparent / voltage_v)
    # The same watts on three balanced phases draw a third of that from each, at line to neutral volts.
    line = mains.three_phase_mains_current(power_w, mains.line_to_line_voltage(voltage_v), factor)
    assert 3 * line == pytest.approx(apparent / voltage_v)


def test_more_watts_than_va_is_refused():
    with pytest.raises(ValueError, match="expected a power of at most 100 W, got 101 W"):
        mains.power_factor(101, 100)


@pytest.mark.parametrize(
    ("lines", "neutral"),
    [((10, 15, 20), 8.66), ((10, 10, 5), 5.0), ((16, 16, 0), 16), ((12, 12, 12), 0)],  # phasor sums, by definition
)
def test_neutral_of_three_phases(lines, neutral):
    assert mains.neutral_current(*lines) == pytest.approx(neutral, abs=0.005)


def test_a_published_neutral_is_wrong():
    # An open page gives 15.1 A for 10, 8 and 6 A; the phasors sum to 3.46 A.
    assert mains.neutral_current(10, 8, 6) == pytest.approx(3.46, abs=0.005)


@given(AMPS, AMPS, AMPS)
def test_neutral_is_the_sum_of_three_phasors(one, two, three):
    turn = cmath.exp(2j * math.pi / 3)
    summed = abs(one + two * turn + three * turn**2)
    assert mains.neutral_current(one, two, three) == pytest.approx(summed, abs=1e-4)


@given(st.lists(AMPS, min_size=3, max_size=3), st.floats(0, 1))
def test_neutral_with_third_is_the_rms_of_the_wave(lines, share):
    # An independent way: sample one period of the three currents, add them, and take the rms.
    points = 24
    squares = 0.0
    for step in range(points):
        angle = 2 * math.pi * step / points
        total = 0.0
        for place, rms in enumerate(lines):
            there = angle - place * 2 * math.pi / 3
            fundamental = math.sqrt(2 * max(1 - share**2, 0)) * rms * math.sin(there)
            total += fundamental + math.sqrt(2) * share * rms * math.sin(3 * there)
        squares += total**2
    found = harmonics.neutral_current_with_third(*lines, share)
    assert found == pytest.approx(math.sqrt(squares / points), abs=1e-3)


def test_neutral_of_rectifier_pulses_sampled():
    # Own, worked by sampling: pulses of 60° about each crest, one unit high, on three phases.
    def pulse(degrees):
        inside = degrees % 180
        sign = 1 if degrees % 360 < 180 else -1
        return sign if 60 <= inside < 120 else 0

    steps = [number / 2 + 0.25 for number in range(720)]
    line = math.sqrt(sum(pulse(angle) ** 2 for angle in steps) / len(steps))
    summed = [pulse(angle) + pulse(angle - 120) + pulse(angle - 240) for angle in steps]
    neutral = math.sqrt(sum(value**2 for value in summed) / len(steps))
    assert harmonics.rectifier_neutral(line) == pytest.approx(neutral, rel=1e-9)


@pytest.mark.parametrize(
    ("share", "amps"),
    [(0.20, 45.3), (0.40, 54.4), (0.50, 58.5)],  # IEC 60364-5-52 annex E, the example of 39 A
)
def test_design_current_of_39_amperes(share, amps):
    assert harmonics.harmonic_design_current(39, share) == pytest.approx(amps, abs=0.06)


def test_a_published_design_current_is_wrong():
    # An open page gives 29 A for 25 A with 44 %; by annex E, 3 · 0.44 · 25 / 0.86.
    assert harmonics.harmonic_design_current(25, 0.44) == pytest.approx(38.4, abs=0.05)
    assert harmonics.third_harmonic_neutral(25, 0.44) == pytest.approx(33.0, abs=0.05)


def test_little_third_harmonic_changes_nothing():
    assert harmonics.harmonic_design_current(39, 0.15) == 39
    assert harmonics.harmonic_design_current(39, 0) == 39


def test_voltage_drop_of_annex_g():
    # IEC 60364-5-52 annex G: 230 V, 2.5 mm², 50 m, 16 A, cos φ 1 and 0.8.
    assert feeders.mains_voltage_drop(50, 2.5, 16) == pytest.approx(14.40, abs=0.005)
    assert feeders.mains_voltage_drop(50, 2.5, 16, 0.8) == pytest.approx(11.60, abs=0.005)
    assert feeders.voltage_drop_share(14.4, 230) == pytest.approx(0.0626, abs=0.00005)


def test_three_phases_lose_half_from_line_to_neutral():
    # b = 1 instead of 2 (annex G); times √3 from line to line.
    assert feeders.three_phase_voltage_drop(50, 2.5, 16) == pytest.approx(7.20, abs=0.005)


def test_longest_run_of_annex_g():
    assert feeders.longest_feeder(0.03, 2.5, 16, 230) == pytest.approx(23.96, abs=0.005)
    assert feeders.longest_feeder(0.05, 2.5, 16, 230) == pytest.approx(39.93, abs=0.005)


@given(st.floats(0.5, 120), st.floats(0.1, 125), st.floats(100, 480), st.floats(0.1, 1))
def test_longest_run_just_keeps_the_drop(area, amps, volts, factor):
    length = feeders.longest_feeder(0.05, area, amps, volts, factor)
    drop = feeders.mains_voltage_drop(length, area, amps, factor)
    assert feeders.voltage_drop_share(drop, volts) == pytest.approx(0.05)


@given(st.floats(1, 100), st.floats(0.1, 63))
def test_unbalanced_drop_lies_between_its_two_cases(length, amps):
    balanced = feeders.unbalanced_voltage_drop(length, 6, amps, 0)
    alone = feeders.unbalanced_voltage_drop(length, 6, amps, amps)
    assert balanced == pytest.approx(feeders.three_phase_voltage_drop(length, 6, amps))
    assert alone == pytest.approx(feeders.mains_voltage_drop(length, 6, amps))


def test_smallest_feeder_is_the_first_that_holds():
    # Own, worked by hand: 2 · 40 m · 0.0225 · 16 A / (0.03 · 230 V) = 4.17 mm², so 6 mm².
    assert feeders.smallest_feeder(0.03, 40, 16, 230) == 6
    with pytest.raises(ValueError, match="expected a drop that 120 mm² can keep"):
        feeders.smallest_feeder(0.001, 1000, 125, 230)


def test_continuous_loads_of_nfpa_70():
    # NFPA 70 210.19, 210.20(A): 15, 20, 30 A carry 12, 16, 24 A; 12 A continuous with 5 A other is a 20 A circuit.
    assert [protection.continuous_limit(rating) for rating in (15, 20, 30)] == pytest.approx([12, 16, 24])
    assert protection.minimum_rating(12, 5) == pytest.approx(20)
    assert protection.minimum_breaker(12, 5) == 20
    assert protection.minimum_breaker(12.1, 5) == 25


def test_a_load_beyond_the_table_of_breakers():
    with pytest.raises(ValueError, match="expected a load that 400 A can serve"):
        protection.minimum_breaker(330)


def test_trip_ranges_of_iec_60898():
    # IEC 60898, from memory: B 3 to 5, C 5 to 10, D 10 to 20 times the rating.
    ranges = [
        (protection.type_b_holds, protection.type_b_trips, 3, 5),
        (protection.type_c_holds, protection.type_c_trips, 5, 10),
        (protection.type_d_holds, protection.type_d_trips, 10, 20),
    ]
    for holds, trips, low, high in ranges:
        assert (holds(32), trips(32)) == (32 * low, 32 * high)


def test_leakage_of_a_30_ma_device():
    # BS 7671 531, from memory: 30 % of 30 mA is 9 mA.
    assert protection.leakage_limit(0.030) == pytest.approx(0.009)
    assert protection.units_behind_device(0.030, 0.0009) == 10  # exactly ten, whatever floats say
    with pytest.raises(ValueError, match=r"expected a unit with at most 0\.009 A"):
        protection.units_behind_device(0.030, 0.0091)


def test_generators_of_iso_8528():
    # ISO 8528-1: the average is at most 70 % of prime power; kW = kVA · power factor.
    assert generators.generator_power(100_000) == pytest.approx(80_000)
    assert generators.generator_average(80_000) == pytest.approx(56_000)
    # Own, worked by hand: 12 kW / 0.8 = 15 kVA, more than the 13 kVA; over 0.7 is 21.43 kVA.
    assert generators.generator_size(12_000, 13_000) == pytest.approx(21_429, abs=0.6)
    # And by its VA, where the load's own power factor is worse than the generator's: 18 kVA / 0.7.
    assert generators.generator_size(12_000, 18_000) == pytest.approx(25_714, abs=0.6)


def test_by_the_calculator(capsys):
    assert calculated(capsys, "three_phase_va(400 V, 63 A)", "--to", "kVA") == pytest.approx(43.65, abs=0.005)
    assert calculated(capsys, "longest_feeder(3 %, 2.5 mm², 16 A, 230 V)") == pytest.approx(23.96, abs=0.005)
    assert calculated(capsys, "leakage_sum(1.2 mA, 1.6 mA)", "--to", "mA") == pytest.approx(2.8)


@pytest.mark.parametrize(
    "expression",
    ["watts_of_va(500 W, 0.8)", "va_of_watts(500 VA, 0.8)", "circuit_current(3.68 kW, 230 V)", "heat_in_btu(310 VA)"],
)
def test_watts_and_va_are_kept_apart(expression, capsys):
    assert run(["calc", expression]) == 2
    assert "a power factor leads from one to the other" in capsys.readouterr().err


def test_volts_times_amperes_may_be_either(capsys):
    assert calculated(capsys, "watts_of_va(230 V * 10 A, 0.8)") == pytest.approx(1840)
    assert calculated(capsys, "heat_in_watts(1058 BTU/h)") == pytest.approx(310, abs=0.1)
    assert calculated(capsys, "heat_in_btu(1058 BTU/h)") == pytest.approx(1058)


def test_gauges_are_areas_for_the_drop(capsys):
    # 12 AWG is 3.309 mm² (ASTM B258): 2 · 30.48 m · 0.0225 / 3.309 · 16 A, own, worked by hand.
    drop = calculated(capsys, "mains_voltage_drop(100 ft, 12 AWG, 16 A)")
    assert drop == pytest.approx(2 * 30.48 * 0.0225 / 3.309 * 16, rel=0.001)
