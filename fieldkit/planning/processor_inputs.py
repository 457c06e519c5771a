"""Get signals to an output of a processor: inputs that have them already, else free ones; and the route between."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from fieldkit.gear.processor import Processor
from fieldkit.rig.chain import routed_inputs
from fieldkit.show.document import RackUnit


class Entered(msgspec.Struct, frozen=True):
    """How signals get to an output of a processor."""

    inputs: Mapping[str, str]
    """Inputs that are patched for it, and with what."""
    route: str
    """The inputs that lead to the output: ``1``, or ``1+2`` for a mix."""


def entered(
    unit: RackUnit, model: Processor, signals: Sequence[str], more: Mapping[str, str] | None = None
) -> Entered | None:
    """Find inputs for signals; None where too few are free. ``more`` are inputs that are patched by now.

    An input that leads to some output is not free though nothing is in it: what is patched there would be heard.
    """
    inputs = {**unit.inputs, **(more or {})}
    leading = {entry for number in unit.routes for entry in routed_inputs(unit, number)}
    free = [str(number) for number in range(1, model.inputs + 1) if str(number) not in {*inputs, *leading}]
    patched: dict[str, str] = {}
    entries = []
    for signal in signals:
        entry = next((name for name, source in inputs.items() if source == signal), None)
        if entry is None:
            if not free:
                return None
            entry = free.pop(0)
            inputs[entry] = patched[entry] = signal
        entries.append(entry)
    return Entered(patched, "+".join(entries))
