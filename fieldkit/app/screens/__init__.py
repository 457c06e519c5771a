"""The screens: header, keys, help and what tests try of every screen follow from ``NAMES`` in ``action_table``.

A screen is the one class on ``MainScreen`` in the file of this folder that bears its name, and is imported when
somebody goes to it. The first nine have the keys 1 to 9, the tenth has 0; F1 to F10 do the same.
"""

from __future__ import annotations

from collections.abc import Mapping

from fieldkit.app.action_table import NAMES

KEYS = "1234567890"


def screens_of(names: Mapping[str, str]) -> tuple[tuple[str, str, str], ...]:
    """List key, file and name of each screen. Raises ValueError where there are more screens than keys."""
    if len(names) > len(KEYS):
        raise ValueError(f"no more than ten screens have a key, and there are {len(names)}")
    return tuple((key, mode, name) for key, (mode, name) in zip(KEYS, names.items(), strict=False))


SCREENS = screens_of(NAMES)
"""Key, file and name of each screen."""
