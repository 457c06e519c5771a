"""Copper: the standards' tables laid out as printed, and the wire gauge against an independent package."""

import fluids
import pytest
from budget import asked_of_each
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.formulas import conductors as copper
from fieldkit.units.gauges import gauge_area

# IEC 60228:2004, plain annealed copper at 20 °C, ohm/km of one conductor. The columns 0.75 to 50 mm² were
# seen in three reproductions of the standard; 0.5 mm² and from 70 mm² up are from memory.
IEC_60228 = [
    # mm²   table 2  table 3
    #       class 2  class 5
    (0.5,   "36.0",  "39.0"),
    (0.75,  "24.5",  "26.0"),
    (1,     "18.1",  "19.5"),
    (1.5,   "12.1",  "13.3"),
    (2.5,   "7.41",  "7.98"),
    (4,     "4.61",  "4.95"),
    (6,     "3.08",  "3.30"),
    (10,    "1.83",  "1.91"),
    (16,    "1.15",  "1.21"),
    (25,    "0.727", "0.780"),
    (35,    "0.524", "0.554"),
    (50,    "0.387", "0.386"),
    (70,    "0.268", "0.272"),
    (95,    "0.193", "0.206"),
    (120,   "0.153", "0.161"),
]  # fmt: skip

# NFPA 70 chapter 9 table 8, uncoated copper at 75 °C, ohm/kft. 18 to 8 AWG and stranded 6 AWG were seen in
# the table; the thicker ones are from memory.
NFPA_70_TABLE_8 = [
    # AWG  solid    stranded
    (18,   "7.77",  "7.95"),
    (16,   "4.89",  "4.99"),
    (14,   "3.07",  "3.14"),
    (12,   "1.93",  "1.98"),
    (10,   "1.21",  "1.24"),
    (8,    "0.764", "0.778"),
    (6,    None,    "0.491"),
    (4,    None,    "0.308"),
    (3,    None,    "0.245"),
    (2,    None,    "0.194"),
    (1,    None,    "0.154"),
    (0,    None,    "0.122"),
    (-1,   None,    "0.0967"),
    (-2,   None,    "0.0766"),
    (-3,   None,    "0.0608"),
]  # fmt: skip

# IACS copper, 1/58 ohm·mm²/m at 20 °C (IEC 60028; NBS Handbook 100).
IACS = 1 / 58


def printed(text):
    """Make an approximation to half the last printed digit."""
    return pytest.approx(float(text), rel=0, abs=0.5 * 10.0 ** -len(text.partition(".")[2]))


@pytest.mark.parametrize(("area_mm2", "class_2", "class_5"), IEC_60228)
def test_metric_sizes_as_printed(area_mm2, class_2, class_5):
    assert copper.class_2_resistance(area_mm2) * 1000 == pytest.approx(float(class_2), rel=1e-12)
    assert copper.class_5_resistance(area_mm2) * 1000 == pytest.approx(float(class_5), rel=1e-12)


@pytest.mark.parametrize(("gauge", "solid", "stranded"), NFPA_70_TABLE_8)
def test_gauges_as_printed_at_75_degrees(gauge, solid, stranded):
    at_75 = copper.resistance_at_temperature(copper.stranded_awg_resistance(gauge), 75)
    assert at_75 * 304.8 == printed(stranded)
    if solid:
        at_75 = copper.resistance_at_temperature(copper.solid_awg_resistance(gauge), 75)
        assert at_75 * 304.8 == printed(solid)


def test_10_awg_solid_at_20_degrees():
    # 3.277 ohm/km at 20 °C from IACS copper and ASTM B258; the table's 1.21 has half a digit of 0.4 %.
    assert copper.solid_awg_resistance(10) * 1000 == pytest.approx(3.277, rel=0.005)
    assert IACS / copper.awg_area(10) * 1000 == pytest.approx(3.277, abs=0.0005)


def test_class_5_is_above_ideal_copper():
    # IEC 60228 table 3 against IACS at 2.5 mm².
    assert copper.class_5_resistance(2.5) * 2.5 / IACS == pytest.approx(1.157, rel=0.002)


def test_stranded_is_above_solid_at_every_printed_gauge():
    # Many copies of table 8 give the solid figures as stranded.
    for gauge in (18, 16, 14, 12, 10, 8):
        share = copper.stranded_awg_resistance(gauge) / copper.solid_awg_resistance(gauge)
        assert 1.01 < share < 1.04


@pytest.mark.parametrize("area_mm2", [area_mm2 for area_mm2, *_ in IEC_60228])
def test_tables_stay_near_ideal_copper(area_mm2):
    # The standard allows a share for stranding and for wires drawn thin; a slipped digit would show.
    for resistance in (copper.class_2_resistance, copper.class_5_resistance):
        assert 0.98 < resistance(area_mm2) * area_mm2 / IACS < 1.2


@pytest.mark.parametrize(("gauge", "diameter_mm"), [(10, 2.588), (12, 2.053), (14, 1.628)])
def test_diameter_by_astm_b258(gauge, diameter_mm):
    # ASTM B258, as reproduced.
    assert copper.awg_diameter(gauge) == pytest.approx(diameter_mm, abs=0.0005)


@pytest.mark.parametrize("gauge", range(0, 31, 2))
def test_diameter_against_fluids(gauge):
    # An independent table: the fluids package, printed to four digits of an inch.
    in_m = fluids.t_from_gauge(gauge, SI=True, schedule="AWG")
    assert copper.awg_diameter(gauge) == pytest.approx(in_m * 1000, rel=0.005)


def test_area_of_10_awg():
    # ASTM B258: 5.261 mm², 10 383 circular mils; a circular mil is π/4 · (0.0254 mm)².
    assert copper.awg_area(10) == pytest.approx(5.261, abs=0.0005)
    assert copper.awg_area(10) / (0.0254**2 * 3.14159265 / 4) == pytest.approx(10383, abs=2)


def test_four_aught_is_046_inch():
    # ASTM B258 fixes two gauges: 4/0 (−3 here) is 0.4600 inch and 36 is 0.0050 inch.
    assert copper.awg_diameter(-3) == pytest.approx(0.46 * 25.4, rel=1e-12)
    assert copper.awg_diameter(36) == pytest.approx(0.005 * 25.4, rel=1e-12)


def test_three_gauges_double_the_area():
    # Common practice, no source: three gauges are about twice the copper, ten about ten times.
    assert copper.awg_area(10) / copper.awg_area(13) == pytest.approx(2, rel=0.01)
    assert copper.awg_area(10) / copper.awg_area(20) == pytest.approx(10, rel=0.02)


@asked_of_each([(gauge,) for gauge in range(-3, 41)])
def test_gauge_comes_back_from_its_area(gauge):
    assert copper.gauge_from_area(copper.awg_area(gauge)) == pytest.approx(gauge, abs=1e-9)
    # The units, which read "12 AWG" as an area, hold the same formula.
    assert copper.awg_area(gauge) == pytest.approx(gauge_area(gauge), rel=1e-12)


def test_copper_at_60_degrees():
    # IEC 60028: 0.00393 a kelvin, 40 K.
    assert copper.resistance_at_temperature(1, 60) == pytest.approx(1.1572, abs=0.00005)


@given(st.floats(0.1, 1000), st.floats(-50, 200))
def test_temperature_comes_back_from_resistance(resistance_ohm, temperature_c):
    hot = copper.resistance_at_temperature(resistance_ohm, temperature_c)
    assert copper.copper_temperature(hot, resistance_ohm) == pytest.approx(temperature_c, abs=1e-6)


@given(st.floats(0.05, 500), st.floats(1.001, 3))
def test_more_copper_has_less_resistance(area_mm2, factor):
    for resistance in (copper.class_2_resistance, copper.class_5_resistance):
        assert resistance(area_mm2 * factor) < resistance(area_mm2)


@pytest.mark.parametrize("area_mm2", [area_mm2 for area_mm2, *_ in IEC_60228])
def test_nothing_jumps_at_a_printed_size(area_mm2):
    for resistance in (copper.class_2_resistance, copper.class_5_resistance):
        for beside in (area_mm2 * (1 - 1e-9), area_mm2 * (1 + 1e-9)):
            assert resistance(beside) == pytest.approx(resistance(area_mm2), rel=1e-8)


def test_between_sizes_resistance_times_area_is_interpolated():
    # Own, worked by hand: half way from 2.5 (19.95) to 4 mm² (19.80) the product is 19.875; / 3.25 = 6.1154.
    assert copper.class_5_resistance(3.25) * 1000 == pytest.approx(6.1154, abs=0.00005)


def test_outside_the_table_the_nearest_product_holds():
    # Own, worked by hand: 39.0 · 0.5 / 0.25 = 78.0 and 0.161 · 120 / 240 = 0.0805.
    assert copper.class_5_resistance(0.25) * 1000 == pytest.approx(78.0, abs=0.05)
    assert copper.class_5_resistance(240) * 1000 == pytest.approx(0.0805, abs=0.00005)


@pytest.mark.parametrize("area_mm2", [0, -2.5, float("nan")])
def test_no_area_is_refused(area_mm2):
    for function in (copper.class_2_resistance, copper.class_5_resistance, copper.gauge_from_area):
        with pytest.raises(ValueError, match="expected an area above 0 mm², got"):
            function(area_mm2)


def test_no_cold_resistance_is_refused():
    with pytest.raises(ValueError, match="expected a cold resistance above 0 ohm, got 0 ohm"):
        copper.copper_temperature(6, 0)
