"""What a check has to say."""

from __future__ import annotations

from typing import Literal

import msgspec

Severity = Literal["error", "warning", "advice"]
Kind = Literal["output", "line", "run", "box", "zone", "model", "unit", "host", "supply", "rack", "show"]

SEVERITIES: tuple[Severity, ...] = ("error", "warning", "advice")
"""Worst first."""


class Where(msgspec.Struct, frozen=True, gc=False):
    """The thing that a finding is about."""

    kind: Kind
    id: str


class Finding(msgspec.Struct, frozen=True, gc=False):
    """One thing to mend, or to know."""

    severity: Severity
    rule: str
    """The rule's name, such as ``load-under-least``."""
    where: Where
    says: str
    """What is so, with the numbers."""
    why: str
    """Why it matters."""
    cure: str
    """What would mend it."""
    numbers: dict[str, float] = {}
    """The figures of ``says``, by name with unit."""
