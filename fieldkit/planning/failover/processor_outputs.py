"""Free outputs and inputs of processors, and how a signal gets to one of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from fieldkit.gear.processor import Processor
from fieldkit.rig.failures import Failures
from fieldkit.rig.signal.chain import routed_inputs
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Model, RackUnit


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
    free = [entry for entry in free_inputs(unit, {unit.model: model}) if entry not in inputs]
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


def free_inputs(unit: RackUnit, models: Mapping[str, Model]) -> list[str]:
    """List the inputs of a processor that are not patched and lead nowhere."""
    model = models[unit.model]
    leading = {entry for number in unit.routes for entry in routed_inputs(unit, number)}
    inputs = range(1, (model.inputs if isinstance(model, Processor) else 0) + 1)
    return [str(number) for number in inputs if str(number) not in {*unit.inputs, *leading}]


def free_processor_outputs(rig: Rig, failures: Failures) -> dict[str, tuple[str, ...]]:
    """List the outputs of each processor that feed nothing yet."""
    units, models = rig.show_index.units, rig.show_index.models
    used = {source for unit in units.values() for source in unit.inputs.values()}
    used |= {box.input for box in rig.show.boxes}
    free = {}
    for unit in units.values():
        model = models[unit.model]
        if isinstance(model, Processor):
            names = (f"{unit.id}.{number}" for number in range(1, model.outputs + 1))
            working = tuple(name for name in names if name not in used and not failures.of_source(name, units))
            if working:
                free[unit.id] = working
    return free
