"""What an output gives: at its ratings, between them, and outside them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.formulas import ohms_law, outputs
from fieldkit.formulas.loads import equal_parallel

# An invented amplifier: rated load and power of one channel.
RATINGS = (8, 500, 4, 900, 2, 1200)
LOADS = st.floats(0.05, 1000)


@st.composite
def sagging_ratings(draw):
    """Rated loads that fall while volts fall and current rises, as amplifiers do."""
    load_ohm, volts = draw(st.floats(4, 16)), draw(st.floats(10, 200))
    ratings = [load_ohm, volts**2 / load_ohm]
    for _ in range(draw(st.integers(0, 3))):
        current = volts / load_ohm * draw(st.floats(1.05, 2))
        volts *= draw(st.floats(0.8, 1))
        load_ohm = volts / current
        ratings += [load_ohm, volts**2 / load_ohm]
    return tuple(ratings)


@pytest.mark.parametrize(("load_ohm", "power_w"), [(8, 500), (4, 900), (2, 1200)])
def test_rated_powers_come_back(load_ohm, power_w):
    volts = outputs.output_voltage(load_ohm, *RATINGS)
    assert ohms_law.power_from_voltage(volts, load_ohm) == pytest.approx(power_w, rel=1e-12)


def test_between_two_ratings():
    # Own, worked by hand: 50 V at 5 A (10 ohm, 250 W) and 40 V at 10 A (4 ohm, 400 W); the line
    # V = 60 − 2·I meets V = 6·I at 7.5 A and 45 V.
    assert outputs.output_voltage(6, 10, 250, 4, 400) == pytest.approx(45, rel=1e-12)


def test_load_of_two_thirds_lies_between():
    # Own, worked by hand: (15 A, 60 V) and (24.4949 A, 48.9898 V); V = 60 − 1.15955·(I − 15) meets
    # V = 2.667·I at 20.226 A and 53.94 V.
    assert outputs.output_voltage(2.667, *RATINGS) == pytest.approx(53.94, abs=0.005)


def test_flat_above_the_highest_rated_load():
    for load_ohm in (8, 16, 1e6, math.inf):
        assert outputs.output_voltage(load_ohm, *RATINGS) == pytest.approx(math.sqrt(4000), rel=1e-12)


def test_limited_in_current_below_the_lowest():
    # Ohm's law: 1200 W into 2 ohm is 24.4949 A.
    for load_ohm in (2, 1, 0.1, 0):
        assert outputs.output_voltage(load_ohm, *RATINGS) == pytest.approx(24.4949 * load_ohm, rel=1e-5)


def test_stiff_supply_doubles_power():
    # Twice the power into half the load is the same volts at every load down to the lowest rated.
    for load_ohm in (2, 2.5, 3, 5, 7, 100):
        assert outputs.output_voltage(load_ohm, 8, 500, 4, 1000, 2, 2000) == pytest.approx(63.25, abs=0.005)


def test_protection_that_folds_back():
    # A channel rated lower at 2 ohm: never above the neighbours' volts, and its rating comes back.
    assert outputs.output_voltage(2, 8, 500, 4, 900, 2, 400) == pytest.approx(math.sqrt(800), rel=1e-12)
    between = outputs.output_voltage(3, 8, 500, 4, 900, 2, 400)
    assert math.sqrt(800) < between < 60


@given(sagging_ratings(), LOADS, st.floats(1.0001, 3))
def test_more_load_gives_no_less_volts_and_no_more_current(ratings, load_ohm, factor):
    low = outputs.output_voltage(load_ohm, *ratings)
    high = outputs.output_voltage(load_ohm * factor, *ratings)
    assert high >= low * (1 - 1e-9)
    assert high / (load_ohm * factor) <= low / load_ohm * (1 + 1e-9)


@given(sagging_ratings(), LOADS)
def test_never_beyond_the_ratings_volts_and_current(ratings, load_ohm):
    curve = outputs.rated_curve(ratings)
    volts = outputs.voltage_from_curve(load_ohm, curve)
    assert volts <= curve[0][1] * (1 + 1e-9)
    assert volts / load_ohm <= curve[-1][0] * (1 + 1e-9)


@given(sagging_ratings(), LOADS, st.floats(0.1, 10))
def test_volts_scale_with_the_root_of_power(ratings, load_ohm, factor):
    scaled = [value * factor**2 if position % 2 else value for position, value in enumerate(ratings)]
    expected = factor * outputs.output_voltage(load_ohm, *ratings)
    assert outputs.output_voltage(load_ohm, *scaled) == pytest.approx(expected, rel=1e-9)


def test_nothing_jumps_at_a_rated_load():
    for load_ohm in (8, 4, 2):
        for beside in (load_ohm * (1 - 1e-9), load_ohm * (1 + 1e-9)):
            assert outputs.output_voltage(beside, *RATINGS) == pytest.approx(
                outputs.output_voltage(load_ohm, *RATINGS), rel=1e-8
            )


def test_ratings_may_rise_or_fall():
    assert outputs.rated_curve((2, 1200, 4, 900, 8, 500)) == outputs.rated_curve(RATINGS)


def test_curve_holds_current_and_volts():
    # Ohm's law: 500 W on 8 ohm is 7.906 A and 63.25 V; 900 W on 4 ohm is 15 A and 60 V.
    assert outputs.rated_curve((8, 500, 4, 900)) == (
        pytest.approx((7.906, 63.246), abs=0.0005),
        (15.0, 60.0),
    )


def test_two_50_w_channels_bridged():
    # A public encyclopedia's example: two 50 W / 4 ohm channels bridged into 4 ohm give 28.28 V and 200 W,
    # each side seeing 2 ohm (and able to drive it).
    volts = outputs.bridged_voltage(4, 4, 50, 2, 100)
    assert volts == pytest.approx(28.28, abs=0.005)
    assert ohms_law.power_from_voltage(volts, 4) == pytest.approx(200, rel=0.001)
    assert outputs.bridged_leg_load(4) == 2


@given(sagging_ratings(), LOADS)
def test_bridged_and_paralleled_are_two_channels(ratings, load_ohm):
    single = outputs.output_voltage(load_ohm, *ratings)
    assert outputs.bridged_voltage(2 * load_ohm, *ratings) == pytest.approx(2 * single, rel=1e-12)
    assert outputs.paralleled_voltage(load_ohm / 2, *ratings) == pytest.approx(single, rel=1e-12)
    # Either way the pair gives the power of two.
    both = 2 * single**2 / load_ohm
    assert (2 * single) ** 2 / (2 * load_ohm) == pytest.approx(both, rel=1e-12)


def test_least_loads_of_pairs():
    assert outputs.bridged_minimum_load(2) == 4
    assert outputs.bridged_leg_load(outputs.bridged_minimum_load(2)) == 2
    assert outputs.paralleled_minimum_load(4) == equal_parallel(4, 2)


def test_supply_holds_or_scales():
    assert outputs.shared_supply_scale(1000, 1500) == 1
    assert outputs.shared_supply_scale(0, 0) == 1
    # Own, worked by hand: √(1500/2000) = 0.8660; outputs lowered so take 1500 W together.
    scale = outputs.shared_supply_scale(2000, 1500)
    assert scale == pytest.approx(0.8660, abs=0.00005)
    assert 2000 * scale**2 == pytest.approx(1500, rel=1e-12)


@pytest.mark.parametrize(
    ("ratings", "message"),
    [
        ((), "expected pairs of load and power, got 0 values"),
        ((8, 500, 4), "expected pairs of load and power, got 3 values"),
        ((8, 500, 2, 1200, 4, 900), "expected rated loads in order and each once, got 8, 2, 4 ohm"),
        ((8, 500, 8, 500), "expected rated loads in order and each once, got 8, 8 ohm"),
        ((8, 0), "expected a rated load and power above 0, got 0 W at 8 ohm"),
        ((0, 500), "expected a rated load and power above 0, got 500 W at 0 ohm"),
        ((8, math.nan), "expected a rated load and power above 0, got nan W at 8 ohm"),
    ],
)
def test_broken_ratings_are_refused(ratings, message):
    for function in (outputs.output_voltage, outputs.bridged_voltage, outputs.paralleled_voltage):
        with pytest.raises(ValueError, match=message):
            function(4, *ratings)


def test_powers_and_loads_below_zero_are_refused():
    with pytest.raises(ValueError, match="expected a load of 0 ohm or more, got -4 ohm"):
        outputs.output_voltage(-4, *RATINGS)
    with pytest.raises(ValueError, match="expected a demand of 0 W or more, got -1 W"):
        outputs.shared_supply_scale(-1, 100)
    with pytest.raises(ValueError, match="expected a limit of 0 W or more, got -1 W"):
        outputs.shared_supply_scale(1, -1)
