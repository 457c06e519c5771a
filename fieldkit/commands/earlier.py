"""What commands and options were called: whoever types the earlier word is told the present one.

Nothing near by its letters would lead there. The one place that knows these words, beside the older file formats.
"""

from __future__ import annotations

COMMANDS = {"mains": "supply"}
"""What a command was called -> what it is called."""

OPTIONS = {"--lost": "--failed"}
"""The same of options."""


def renamed(word: str, known: dict[str, str]) -> str:
    """Say what an earlier word is called now; empty where it is none."""
    return f"'{word}' is called '{known[word]}' now" if word in known else ""
