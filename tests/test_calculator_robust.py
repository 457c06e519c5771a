"""Whatever is typed, the calculator answers or says in one line why not, and quickly; and every formula can be called."""

import ast
import math
import subprocess
import sys

import pytest
from budget import asked_of_each, tries
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.calculator import evaluate, listing_text
from fieldkit.calculator.errors import CalculatorError, NoAnswer, UnusableInput
from fieldkit.calculator.listing import fill, listing
from fieldkit.formulas import all_formulas
from fieldkit.formulas.declaration import specification
from fieldkit.units import UNITS

HOSTILE = [
    "__import__('os').system('true')",
    "(1).__class__",
    "sqrt.__globals__",
    "9^9^9^9",
    "9**9**9**9",
    "(1 m)^1e9",
    "2^-1e308",
    "1e400",
    "nan",
    "inf m",
    "lambda: 1",
    "[1, 2]",
    "{1}",
    "x = 3",
    "1; 2",
    "1\n+ 2",
    "1 \x00",
    "'" * 500,
    "(" * 900,
    "sqrt(" * 190,
    "-" * 900 + "1",
    "1" * 1000,
    "1" * 100_000,
    "*".join(["9"] * 500),
    "^".join(["2"] * 200),
    "*".join(["1 m"] * 200),
    "√" * 900 + "4",
    "min(" + ", ".join(["1"] * 300) + ")",
    "Amp [/A]",
    "ﷺ" * 300,
    "🎪 m",
    "\u202e5 m",
    "0x10",
    "1_000",
    "５ m",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_input_is_refused_in_one_line(text):
    try:
        result = evaluate(text)
    except CalculatorError as error:
        assert "\n" not in str(error)
        assert len(str(error)) < 400
    else:
        assert math.isfinite(result.value)


ALPHABET = st.sampled_from(
    [
        *"0123456789.,+-*/^()= eE",
        "m",
        "mm²",
        "ohm",
        "Ω",
        "V",
        "W",
        "dBu",
        "dB",
        "ft",
        "in",
        "AWG",
        "%",
        "°C",
        "sqrt(",
        "parallel(",
        "pi",
        "√",
    ]
)


@given(st.lists(ALPHABET, max_size=25).map("".join))
@tries(100)
def test_any_expression_has_a_result_or_one_line(text):
    try:
        result = evaluate(text)
    except CalculatorError as error:
        assert str(error)
        assert error.exit_status in {1, 2}
    else:
        assert math.isfinite(result.value)
        assert result.text


@given(st.text(max_size=60))
@tries(80)
def test_any_text_has_a_result_or_one_line(text):
    try:
        evaluate(text)
    except CalculatorError as error:
        assert "\n" not in str(error)


NUMBERS = st.floats(-1e6, 1e6, allow_nan=False).map(lambda number: round(number, 6))


@given(NUMBERS, NUMBERS, st.sampled_from("+-*/"))
@tries(60)
def test_plain_arithmetic_agrees_with_python(left, right, operator):
    text = f"({left!r}) {operator} ({right!r})"
    if operator == "/" and right == 0:
        with pytest.raises(NoAnswer):
            evaluate(text)
        return
    expected = {"+": left + right, "-": left - right, "*": left * right, "/": left / right if right else 0.0}[operator]
    assert evaluate(text).value == pytest.approx(expected, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("symbol", sorted(UNITS))
def test_every_unit_comes_back_as_typed(symbol):
    number = 12 if symbol == "AWG" else 0.5
    result = evaluate(f"{number} {symbol}", symbol)
    assert result.value == pytest.approx(number, rel=1e-9)
    assert result.unit == symbol


def examples():
    """List each formula's docstring example as a call, with the number that it prints."""
    for name, function in all_formulas().items():
        call, _, printed = specification(function).example.partition("=")
        for separator in ("=",):
            assert separator not in printed
        tree = ast.parse(call.strip(), mode="eval").body
        yield name, [ast.literal_eval(argument) for argument in tree.args], float(printed)


@asked_of_each(list(examples()))
def test_every_formula_can_be_called_with_units(name, arguments, printed):
    spec = specification(all_formulas()[name])
    parts = []
    for place, number in enumerate(arguments):
        parameter = spec.parameters[min(place, len(spec.parameters) - 1)]
        unit = parameter.unit_at(place - len(spec.parameters) + 1) if parameter.repeats else parameter.unit
        parts.append(f"{number!r} {unit}".replace("-", "-").strip())
    result = evaluate(f"{name}({', '.join(parts)})", spec.unit or None)
    assert result.value == pytest.approx(printed, rel=2e-3, abs=1e-9)


def test_the_listing_has_every_formula_with_its_units():
    names = {entry.name for entry in listing()}
    assert set(all_formulas()) < names
    lines = list(listing_text())
    assert all(len(line) <= 80 for line in lines)
    assert any("cable_loss(length [m], area [mm²], load [ohm]) → dB" in line for line in lines)


# The textbook case solved for each unknown in turn: U = √(P·Z); 300 W and 8 Ω are 48.99 V (Ohm).
@pytest.mark.parametrize(
    ("fields", "unknown", "value"),
    [
        ({"power": "300 W", "load": "8 ohm", "result": ""}, "result", 48.99),
        ({"power": "", "load": "8 ohm", "result": "48.9898 V"}, "power", 300.0),
        ({"power": "300 W", "load": "", "result": "36.0206 dBu"}, "load", 8.0),
    ],
)
def test_the_form_finds_the_field_that_was_left_blank(fields, unknown, value):
    label, found, used = fill("limiter_voltage", fields)
    assert (label, used[-1].name) == (unknown, "limiter_voltage")
    assert found.number == pytest.approx(value, rel=1e-4)


def test_a_form_with_several_values_in_one_field():
    label, found, _ = fill("parallel", {"loads": "8 ohm; 8 ohm; 4 ohm", "result": ""})
    assert (label, found.number) == ("result", pytest.approx(2.0))


@pytest.mark.parametrize(
    ("fields", "kind", "field", "says"),
    [
        ({"power": "", "load": ""}, UnusableInput, "", "one field left blank"),
        ({"power": "1 W", "load": "8 ohm", "result": "3 V"}, UnusableInput, "", "one field left blank"),
        ({"power": "300 m", "load": "8 ohm"}, UnusableInput, "power", "which is a length"),
        ({"power": "300 W *", "load": "8 ohm"}, UnusableInput, "power", "got the end"),
        ({"power": "", "load": "8 ohm", "result": "8 m"}, UnusableInput, "result", "which is a length"),
        ({"power": "", "load": "8 ohm", "result": "1e9 V"}, NoAnswer, "power", "expected"),
        ({"power": "", "load": "8 ohm", "result": ";"}, UnusableInput, "result", "expected one value, got 0"),
        ({"power": "", "load": "8 ohm; 4 ohm", "result": "8 V"}, UnusableInput, "load", "expected one value, got 2"),
    ],
)
def test_a_form_says_which_field_is_wrong(fields, kind, field, says):
    with pytest.raises(kind) as refused:
        fill("limiter_voltage", fields)
    assert says in str(refused.value)
    assert refused.value.field == field


def test_pint_is_imported_by_the_first_expression_and_not_before_and_numpy_not_with_it():
    code = (
        "import sys, fieldkit.calculator as c; print('pint' in sys.modules); "
        "c.evaluate('8 ohm'); print('pint' in sys.modules, 'numpy' in sys.modules); "
        "import numpy; print(c.evaluate('20 m / 2').value)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.split() == ["False", "True", "False", "10.0"]


def test_numpy_is_kept_from_the_thread_that_imports_pint_and_from_no_other():
    code = (
        "import sys, threading; from fieldkit.units.registry import _NoNumpy; sys.meta_path.insert(0, _NoNumpy())\n"
        "try: import numpy\nexcept ImportError: print('none')\n"
        "other = threading.Thread(target=__import__, args=('numpy',)); other.start(); other.join()\n"
        "print('numpy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.split() == ["none", "True"]
