"""Older file formats carried over to the present one, a step at a time, before anything is read of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from fieldkit.errors import UnusableError

Data = dict[str, Any]

FORMAT = 1
"""The file format that this program writes."""

STEPS: Mapping[int, Callable[[Data], Data]] = {}
"""Format -> the function that makes the next format of it. The first step is added when there is a format 2."""


def carried_over(data: Data, steps: Mapping[int, Callable[[Data], Data]] = STEPS, newest: int = FORMAT) -> Data:
    """Carry a parsed file over to the newest format; without a number it is taken for the newest.

    Raises UnusableError for a format that this program does not know.
    """
    found = data.get("format", newest)
    if isinstance(found, bool) or not isinstance(found, int) or not (found == newest or found in steps):
        raise UnusableError(f"expected {newest}, the one that this version of fieldkit writes, got {found!r}")
    while found != newest:
        data = steps[found](data)
        found += 1
        data = {**data, "format": found}
    return data
