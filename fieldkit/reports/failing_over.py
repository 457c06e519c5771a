"""What is said of a loss: the object of ``failover --json``, the text for 80 columns, the pages for each rack."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from math import ceil
from typing import Any

import msgspec

from fieldkit.checks.checking import counts
from fieldkit.planning.failover.fail_over import FailOver
from fieldkit.planning.failover.returning import WayBack
from fieldkit.planning.failover.steps import MoveStep, SafeMove
from fieldkit.reports.text import CAUTIONS, WIDTH, counts_text
from fieldkit.show.contents import all_units
from fieldkit.text.style import Style

GUESSED = "No priority is set there, so zones are taken in this order, guessed; ask whose it is:"
NOT_PROVED = "It is not proved that there is no better way than this."
PROVED = (
    "Proved: no other way to plug and patch leaves less silent. Not tried: joining behind a box that joins itself, "
    "a Y-lead in a connector used anew, a lead between a delay and the stage, other supplies."
)


class SilentBox(msgspec.Struct, frozen=True):
    """A box that falls silent, with all of its sections that do."""

    box: str
    zone: str
    side: str
    sections: tuple[str, ...]
    lines: tuple[str, ...]
    because: str


def silent_boxes(found: FailOver) -> list[SilentBox]:
    """List what falls silent, a box each."""
    by_box: dict[str, SilentBox] = {}
    for item in found.silent:
        box, section = item.load.box, item.load.section.section
        known = by_box.get(box.id) or SilentBox(box.id, box.zone, box.side, (), (), item.because)
        by_box[box.id] = msgspec.structs.replace(
            known,
            sections=tuple(dict.fromkeys((*known.sections, section))),
            lines=tuple(dict.fromkeys((*known.lines, item.line))),
        )
    powered = [
        SilentBox(item.box, item.zone, item.side, item.sections, (), item.why.split(";")[0]) for item in found.powered
    ]
    return [*by_box.values(), *powered]


def spare_text(found: FailOver) -> str:
    """Say what to have ready before a show, and what it would save; empty where it would save nothing.

    A spare of the same model in the same place feeds all that the unit fed, so that nothing need be searched.
    """
    saved = dict.fromkeys(item.box for item in found.stays_silent)
    models = {unit.id: unit.model for unit in all_units(found.show)}
    if not saved or len(found.failed) != 1:
        return ""
    name = found.failed[0]
    model = models.get(name) or models.get(name.partition(".")[0])  # of an output: its unit is changed whole
    if model:
        spare = f"a spare {model} at hand, better patched and loaded"
    elif name in {supply.id for supply in found.show.supplies}:
        spare = f"a second supply for what hangs on {name}, with a changeover by an electrician"
    else:
        return ""
    return f"Before the show: {spare}, would save {', '.join(saved)}."


def failover_object(found: FailOver) -> dict[str, Any]:
    """Make the object of ``failover --json``."""
    return {
        "failed": list(found.failed),
        "silent": [msgspec.to_builtins(item) for item in silent_boxes(found)],
        "first": [_step(step) for step in found.first],
        "moves": [_move(move) for move in found.moves],
        "stays_silent": [msgspec.to_builtins(item) for item in found.stays_silent],
        "proved": found.proved,
        "minutes": found.minutes,
        "guessed_order": found.guessed,
        "before_the_show": spare_text(found),
        "counts": counts(found.findings),
    }


def back_object(name: str, way: WayBack) -> dict[str, Any]:
    """Make the object of ``failover --back --json``."""
    return {
        "back": name,
        "first": [_step(step) for step in way.first],
        "moves": [_move(move) for move in way.moves],
        "planned_anew": list(way.also),
        "minutes": way.minutes,
    }


def _move(move: SafeMove) -> dict[str, Any]:
    return {
        "says": move.says,
        "minutes": ceil(move.minutes),
        "price": list(move.price),
        "runs": list(move.runs),
        "from": move.plug[0],
        "to": move.plug[1],
        "routes": [msgspec.to_builtins(route) for route in move.routes],
        "steps": [_step(step) for step in move.steps],
    }


def _step(step: MoveStep) -> dict[str, Any]:
    return {
        "do": step.do,
        "at": step.at,
        "says": step.says,
        "value": step.value,
        "thermal_v": step.thermal_v,
        "input_dbu": step.input_dbu,
    }


def failover_text(found: FailOver, style: Style, width: int = WIDTH) -> Iterator[str]:
    """Print what falls silent, the moves step by step, and what stays silent."""
    yield from _wrapped("failed: ", ", ".join(found.failed), style, width=width)
    yield ""
    yield from _silent_text(found, style, width)
    if found.first:
        yield ""
        yield "first"
        for step in found.first:
            yield from _wrapped("  ", step.says, style, mark="- ", width=width)
    for number, move in enumerate(found.moves, start=1):
        yield ""
        yield from move_text(number, move, style, width)
    yield ""
    yield from _staying_text(found, style, width)
    if found.moves:
        said = f"in all about {found.minutes} minutes for one person: hold that against the doors"
        yield from _wrapped("", said, style, width=width)
    if said := spare_text(found):
        yield from _wrapped("", said, style, width=width)
    if found.guessed:
        yield from _wrapped("", f"{GUESSED} {found.guessed}; 'priority' of a zone sets it", style, width=width)
    if not found.proved or found.stays_silent:
        yield from _wrapped("", PROVED if found.proved else NOT_PROVED, style, width=width)
    yield ""
    yield f"the plan then: {counts_text(found.findings)}"
    yield ""
    yield from textwrap.wrap("Caution: " + " ".join(CAUTIONS), width)


def move_text(number: int, move: SafeMove, style: Style, width: int = WIDTH) -> Iterator[str]:
    """Print one move with its steps."""
    yield from _wrapped(f"{number}. ", move.says, style, width=width)
    for step in move.steps:
        yield from _wrapped("   ", step.says, style, mark="- ", width=width)
    if move.price:
        yield from _wrapped("   ", f"price: {'; '.join(move.price)}", style, width=width)


def back_text(name: str, way: WayBack, style: Style, width: int = WIDTH) -> Iterator[str]:
    """Print how everything goes back to where it was before something failed."""
    yield from _wrapped("works again: ", name, style, width=width)
    yield ""
    yield from way_text(way, style, width)


def way_text(way: WayBack, style: Style, width: int = WIDTH) -> Iterator[str]:
    """Print what comes first, the moves of a way back, and how long they take."""
    if way.swapped:
        yield from _wrapped("", "a spare stands in its place: there is nothing to plug", style, width=width)
    if way.moves:
        yield from (line for step in way.first for line in _wrapped("first: ", step.says, style, width=width))
    if way.also:
        says = "what was moved for it is in the way, so it is planned for anew: its moves are among these"
        yield from _wrapped("still failed: ", f"{', '.join(way.also)}; {says}", style, width=width)
    if way.moves:
        yield f"in all about {way.minutes} minutes for one person"
        yield ""
    yield from moves_text(way.moves, style, width)


def moves_text(moves: Sequence[SafeMove], style: Style, width: int = WIDTH) -> Iterator[str]:
    """Print moves with their steps, and the caution."""
    if not moves:
        yield "no line was moved"
        yield ""
    for number, move in enumerate(moves, start=1):
        yield from move_text(number, move, style, width)
        yield ""
    yield from textwrap.wrap("Caution: " + " ".join(CAUTIONS), width)


def _silent_text(found: FailOver, style: Style, width: int = WIDTH) -> Iterator[str]:
    boxes = silent_boxes(found)
    if not boxes:
        yield "nothing falls silent"
        return
    yield f"falls silent: {len(boxes)} box{'' if len(boxes) == 1 else 'es'}"
    for (zone, side, because), its in _grouped((item.zone, item.side, item.because, item.box) for item in boxes):
        place = f"{zone} {side}".strip()
        yield from _wrapped(f"  {style.plain(place)}: ", f"{', '.join(its)} ({because})", style, width=width)


def _staying_text(found: FailOver, style: Style, width: int = WIDTH) -> Iterator[str]:
    if not found.stays_silent:
        if silent_boxes(found):
            yield "all of it plays again; nothing else falls silent"
        return
    yield "stays silent"
    rows = ((item.zone, item.side, item.why, item.box) for item in found.stays_silent)
    for (zone, side, why), its in _grouped(rows):
        place = f"{zone} {side}".strip()
        yield from _wrapped(f"  {style.plain(place)}: ", f"{', '.join(its)}: {why}", style, width=width)


def _grouped(rows: Iterable[tuple[str, str, str, str]]) -> list[tuple[tuple[str, str, str], list[str]]]:
    groups: dict[tuple[str, str, str], list[str]] = {}
    for *key, box in rows:
        zone, side, why = key
        groups.setdefault((zone, side, why), []).append(box)
    return list(groups.items())


def _wrapped(head: str, text: str, style: Style, mark: str = "", width: int = WIDTH) -> list[str]:
    indent = " " * min(len(head) + len(mark), 8)
    return textwrap.wrap(
        style.plain(text), width, initial_indent=head + mark, subsequent_indent=indent, break_on_hyphens=False
    ) or [(head + mark).rstrip()]
