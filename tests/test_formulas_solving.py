"""The blank field of a form: solved for each unknown, or refused in words."""

import ast
import math

import pytest
from budget import asked_of_each
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.formulas import all_formulas, cables, conductors, levels, limiters, loads, ohms_law, outputs
from fieldkit.formulas.declaration import specification
from fieldkit.formulas.solving import solve

FORMULAS = all_formulas()


def _example_arguments(name):
    call = ast.parse(specification(FORMULAS[name]).example.rpartition(" = ")[0], mode="eval").body
    return [ast.literal_eval(arg) for arg in call.args]


def _single_unknowns():
    for name, function in FORMULAS.items():
        spec = specification(function)
        arguments = _example_arguments(name)
        known = {
            parameter.label: tuple(arguments[position:]) if parameter.repeats else arguments[position]
            for position, parameter in enumerate(spec.parameters)
            if position < len(arguments)
        }
        for parameter in spec.parameters:
            if not parameter.repeats and parameter.label in known:
                others = {label: value for label, value in known.items() if label != parameter.label}
                yield name, parameter.label, others, known


# Stepped or flat there: no single answer exists.
NOT_INVERTIBLE = {("smallest_cable", label) for label in ("loss", "length", "load")}
NOT_INVERTIBLE.add(("bridged_voltage", "load"))
NOT_INVERTIBLE |= {("smallest_feeder", label) for label in ("drop_share", "length", "current", "voltage")}
NOT_INVERTIBLE |= {("minimum_breaker", "continuous"), ("minimum_breaker", "other"), ("touch_threshold", "voltage")}
NOT_INVERTIBLE |= {("units_behind_device", "device"), ("units_behind_device", "leakage")}
NOT_INVERTIBLE |= {("harmonic_design_current", "third_share"), ("generator_size", "apparent")}
# A neutral is least where the phases are balanced: a line below and one above give the same.
NOT_INVERTIBLE |= {
    (name, label)
    for name in ("neutral_current", "neutral_current_with_third")
    for label in ("line_1", "line_2", "line_3")
}
NOT_INVERTIBLE.add(("judged_impedance", "rated"))  # where the modulus rules, any higher rating gives the same
NOT_INVERTIBLE |= {("neutral_by_order", f"first_{line}") for line in (1, 2, 3)}
# A point as far on the one side as on the other; a sum that goes up and down with frequency; air that absorbs most at
# one temperature and humidity; filters of every order are alike at their corner.
NOT_INVERTIBLE |= {("distance_between", f"{axis}{end}") for axis in "xyz" for end in (1, 2)}
NOT_INVERTIBLE |= {("delayed_sum", "frequency"), ("delayed_sum", "delay")}
NOT_INVERTIBLE |= {("gradient_front", "frequency"), ("gradient_front", "temperature")}
NOT_INVERTIBLE |= {(name, label) for name in ("air_loss", "air_absorption") for label in ("temperature", "humidity")}
NOT_INVERTIBLE |= {(f"{name}_low_pass", "order") for name in ("butterworth", "linkwitz_riley")}
NOT_INVERTIBLE |= {("linkwitz_riley_sum", label) for label in ("frequency", "order", "delay")}
NOT_INVERTIBLE |= {("linkwitz_riley_inverted_sum", label) for label in ("frequency", "corner", "order")}


@asked_of_each(list(_single_unknowns()))
def test_every_example_is_solved_for_each_unknown(name, unknown, others, known):
    function = FORMULAS[name]
    result = function(*_example_arguments(name))
    if (name, unknown) in NOT_INVERTIBLE:
        with pytest.raises(ValueError, match=r"expected (one .+ got (many from|.+ and )|a result from )"):
            solve(function, unknown, result, **others)
    else:
        assert solve(function, unknown, result, **others) == pytest.approx(known[unknown], rel=1e-6)


@given(st.floats(0.01, 9_000), st.floats(0.01, 9_000))
def test_ohms_law_is_solved_wherever_it_lies(power_w, impedance_ohm):
    volts = ohms_law.voltage_from_power(power_w, impedance_ohm)
    solved = solve(ohms_law.voltage_from_power, "power_w", volts, impedance_ohm=impedance_ohm)
    assert solved == pytest.approx(power_w, rel=1e-7)


def test_zero_is_an_answer_too():
    assert solve(ohms_law.voltage_from_power, "power", 0, impedance=8) == 0
    assert solve(levels.voltage_ratio, "gain", 1) == 0


def test_gain_below_zero():
    # Definition: half the volts are −6.0206 dB.
    assert solve(levels.voltage_ratio, "gain", 0.5) == pytest.approx(-6.0206, abs=0.00005)


def test_load_between_two_ratings():
    # Own, worked by hand in the tests of outputs: 6 ohm gives 45 V.
    assert solve(outputs.output_voltage, "load", 45, ratings=(10, 250, 4, 400)) == pytest.approx(6, rel=1e-6)


def test_default_may_be_left_out_or_be_the_unknown():
    volts = limiters.thermal_threshold(600, 6)
    assert solve(limiters.thermal_threshold, "power", volts, impedance=6) == pytest.approx(600, rel=1e-6)
    margin_db = solve(limiters.thermal_threshold, "margin", 60, power=600, impedance=6)
    assert margin_db == pytest.approx(0, abs=1e-6)


def test_whole_numbers_from_rounded_results():
    # 8/3 typed as 2.667; stranded 12 AWG at 20 °C typed as 5.34 milliohm a metre.
    assert solve(loads.equal_parallel, "count", 2.667, load=8) == 3
    assert solve(conductors.stranded_awg_resistance, "gauge", 0.00534) == 12


def test_a_count_between_whole_numbers_is_refused():
    with pytest.raises(ValueError, match=r"got 2\.5 ohm; 4 gives 2 ohm and 3 gives 2\.66667 ohm"):
        solve(loads.equal_parallel, "count", 2.5, load=8)


def test_a_result_out_of_reach_is_refused():
    message = r"expected a result from 0 V to 63\.2456 V \(load from 0 ohm to 1e\+06 ohm\), got 70 V"
    with pytest.raises(ValueError, match=message):
        solve(outputs.output_voltage, "load", 70, ratings=(8, 500, 4, 900))


def test_a_flat_stretch_is_refused():
    volts = outputs.output_voltage(8, 8, 500, 4, 900)
    with pytest.raises(ValueError, match=r"expected one load that gives 63\.2456 V, got many from 8\.\d+ ohm"):
        solve(outputs.output_voltage, "load", volts, ratings=(8, 500, 4, 900))


def test_a_step_between_printed_sizes_is_refused():
    with pytest.raises(ValueError, match=r"got 5 mm²; .+ m gives 4 mm² and .+ m gives 6 mm²"):
        solve(cables.smallest_cable, "length", 5, loss=0.5, load=8)


def test_two_answers_are_both_named():
    def sine(angle_deg: levels.Gain) -> levels.Ratio:
        """Give a sine.

        angle_deg: from −200 to 200 [dB]
        Result: its sine
        Formula: sin
        Valid: always
        Raises: nothing
        Source: by definition
        Example: sine(90) = 1
        """
        return math.sin(math.radians(angle_deg))

    # sin 30° = sin 150° = 0.5; −200° is below −190°, whose sine is small.
    with pytest.raises(ValueError, match=r"expected one angle that gives 0\.5, got 30 dB and 150 dB"):
        solve(sine, "angle_deg", 0.5)


def test_a_pole_is_no_answer():
    def reciprocal(gain_db: levels.Gain) -> levels.Gain:
        """Give a reciprocal.

        gain_db: from −200 to 200 [dB]
        Result: its reciprocal [dB]
        Formula: 1/x
        Valid: always
        Raises: nothing
        Source: by definition
        Example: reciprocal(2) = 0.5
        """
        return 1 / (gain_db - 1.2345)

    assert solve(reciprocal, "gain", 0.5) == pytest.approx(3.2345, rel=1e-9)


@pytest.mark.parametrize(
    ("unknown", "result", "known", "message"),
    [
        (
            "voltage",
            8,
            {"power": 1},
            r"expected an input of voltage_from_power \(power, impedance\), got 'vol",
        ),
        ("power", 8, {"power": 1, "impedance": 8}, "expected power once, got it twice"),
        ("power", 8, {"impedance": 8, "impedance_ohm": 8}, "expected impedance once, got it twice"),
        ("power", 8, {}, "expected a value for impedance, got none"),
        (
            "power",
            8,
            {"impedance": -8},
            "expected inputs that voltage_from_power can use, got none with any power",
        ),
        ("power", math.inf, {"impedance": 8}, "expected a finite result of voltage_from_power, got inf"),
        ("power", -4, {"impedance": 8}, "expected a result from 0 V to .+, got -4 V"),
    ],
)
def test_questions_that_cannot_be_asked(unknown, result, known, message):
    with pytest.raises(ValueError, match=message):
        solve(ohms_law.voltage_from_power, unknown, result, **known)


def test_a_list_is_no_unknown():
    with pytest.raises(ValueError, match="expected one unknown of parallel, got loads, which is a list"):
        solve(loads.parallel, "loads", 4)
