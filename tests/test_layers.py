"""Arrows run one way: no layer knows one above it, and what is heavy is imported only where it is used."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest
import textual
from source_code import PACKAGE, modules

from fieldkit.app.screens import SCREENS

LAYERS = ["units", "formulas", "text", "gear", "show", "rig", "checks", "planning", "triage", "reports", "sheets"]
"""From the lowest up; each may know those before it and itself."""
GROUND = {"errors"}
"""Modules of the package itself that every layer may know."""
BESIDE = {"calculator": {"units", "formulas"}, "guide": set()}
HEAVY = {"textual", "pint", "numpy", "highspy", "jinja2", "rich"}


def allowed(layer):
    if layer in BESIDE:
        return BESIDE[layer] | {layer} | GROUND
    return GROUND | set(LAYERS[: LAYERS.index(layer) + 1])


@pytest.mark.parametrize("layer", [*LAYERS, *BESIDE])
def test_a_layer_knows_only_those_below_it(layer):
    inside = {name: module for name, module in modules().items() if f"{name}.".startswith(f"fieldkit.{layer}.")}
    assert inside
    for name, module in inside.items():
        parts = {name.split(".")[1] for name in module.imports if name.startswith("fieldkit.")}
        assert parts <= allowed(layer), name


def test_every_part_of_the_package_has_its_place():
    folders = {path.name for path in PACKAGE.iterdir() if (path / "__init__.py").exists()}
    assert folders == {*LAYERS, *BESIDE, "app", "commands"}  # application and commands stand above them all


def arrows():
    """Read which modules each module imports: at its head, in functions, and where only a type checker looks.

    The screens are imported by their names in the one list of them, which counts as well.
    """
    by_name = {
        name
        for name, module in modules().items()
        if "importlib.import_module" in module.path.read_text(encoding="utf-8")
    }
    assert by_name == {"fieldkit.app.application"}, "an import that this test cannot see"
    screens = {f"fieldkit.app.screens.{mode}" for _, mode, _ in SCREENS}
    return {
        name: ((module.imports | (screens if name in by_name else set())) & set(modules())) - {name, "fieldkit"}
        for name, module in modules().items()
    }


def test_no_import_is_hidden_from_the_program():
    """What only a type checker sees is an arrow all the same, and the tests of arrows would not know whether it runs."""
    for path in sorted(PACKAGE.rglob("*.py")):
        assert "TYPE_CHECKING" not in path.read_text(encoding="utf-8"), path.relative_to(PACKAGE)


def cycle_in(graph):
    """Find modules that import each other in a ring; none where there is no ring."""
    done, on_the_way = set(), []

    def follow(name):
        if name in on_the_way:
            return on_the_way[on_the_way.index(name) :]
        if name in done:
            return []
        on_the_way.append(name)
        ring = next(filter(None, map(follow, sorted(graph[name]))), [])
        on_the_way.pop()
        done.add(name)
        return ring

    return next(filter(None, map(follow, sorted(graph))), [])


def test_no_modules_import_each_other_in_a_ring():
    assert cycle_in({"a": {"b"}, "b": {"c"}, "c": {"b"}}) == ["b", "c"]
    assert cycle_in({"a": {"b", "c"}, "b": {"c"}, "c": set()}) == []
    graph = arrows()
    assert {"fieldkit.app.screens.racks", "fieldkit.app.workbench"} <= set(graph)
    assert "fieldkit.calculator" in graph["fieldkit.app.dialogs.editor"], "an import inside a function"
    assert "fieldkit.app.screens.racks" in graph["fieldkit.app.application"]
    assert not cycle_in(graph)


def test_screens_and_tasks_know_the_workbench_and_no_application():
    graph = arrows()
    below = [name for name in graph if name.startswith(("fieldkit.app.screens.", "fieldkit.app.tasks."))]
    assert len(below) > len(SCREENS)
    for name in below:
        assert not graph[name] & {"fieldkit.app.application", "fieldkit.app.everywhere"}, name


def modules_after(code):
    """Run code in a fresh interpreter and list what it has imported."""
    script = f"{code}\nimport sys; print(*sorted(sys.modules))"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=60)
    return set(done.stdout.split()[-5000:])


@pytest.mark.parametrize("layer", [*LAYERS, *BESIDE])
def test_importing_a_layer_imports_nothing_heavy_and_nothing_above(layer):
    names = [path.relative_to(PACKAGE.parent).with_suffix("") for path in (PACKAGE / layer).rglob("*.py")]
    # The registry is the one module whose business is pint; it still imports it only when it is asked.
    code = "\n".join(f"import {'.'.join(name.parts).removesuffix('.__init__')}" for name in sorted(names))
    loaded = modules_after(code)
    assert not loaded & HEAVY
    above = {*LAYERS, *BESIDE} - allowed(layer)
    assert not {name.split(".")[1] for name in loaded if name.startswith("fieldkit.")} & above


def test_check_of_a_show_imports_nothing_heavy():
    loaded = modules_after(
        "import sys\nfrom fieldkit.commands.cli import run\nfrom fieldkit import samples\n"
        "run(['check', str(samples.folder() / 'village_hall.toml')])"
    )
    assert not loaded & (HEAVY | {"tomli_w", "argparse", "dataclasses"})


def test_the_first_screen_waits_for_nothing_that_a_key_asks_for():
    loaded = modules_after("import fieldkit.app.application, fieldkit.app.screens.overview")
    assert {"textual", "fieldkit.checks.checking", "fieldkit.reports.standing"} <= loaded
    later = ("planning", "triage.model", "triage.advice", "show.versions", "app.tasks.", "app.menu", "reports.cards")
    assert not [name for name in loaded if name.removeprefix("fieldkit.").startswith(later)]


TEXTUAL_BASES = ("app", "screen", "widget", "dom", "message_pump", "driver", "scroll_view", "widgets/_input")


def private_in_textual():
    """Read the private parts of the classes of Textual that ours build on: what they define and what they keep."""
    found = set()
    for base in TEXTUAL_BASES:
        path = Path(textual.__file__).parent / f"{base}.py"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                found.add(node.name)
            elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
                found.add(node.attr)
    return {name for name in found if name.startswith("_") and not name.startswith("__")}


def private_used(source, private):
    """List what a source touches, overrides or imports of the private parts of Textual."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("textual."):
            yield from (part for part in (*node.module.split("."), *(one.name for one in node.names)) if part[0] == "_")
        elif isinstance(node, ast.Attribute) and node.attr in private:
            yield node.attr
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.name in private:
            yield node.name


def test_private_parts_of_textual_are_touched_in_one_room_only():
    private = private_in_textual()
    assert {"_loop", "_driver", "_compositor", "_message_queue", "_handle_exception"} <= private
    assert list(private_used("from textual._context import x\napp._loop.run(self._own)", private)) == [
        "_context",
        "_loop",
    ]
    room = PACKAGE / "app" / "terminal"
    assert any(list(private_used(path.read_text(encoding="utf-8"), private)) for path in room.glob("*.py"))
    for path in sorted((PACKAGE / "app").rglob("*.py")):
        if path.parent != room:
            assert not list(private_used(path.read_text(encoding="utf-8"), private)), path.relative_to(PACKAGE)
