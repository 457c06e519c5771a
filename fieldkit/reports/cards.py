"""Ask the label: one card of facts for any box, run, output, unit, rack, zone, supply or cable."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from fieldkit.checks.finding import Finding
from fieldkit.gear.processor import Processor
from fieldkit.reports.chain import account_lines, path_line, zone_lines
from fieldkit.reports.supply import supply_card
from fieldkit.reports.text import lowest_text, powers_text
from fieldkit.rig.connect.cable_ends import CableEnd, cable_ends
from fieldkit.rig.connect.outputs import permission_note
from fieldkit.rig.connect.uses import drive_text
from fieldkit.rig.failures import failed_outputs
from fieldkit.rig.signal.account import accounts
from fieldkit.rig.signal.chain import SignalCable, signal_cables, signal_paths
from fieldkit.rig.signal.delays import zone_delays
from fieldkit.rig.solve.derived import Derived
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.meters import expected_readings
from fieldkit.rig.solve.solving import SolvedLine, SolvedOutput
from fieldkit.text.style import Style
from fieldkit.text.words import printable

Place = tuple[str, str]
"""A table of the show, and a label in it."""


def places_of(rig: Rig, kind: str, name: str) -> tuple[Place, ...]:
    """List what to edit for a label, what it names first; nothing for a label that nobody has."""
    tables = {"box": "boxes", "run": "runs", "unit": "rack_units", "zone": "zones", "rack": "racks"}
    tables["supply"] = "supplies"
    found = [(tables[kind], name)] if kind in tables else []
    if kind in {"output", "processor output", "signal cable"}:
        found.append(
            ("rack_units" if name.partition(".")[0] in rig.show_index.units else "boxes", name.partition(".")[0])
        )
    if kind == "line":
        found.append(("runs", name.rpartition("/")[0]))
    if kind == "box":
        found += [("zones", rig.show_index.boxes[name].zone)] if name in rig.show_index.boxes else []
    if kind in {"box", "output", "cable end"}:
        found += [("runs", run) for run in dict.fromkeys(_runs(rig, kind, name))]
    return tuple(found)


def _runs(rig: Rig, kind: str, name: str) -> Iterator[str]:
    """List the runs that go to a box, leave an output, or have a cable end."""
    if kind == "box":
        yield from (run.id for run in rig.show.runs if any(step.box == name for step in run.path))
    elif kind == "output":
        output = rig.output(name)
        yield from (solved.line.run.id for solved in (output.lines if output else ()))
    else:
        yield from _ends(rig)[name].runs if name in _ends(rig) else ()


_ends = Derived[dict[str, CableEnd]](
    lambda rig: {end.label: end for end in reversed(cable_ends(rig.show, rig.show_index))}
)
"""The cable ends by their labels; of ends with one label the first."""


_cables = Derived[tuple[SignalCable, ...]](signal_cables)


class KnownLabel(msgspec.Struct, frozen=True):
    """Something that has a label of its own."""

    kind: str
    """``box``, ``run``, ``output``, ``unit``, ``rack``, ``zone``, ``supply``, ``cable end``, ``processor output`` or
    ``signal cable``."""
    id: str
    about: str

    @property
    def key(self) -> str:
        """Kind and id in one word."""
        return f"{self.kind} {self.id}"


def labels(rig: Rig) -> tuple[KnownLabel, ...]:
    """List every label of a show with a few words about it."""
    show = rig.show
    found = [
        KnownLabel("box", box.id, f"{box.model or 'no data sheet'}, {box.zone} {box.side}".strip())
        for box in show.boxes
    ]
    for run in show.runs:
        boxes = " ".join(step.box for step in run.path if step.box)
        found.append(KnownLabel("run", run.id, f"from {run.start} to {boxes}"))
    for output in rig.outputs:
        boxes = " ".join(dict.fromkeys(load.box.id for load in output.loads)) or "free"
        found.append(KnownLabel("output", output.output.id, f"{output.output.mode}, {boxes}"))
        for solved in output.lines:
            boxes = " ".join(dict.fromkeys(load.box.id for load in solved.line.loads)) or "nothing"
            about = f"{solved.line.section or 'nothing on it'}, from {output.output.id} to {boxes}"
            found.append(KnownLabel("line", solved.line.id, about))
    found += [KnownLabel("unit", unit.id, unit.model) for unit in rig.show_index.units.values()]
    found += [KnownLabel("zone", zone.id, rig.show_index.uses[zone.id].text) for zone in show.zones]
    found += [KnownLabel("rack", rack.id, rack.as_built or "rack") for rack in show.racks]
    found += [KnownLabel("supply", supply.id, f"{supply.volts}, {supply.rating}") for supply in show.supplies]
    ends = cable_ends(show, rig.show_index)
    found += [KnownLabel("cable end", end.label, f"{end.where}; {' '.join(end.runs)}") for end in ends]
    found += [KnownLabel("processor output", name, feeds) for name, feeds in _processor_outputs(rig)]
    cables = (cable for cable in signal_cables(rig) if cable.kind == "signal cable")
    found += [KnownLabel("signal cable", cable.id, f"{cable.start} to {cable.end}") for cable in cables]
    return tuple(found)


def _processor_outputs(rig: Rig) -> Iterator[tuple[str, str]]:
    """List the outputs of the processors, with the inputs and boxes that each feeds."""
    fed: dict[str, list[str]] = {}
    for unit in rig.show_index.units.values():
        for entry, source in unit.inputs.items():
            fed.setdefault(source, []).append(f"{unit.id} input {entry}")
    for box in rig.show.boxes:
        fed.setdefault(box.input, []).append(box.id)
    for unit in rig.show_index.units.values():
        model = rig.show_index.models.get(unit.model)
        for number in range(1, model.outputs + 1) if isinstance(model, Processor) else ():
            name = f"{unit.id}.{number}"
            yield name, f"to {', '.join(fed[name])}" if name in fed else "free"


def card(rig: Rig, findings: tuple[Finding, ...], kind: str, name: str, style: Style) -> tuple[str, ...]:
    """Write the card of one label, as lines of text; empty for a label that nobody has."""
    makers = {
        "box": _box,
        "run": _run,
        "output": _output,
        "unit": _unit,
        "zone": _zone,
        "cable end": _end,
        "line": _line,
    }
    makers |= {
        "supply": supply_card,
        "processor output": _processor_output,
        "signal cable": _signal_cable,
        "line": _line,
    }
    lines = list(makers[kind](rig, name, style)) if kind in makers else list(_plain(rig, kind, name))
    if not lines:
        return ()
    about = [item for item in findings if item.where.id == name or item.where.id.partition("/")[0] == name]
    for item in about:
        lines += ["", f"{item.severity}: {item.says}", f"  fix: {item.fix}"]
    return tuple(printable(line, 400) for line in lines)


def _lines_by_box(rig: Rig) -> dict[str, list[tuple[SolvedOutput, SolvedLine]]]:
    """Find the lines that feed each box, in one pass over the rig."""
    found: dict[str, list[tuple[SolvedOutput, SolvedLine]]] = {}
    for output in rig.outputs:
        for solved in output.lines:
            for name in dict.fromkeys(box.load.box.id for box in solved.boxes):
                found.setdefault(name, []).append((output, solved))
    return found


lines_by_box = Derived[dict[str, list[tuple[SolvedOutput, SolvedLine]]]](_lines_by_box)
"""The lines that feed each box."""


def lines_of_box(rig: Rig, name: str) -> list[tuple[SolvedOutput, SolvedLine]]:
    """Find the lines that feed a box."""
    return lines_by_box(rig).get(name, [])


def _box(rig: Rig, name: str, style: Style) -> Iterator[str]:
    box = rig.show_index.boxes.get(name)
    if box is None:
        return
    speaker, use = rig.show_index.speakers[name], rig.show_index.uses[box.zone]
    drive = drive_text(box, speaker)
    yield f"{speaker.description or speaker.id}, {drive}; zone {box.zone} {box.side}".rstrip() + f", used {use.text}"
    if len(speaker.drives()) > 1 and speaker.switch:
        yield f"switch on the box: {drive}"
    failed = failed_outputs(rig)
    for output, solved in lines_of_box(rig, name):
        yield ""
        for item in solved.boxes:
            if item.load.box.id != name:
                continue
            section = item.load.section
            pins = f"pins {section.pair}+/{section.pair}-"
            yield f"{section.section}, {pins}, from {output.output.id} by {solved.line.id}"
            if output.output.id in failed:
                yield f"  silent: {failed[output.output.id]}"
            yield f"  preset {item.load.choice.id or 'none'}: {item.load.choice.why}"
            yield (
                f"  {powers_text(item, style)}; {style.value(item.loss_db, 'dB')} lost"
                + (", assumed" if output.is_assumed(item.load) else "")
            )
        for reading in expected_readings(solved.line, rig.conditions.temperature_c):
            if reading.at == f"{name}.in":
                value = style.value(reading.dc.value, "ohm") if reading.dc else "open"
                yield f"  meter into its input, plug pulled: {value} DC" + (" (assumed)" if reading.assumed else "")
    if box.input:
        yield from _chain(rig, name)
    yield ""
    yield "next: see the switch and the plug; meter only with the plug pulled at the amplifier"
    if box.note:
        yield f"note: {box.note}"


def _run(rig: Rig, name: str, style: Style) -> Iterator[str]:
    run = next((run for run in rig.show.runs if run.id == name), None)
    if run is None:
        return
    yield f"from {run.start}" if run.start else "plugged in nowhere: look up what was moved, and why"
    for number, step in enumerate(run.path, start=1):
        what = step.cable or step.adaptor or f"{step.panel} {step.socket}"
        length = f"{step.length} of " if step.length else ""
        yield f"  {number}. {length}{what}" + (f" to {step.box}" if step.box else "")
    for output in rig.outputs:
        for solved in output.lines:
            if solved.line.run.id == name:
                yield f"{solved.line.id}: {output.output.id}, {solved.line.section or 'nothing on it'}"
                yield from (f"  {text}" for text in _readings(solved, rig, style))


def _line(rig: Rig, name: str, style: Style) -> Iterator[str]:
    """Say what one pin pair of a run feeds, from where, and what it should read along the way."""
    found = rig.line(name)
    if found is None:
        return
    output, solved = found
    boxes = " ".join(dict.fromkeys(load.box.id for load in solved.line.loads)) or "nothing"
    yield f"run {solved.line.run.id}, {solved.line.section or 'nothing on it'}, from {output.output.id} to {boxes}"
    for item in solved.boxes:
        yield f"{item.load.box.id}: preset {item.load.choice.id or 'none'}; {powers_text(item, style)}"
    for reading in expected_readings(solved.line, rig.conditions.temperature_c):
        value = style.value(reading.dc.value, "ohm") if reading.dc else "open"
        yield f"meter at {reading.at}, plug pulled: {value} DC" + (" (assumed)" if reading.assumed else "")


def _readings(solved: SolvedLine, rig: Rig, style: Style) -> Iterator[str]:
    for reading in expected_readings(solved.line, rig.conditions.temperature_c)[:1]:
        value = style.value(reading.dc.value, "ohm") if reading.dc else "open"
        yield f"meter at the amplifier, plug pulled: {value} DC" + (" (assumed)" if reading.assumed else "")


def _end(rig: Rig, name: str, style: Style) -> Iterator[str]:
    """Answer a hand that holds a cable: where it plugs in, what is at the other end, what it will read."""
    end = _ends(rig).get(name)
    if end is None:
        return
    length = f"{end.length} " if end.length else ""
    yield f"{'near' if end.near else 'far'} end of {length}{end.cable}" + (
        f", {end.connector}" if end.connector else ""
    )
    yield f"plugs into: {end.where}"
    yield f"the other end, {end.other}, plugs into: {_other_end(rig, end)}"
    box = rig.show_index.boxes.get(end.place)
    if box is not None:
        speaker = rig.show_index.speakers[box.id]
        yield f"{box.id}: {box.model or 'no data sheet'}, {box.zone} {box.side}".rstrip()
        if len(speaker.drives()) > 1 and speaker.switch:
            yield f"switch on the box: {drive_text(box, speaker)}"
    runs = frozenset(end.runs)
    for output in rig.outputs:
        for solved in output.lines:
            if solved.line.run.id in runs:
                yield f"{solved.line.id}: {output.output.id}, {solved.line.section or 'nothing on it'}"
                yield from (f"  {text}" for text in _readings(solved, rig, style))


def _other_end(rig: Rig, end: CableEnd) -> str:
    return _ends(rig)[end.other].where


def _output(rig: Rig, name: str, style: Style) -> Iterator[str]:
    output = rig.output(name)
    if output is None:
        return
    boxes = " ".join(dict.fromkeys(load.box.id for load in output.loads)) or "nothing"
    yield f"{output.output.model.id}, {output.output.mode}; drives {boxes}"
    failed = failed_outputs(rig).get(name)
    if failed:
        yield f"failed: {failed}"
    load = style.value(output.load_ohm, "ohm") if output.load_ohm is not None else "none"
    minimum, gives = style.value(output.output.minimum_ohm, "ohm"), style.value(output.can_give_v, "V")
    yield f"load {load}, minimum {minimum}, gives {gives}" + (", assumed" if output.assumed else "")
    if not output.loads and permission_note(output.output):
        yield permission_note(output.output)
    lowest = lowest_text(output, rig.conditions.temperature_c, style)
    if lowest:
        yield lowest
    host = output.host.id if output.host else "nothing"
    yield f"fed from {output.source or 'nothing planned'}; preset runs in {host}"
    for solved in output.lines:
        yield f"{solved.line.id}: {solved.line.section}"
        yield from (f"  {text}" for text in _readings(solved, rig, style))
    yield from _chain(rig, name)
    hazard = "all bridged outputs count as mains" if output.output.mode == "bridged" else "over 50 V counts as mains"
    yield f"caution: {hazard}; never put ohms on an amplifier's output"


def _chain(rig: Rig, name: str) -> Iterator[str]:
    """Say how the signal gets to an output or a self-powered box, and what is set for it."""
    yield from (path_line(path) for path in signal_paths(rig) if path.to == name)
    for account in accounts(rig):
        if name in account.outputs:
            yield from account_lines(account.of_output(name))
        elif not account.outputs and name in account.boxes:
            yield from account_lines(account)


def _processor_output(rig: Rig, name: str, style: Style) -> Iterator[str]:
    """Say what a processor output feeds, from where, and all that is set on it."""
    del style
    feeds = dict(_processor_outputs(rig)).get(name)
    if feeds is None:
        return
    yield feeds
    yield from (path_line(path) for path in signal_paths(rig) if path.processor == name)
    for account in accounts(rig):
        if account.host == name:
            boxes = " ".join(account.boxes)
            yield f"for {boxes}, {account.section}" if account.outputs else f"for {boxes}, self-powered"
            yield from account_lines(account)


def _signal_cable(rig: Rig, name: str, style: Style) -> Iterator[str]:
    """Answer a hand that holds a signal cable: where both ends go, and what it carries."""
    del style
    for cable in _cables(rig):
        if cable.id == name:
            yield f"from {cable.start}"
            yield f"to {cable.end}"
            yield f"carries {cable.signal}, {'balanced' if cable.balanced else 'unbalanced'}"
            if cable.shares > 1:
                yield f"{cable.shares} cables start at that socket: it takes a split"


def _unit(rig: Rig, name: str, style: Style) -> Iterator[str]:
    unit = rig.show_index.units.get(name)
    if unit is None:
        return
    yield f"{unit.model}, rack {unit.rack or '-'}, supply {unit.supply or 'not planned'}"
    for number, source in unit.inputs.items():
        yield f"  input {number}: {source}"
    for output in rig.outputs:
        if output.output.unit.id == name:
            boxes = " ".join(dict.fromkeys(load.box.id for load in output.loads)) or "free"
            load = style.value(output.load_ohm, "ohm") if output.load_ohm is not None else ""
            yield f"  {output.output.id}: {boxes} {load}".rstrip()


def _zone(rig: Rig, name: str, style: Style) -> Iterator[str]:
    del style
    use = rig.show_index.uses.get(name)
    if use is None:
        return
    zone = next(zone for zone in rig.show.zones if zone.id == name)
    yield f"used {use.text}: {use.why}"
    for side, signal in zone.signals.items():
        yield f"  {side}: fed from {signal}"
    yield from zone_lines(tuple(item for item in zone_delays(rig) if item.zone == name), rig.conditions.temperature_c)
    for box in rig.show.boxes:
        if box.zone == name:
            yield f"  {box.id} {box.side}".rstrip() + f": {box.model or 'no data sheet'}"


def _plain(rig: Rig, kind: str, name: str) -> Iterator[str]:
    if kind == "rack":
        for rack in rig.show.racks:
            if rack.id == name:
                yield f"{rack.as_built or 'rack'}, {rack.units or '?'} units"
                yield from (f"  {unit.id}: {unit.model}" for unit in rig.show_index.units.values() if unit.rack == name)
