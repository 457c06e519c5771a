"""What a check has to say."""

from __future__ import annotations

from typing import Literal

import msgspec

Severity = Literal["error", "warning", "note"]
Kind = Literal["output", "line", "run", "box", "zone", "model", "unit", "host", "supply", "rack", "show"]

SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")
"""Worst first."""


class Where(msgspec.Struct, frozen=True, gc=False):
    """The thing that a finding is about."""

    kind: Kind
    id: str


class Finding(msgspec.Struct, frozen=True, gc=False):
    """One thing to fix, or to know."""

    severity: Severity
    rule: str
    """The rule's name, such as ``load-under-minimum``."""
    where: Where
    says: str
    """What is so, with the numbers."""
    why: str
    """Why it matters."""
    fix: str
    """What would fix it."""
    numbers: dict[str, float] = {}
    """The figures of ``says``, by name with unit."""
