"""The screens, declared once: header, keys, help, palette and what tests try of every screen follow from here.

A screen is the one class on ``MainScreen`` in the file of this folder that bears its name, and is imported when
somebody goes to it. The first nine have the keys 1 to 9, the tenth has 0; F1 to F10 do the same.
"""

from __future__ import annotations

from collections.abc import Mapping

NAMES = {
    "overview": "Overview",
    "inventory": "Inventory",
    "zones": "Zones",
    "racks": "Racks",
    "supply": "Supply",
    "calculator": "Calculator",
    "triage": "Triage",
    "sheets": "Sheets",
}
"""File of a screen, and its name in the header: no more than ten, which is as many as have a key and fit in a line."""

KEYS = "1234567890"


def screens_of(names: Mapping[str, str]) -> tuple[tuple[str, str, str], ...]:
    """List key, file and name of each screen. Raises ValueError where there are more screens than keys."""
    if len(names) > len(KEYS):
        raise ValueError(f"no more than ten screens have a key, and there are {len(names)}")
    return tuple((key, mode, name) for key, (mode, name) in zip(KEYS, names.items(), strict=False))


SCREENS = screens_of(NAMES)
"""Key, file and name of each screen."""
