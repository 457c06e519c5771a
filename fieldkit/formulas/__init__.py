"""What the trade computes: pure functions on floats, one module a subject, each declared once.

Importing this package loads no subject. ``all_formulas`` loads them all.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

SUBJECTS = (
    "ohms_law",
    "loads",
    "dividers",
    "levels",
    "conductors",
    "cables",
    "damping",
    "outputs",
    "crest",
    "limiters",
    "time_constants",
    "impedance",
    "constant_voltage",
    "mains",
    "feeders",
    "harmonics",
    "protection",
    "generators",
    "consumption",
    "programme",
    "touch",
    "air",
    "delays",
    "sound",
    "interference",
    "coverage",
    "filters",
    "exposure",
)
"""The modules that hold formulas, in the order that a list of them is shown."""


def all_formulas() -> dict[str, Callable[..., Any]]:
    """Load every subject, and list the formulas by name, in the order of the subjects and of their text."""
    from importlib import import_module

    from fieldkit.formulas.declaration import is_formula

    found: dict[str, Callable[..., Any]] = {}
    for subject in SUBJECTS:
        module = import_module(f"{__name__}.{subject}")
        found.update(
            (name, thing)
            for name, thing in vars(module).items()
            if callable(thing) and is_formula(thing) and thing.__module__ == module.__name__
        )
    return found
