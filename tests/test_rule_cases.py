"""Every rule is registered with the case that trips it and its neighbour that does not: a rule without one fails.

The cases of small rigs are ``FIXES`` in ``test_checks_fixes.py``, those of sample shows ``CASES`` in
``test_checks_chain.py``: rule -> ill, well. All run here, and what the rules said is held against what they could say.
"""

import ast
from functools import cache
from importlib import import_module
from pathlib import Path

import pytest
from checked_shows import TODAY
from rigs import show_of
from test_checks_chain import CASES
from test_checks_fixes import FIXES, OTHERS

import fieldkit.checks
from fieldkit.checks import rules
from fieldkit.checks.checking import FAMILIES, check
from fieldkit.rig.solve.evaluation import evaluate

EVERY = [*FIXES.items(), *CASES.items()]
FILES = sorted(Path(fieldkit.checks.__file__).parent.glob("*.py"))
REGISTERS = {
    "output_rule": rules.output_rules,
    "line_rule": rules.line_rules,
    "box_rule": rules.box_rules,
    "show_rule": rules.show_rules,
}


def looked_at(show):
    """Check a show, given as text with its models or as an edit of a sample."""
    return check(evaluate(show_of(*show) if isinstance(show, tuple) else show), TODAY)


@cache
def said():
    """Run every case, and note which rule function said what: (module, function), rule, severity."""
    spoke = set()

    def listening(function):
        def look(subject, choices):
            for item in function(subject, choices):
                spoke.add(((function.__module__, function.__name__), item.rule, item.severity))
                yield item

        return look

    kept = {name: list(register) for name, register in REGISTERS.items()}
    for register in REGISTERS.values():
        register[:] = map(listening, register)
    try:
        for show in [*(ill for _, (ill, _) in EVERY), *OTHERS]:
            looked_at(show)
    finally:
        for name, register in REGISTERS.items():
            register[:] = kept[name]
    return frozenset(spoke)


def never_tripped(registers):
    """List the rule functions that no case makes speak."""
    spoke = {function for function, _, _ in said()}
    registered = {(function.__module__, function.__name__) for register in registers for function in register}
    return sorted(registered - spoke)


def rules_in(source):
    """List the rules and severities that the calls of ``finding`` in a source can give; a rule's name is a literal."""
    calls = (node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call))
    for call in calls:
        if isinstance(call.func, ast.Name) and call.func.id == "Finding" and "def finding(" not in source:
            raise AssertionError("a finding that does not come from 'finding' cannot be counted")
        if isinstance(call.func, ast.Name) and call.func.id == "finding":
            yield from pairs_of(*call.args[:2])


def pairs_of(severity, rule):
    """List what one call can give; where both hang on one condition, they go together."""
    both = isinstance(severity, ast.IfExp) and isinstance(rule, ast.IfExp)
    if both and ast.dump(severity.test) == ast.dump(rule.test):
        return pairs_of(severity.body, rule.body) | pairs_of(severity.orelse, rule.orelse)
    if isinstance(severity, ast.IfExp):
        return pairs_of(severity.body, rule) | pairs_of(severity.orelse, rule)
    if isinstance(rule, ast.IfExp):
        return pairs_of(severity, rule.body) | pairs_of(severity, rule.orelse)
    return {(ast.literal_eval(rule), ast.literal_eval(severity))}


def uncovered(sources):
    """List the rules that sources can give and no case trips."""
    return sorted({rule for source in sources for rule, _ in rules_in(source)} - {rule for rule, _ in EVERY})


@pytest.mark.parametrize(("rule", "case"), EVERY, ids=[rule for rule, _ in EVERY])
def test_a_case_trips_its_rule_and_its_neighbour_does_not(rule, case):
    ill, well = case
    assert rule in {item.rule for item in looked_at(ill)}
    assert rule not in {item.rule for item in looked_at(well)}


def test_every_rule_function_is_tripped_by_a_case():
    assert all(REGISTERS.values())
    assert never_tripped(REGISTERS.values()) == []


def test_every_rule_by_name_has_a_case():
    sources = [path.read_text(encoding="utf-8") for path in FILES]
    assert len({rule for source in sources for rule, _ in rules_in(source)}) > 60
    assert uncovered(sources) == []


def test_every_severity_is_tripped_somewhere():
    possible = {pair for path in FILES for pair in rules_in(path.read_text(encoding="utf-8"))}
    sources = (path.read_text(encoding="utf-8") for path in Path(__file__).parent.glob("test_*.py"))
    calls = (
        node
        for source in sources
        if "tripped(" in source
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "tripped"
    )
    asked = {
        (ast.literal_eval(call.args[0]), ast.literal_eval(word.value))
        for call in calls
        for word in call.keywords
        if word.arg == "severity" and isinstance(call.args[0], ast.Constant) and isinstance(word.value, ast.Constant)
    }
    assert possible - asked - {(rule, severity) for _, rule, severity in said()} == set()


def test_a_file_with_rules_is_one_of_the_families():
    declaring = {
        path.stem for path in FILES if any(f"@{name}" in path.read_text(encoding="utf-8") for name in REGISTERS)
    }
    assert {f"fieldkit.checks.{name}" for name in declaring} == {module.__name__ for module in FAMILIES}
    for name, register in REGISTERS.items():
        written = sum(import_count(path, name) for path in FILES)
        assert written == len(register), f"a function under @{name} that nobody runs"


def import_count(path, decorator):
    """Count the functions of a file under a decorator; importing the file declares them."""
    import_module(f"fieldkit.checks.{path.stem}")
    tree = ast.parse(path.read_text(encoding="utf-8"))
    functions = (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))
    names = (mark.id for node in functions for mark in node.decorator_list if isinstance(mark, ast.Name))
    return sum(name == decorator for name in names)


def test_the_guard_catches_a_rule_that_nobody_trips():
    def invented(subject, choices):
        if subject is choices:  # never
            yield rules.finding("error", "invented-rule", ("output", "-"), "says", why="why", fix="fix")

    for register in REGISTERS.values():
        assert never_tripped([[*register, invented]]) == [(__name__, "invented")]
    source = 'def rule(subject):\n    yield finding("error", "invented-rule", ("show", ""), "s", why="w", fix="c")\n'
    assert uncovered([source]) == ["invented-rule"]
    with pytest.raises(ValueError, match="malformed"):
        uncovered(['def rule(name):\n    yield finding("error", name, ("show", ""), "s", why="w", fix="c")\n'])
