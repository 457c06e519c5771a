"""Cable loss in each of its senses, longest and smallest cables, damping."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.formulas import cables, conductors, damping
from fieldkit.formulas.dividers import volts_after_resistance
from fieldkit.formulas.solving import solve

OHMS = st.floats(0.01, 1000)


def test_loop_of_30_m():
    # IEC 60228:2004 table 3: 7.98 ohm/km.
    assert cables.loop_resistance(30, conductors.class_5_resistance(2.5)) == pytest.approx(0.4788, abs=0.00005)


@pytest.mark.parametrize(("load_ohm", "length_m"), [(8, 29.70), (4, 14.85)])
def test_half_a_decibel_on_2_5_mm2(load_ohm, length_m):
    # 20·log10(1 + R/Z) with IEC 60228 table 3.
    assert cables.longest_cable(0.5, 2.5, load_ohm) == pytest.approx(length_m, abs=0.005)
    assert cables.cable_loss(length_m, 2.5, load_ohm) == pytest.approx(0.5, abs=0.0005)


def test_half_a_decibel_for_each_unknown_in_turn():
    length_m = cables.longest_cable(0.5, 2.5, 8)
    known = {"length": length_m, "area": 2.5, "load": 8}
    for unknown, value in known.items():
        others = {name: number for name, number in known.items() if name != unknown}
        assert solve(cables.cable_loss, unknown, 0.5, **others) == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    ("sense", "loss_db"),
    [
        # A tenth of the load's ohms, of the volts, of the load's power, of the amplifier's power.
        (cables.loss_from_resistance_share, 0.828),
        (cables.loss_from_voltage_share, 0.915),
        (cables.loss_from_power_missing, 0.458),
        (cables.loss_from_power_lost, 0.915),
    ],
)
def test_ten_per_cent_in_each_sense(sense, loss_db):
    assert sense(0.1) == pytest.approx(loss_db, abs=0.0005)


@given(st.floats(0.01, 50), st.floats(1, 1000))
def test_every_sense_tells_the_same_loss(resistance_ohm, load_ohm):
    loss_db = pytest.approx(cables.insertion_loss(resistance_ohm, load_ohm), rel=1e-9)
    shares = [
        (cables.resistance_share, cables.loss_from_resistance_share),
        (cables.voltage_lost, cables.loss_from_voltage_share),
        (cables.power_missing_at_load, cables.loss_from_power_missing),
        (cables.power_lost, cables.loss_from_power_lost),
    ]
    for share, loss in shares:
        assert loss(share(resistance_ohm, load_ohm)) == loss_db
    assert cables.resistance_for_loss(loss_db.expected, load_ohm) == pytest.approx(resistance_ohm, rel=1e-9)


@given(st.floats(0, 50), st.floats(1, 1000))
def test_drop_between_the_ends_is_the_insertion_loss_of_one_box(resistance_ohm, load_ohm):
    at_box_v = volts_after_resistance(40, resistance_ohm, load_ohm)
    loss_db = cables.insertion_loss(resistance_ohm, load_ohm)
    assert cables.voltage_drop_db(40, at_box_v) == pytest.approx(loss_db, rel=1e-9, abs=1e-12)


def test_load_as_large_as_the_cable_loses_half_the_volts():
    # 20·log10 2 = 6.0206 dB, by definition.
    assert cables.insertion_loss(4, 4) == pytest.approx(6.0206, abs=0.00005)
    assert cables.voltage_lost(4, 4) == 0.5
    assert cables.power_missing_at_load(4, 4) == 0.75


def test_no_cable_loses_nothing():
    assert cables.insertion_loss(0, 8) == 0
    assert cables.cable_loss(0, 2.5, 8) == 0


@given(st.floats(1, 500), st.floats(0.5, 50), st.floats(1, 100), st.floats(1.01, 4))
def test_longer_loses_more_and_thicker_or_lighter_less(length_m, area_mm2, load_ohm, factor):
    loss_db = cables.cable_loss(length_m, area_mm2, load_ohm)
    assert cables.cable_loss(length_m * factor, area_mm2, load_ohm) > loss_db
    assert cables.cable_loss(length_m, area_mm2 * factor, load_ohm) < loss_db
    assert cables.cable_loss(length_m, area_mm2, load_ohm * factor) < loss_db
    # Only length over load counts.
    scaled = cables.cable_loss(length_m * factor, area_mm2, load_ohm * factor)
    assert scaled == pytest.approx(loss_db, rel=1e-9)


@pytest.mark.parametrize(("length_m", "area_mm2"), [(29, 2.5), (30, 4), (47, 4), (48, 6), (0, 0.5)])
def test_smallest_cable_is_the_first_printed_size_that_holds(length_m, area_mm2):
    # Own, worked by hand: 0.474 ohm for 0.5 dB into 8 ohm; 47.88 m of 4 mm², 29.70 m of 2.5 mm².
    assert cables.smallest_cable(0.5, length_m, 8) == area_mm2


def test_smallest_cable_says_when_none_will_do():
    with pytest.raises(ValueError, match=r"expected a loss that 120 mm² can keep, got 0\.1 dB over 1000 m into 2 ohm"):
        cables.smallest_cable(0.1, 1000, 2)


def test_gauge_and_metric_sizes_agree_roughly():
    # 12 AWG has 3.31 mm² (ASTM B258), so its loss lies between those of 2.5 and 4 mm².
    low, high = (cables.cable_loss(30, area_mm2, 8) for area_mm2 in (4, 2.5))
    assert low < cables.cable_loss_awg(30, 12, 8) < high


@pytest.mark.parametrize(
    ("function", "args", "message"),
    [
        (cables.insertion_loss, (1, 0), "expected a load above 0 ohm, got 0 ohm"),
        (cables.resistance_share, (1, 0), "expected a load above 0 ohm, got 0 ohm"),
        (cables.voltage_lost, (1, -1), "expected a load above 0 ohm, got -1 ohm"),
        (cables.power_lost, (1, 0), "expected a load above 0 ohm, got 0 ohm"),
        (cables.power_missing_at_load, (1, math.nan), "expected a load above 0 ohm, got nan ohm"),
        (cables.loss_from_resistance_share, (-1,), "expected a share of 0 or more, got -1"),
        (cables.loss_from_voltage_share, (1,), "expected a share from 0 to below 1, got 1"),
        (cables.loss_from_power_lost, (-0.1,), "expected a share from 0 to below 1, got -0.1"),
        (cables.loss_from_power_missing, (10,), "expected a share from 0 to below 1, got 10"),
        (cables.voltage_drop_db, (40, 0), "expected a voltage above 0 V, got 0 V"),
        (cables.resistance_for_loss, (-1, 8), "expected a loss of 0 dB or more, got -1 dB"),
        (damping.damping_factor, (8, 0, 0), "expected an output and cable resistance above 0 ohm, got 0 ohm"),
        (damping.output_resistance, (8, 0), "expected a damping factor above 0, got 0"),
        (damping.electrical_q_with_cable, (0.4, 0, 1), "expected a coil resistance above 0 ohm, got 0 ohm"),
        (
            damping.electrical_q_with_cable,
            (0.4, 5, -1),
            "expected a source resistance of 0 ohm or more, got -1",
        ),
    ],
)
def test_what_has_no_answer_is_refused(function, args, message):
    with pytest.raises(ValueError, match=message):
        function(*args)


def test_damping_factor_of_a_published_example():
    # An open reference page, reproduced: 4 ohm behind 0.008 and 0.0964 ohm.
    assert damping.damping_factor(4, 0.008, 0.0964) == pytest.approx(38.3, abs=0.05)


@given(OHMS, st.floats(1, 5000))
def test_output_resistance_gives_its_damping_factor_back(load_ohm, factor):
    output_ohm = damping.output_resistance(load_ohm, factor)
    assert damping.damping_factor(load_ohm, output_ohm, 0) == pytest.approx(factor, rel=1e-12)


def test_cable_raises_the_electrical_q_by_its_share_of_the_coil():
    assert damping.electrical_q_with_cable(0.4, 5.5, 0) == 0.4
    # Small (JAES 20(5), from memory): a tenth of the coil's resistance adds a tenth.
    assert damping.electrical_q_with_cable(0.4, 5.5, 0.55) == pytest.approx(0.44, rel=1e-12)
