"""Rules of the house that no other tool sees: names of classes, numbers of parameters, modules that stand alone."""

import ast
from collections import Counter
from pathlib import Path

import fieldkit
from fieldkit.checks.scope import ALWAYS, SUBJECTS
from fieldkit.formulas import SUBJECTS as FORMULA_FILES
from fieldkit.sheets.collection import PAGES

PACKAGE = Path(fieldkit.__file__).parent
TREES = {
    ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts).removesuffix(".__init__"): ast.parse(
        path.read_text(encoding="utf-8")
    )
    for path in sorted(PACKAGE.rglob("*.py"))
}
"""Module -> its syntax tree."""

# ---- classes ---------------------------------------------------------------------------------------------------------

TWICE: set[str] = set()
"""Names of classes that still stand in two modules; none is added."""


def test_no_class_name_stands_in_two_modules():
    names = Counter(
        node.name
        for tree in TREES.values()
        for node in tree.body
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
    )
    assert {name for name, count in names.items() if count > 1} <= TWICE


# ---- parameters ------------------------------------------------------------------------------------------------------

MOST_PARAMETERS = 5
MAKERS = {
    "fieldkit.checks.rules.finding",  # the fields of a finding, as every rule gives them
    "fieldkit.gear.names.names",  # the fields of a declaration
}
"""Functions whose parameters are the fields of the struct that they make."""


def parameters(function):
    """Count the parameters of a function, its own object left out."""
    arguments = function.args
    named = [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]
    others = [arguments.vararg, arguments.kwarg]
    return sum(item.arg not in {"self", "cls"} for item in named) + sum(item is not None for item in others)


def test_a_function_of_more_than_five_parameters_takes_a_struct():
    """Formulas are free functions of physical quantities, and take as many as their physics has."""
    many = {
        f"{module}.{node.name}"
        for module, tree in TREES.items()
        if not module.startswith("fieldkit.formulas.")
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and parameters(node) > MOST_PARAMETERS
    }
    assert many == MAKERS, "take a struct"


# ---- modules ---------------------------------------------------------------------------------------------------------

SHORT = 60
DECLARED = {
    *(family.__name__ for subject in SUBJECTS for family in subject.families),
    *(family.__name__ for family in ALWAYS),
    *(f"fieldkit.formulas.{name}" for name in FORMULA_FILES),
    *(page.make.__module__ for page in PAGES.values()),
}
"""Modules that a list declares, one file each: families of rules, subjects of formulas, pages."""


def importers():
    """For each module, those that import it, relative imports and imports inside functions included."""
    found = {module: set() for module in TREES}
    for module, tree in TREES.items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                wanted = {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                package = module if (PACKAGE.parent / module.replace(".", "/")).is_dir() else module.rpartition(".")[0]
                above = package.split(".")[: -node.level + 1 or None] if node.level else []
                source = ".".join([*above, *([node.module] if node.module else [])])
                wanted = {source, *(f"{source}.{alias.name}" for alias in node.names)}
            else:
                continue
            for name in wanted & set(found) - {module}:
                found[name].add(module)
    return found


def test_a_short_module_of_one_importer_says_why_it_is_alone():
    paths = {module: PACKAGE.parent / f"{module.replace('.', '/')}.py" for module in TREES}
    lengths = {module: len(path.read_text().splitlines()) for module, path in paths.items() if path.exists()}
    by_whom = importers()
    assert "fieldkit.units.parsing" in by_whom["fieldkit.units.numerals"], "a relative import"
    silent = {
        module
        for module, length in lengths.items()
        if length < SHORT and len(by_whom[module]) == 1 and "alone" not in (ast.get_docstring(TREES[module]) or "")
    }
    assert silent - DECLARED == set(), "say why it is alone, or put it where it belongs"
