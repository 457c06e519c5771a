"""Fixes that are one edit: for a finding, shows in which it is gone.

A fix is never believed. Each candidate is evaluated and checked like any other show, and is offered only when the
finding is gone, nothing else as bad or worse has come in its place, no line gets another signal than before, and
every box that was driven still is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import islice
from typing import TypeAlias

import msgspec

from fieldkit.checks.checking import check, counts
from fieldkit.checks.finding import SEVERITIES, Finding
from fieldkit.checks.stock import used_models
from fieldkit.gear.cabling import Cable
from fieldkit.planning.fixes.other_leads import other_leads
from fieldkit.rig.connect.uses import is_sub, planned_drive
from fieldkit.rig.signal.chain import signal_paths
from fieldkit.rig.solve.evaluation import Evaluator, Rig
from fieldkit.show.connectors import Start, starts
from fieldkit.show.document import RackUnit, Run, Show, Step, Stock
from fieldkit.show.edits import changed, find, with_thing
from fieldkit.show.references import problems

MOST_FIXES = 4
MOST_CANDIDATES = 40
"""Each is evaluated, at about ten milliseconds in a rig of a thousand boxes."""

Candidate: TypeAlias = tuple[str, Show]
Source: TypeAlias = Callable[[Rig, Finding], Iterator[Candidate]]


class ProvedFix(msgspec.Struct, frozen=True):
    """One edit that makes a finding go away."""

    label: str
    """What is done, as a person would say it."""
    show: Show
    left: tuple[int, int, int]
    """Errors, warnings and advice that there are after it."""


def fixes_for(rig: Rig, findings: tuple[Finding, ...], item: Finding) -> tuple[ProvedFix, ...]:
    """List the single edits that are proved to fix a finding; none for a rule that needs more than an edit."""
    source = _SOURCES.get(item.rule)
    if source is None:
        return ()
    evaluator = Evaluator(rig)
    fixes: list[ProvedFix] = []
    for label, show in islice(source(rig, item), MOST_CANDIDATES):
        if any(True for _ in problems(show, sound=rig.show)):
            continue
        after = evaluator.evaluate(show)
        found = check(after)
        left = _numbers(found)
        kept = item.rule in _MIX_SIGNALS or _same_signals(rig, after)
        if left < _numbers(findings) and _is_fixed(item, findings, found) and kept and _driven(rig) <= _driven(after):
            fixes.append(ProvedFix(label, show, left))
    return tuple(sorted(fixes, key=lambda fix: fix.left)[:MOST_FIXES])


def _numbers(findings: tuple[Finding, ...]) -> tuple[int, int, int]:
    number = counts(findings)
    return (number["errors"], number["warnings"], number["notes"])


def _key(item: Finding) -> tuple[str, str, str]:
    return (item.rule, item.where.kind, item.where.id)


def _is_fixed(item: Finding, before: tuple[Finding, ...], after: tuple[Finding, ...]) -> bool:
    """Tell whether a finding is gone and none as bad has come; of several alike, one fewer will do."""
    if sum(_key(one) == _key(item) for one in after) >= sum(_key(one) == _key(item) for one in before):
        return False
    known = {_key(one) for one in before}
    rank = SEVERITIES.index(item.severity)
    return not any(_key(one) not in known and SEVERITIES.index(one.severity) <= rank for one in after)


def _same_signals(before: Rig, after: Rig) -> bool:
    """Tell whether every line that had a signal still has the same, whatever processor it goes through."""
    had, has = _heard(before), _heard(after)
    return all(has.get(line, signals) == signals for line, signals in had.items() if signals)


def _driven(rig: Rig) -> set[str]:
    """Name the boxes that some output drives: silencing one fixes nothing."""
    return {load.box.id for output in rig.outputs for load in output.loads}


def _heard(rig: Rig) -> dict[str, tuple[str, ...]]:
    """List the signals of every line; the source of its output where the path from the desk is not planned."""
    paths = {path.to: path.signals for path in signal_paths(rig)}
    return {
        solved.line.id: paths.get(output.output.id) or ((output.source,) if output.source else ())
        for output in rig.outputs
        for solved in output.lines
    }


# ---- what may fix what ----------------------------------------------------------------------------------------------


def _switch(rig: Rig, item: Finding) -> Iterator[Candidate]:
    box = rig.show_index.boxes[item.where.id]
    planned = planned_drive(box, rig.show_index.speakers[box.id])
    yield (
        f"the switch of {box.id} was set to {planned}",
        with_thing(rig.show, "boxes", changed(box, switch=planned)),
    )
    if box.switch:
        yield (
            f"plan {box.id} {box.switch}, as its switch stands",
            with_thing(rig.show, "boxes", changed(box, drive=box.switch)),
        )


def _drive(rig: Rig, item: Finding) -> Iterator[Candidate]:
    box = rig.show_index.boxes[item.where.id]
    for drive in rig.show_index.speakers[box.id].drives():
        if drive != planned_drive(box, rig.show_index.speakers[box.id]):
            yield f"drive {box.id} {drive}", with_thing(rig.show, "boxes", changed(box, drive=drive))
    for run in rig.show.runs:
        if any(step.box == box.id for step in run.path):
            yield from _adaptors(rig, run)
            yield from _more_cores(rig, run)


def _own_preset(rig: Rig, item: Finding) -> Iterator[Candidate]:
    box = rig.show_index.boxes[item.where.id]
    for section in box.presets:
        left = {key: value for key, value in box.presets.items() if key != section}
        yield (
            f"leave the preset of the {section} section of {box.id} to the program",
            with_thing(rig.show, "boxes", msgspec.structs.replace(box, presets=left)),
        )


def _right_band(rig: Rig, item: Finding) -> Iterator[Candidate]:
    if item.where.kind == "box":
        yield from _own_preset(rig, item)
    elif item.where.kind in {"output", "line"}:
        yield from _other_connector(rig, item)


def _low_end(rig: Rig, item: Finding) -> Iterator[Candidate]:
    zone = find(rig.show, "zones", item.where.id)
    with_subs = dict.fromkeys(box.zone for box in rig.show.boxes if is_sub(rig.show_index.speakers[box.id]))
    for name in with_subs:
        yield (
            f"'{zone.id}' gets its low end from '{name}'",
            with_thing(rig.show, "zones", msgspec.structs.replace(zone, low_end_from=(name,))),
        )
    yield f"'{zone.id}' has no low end", with_thing(rig.show, "zones", msgspec.structs.replace(zone, low_end_from=()))


def _use(rig: Rig, item: Finding) -> Iterator[Candidate]:
    zone = find(rig.show, "zones", item.where.id)
    yield f"'{zone.id}' is a wedge zone", with_thing(rig.show, "zones", msgspec.structs.replace(zone, use="wedge"))
    yield f"'{zone.id}' is out front", with_thing(rig.show, "zones", msgspec.structs.replace(zone, use="front"))


def _knobs(rig: Rig, item: Finding) -> Iterator[Candidate]:
    unit = _unit(rig, item.where.id.partition(".")[0])
    yield (
        f"the knobs of {unit.id} are locked or covered",
        with_thing(rig.show, "rack_units", msgspec.structs.replace(unit, attenuators_locked=True)),
    )


def _balanced(rig: Rig, item: Finding) -> Iterator[Candidate]:
    unit = _unit(rig, item.where.id.partition(".")[0])
    for name in unit.unbalanced_inputs:
        left = tuple(other for other in unit.unbalanced_inputs if other != name)
        yield (
            f"input {name} of {unit.id} has a balanced cable now",
            with_thing(rig.show, "rack_units", msgspec.structs.replace(unit, unbalanced_inputs=left)),
        )


def _pair_apart(rig: Rig, item: Finding) -> Iterator[Candidate]:
    unit = _unit(rig, item.where.id.partition(".")[0])
    for field in ("bridged", "paralleled"):
        pairs = getattr(unit, field)
        for pair in pairs:
            left = tuple(other for other in pairs if other != pair)
            yield (
                f"take the {field} pair {pair} of {unit.id} apart",
                with_thing(rig.show, "rack_units", msgspec.structs.replace(unit, **{field: left})),
            )
    if item.rule == "one-leg-of-a-pair":
        yield from _other_connector(rig, item)


def _other_connector(rig: Rig, item: Finding) -> Iterator[Candidate]:
    """Move one run at a time to a connector where nothing is plugged in, the nearest first."""
    runs = {
        solved.line.run.id: solved.line.run
        for output in rig.outputs
        if output.output.id == item.where.id or item.where.kind != "output"
        for solved in output.lines
        if item.where.kind == "output" or item.where.id in {solved.line.id, solved.line.run.id}
    }
    for run in reversed(runs.values()):
        for start in _free_connectors(rig, run.start):
            yield f"plug {run.id} into {start}", _started(rig.show, run, start)


def _started(show: Show, run: Run, start: str) -> Show:
    return with_thing(show, "runs", msgspec.structs.replace(run, start=start, feeds={}))


def _free_connectors(rig: Rig, near: str) -> Iterator[str]:
    """List the connectors that nothing is plugged into and whose outputs drive nothing, the nearest first."""
    taken = {run.start for run in rig.show.runs}
    busy = {output.output.id for output in rig.outputs if output.lines}
    holder = near.rpartition(".")[0]
    rack = rig.show_index.units[holder].rack if holder in rig.show_index.units else holder

    def distance(start: Start) -> int:
        return 0 if start.holder == holder else 1 if rack and start.rack == rack else 2

    for start in sorted(starts(rig.show), key=distance):
        if start.name not in taken and not busy.intersection(start.outputs):
            yield start.name


def _run_of(rig: Rig, item: Finding) -> Run:
    run: Run = find(rig.show, "runs", item.where.id.partition("/")[0])
    return run


def _thicker(rig: Rig, item: Finding) -> Iterator[Candidate]:
    """Lay the same run in thicker cable that the show knows, one model for another."""
    run = _run_of(rig, item)
    used = {step.cable for step in run.path if step.cable}
    for name in sorted(used):
        old = rig.show_index.models[name]
        if not isinstance(old, Cable):
            continue
        better = [
            cable
            for cable in rig.show.cables
            if cable.area.value > old.area.value and cable.cores >= old.cores and cable.connectors == old.connectors
        ]
        for cable in sorted(better, key=lambda one: one.area.value):
            path = tuple(
                msgspec.structs.replace(step, cable=cable.id) if step.cable == name else step for step in run.path
            )
            yield f"lay {run.id} in {cable.id} where it is {name}", _laid(rig.show, run, path)


def _laid(show: Show, run: Run, path: tuple[Step, ...]) -> Show:
    return with_thing(show, "runs", msgspec.structs.replace(run, path=path))


def _adaptors_on(rig: Rig, item: Finding) -> Iterator[Candidate]:
    run = _run_of(rig, item)
    yield from _adaptors(rig, run)
    yield from _more_cores(rig, run)


def _adaptors(rig: Rig, run: Run) -> Iterator[Candidate]:
    """Put an adaptor that the show knows before one step of a run."""
    for adaptor in rig.show.adaptors:
        for place in range(len(run.path)):
            path = (*run.path[:place], Step(adaptor=adaptor.id), *run.path[place:])
            where = f"before {run.path[place].box or run.path[place].cable or f'step {place + 1}'}"
            if run.path[place].cable and run.path[place].box:
                # An adaptor stands at the near end of a cable: beyond it the pairs are where the box wants them.
                where = f"at the near end of the cable to {run.path[place].box}"
            yield f"put {adaptor.id} into {run.id} {where}", _laid(rig.show, run, path)


def _more_cores(rig: Rig, run: Run) -> Iterator[Candidate]:
    for place, step in enumerate(run.path):
        old = rig.show_index.models.get(step.cable or "")
        if not isinstance(old, Cable):
            continue
        for cable in rig.show.cables:
            if cable.cores > old.cores and cable.connectors == old.connectors and cable.area.value >= old.area.value:
                path = (
                    *run.path[:place],
                    msgspec.structs.replace(step, cable=cable.id),
                    *run.path[place + 1 :],
                )
                yield f"use {cable.id} in place of {old.id} in step {place + 1} of {run.id}", _laid(rig.show, run, path)


def _hire(rig: Rig, item: Finding) -> Iterator[Candidate]:
    """Hire as many as are missing of a model that is counted in pieces."""
    name = item.where.id
    entries = [entry for entry in rig.show.stock if entry.model == name and entry.length is None]
    working = sum(entry.owned + entry.hired - entry.out for entry in entries)
    missing = used_models(rig)[name] - working
    if missing <= 0:
        return
    stock = list(rig.show.stock)
    plain = next((entry for entry in entries if not entry.serial), None)
    if plain is None:
        stock.append(Stock(model=name, hired=missing))
    else:
        stock[stock.index(plain)] = msgspec.structs.replace(plain, hired=plain.hired + missing)
    yield f"hire {missing} more of {name}", msgspec.structs.replace(rig.show, stock=tuple(stock))


def _other_leads(rig: Rig, item: Finding) -> Iterator[Candidate]:
    yield from other_leads(rig, item.where.id)


def _processing(rig: Rig, item: Finding) -> Iterator[Candidate]:  # noqa: ARG001  (it is about the whole show)
    from fieldkit.planning.fixes.feeding import feedings  # brings the planner, which the first screen does not need

    for feeding in feedings(rig):
        yield feeding.label, feeding.show


def _unit(rig: Rig, name: str) -> RackUnit:
    """Return the unit as the file has it, or a new table for one that is part of a rack as built."""
    own = next((unit for unit in rig.show.rack_units if unit.id == name), None)
    if own is not None:
        return own
    brought = rig.show_index.units[name]
    return RackUnit(id=name, model=brought.model)


_SOURCES: dict[str, Source] = {
    "switch-not-as-planned": _switch,
    "section-unfed": _drive,
    "preset-does-not-fit": _own_preset,
    "sub-without-high-pass": _own_preset,
    "high-on-wrong-band": _right_band,
    "low-end-missing": _low_end,
    "use-not-said": _use,
    "attenuator-unlocked": _knobs,
    "unbalanced-link": _balanced,
    "bridged-pair-idle": _pair_apart,
    "one-leg-of-a-pair": _pair_apart,
    "load-under-minimum": _other_connector,
    "load-under-preferred": _other_connector,
    "bands-on-one-output": _other_connector,
    "different-boxes-on-one-output": _other_connector,
    "cable-loss": _thicker,
    "damping-low": _thicker,
    "current-too-high": _thicker,
    "pins-do-not-meet": _adaptors_on,
    "pair-feeds-nothing": _adaptors_on,
    "more-than-in-stock": _hire,
    "out-of-service-in-use": _hire,
    "cables-missing": _other_leads,
    "processor-outputs-short": _processing,
    "preset-has-no-host": _processing,
    "no-limiter": _processing,
    "delay-has-no-host": _processing,
}
"""Rule -> what may fix it. A candidate that does not is never shown."""

_MIX_SIGNALS = frozenset({"processor-outputs-short"})
"""Rules whose fixes feed lines anew; each fix says where a line hears another signal too."""


def curable(item: Finding) -> bool:
    """Tell whether it is worth looking for a fix of one edit."""
    return item.rule in _SOURCES
