"""What has failed, and what falls silent with it, links between inputs and processors included."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec

from fieldkit.rig.connect.lines import Load
from fieldkit.rig.connect.outputs import Output
from fieldkit.rig.signal.chain import routed_inputs
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.contents import channels_of
from fieldkit.show.document import RackUnit, Show


class Failures(msgspec.Struct, frozen=True):
    """What has failed, each with the reason in words."""

    units: Mapping[str, str]
    """Amplifiers and processors, by themselves or for want of their supply."""
    outputs: Mapping[tuple[str, int], str]
    """Single channels of amplifiers and outputs of processors."""
    boxes: Mapping[str, str]
    supplies: Mapping[str, str]
    """Supplies without mains, those fed from a failed one included."""

    def of_output(self, output: Output) -> str:
        """Say why an output of an amplifier has failed by itself; empty where it is not."""
        unit = output.unit.id
        if unit in self.units:
            return self.units[unit]
        return next((self.outputs[unit, item] for item in output.channels if (unit, item) in self.outputs), "")

    def of_source(self, source: str, units: Mapping[str, RackUnit]) -> str:
        """Say why a source, a signal or a processor's output, brings nothing; empty where it does."""
        name, dot, number = source.partition(".")
        unit = units.get(name)
        if unit is None or not dot or not number.isdecimal():
            return ""
        own = self.units.get(name) or self.outputs.get((name, int(number)), "")
        if own:
            return own
        # Where the show does not say which inputs feed the output, it has failed when all that the unit gets is.
        entries = routed_inputs(unit, number) or tuple(unit.inputs)
        patched = [unit.inputs.get(entry, "") for entry in entries]
        feeding = [self.of_source(item, units) for item in patched if item and not item.startswith("=")]
        return feeding[0] if feeding and all(feeding) else ""


class Silent(msgspec.Struct, frozen=True):
    """One section of a box that plays no more."""

    load: Load
    line: str
    output: str
    because: str


def failures_of(show: Show, units: Mapping[str, RackUnit], names: Iterable[str]) -> Failures:
    """Work out what has failed when things of these ids are."""
    failed: dict[str, str] = {}
    outputs: dict[tuple[str, int], str] = {}
    boxes: dict[str, str] = {}
    supplies = {supply.id for supply in show.supplies}
    dark: dict[str, str] = {}
    for name in names:
        unit, dot, channels = name.partition(".")
        if name in supplies:
            dark[name] = f"{name}, which has failed"
        elif name in units:
            failed[name] = f"{name} has failed"
        elif dot and unit in units:
            for channel in channels_of(channels, 1_000) or ():
                outputs[unit, channel] = f"{name} has failed"
        else:
            boxes[name] = f"{name} has failed"
    dark = _with_those_below(show, dark)
    for item in units.values():
        if item.supply in dark:
            failed.setdefault(item.id, f"{item.id} is fed from {dark[item.supply]}")
    return Failures(failed, outputs, boxes, dark)


def _with_those_below(show: Show, dark: dict[str, str]) -> dict[str, str]:
    """Add the supplies that are fed from dark ones, whatever order the show has them in."""
    found = dict(dark)
    waiting = [supply for supply in show.supplies if supply.id not in found]
    while fed := [supply for supply in waiting if supply.fed_from in found]:
        found |= {supply.id: f"{supply.id}, fed from {found[supply.fed_from or '']}" for supply in fed}
        waiting = [supply for supply in waiting if supply.id not in found]
    return found


def failed_now(show: Show) -> tuple[str, ...]:
    """List what the show says has failed, and that no spare stands in for."""
    return tuple(lost.id for lost in show.failed if not lost.swapped)


def reason(rig: Rig, failures: Failures, output: Output, source: str) -> str:
    """Say why an output brings nothing to its boxes; empty where it does."""
    own = failures.of_output(output)
    if own:
        return own
    upstream = failures.of_source(source, rig.show_index.units)
    if not upstream:
        return ""
    link = output.unit.inputs.get(str(output.channels[0]), "")
    linked = f"is linked to input {link[1:]}, which gets" if link.startswith("=") else "gets"
    return f"{output.id} {linked} {source}: {upstream}"


def silenced(rig: Rig, failures: Failures) -> tuple[Silent, ...]:
    """List the sections of boxes that something would feed if nothing had failed."""
    found = []
    for solved in rig.outputs:
        why = reason(rig, failures, solved.output, solved.source)
        for line in solved.lines:
            for load in line.line.loads:
                because = failures.boxes.get(load.box.id) or why
                if because:
                    found.append(Silent(load, line.line.id, solved.output.id, because))
    return tuple(found)


def failed_outputs(rig: Rig) -> dict[str, str]:
    """Say of each output that brings nothing to its boxes why, by what the show notes as failed."""
    names = failed_now(rig.show)
    if not names:
        return {}
    failures = failures_of(rig.show, rig.show_index.units, names)
    reasons = {item.output.id: reason(rig, failures, item.output, item.source) for item in rig.outputs}
    return {name: why for name, why in reasons.items() if why}
