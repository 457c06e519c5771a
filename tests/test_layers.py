"""Arrows run one way: no layer knows one above it, and what is heavy is imported only where it is used."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import fieldkit

PACKAGE = Path(fieldkit.__file__).parent
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


def imported_layers(path):
    """Read which parts of the package a file imports anywhere, deferred imports included."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.level:
            continue  # a neighbour in the same layer
        names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module] if node.module != "fieldkit" else [f"fieldkit.{alias.name}" for alias in node.names]
        for name in names:
            parts = name.split(".")
            if parts[0] == "fieldkit" and len(parts) > 1:
                yield parts[1]


@pytest.mark.parametrize("layer", [*LAYERS, *BESIDE])
def test_a_layer_knows_only_those_below_it(layer):
    files = sorted((PACKAGE / layer).rglob("*.py"))
    assert files
    for path in files:
        assert set(imported_layers(path)) <= allowed(layer), path.relative_to(PACKAGE)


def test_every_part_of_the_package_has_its_place():
    folders = {path.name for path in PACKAGE.iterdir() if (path / "__init__.py").exists()}
    assert folders == {*LAYERS, *BESIDE, "app", "commands"}  # application and commands stand above them all


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
