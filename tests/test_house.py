"""Rules of the house that no other tool sees: names of classes, numbers of parameters, modules that stand alone."""

from collections import Counter

from source_code import modules

from fieldkit.checks.scope import ALWAYS, SUBJECTS
from fieldkit.formulas import SUBJECTS as FORMULA_FILES
from fieldkit.sheets.collection import PAGES

# ---- classes ---------------------------------------------------------------------------------------------------------

TWICE: set[str] = set()
"""Names of classes that still stand in two modules; none is added."""


def test_no_class_name_stands_in_two_modules():
    names = Counter(name for module in modules().values() for name in module.classes if not name.startswith("_"))
    assert {name for name, count in names.items() if count > 1} <= TWICE


# ---- parameters ------------------------------------------------------------------------------------------------------

MOST_PARAMETERS = 5
MAKERS = {
    "fieldkit.checks.rules.finding",  # the fields of a finding, as every rule gives them
    "fieldkit.gear.names.names",  # the fields of a declaration
}
"""Functions whose parameters are the fields of the struct that they make."""


def test_a_function_of_more_than_five_parameters_takes_a_struct():
    """Formulas are free functions of physical quantities, and take as many as their physics has."""
    many = {
        f"{name}.{function}"
        for name, module in modules().items()
        if not name.startswith("fieldkit.formulas.")
        for function, count in module.parameters.items()
        if count > MOST_PARAMETERS
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
    found = {name: set() for name in modules()}
    for name, module in modules().items():
        for imported in module.imports & set(found) - {name}:
            found[imported].add(name)
    return found


def test_a_short_module_of_one_importer_says_why_it_is_alone():
    by_whom = importers()
    assert "fieldkit.units.parsing" in by_whom["fieldkit.units.numerals"], "a relative import"
    silent = {
        name
        for name, module in modules().items()
        if module.path.name != "__init__.py"
        and module.lines < SHORT
        and len(by_whom[name]) == 1
        and "alone" not in module.docstring
    }
    assert silent - DECLARED == set(), "say why it is alone, or put it where it belongs"
