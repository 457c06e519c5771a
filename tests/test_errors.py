"""Every error of the package hangs in one tree, drawn in one place, and ends a command with one line and its status."""

import ast
import importlib
import inspect
import pkgutil
import re
from pathlib import Path

import pytest

import fieldkit
from fieldkit import errors
from fieldkit.commands.cli import run
from fieldkit.errors import FieldkitError, NoAnswerError, UnusableError

PACKAGE = Path(fieldkit.__file__).parent
DRAWN = re.compile(r"^(?P<branches>[│ ├└─]*)(?P<name>\w+)  ", re.MULTILINE)


def error_classes():
    """All classes of exceptions that the package defines, every module imported."""
    modules = [module.name for module in pkgutil.walk_packages([str(PACKAGE)], "fieldkit.")]
    things = [thing for name in modules if name != "fieldkit.__main__" for thing in _defined(name)]
    return {thing for thing in things if inspect.isclass(thing) and issubclass(thing, BaseException)}


def _defined(name):
    return [thing for thing in vars(importlib.import_module(name)).values() if getattr(thing, "__module__", "") == name]


def drawn_tree():
    """The pairs of parent and child as the docstring draws them."""
    above, pairs = {}, set()
    for match in DRAWN.finditer(errors.__doc__):
        depth = len(match["branches"]) // 4
        above[depth] = match["name"]
        if depth:
            pairs.add((above[depth - 1], match["name"]))
    return pairs


def test_the_tree_is_drawn_as_it_is():
    classes = error_classes()
    assert FieldkitError in classes
    for kind in classes:
        assert issubclass(kind, FieldkitError), kind
        assert issubclass(kind, ValueError), kind
    real = {(parent.__name__, kind.__name__) for kind in classes for parent in kind.__bases__ if parent in classes}
    assert drawn_tree() == real
    assert len({kind.__name__ for kind in classes}) == len(classes)


def test_the_status_is_1_for_a_question_without_an_answer_and_2_for_all_else():
    for kind in error_classes():
        assert kind.exit_status == (1 if issubclass(kind, NoAnswerError) else 2), kind


@pytest.mark.parametrize("status", [1, 2])
def test_any_error_of_the_tree_ends_a_command_with_one_safe_line(status, monkeypatch, capsys):
    def wrong(_name):
        raise (NoAnswerError if status == 1 else UnusableError)("a line\nwith \x1b[2J in it")

    monkeypatch.setattr("fieldkit.commands.proof.load_show", wrong)
    assert run(["check", "x.toml"]) == status
    assert capsys.readouterr() == ("", "fieldkit: a line\\x0awith \\x1b[2J in it\n")


def test_what_calls_our_own_code_catches_our_own_errors():
    """A bare ValueError is raised by formulas and by what no input can reach, and caught beside Python's own calls."""
    caught = {}
    for path in PACKAGE.rglob("*.py"):
        source = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(source)) if "ValueError" in source else ():
            if isinstance(node, ast.ExceptHandler) and node.type and "ValueError" in ast.unparse(node.type):
                caught.setdefault(path.relative_to(PACKAGE).as_posix(), []).append(node.lineno)
    allowed = {
        "app/fields.py",  # int, float and dates of Python
        "app/terminal/key_parser.py",  # int
        "calculator/calls.py",  # formulas, and the functions of math in them
        "calculator/mathematics.py",  # the functions of math
        "formulas/solving.py",  # formulas
        "planning/entry/places.py",  # dates of Python
        "gear/library.py",  # a folder's name with a NUL in it
        "sheets/folder.py",  # as above
        "show/keep/claims.py",  # int
        "show/keep/journal.py",  # int, JSON
        "show/keep/storage.py",  # a file's name with a NUL in it
        "text/toml_text.py",  # tomllib
    }
    assert set(caught) == allowed
