"""Moves without a loudspeaker plug: the input of a self-powered box, and the sum of both sides into the living one."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import msgspec

from fieldkit.gear.processor import Processor
from fieldkit.planning.failover.patching import leadings
from fieldkit.planning.failover.plugs import with_unit
from fieldkit.planning.failover.processor_outputs import entered, free_processor_outputs
from fieldkit.planning.failover.recording import Notes
from fieldkit.planning.failover.rig_in_hand import PatchedRig
from fieldkit.planning.failover.steps import SUM_DB, MoveStep, SafeMove, spoken, spoken_source
from fieldkit.rig.connect.uses import planned_drive
from fieldkit.rig.failures import Failures, failed_now, failures_of, silenced
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Box, ChangedBox, ChangedUnit, Show, Zone
from fieldkit.show.edits import with_thing

HARDER = "its limiters work harder: watch them"
"""The price of a sum."""

DESK = ("desk", "desk")
"""From and to of a move that no plug takes part in."""


def with_boxes_fed(show: Show, evaluate: Callable[[Show], Rig]) -> Show:
    """Feed self-powered boxes whose source has failed: from the next free processor output, else from the desk."""
    for box in show.boxes:
        rig = evaluate(show)
        names = failed_now(show)
        owner = next(
            (name for name in names if _cut_off(box, rig, failures_of(show, rig.show_index.units, [name]))), ""
        )
        if owner:
            show = _fed(show, rig, box, owner, failures_of(show, rig.show_index.units, names))
    return show


def _cut_off(box: Box, rig: Rig, failures: Failures) -> bool:
    """Tell whether a self-powered box works and only its source has failed."""
    if planned_drive(box, rig.show_index.speakers[box.id]) != "self-powered":
        return False
    own = box.id in failures.boxes or box.supply in failures.supplies
    return not own and bool(failures.of_source(box.input, rig.show_index.units))


def _fed(show: Show, rig: Rig, box: Box, owner: str, failures: Failures) -> Show:
    zone = next(zone for zone in show.zones if zone.id == box.zone)
    signal = zone.signals.get(box.side, "")
    if box.id in failures.boxes or box.supply in failures.supplies or not signal:
        return show
    changed: tuple[ChangedUnit, ...] = ()
    new = "" if failures.of_source(signal, rig.show_index.units) else signal
    for number in _free_outputs(rig, box, failures):
        name, _, output = number.partition(".")
        unit, model = rig.show_index.units[name], rig.show_index.models[rig.show_index.units[name].model]
        found = entered(unit, model, [signal]) if isinstance(model, Processor) else None
        if found is None:
            continue
        new = number
        inputs, routes = {**unit.inputs, **found.inputs}, {**unit.routes, output: found.route}
        show = with_unit(show, msgspec.structs.replace(unit, inputs=inputs, routes=routes))
        before = {entry: unit.inputs.get(entry, "") for entry in found.inputs}
        led = {output: unit.routes.get(output, "")} if unit.routes.get(output, "") != found.route else {}
        changed = (ChangedUnit(unit=name, inputs=before, routes=led),) if before or led else ()
        break
    if not new:
        return show
    show = with_thing(show, "boxes", msgspec.structs.replace(box, input=new))
    notes = Notes(show.failed)
    notes.box(owner, ChangedBox(box=box.id, input=box.input))
    for item in changed:
        notes.unit(owner, item)
    return msgspec.structs.replace(show, failed=notes.failures())


def _free_outputs(rig: Rig, box: Box, failures: Failures) -> list[str]:
    """List free processor outputs, those of the processor that feeds a box first."""
    free = [name for names in free_processor_outputs(rig, failures).values() for name in names]
    return sorted(free, key=lambda name: name.partition(".")[0] != box.input.partition(".")[0])


def box_moves(hand: PatchedRig) -> Iterator[SafeMove]:
    """Say how self-powered boxes get what they get in another plan, once the loudspeaker plugs are where they go."""
    now = {box.id: box for box in hand.after.show.boxes}
    for box in hand.before.show.boxes:
        new = now[box.id].input
        if new == box.input:
            continue
        steps = [
            MoveStep("mute", box.id, f"turn the level of {box.id} right down at the box"),
            *leadings(hand, new),
            MoveStep(
                "patch", box.id, f"plug {spoken_source(new)} into {box.id} in place of {spoken_source(box.input)}", new
            ),
            MoveStep("unmute", box.id, f"bring {box.id} up slowly and listen; {_settings(new, hand.before)}"),
        ]
        says, ladder = f"{spoken(box.input)} → {spoken(new)} for {box.id}", box.reach == "ladder"
        yield SafeMove(says, (), (box.input, new), (), tuple(steps), (), ladder)


def _settings(source: str, rig: Rig) -> str:
    if source.partition(".")[0] in rig.show_index.units:
        return "level and delay of its zone are set on that output"
    return "level and delay of its zone are then the desk's"


def sum_moves(after: Rig, before: Rig) -> Iterator[SafeMove]:
    """Say which sides carry the sum while another side of their zone is silent, so that nothing of the mix is lost.

    Where it was so in the plan before, and is not any more, the desk goes back to both sides.
    """
    now, was = (list(_sums(rig)) for rig in (after, before))
    yield from (move for move in now if move not in was)
    for move in was:
        if move not in now:
            says = f"at the desk, take the sum off again, each at its level as before ({move.says})"
            yield SafeMove(f"no more {move.says}", (), DESK, (), (MoveStep("patch", "desk", says),))


def _sums(after: Rig) -> Iterator[SafeMove]:
    failures = failures_of(after.show, after.show_index.units, failed_now(after.show))
    silent = {item.load.box.id for item in silenced(after, failures)}
    silent |= {step.box for run in after.show.runs if not run.start for step in run.path if step.box}
    for zone in after.show.zones:
        yield from _summed(zone, after, silent)


def _summed(zone: Zone, rig: Rig, silent: set[str]) -> Iterator[SafeMove]:
    its = [box for box in rig.show.boxes if box.zone == zone.id and (box.side in zone.signals or not zone.signals)]
    sides = {side: [box.id for box in its if box.side == side] for side in dict.fromkeys(box.side for box in its)}
    gone = [side for side, boxes in sides.items() if silent.issuperset(boxes)]
    alive = [side for side, boxes in sides.items() if not silent & set(boxes)]
    if not gone or not alive or zone.use == "wedge":
        return
    if not zone.signals:
        yield _unnamed_sum(zone, gone, alive)
        return
    lost = list(dict.fromkeys(zone.signals[side] for side in gone))
    for signal in dict.fromkeys(zone.signals[side] for side in alive):
        others = [other for other in lost if other != signal]
        if not others:
            continue
        heard = sorted({other.id for other in rig.show.zones if signal in other.signals.values()} - {zone.id})
        also = f"; {', '.join(heard)} hears it too" if heard else ""
        both = " and ".join([signal, *others])
        where = ", ".join(side for side in alive if zone.signals[side] == signal)
        says = (
            f"at the desk, feed the output of '{signal}' with the sum of {both}, each {SUM_DB} dB down{also}; "
            f"{zone.id} {where} then carries the whole mix"
        )
        step = MoveStep("patch", "desk", says, "+".join([signal, *others]))
        yield SafeMove(f"mono: {both} into {zone.id} {where}", (), DESK, (), (step,), (HARDER,))


def _unnamed_sum(zone: Zone, gone: Sequence[str], alive: Sequence[str]) -> SafeMove:
    """Say the same where the show names no signals: nobody has said that the sides hear the same."""
    lost, left = ", ".join(gone), ", ".join(alive)
    says = (
        f"at the desk, unless {zone.id} {left} and {lost} are fed with one signal: feed {left} with the sum of both "
        f"sides, each {SUM_DB} dB down; {zone.id} {left} then carries the whole mix"
    )
    step = MoveStep("patch", "desk", says, "+".join([*alive, *gone]))
    return SafeMove(f"mono: both sides of {zone.id} into {left}", (), DESK, (), (step,), (HARDER,))
