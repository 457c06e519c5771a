"""The pint registry of the calculator: made from our table, and why it is not the stock one."""

import subprocess
import sys

import pint
import pytest
from budget import asked_of_each

from fieldkit.units import DIMENSIONS, UNITS, UnitError, convert, parse_quantity
from fieldkit.units.conversion import to_computing
from fieldkit.units.registry import definitions, from_pint, pint_unit, pint_units, registry, to_pint

NUMBERS = (-40.0, 0.0, 1.0, 2.5, 1e4)


@pytest.fixture(scope="module")
def stock():
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@asked_of_each([(unit.symbol,) for unit in pint_units()])
def test_registry_and_table_agree(symbol):
    unit = UNITS[symbol]
    for number in NUMBERS:
        computed = to_pint(number, symbol).to(pint_unit(unit.computes_in)).magnitude
        assert computed == pytest.approx(to_computing(number, unit), rel=1e-12, abs=1e-10)


def test_only_levels_gauges_and_sound_levels_are_not_in_it():
    left_out = set(UNITS) - {unit.symbol for unit in pint_units()}
    assert left_out == {"dBu", "dBV", "dBW", "dBm", "AWG", "dB SPL"}


def test_definitions_name_each_row_once():
    names = [line.partition(" = ")[0] for line in definitions()]
    assert len(set(names)) == len(names)


STOCK_NAMES = {
    "square_millimetre": "millimeter**2", "square_centimetre": "centimeter**2", "square_metre": "meter**2",
    "degree_celsius": "degC", "degree_fahrenheit": "degF", "btu_per_hour": "british_thermal_unit / hour",
    "tonne": "metric_ton",
}  # fmt: skip


@pytest.mark.parametrize("unit", [unit for unit in pint_units() if unit.symbol != "dB"], ids=lambda unit: unit.symbol)
def test_stock_pint_agrees_where_it_means_the_same(stock, unit):
    # An independent engine for factors and offsets.
    name = STOCK_NAMES.get(unit.name, unit.name)
    base = UNITS.get(unit.computes_in)
    to = "dimensionless" if base is None else STOCK_NAMES.get(base.name, base.name)
    # Its British thermal unit is rounded to 1055.056 J.
    tolerance = 2e-7 if unit.symbol == "BTU/h" else 1e-9
    for number in NUMBERS:
        theirs = stock.Quantity(number, name).to(to).magnitude
        assert to_computing(number, unit) == pytest.approx(theirs, rel=tolerance, abs=1e-9)


def test_built_once():
    assert registry() is registry()


def test_levels_and_gauges_become_what_they_compute_in():
    assert to_pint(0, "dBu").to(pint_unit("mV")).magnitude == pytest.approx(774.597, abs=5e-4)  # √0.6 V
    assert to_pint(30, "dBm").to(pint_unit("W")).magnitude == pytest.approx(1)
    assert to_pint(10, "AWG").to(pint_unit("mm²")).magnitude == pytest.approx(5.261, abs=5e-4)  # ASTM B258
    assert from_pint(to_pint(1, "V"), "dBu") == pytest.approx(2.218, abs=5e-4)


def test_va_and_watts_convert_here_and_only_here():
    assert from_pint(to_pint(3, "kVA"), "W") == pytest.approx(3000)
    assert from_pint(to_pint(230, "V") * to_pint(16, "A"), "VA") == pytest.approx(3680)
    with pytest.raises(UnitError, match="which is a unit of power"):
        convert(3, "VA", "W")


def test_products_and_roots():
    # 500 W into 8 ohm is 63.25 V (Ohm's law).
    assert from_pint((to_pint(500, "W") * to_pint(8, "ohm")) ** 0.5, "V") == pytest.approx(63.25, abs=5e-3)
    assert from_pint(1 / (to_pint(20, "ms")), "Hz") == pytest.approx(50)


def test_a_temperature_in_a_product_is_absolute():
    ratio = to_pint(20, "°C") / to_pint(293.15, "K")
    assert from_pint(ratio, "") == pytest.approx(1)


def test_decibels_add_only_to_decibels():
    assert from_pint(to_pint(6, "dB") + to_pint(3, "dB"), "dB") == 9
    with pytest.raises(pint.DimensionalityError, match="Cannot convert from 'decibel'"):
        to_pint(6, "dB") + to_pint(1, "")


def test_wrong_dimension_and_unknown_units_are_unit_errors():
    with pytest.raises(UnitError, match="expected a quantity in V, got 'metre'"):
        from_pint(to_pint(3, "m"), "V")
    for symbol in ("furlong", "m**2; 1", "2 m", "__import__"):
        with pytest.raises(UnitError, match="expected a unit, got "):
            to_pint(1, symbol)


@asked_of_each([(dimension,) for dimension in DIMENSIONS])
def test_every_computing_unit_has_a_pint_unit(dimension):
    assert pint_unit(DIMENSIONS[dimension].unit) is not None


class TestWhyNotTheStockRegistry:
    """What pint's own definitions and parser make of the trade's texts, so that nobody puts them back."""

    def test_its_dbu_is_a_decibel_of_a_microwatt(self, stock):
        assert stock.Quantity(0, "dBu").to("W").magnitude == pytest.approx(1e-6)
        with pytest.raises(pint.DimensionalityError, match="Cannot convert from 'decibelmicrowatt'"):
            stock.Quantity(0, "dBu").to("V")

    def test_it_doubles_a_level_to_twice_the_decibels(self, stock):
        assert (2 * stock.Quantity(4, "dBu")).magnitude == pytest.approx(8)  # and twice 4 dBu is 10 dBu

    def test_it_has_no_dbv(self, stock):
        with pytest.raises(pint.UndefinedUnitError, match="'dBV' is not defined"):
            stock.Unit("dBV")

    def test_its_comma_vanishes(self, stock):
        assert stock("2,5 mm").to("mm").magnitude == 25
        assert parse_quantity("2,5 mm").number == 2.5

    def test_its_feet_times_inches(self, stock):
        assert stock("5 ft 3 in").dimensionality == {"[length]": 2}
        assert parse_quantity("5 ft 3 in").dimension == "length"

    def test_its_mil_is_an_angle(self, stock):
        # How large an angle depends on the release: a 64 000th of a turn in one, a 6 400th in another.
        assert stock.Unit("mil").is_compatible_with("radian")

    def test_its_twenty_c_is_a_charge(self, stock):
        assert str(stock("20 C").units) == "coulomb"

    def test_its_nothing_is_one_and_its_too_much_infinite(self, stock):
        assert stock("").magnitude == 1
        assert stock("1e400 m").magnitude == float("inf")


LIGHT = """
import sys, re, functools, math, msgspec
before = set(sys.modules)
from fieldkit.units import Length, format_value
Length("82 ft"), format_value(2.5, "ohm")
print(" ".join(sorted(set(sys.modules) - before)))
"""


def test_importing_the_units_brings_in_nothing_heavy():
    run = subprocess.run([sys.executable, "-c", LIGHT], capture_output=True, text=True, check=True)
    brought = run.stdout.split()
    assert "fieldkit.units.table" in brought
    assert [name for name in brought if not name.startswith("fieldkit")] == []
    assert "fieldkit.units.registry" not in brought
