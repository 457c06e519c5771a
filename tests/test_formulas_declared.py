"""Every formula declares itself whole: units, ranges, meaning, source, and an example that holds."""

import ast
import itertools
import math
import pkgutil
import re
from pathlib import Path

import pytest
from budget import asked_of_each

import fieldkit.formulas as package
from fieldkit.formulas import SUBJECTS, all_formulas
from fieldkit.formulas.declaration import formula, is_formula, specification

FORMULAS = all_formulas()
UNITS = {
    "m", "mm", "mm²", "V", "A", "W", "VA", "ohm", "H", "F", "J", "Hz", "s", "ms", "°C",
    "BTU/h", "dB", "dB SPL", "dBu", "dBV", "dBW", "dBm", "ohm/m", "dB/m", "m/s", "Pa", "deg", "",
}  # fmt: skip
each_formula = asked_of_each([(name,) for name in FORMULAS])


def _example(text):
    """Read ``call(1, 2) = 3.0`` into the call's name, its arguments and the printed value."""
    call, equals, printed = text.rpartition(" = ")
    assert equals
    node = ast.parse(call, mode="eval").body
    assert isinstance(node, ast.Call)
    assert not node.keywords
    return node.func.id, [ast.literal_eval(arg) for arg in node.args], printed


@each_formula
def test_units_and_ranges_are_declared(name):
    spec = specification(FORMULAS[name])
    for declared in (*spec.parameters, spec):
        assert set(declared.unit.split(", ")) <= UNITS
        assert declared.low < declared.high
        assert math.isfinite(declared.low)
        assert math.isfinite(declared.high)


@each_formula
def test_docstring_names_the_declared_units(name):
    spec = specification(FORMULAS[name])
    for text, unit in [(p.meaning, p.unit) for p in spec.parameters] + [(spec.result, spec.unit)]:
        found = re.search(r" \[(.*)\]$", text)
        assert (found.group(1) if found else "") == unit


@each_formula
def test_inputs_have_labels_of_their_own(name):
    labels = [parameter.label for parameter in specification(FORMULAS[name]).parameters]
    assert len(set(labels)) == len(labels)


@each_formula
def test_title_and_labels_are_written(name):
    spec = specification(FORMULAS[name])
    assert re.match(r"[A-Z][a-z]+ .*[.?]$", spec.title)
    verb = spec.title.split()[0]
    assert verb not in {"Give", "The", "An"}, "say what is done: Compute, Convert, Add, Find, Choose, Look up …"
    assert not verb.endswith("s"), "in the imperative"
    assert spec.subject in SUBJECTS
    for text in (spec.result, spec.formula, spec.valid, spec.raises):
        assert text
    assert "=" in spec.formula or "table" in spec.formula or "straight" in spec.formula or "≤" in spec.formula


@each_formula
def test_source_names_an_edition_a_law_or_a_habit(name):
    source = specification(FORMULAS[name]).source
    named = (
        r"IEC \d|ISO \d|BS \d|CFR|NIOSH, |2003/10/EC|NFPA 70|ASTM|AES|JAES"
        r"|law|definition|no source|times its rms|through cable"
    )
    assert re.search(named, source)


@each_formula
def test_example_holds_at_its_printed_digits(name):
    spec = specification(FORMULAS[name])
    called, args, printed = _example(spec.example)
    assert called == name
    decimals = len(printed.partition(".")[2])
    # A hair over half a digit: 1.5 printed as 2 is right too.
    assert FORMULAS[name](*args) == pytest.approx(float(printed), rel=0, abs=0.500001 * 10**-decimals)


@each_formula
def test_example_lies_within_the_ranges(name):
    spec = specification(FORMULAS[name])
    _, args, printed = _example(spec.example)
    for position, arg in enumerate(args):
        parameter = spec.parameters[min(position, len(spec.parameters) - 1)]
        assert parameter.low <= arg <= parameter.high
        assert not parameter.whole or arg == int(arg)
    assert spec.low <= float(printed) <= spec.high


@each_formula
def test_ends_of_the_ranges_give_a_number_or_a_plain_error(name):
    spec = specification(FORMULAS[name])
    numbers = 0
    refusals = []
    ends = [(p.low, (p.low + p.high) / 2, p.high) for p in spec.parameters for _ in range(1 + p.repeats)]
    for args in itertools.product(*ends):
        try:
            assert not math.isnan(FORMULAS[name](*args))
            numbers += 1
        except ValueError as error:
            refusals.append(str(error))
    assert numbers
    assert all(re.match(r"expected .+, got .+", refusal) for refusal in refusals)


def test_every_module_with_formulas_is_a_subject():
    others = {"declaration", "figures", "quantities", "ratings", "solving"}
    assert {module.name for module in pkgutil.iter_modules(package.__path__)} - others == set(SUBJECTS)


def test_formulas_come_in_the_order_of_their_subjects():
    subjects = [specification(function).subject for function in FORMULAS.values()]
    assert list(dict.fromkeys(subjects)) == list(SUBJECTS)
    assert subjects == sorted(subjects, key=SUBJECTS.index)


def test_all_are_the_declared_functions_themselves():
    assert all(is_formula(function) for function in FORMULAS.values())


def test_a_name_taken_by_another_subject_is_refused():
    def parallel():
        """Pretend to be another formula."""

    with pytest.raises(ValueError, match="two formulas are called parallel"):
        formula(parallel)


def test_a_formula_without_a_unit_is_refused():
    def bare(length_m: float) -> float:
        """Take a length.

        length_m: a length [m]
        Result: the length [m]
        Formula: L
        Valid: always
        Raises: nothing
        Source: by definition
        Example: bare(1) = 1
        """
        return length_m

    with pytest.raises(ValueError, match="bare: length_m declares no unit and range"):
        specification(bare)


def test_a_formula_without_a_source_is_refused():
    def unsourced():
        """Do nothing.

        Result: nothing
        Formula: 0
        Valid: always
        Raises: nothing
        Example: unsourced() = 0
        """

    with pytest.raises(ValueError, match="unsourced: the docstring lacks Source"):
        specification(unsourced)


def test_repeated_values_take_units_by_turns():
    ratings = specification(FORMULAS["output_voltage"]).parameters[1]
    assert ratings.repeats
    assert [ratings.unit_at(position) for position in range(4)] == ["ohm", "W", "ohm", "W"]
    loads = specification(FORMULAS["parallel"]).parameters[0]
    assert [loads.unit_at(position) for position in range(2)] == ["ohm", "ohm"]


def test_every_formula_is_held_against_something_beside_its_own_example():
    """A formula that no other test names rests on its author's own arithmetic alone."""
    here = Path(__file__)
    tests = (path.read_text(encoding="utf-8") for path in here.parent.glob("test_*.py") if path != here)
    named = {word for text in tests for word in re.findall(r"\w+", text)}
    unnamed = [name for name in FORMULAS if name not in named]
    assert not unnamed
