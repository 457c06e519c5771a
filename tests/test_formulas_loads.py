"""Ohm's law, loads combined, and the volts along a line."""

import cmath
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.formulas import cables, conductors, dividers, loads, ohms_law

OHMS = st.floats(0.1, 10_000)


@pytest.mark.parametrize(
    ("loads_ohm", "total_ohm"),
    [
        # Kirchhoff, fractions worked out.
        ((8, 8), 4),
        ((8, 8, 8), 8 / 3),
        ((8, 8, 8, 8), 2),
        ((8,) * 6, 4 / 3),
        ((8, 4), 8 / 3),
        ((8, 8, 4), 2),
        ((16, 8), 16 / 3),
    ],
)
def test_loads_in_parallel(loads_ohm, total_ohm):
    assert loads.parallel(*loads_ohm) == pytest.approx(total_ohm, rel=1e-12)


@pytest.mark.parametrize(("count", "total_ohm"), [(2, 4), (3, 2.667), (4, 2), (6, 1.333)])
def test_equal_loads_in_parallel(count, total_ohm):
    assert loads.equal_parallel(8, count) == pytest.approx(total_ohm, abs=0.0005)
    assert loads.equal_parallel(8, count) == pytest.approx(loads.parallel(*[8] * count), rel=1e-12)
    assert loads.equal_series(8, count) == loads.series(*[8] * count)


@pytest.mark.parametrize(("count", "missing", "factor"), [(4, 1, 1.333), (3, 1, 1.5), (6, 1, 1.2), (8, 1, 1.143)])
def test_a_missing_box_raises_the_load(count, missing, factor):
    # n / (n − k), Kirchhoff.
    assert loads.remaining_after_missing(1, count, missing) == pytest.approx(factor, abs=0.0005)


def test_all_missing_is_an_open_line():
    with pytest.raises(ValueError, match="expected fewer missing than the 4 there are, got 4"):
        loads.remaining_after_missing(2, 4, 4)


def test_meter_at_the_amplifier_sees_loop_and_boxes():
    # Loop 0.25 ohm, boxes of 6 ohm direct-current resistance: Kirchhoff.
    readings = [loads.series(0.25, loads.equal_parallel(6, count)) for count in (1, 2, 3, 4)]
    assert readings == pytest.approx([6.25, 3.25, 2.25, 1.75], rel=1e-12)


def test_complex_loads_in_parallel():
    # Own, worked by hand: (3+4j) with (3−4j) is 25/6, real.
    both = loads.parallel(3 + 4j, 3 - 4j)
    assert both.real == pytest.approx(25 / 6, rel=1e-12)
    assert both.imag == pytest.approx(0, abs=1e-12)
    assert loads.series(3 + 4j, 3 - 4j) == 6


def test_short_and_open_among_loads():
    assert loads.parallel(8, 0) == 0
    assert loads.parallel(8, math.inf) == 8
    assert loads.parallel(math.inf, math.inf) == math.inf
    assert loads.parallel(complex(math.inf, 0), 8 + 0j) == 8


def test_no_load_at_all_is_refused():
    for function in (loads.parallel, loads.series):
        with pytest.raises(ValueError, match="expected at least one load, got none"):
            function()


@given(st.lists(OHMS, min_size=2, max_size=8))
def test_parallel_is_below_the_least_and_above_its_share(loads_ohm):
    total = loads.parallel(*loads_ohm)
    assert min(loads_ohm) / len(loads_ohm) * (1 - 1e-12) <= total < min(loads_ohm)
    assert loads.parallel(*reversed(loads_ohm)) == pytest.approx(total, rel=1e-12)


@given(OHMS, OHMS)
def test_partner_comes_back_from_the_total(first_ohm, second_ohm):
    total = loads.parallel(first_ohm, second_ohm)
    assert loads.parallel_partner(total, first_ohm) == pytest.approx(second_ohm, rel=1e-6)


def test_partner_of_a_larger_total_is_refused():
    with pytest.raises(ValueError, match="expected a total above 0 and below the 4 ohm known, got 4 ohm"):
        loads.parallel_partner(4, 4)


@given(OHMS, st.integers(1, 8), st.integers(1, 8))
def test_branches_agree_with_series_and_parallel(load_ohm, in_series, branches):
    branch = loads.series(*[load_ohm] * in_series)
    expected = loads.parallel(*[branch] * branches)
    assert loads.series_parallel(load_ohm, in_series, branches) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("power_w", "impedance_ohm", "voltage_v"),
    [(300, 8, 48.99), (500, 8, 63.25), (1000, 4, 63.25), (2000, 4, 89.44), (1000, 8, 89.44),
     (100, 16, 40.00), (600, 16, 97.98)],
)  # fmt: skip
def test_volts_of_a_power(power_w, impedance_ohm, voltage_v):
    # Ohm's law.
    assert ohms_law.voltage_from_power(power_w, impedance_ohm) == pytest.approx(voltage_v, abs=0.005)


@pytest.mark.parametrize(("impedance_ohm", "power_w"), [(4, 2.00), (8, 1.001), (16, 0.50)])
def test_power_of_283_volts(impedance_ohm, power_w):
    # Ohm's law; 2.83 V is the usual stand-in for 1 W into 8 ohm.
    assert ohms_law.power_from_voltage(2.83, impedance_ohm) == pytest.approx(power_w, abs=0.005)


def test_higher_volts_than_a_section_wants():
    # 63.25 V on 16 ohm rated 75 W: Ohm's law.
    assert ohms_law.power_from_voltage(63.25, 16) == pytest.approx(250, rel=0.002)


def test_aes2_case_for_each_unknown_in_turn():
    # AES2 test of 600 W on 6 ohm: 60 V, 10 A (a reproduction).
    assert ohms_law.voltage_from_power(600, 6) == 60
    assert ohms_law.power_from_voltage(60, 6) == 600
    assert ohms_law.current_from_voltage(60, 6) == 10
    assert ohms_law.current_from_power(600, 6) == 10
    assert ohms_law.impedance_from_power(60, 600) == 6
    assert ohms_law.impedance_from_current(60, 10) == 6
    assert ohms_law.voltage_from_current(10, 6) == 60
    assert ohms_law.power_from_current(10, 6) == 600
    assert ohms_law.power_from_voltage_and_current(60, 10) == 600


@given(st.floats(0.01, 10_000), OHMS)
def test_power_comes_back_from_its_volts(power_w, impedance_ohm):
    voltage_v = ohms_law.voltage_from_power(power_w, impedance_ohm)
    assert ohms_law.power_from_voltage(voltage_v, impedance_ohm) == pytest.approx(power_w, rel=1e-12)
    assert ohms_law.voltage_from_power(4 * power_w, impedance_ohm) == pytest.approx(2 * voltage_v, rel=1e-12)


@pytest.mark.parametrize(
    ("function", "args", "message"),
    [
        (ohms_law.voltage_from_power, (-1, 8), "expected a power of 0 W or more, got -1 W"),
        (ohms_law.voltage_from_power, (-1, -8), "expected a power of 0 W or more, got -1 W"),
        (ohms_law.voltage_from_power, (1, -8), "expected an impedance of 0 ohm or more, got -8 ohm"),
        (ohms_law.power_from_voltage, (1, 0), "expected an impedance above 0 ohm, got 0 ohm"),
        (ohms_law.current_from_voltage, (1, 0), "expected an impedance above 0 ohm, got 0 ohm"),
        (ohms_law.current_from_power, (1, math.nan), "expected an impedance above 0 ohm, got nan ohm"),
        (ohms_law.current_from_power, (-1, 8), "expected a power of 0 W or more, got -1 W"),
        (ohms_law.impedance_from_power, (1, 0), "expected a power above 0 W, got 0 W"),
        (ohms_law.impedance_from_current, (1, 0), "expected a current above 0 A, got 0 A"),
        (loads.equal_parallel, (8, 0), "expected a count above 0, got 0"),
        (loads.series_parallel, (8, 2, 0), "expected a number of branches above 0, got 0"),
        (dividers.volts_after_resistance, (40, 0, 0), "above 0 ohm together, got 0 ohm"),
        (dividers.pad_parallel_resistor, (8, 0), "expected a loss above 0 dB, got 0 dB"),
    ],
)
def test_what_cannot_be_divided_is_refused(function, args, message):
    with pytest.raises(ValueError, match=message):
        function(*args)


def _three_boxes(resistance_ohm_per_m):
    """40 V behind 0.02 ohm; 25 m, box, 5 m, box, 5 m, box of 8 ohm: volts at each, and the load."""
    steps = [0.02 + cables.loop_resistance(25, resistance_ohm_per_m)]
    steps += [cables.loop_resistance(5, resistance_ohm_per_m)] * 2
    behind = [8.0]
    for step_ohm in reversed(steps[1:]):
        behind.append(loads.parallel(8, step_ohm + behind[-1]))
    behind.reverse()
    volts = [40.0]
    for step_ohm, load_ohm in zip(steps, behind, strict=True):
        volts.append(dividers.volts_after_resistance(volts[-1], step_ohm, load_ohm))
    return volts[1:], steps[0] - 0.02 + behind[0]


def test_three_boxes_on_a_line():
    # A nodal program and scikit-rf's ABCD matrices agree on these.
    volts, load_ohm = _three_boxes(conductors.class_5_resistance(4))
    assert volts == pytest.approx([36.387, 35.944, 35.723], rel=0.0002)
    # Their load is the one that the 40 V source sees, its own 0.02 ohm included.
    assert 0.02 + load_ohm == pytest.approx(2.9615, rel=0.0002)
    watts = [ohms_law.power_from_voltage(volt, 8) for volt in volts]
    assert watts == pytest.approx([165.5, 161.5, 159.5], abs=0.05)


def test_three_boxes_against_nodal_equations():
    # An independent engine: the node equations of the same line, solved by numpy.
    resistance = conductors.class_5_resistance(4)
    first, link, box = 1 / (0.02 + 50 * resistance), 1 / (10 * resistance), 1 / 8
    matrix = [
        [first + box + link, -link, 0],
        [-link, link + box + link, -link],
        [0, -link, link + box],
    ]
    nodes = np.linalg.solve(np.array(matrix), np.array([40 * first, 0, 0]))
    assert _three_boxes(resistance)[0] == pytest.approx(list(nodes), rel=1e-9)


def test_complex_step_keeps_phase():
    # Own, worked by hand: 1 V behind 1 ohm across j ohm is (1 + j) / 2.
    assert cmath.isclose(dividers.volts_after_resistance(1, 1, 1j), 0.5 + 0.5j, rel_tol=1e-12)


def test_open_end_keeps_its_volts_and_a_short_has_none():
    assert dividers.volts_after_resistance(40, 0.5, math.inf) == 40
    assert dividers.volts_after_resistance(40, 0.5, complex(math.inf, 0)) == 40
    assert dividers.volts_after_resistance(40, 0.5, 0) == 0


@given(OHMS, st.floats(0.1, 40))
def test_pad_keeps_the_load_and_takes_its_loss(load_ohm, loss_db):
    series_ohm = dividers.pad_series_resistor(load_ohm, loss_db)
    shunt_ohm = dividers.pad_parallel_resistor(load_ohm, loss_db)
    driven = loads.parallel(shunt_ohm, load_ohm)
    assert series_ohm + driven == pytest.approx(load_ohm, rel=1e-9)
    left = dividers.volts_after_resistance(1, series_ohm, driven)
    assert -20 * math.log10(left) == pytest.approx(loss_db, rel=1e-6)
