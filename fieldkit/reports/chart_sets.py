"""Sets that fill an amplifier, and what carries a list of boxes, as text and as objects."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from fieldkit.gear.amplifier import Amplifier
from fieldkit.planning.chart.carrying import Carrying, LoadedAmplifier, WantedBoxes
from fieldkit.planning.chart.sets import BoxSet, Sets
from fieldkit.reports.text import WIDTH
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.text.style import Style
from fieldkit.text.widths import clipped, wrapped
from fieldkit.text.words import counted

MOST_SETS = 8
"""Sets of one amplifier that text lists; the object has all."""
MOST_ANSWERS = 8


def set_text(item: BoxSet) -> str:
    """Write a set in one line: ``2 two-way-12-inch bi-amp + 2 sub-single-15-inch``."""
    return " + ".join(f"{count} {box.title}" for box, count in item.boxes)


def sets_text(found: Sets, style: Style) -> Iterator[str]:
    """Print the sets of each amplifier, those that leave least free first; say what is not listed."""
    if not found.sets:
        return
    yield "sets that fill an amplifier, none inside another (up to the minimum load)"
    amplifiers = dict.fromkeys(item.amplifier.id for item in found.sets)
    for name in amplifiers:
        its = [item for item in found.sets if item.amplifier.id == name]
        yield style.plain(f" {name}")
        for item in its[:MOST_SETS]:
            free = f", {counted(item.free, 'channel')} free" if item.free else ""
            yield clipped(style.plain(f"  {set_text(item)}{free}"), WIDTH)
        if len(its) > MOST_SETS:
            yield f"  and {len(its) - MOST_SETS} more: name boxes, or see --json"
    left = "; ".join(f"{number} {rule}" for rule, number in found.left_out)
    if left:
        yield from wrapped(style.plain(f"Left out: {left}."), WIDTH)
    yield ""


def carrying_text(found: Sequence[Carrying], wanted: Sequence[WantedBoxes], style: Style) -> Iterator[str]:
    """Print what carries a list, fewest rack units first, and the first answer as a list to set by hand."""
    listed = ", ".join(f"{item.count} {item.candidate.title}" for item in wanted)
    yield from wrapped(style.plain(f"{listed}: {counted(len(found), 'way')} to carry them"), WIDTH)
    if not found:
        yield "no amplifier of the gear library, alone or with one other model, carries them all"
        return
    for item in found[:MOST_ANSWERS]:
        yield from _hanging(style.plain(f"  {answer_text(item)}"), 4)
    if len(found) > MOST_ANSWERS:
        yield f"  and {len(found) - MOST_ANSWERS} more, see --json"
    yield ""
    yield from (line for text in plan_lines(found[0]) for line in _hanging(style.plain(text), 5))
    if found[0].is_under_preferred:
        yield ""
        yield "Some loads are under the preferred one; --keep-preferred looks for answers without that."


def _hanging(text: str, indent: int) -> list[str]:
    """Break a line that is too long, the rest further in than its beginning."""
    begins = text[: len(text) - len(text.lstrip())]
    first, *more = wrapped(text, WIDTH - indent)
    return [f"{begins}{first}", *(f"{'':<{indent}}{line}" for line in more)]


def answer_text(item: Carrying) -> str:
    """Write an answer in one line: amplifiers, height, what stays free, processors."""
    names = " + ".join(f"{count} {name}" for name, count in item.names)
    parts = [names, f"{item.rack_units} U", f"{counted(item.free, 'channel')} free"]
    if item.processor is not None:
        outputs = counted(len(item.processor_outputs), "output")
        parts.append(f"{outputs} of {counted(item.processors, 'processor')}")
    if item.is_under_preferred:
        parts.append("under the preferred load")
    return ", ".join(parts)


def plan_lines(item: Carrying) -> Iterator[str]:
    """List what goes where and what to set, amplifier by amplifier and output by output."""
    yield "to set by hand, without cable:" if not _has_cable(item) else "to set by hand:"
    for number, unit in enumerate(item.units, start=1):
        yield f" {unit.amplifier.id} {number}"
        for outputs in _places(unit):
            yield from outputs
        if unit.free:
            yield f"  {counted(unit.free, 'channel')} free"
    for box, preset in item.processor_outputs:
        yield f" a processor output for {preset or 'the limiter'} of {box}, once for each signal"


def _has_cable(item: Carrying) -> bool:
    lines = (line for unit in item.units for out in unit.trial.outputs for line in out.lines)
    return any(any(piece.size is not None for piece in line.line.pieces) for line in lines)


def _places(unit: LoadedAmplifier) -> Iterator[list[str]]:
    for place, outputs in unit.trial.places:
        yield [line for out in outputs for line in _output_lines(place.count, place.candidate.title, out)]


def _output_lines(count: int, title: str, out: SolvedOutput) -> Iterator[str]:
    channels = "+".join(map(str, out.output.channels))
    mode = "" if out.output.mode == "single" else f" {out.output.mode}"
    load = out.loads[0]
    preset = load.choice.id or "no preset"
    sections = "" if load.section.section == "full" else f" {load.section.section}"
    at = plugs_text(out.output.model, channels)
    yield f"  {channels}{mode} ({at}): {count} {title}{sections}, pair {load.section.pair}"
    yield f"     {preset}, {out.load_ohm:.2f} Ω"
    limiter = out.limiter
    if limiter is not None:
        at_input = "" if limiter.input_dbu is None else f", {limiter.input_dbu:+.1f} dBu at the input"
        said = "in the preset" if limiter.held else "to set"
        yield f"     limiter {limiter.thermal_v:.1f} V slow{at_input}, {limiter.peak_v:.0f} V peak fast: {said}"


def plugs_text(model: Amplifier, channels: str) -> str:
    """Say at which connectors and pin pairs of an amplifier an output is found: ``A pair 2, B pair 1``."""
    every = [*model.connectors.items(), *model.connectors_bridged.items()]
    found = [f"{name} pair {pair}" for name, pins in every for pair, carried in pins.items() if carried == channels]
    return ", ".join(dict.fromkeys(found)) or "pins not in the model"


def sets_object(found: Sets) -> dict[str, Any]:
    """Return the part of ``chart --json`` about sets."""
    return {
        "sets": [
            {
                "amplifier": item.amplifier.id,
                "boxes": {box.name: count for box, count in item.boxes},
                "drives": {box.name: box.drive for box, _ in item.boxes},
                "free": item.free,
                "outputs": _clusters(item),
            }
            for item in found.sets
        ],
        "sets_left_out": [{"rule": rule, "count": number} for rule, number in found.left_out],
    }


def _clusters(item: BoxSet) -> list[dict[str, Any]]:
    return [
        {"box": cluster.place.candidate.name, "mode": cluster.place.mode, "boxes": cluster.count}
        for cluster in item.fill.clusters
    ]


def carrying_object(found: Sequence[Carrying], wanted: Sequence[WantedBoxes]) -> dict[str, Any]:
    """Return the part of ``chart --json`` about a list of boxes."""
    return {
        "with": [
            {"box": item.candidate.name, "drive": item.candidate.drive, "use": item.candidate.use, "count": item.count}
            for item in wanted
        ],
        "answers": [
            {
                "amplifiers": dict(item.names),
                "rack_units": item.rack_units,
                "free_channels": item.free,
                "under_preferred": item.is_under_preferred,
                "processor": item.processor.id if item.processor else None,
                "processors": item.processors,
                "processor_outputs": [{"box": box, "preset": preset or None} for box, preset in item.processor_outputs],
                "outputs": [
                    _output_object(number, place.count, place.candidate.title, out)
                    for number, unit in enumerate(item.units, start=1)
                    for place, outputs in unit.trial.places
                    for out in outputs
                ],
            }
            for item in found
        ],
    }


def _output_object(number: int, count: int, title: str, out: SolvedOutput) -> dict[str, Any]:
    limiter, load = out.limiter, out.loads[0]
    return {
        "unit": number,
        "amplifier": out.output.model.id,
        "channels": "+".join(map(str, out.output.channels)),
        "mode": out.output.mode,
        "boxes": count,
        "box": title,
        "section": load.section.section,
        "pair": str(load.section.pair),
        "preset": load.choice.id,
        "load_ohm": out.load_ohm,
        "thermal_v": limiter.thermal_v if limiter else None,
        "peak_v": limiter.peak_v if limiter else None,
        "input_dbu": limiter.input_dbu if limiter else None,
    }
