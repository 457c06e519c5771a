"""What the first screen needs must load nothing heavy."""

import json
import subprocess
import sys
from pathlib import Path

import fieldkit

ROOT = Path(fieldkit.__file__).parent.parent
NEEDED = "outputs, loads, cables, conductors, limiters, levels, impedance, dividers, damping, ohms_law"
HEAVY = {"pint", "numpy", "scipy", "textual", "argparse", "dataclasses", "tomllib", "fluids", "skrf"}


def _loaded(code):
    """Run code in a fresh interpreter and give the modules it loaded beyond those of msgspec alone."""
    script = f"import json, sys\nimport msgspec\nbefore = set(sys.modules)\n{code}\n"
    script += "print(json.dumps(sorted(set(sys.modules) - before)))"
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, check=True, capture_output=True, text=True)
    return set(json.loads(done.stdout))


def test_formulas_of_the_solver_load_nothing_heavy():
    loaded = _loaded(f"from fieldkit.formulas import {NEEDED}")
    assert "fieldkit.formulas.cables" in loaded
    assert not loaded & (HEAVY | {"inspect"})


def test_importing_the_package_loads_no_subject():
    loaded = {name for name in _loaded("import fieldkit.formulas") if name.startswith("fieldkit")}
    assert loaded == {"fieldkit", "fieldkit.formulas"}


def test_one_subject_does_not_bring_the_others():
    loaded = _loaded("import fieldkit.formulas.levels")
    assert {"fieldkit.formulas.cables", "fieldkit.formulas.outputs", "fieldkit.formulas.solving"}.isdisjoint(loaded)


def test_looking_a_resistance_up_loads_only_the_toml_reader():
    loaded = _loaded("from fieldkit.formulas.conductors import class_5_resistance\nclass_5_resistance(2.5)")
    assert "tomllib" in loaded
    assert not loaded & (HEAVY - {"tomllib"})
