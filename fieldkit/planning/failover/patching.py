"""Inputs and routes that change: what is patched, led and taken out again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from fieldkit.gear.processor import Processor
from fieldkit.planning.failover.rig_in_hand import PatchedRig, old_output, single_channels, solved_output
from fieldkit.planning.failover.steps import MoveStep, spoken, spoken_source
from fieldkit.rig.connect.hosts import link_chain
from fieldkit.rig.failures import failed_now, failures_of
from fieldkit.rig.signal.chain import routed_inputs
from fieldkit.show.document import RackUnit


def patchings(hand: PatchedRig, outputs: list[str]) -> Iterator[MoveStep]:
    """Patch the inputs of the units of these outputs, all of a unit at once: links join them.

    What feeds them comes first: the inputs of their processors, and the routes from those.
    """
    for source in dict.fromkeys(solved_output(hand.after, name).source for name in outputs):
        yield from leadings(hand, source)
    for unit in dict.fromkeys(output.partition(".")[0] for output in outputs):
        if unit in hand.patched:
            continue
        hand.patched.add(unit)
        was = hand.before.show_index.units[unit].inputs if unit in hand.before.show_index.units else {}
        now = hand.after.show_index.units[unit].inputs
        for channel in inputs_in_turn(was, now):
            source = now.get(channel, "")
            if source.startswith("="):
                says = f"link {unit} input {channel} to input {source[1:]}"
            elif source:
                says = f"patch {spoken_source(source)}{_cable_of(hand, source, unit)} into {unit} input {channel}"
            elif old := _fed_before(hand, f"{unit}.{channel}"):
                says = f"patch into {unit} input {channel} what fed {old}"
            else:
                yield _input_freed(unit, channel, was.get(channel, ""), "")
                continue
            yield MoveStep("patch", f"{unit}.{channel}", says, value=source)


def _fed_before(hand: PatchedRig, channel: str) -> str:
    """Name the output whose boxes a channel takes over, for whoever looks for its signal; empty where it has none."""
    lines = (line for line in hand.after.lines if line.output and channel in single_channels([line.output.id]))
    old = next((old for line in lines if (old := old_output(hand, line)) is not None), None)
    return spoken(old.output.id) if old is not None else ""


def processors(hand: PatchedRig, outputs: Iterable[str]) -> list[str]:
    """Name the processors that feed outputs then."""
    sources = [solved_output(hand.after, name).source for name in outputs]
    units = [source.partition(".")[0] for source in sources if "." in source]
    return [unit for unit in dict.fromkeys(units) if unit in hand.after.show_index.units]


def leadings(hand: PatchedRig, source: str) -> Iterator[MoveStep]:
    """Patch what is new at the inputs that lead to a processor output, and lead it there."""
    name, dot, number = source.partition(".")
    now = hand.after.show_index.units.get(name)
    if not dot or now is None or source in hand.led:
        return
    hand.led.add(source)
    was = hand.before.show_index.units.get(name)
    had, led = (was.inputs, was.routes) if was else ({}, {})
    route = now.routes.get(number, "")
    for entry in routed_inputs(now, number):
        signal = now.inputs.get(entry, "")
        if signal and signal != had.get(entry, "") and f"{name} {entry}" not in hand.led:
            hand.led.add(f"{name} {entry}")
            says = f"patch {spoken_source(signal)}{_cable_of(hand, signal, name)} into {name} input {entry}"
            yield MoveStep("patch", f"{name}.{entry}", says, signal)
    if route and route != led.get(number, ""):
        plural = "s" if "+" in route else ""
        says = f"lead input{plural} {route.replace('+', ' and ')} of {name}, and nothing else, to its output {number}"
        yield MoveStep("route", source, says, route)


def _cable_of(hand: PatchedRig, source: str, name: str) -> str:
    """Say where a cable with a signal is already, for whoever looks for one."""
    failed = failed_now(hand.after.show)
    for unit in hand.before.show_index.units.values():
        if unit.id != name and isinstance(hand.before.show_index.models.get(unit.model), Processor):
            for entry, text in unit.inputs.items():
                if text == source:
                    if unit.id not in failures_of(hand.after.show, hand.after.show_index.units, failed).units:
                        return f" (its cable is in {unit.id} input {entry}; split it if that still plays)"
                    once = f"cable {source}" in hand.led
                    hand.led.add(f"cable {source}")
                    rest = "is used above by now: split it" if once else f"is in {unit.id} input {entry}, and free now"
                    return f" (its cable {rest})"
    return ""


def freeings(hand: PatchedRig) -> Iterator[MoveStep]:
    """Patch and lead back what nothing is heard from: what was there only for the time of a loss."""
    units = [(was, now) for name, was in hand.before.show_index.units.items() if (now := _now(hand, name)) is not None]
    for was, now in units:
        if was.id not in hand.patched:
            for entry in inputs_in_turn(was.inputs, now.inputs):
                if f"{was.id} {entry}" not in hand.led:
                    yield _input_freed(was.id, entry, was.inputs.get(entry, ""), now.inputs.get(entry, ""))
    for was, now in units:
        for number in sorted({*was.routes, *now.routes}):
            route, led = now.routes.get(number, ""), was.routes.get(number, "")
            if route != led and f"{was.id}.{number}" not in hand.led:
                says = f"lead input {route} of {was.id} to its output {number} again"
                if not route:
                    says = f"take input {led} of {was.id} off its output {number} again"
                yield MoveStep("route", f"{was.id}.{number}", says, route)


def _now(hand: PatchedRig, name: str) -> RackUnit | None:
    return hand.after.show_index.units.get(name)


def _input_freed(unit: str, entry: str, old: str, source: str) -> MoveStep:
    """Say how an input that nothing is heard from goes back to what it had, which may be nothing."""
    where = f"{unit} input {entry}"
    if source.startswith("="):
        says = f"link {where} to input {source[1:]} again"
    elif source:
        says = f"patch {spoken_source(source)} into {where} again"
    elif old.startswith("="):
        says = f"take the link to input {old[1:]} out of {where}"
    else:
        says = f"take {spoken_source(old)} out of {where}; it goes back where it was"
    return MoveStep("patch", f"{unit}.{entry}", says, source)


def inputs_in_turn(was: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    """List the inputs that change, those at the ends of links first: what they hung on may then change unheard."""
    changed = [name for name in {**was, **now} if was.get(name, "") != now.get(name, "")]
    return sorted(changed, key=lambda name: (-len(link_chain(was, name)), int(name)))
