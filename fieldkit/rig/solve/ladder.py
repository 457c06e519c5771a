"""The ladder: one source, a cable, a box, a link, the next box, solved step by step.

It works on any numbers: floats at rated impedance, complex numbers at a frequency, traced floats for an
explanation. ``rig.nodal`` solves the same network by another way and is the check on this one.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Generic, TypeVar

import msgspec

from fieldkit.formulas import dividers, loads
from fieldkit.formulas.figures import Apply, direct

Number = TypeVar("Number", float, complex)

# The formulas are overloaded for floats and complex numbers, which a generic caller cannot express.
_parallel: Any = loads.parallel
_series: Any = loads.series


class Rung(msgspec.Struct, Generic[Number], frozen=True, gc=False):
    """A resistance along the line, and the loads across it at its far end."""

    along_ohm: Number
    across_ohm: tuple[Number, ...] = ()


def looking_in(rungs: Sequence[Rung[Number]], apply: Apply = direct) -> list[Number | None]:
    """Compute the load seen at the near end of each rung, from the first on; None where nothing follows."""
    seen: list[Number | None] = [None] * len(rungs)
    onward: Number | None = None
    for index in range(len(rungs) - 1, -1, -1):
        node = node_load(rungs[index], onward, apply)
        onward = None if node is None else apply(_series, rungs[index].along_ohm, node)
        seen[index] = onward
    return seen


def node_load(rung: Rung[Number], onward: Number | None, apply: Apply = direct) -> Number | None:
    """Compute the load at the far end of a rung: its own loads in parallel with all that follows."""
    across: list[Number] = list(rung.across_ohm)
    if onward is not None:
        across.append(onward)
    if not across:
        return None
    if len(across) == 1:
        return across[0]
    together: Number = apply(_parallel, *across)
    return together


def node_volts(
    rungs: Sequence[Rung[Number]], source_v: Number, seen: Sequence[Number | None], apply: Apply = direct
) -> list[Number]:
    """Compute the volts at the far end of each rung for a source at the near end; ``seen`` from ``looking_in``.

    Behind the last load nothing flows, so the volts there are those of the last load.
    """
    volts: list[Number] = []
    here = source_v
    for index, rung in enumerate(rungs):
        if seen[index] is not None:
            onward = seen[index + 1] if index + 1 < len(rungs) else None
            node = node_load(rung, onward, apply)
            if node is not None:
                here = apply(dividers.volts_after_resistance, here, rung.along_ohm, node)
        volts.append(here)
    return volts
