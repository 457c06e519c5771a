"""Edits of a show that keep what was found: a reading, a pass of the rig check, a fault that was fixed."""

from __future__ import annotations

import datetime as dt

import msgspec

from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Logged, Reading, Show
from fieldkit.show.edits import changed
from fieldkit.show.reading_value import ReadingValue
from fieldkit.triage.belief.observations import meter_value
from fieldkit.triage.model.fault import Fault


def now() -> dt.datetime:
    """Return the time to write down, to the second."""
    return dt.datetime.now(dt.UTC).replace(microsecond=0)


class MeterPlace(msgspec.Struct, frozen=True):
    """Where and how a reading is taken."""

    line: str
    at: str
    """Point of the line: ``amp``, ``ML2.in``."""
    kind: str = "dc"
    warm: bool = False


def with_reading(show: Show, place: MeterPlace, typed: str, time: dt.datetime | None = None) -> Show:
    """Add a reading to the show. Raises ObservationError for a text that is no reading."""
    ohm, word = meter_value(typed)
    value = ReadingValue(word if ohm is None else f"{ohm:g} ohm")
    reading = Reading(line=place.line, at=place.at, value=value, time=time, warm=place.warm)
    return msgspec.structs.replace(show, readings=(*show.readings, changed(reading, kind=place.kind)))


def with_pass(show: Show, entry: Logged) -> Show:
    """Record that an output was heard in quiet noise, or a box's polarity tested; the last result counts."""
    rest = tuple(item for item in show.log if (item.kind, item.at) != (entry.kind, entry.at))
    return msgspec.structs.replace(show, log=(*rest, entry))


def with_note(show: Show, at: str, text: str, time: dt.datetime | None = None) -> Show:
    """Add what somebody wrote down while a fault was looked for at a thing."""
    entry = Logged(kind="note", at=at, says=" ".join(text.split()), time=time)
    return msgspec.structs.replace(show, log=(*show.log, entry))


def notes_on(show: Show, at: str) -> list[Logged]:
    """List the notes on a thing, the newest last."""
    return [item for item in show.log if item.kind == "note" and item.at == at]


def with_fixed(show: Show, fault: Fault, done: str, *, time: dt.datetime | None = None) -> Show:
    """Record the fault in the log; a box that was changed counts as out of service in the stock."""
    entry = Logged(kind="fault", at=fault.at or "the rig", says=f"{fault.says}; {done}", time=time)
    show = msgspec.structs.replace(show, log=(*show.log, entry))
    if fault.act != "change-box":
        return show
    box = next((box for box in show.boxes if box.id == fault.box), None)
    if box is None:
        return show
    # The single item by its serial where the stock names it, else one of the model.
    order = sorted(range(len(show.stock)), key=lambda place: show.stock[place].serial != box.serial or not box.serial)
    for place in order:
        stock = show.stock[place]
        other = bool(stock.serial) and stock.serial != box.serial
        if stock.model == box.model and not other and stock.out < stock.owned + stock.hired:
            less = changed(stock, out=stock.out + 1)
            return msgspec.structs.replace(show, stock=(*show.stock[:place], less, *show.stock[place + 1 :]))
    return show


def fault_tag(rig: Rig, fault: Fault, done: str, time: dt.datetime | None) -> tuple[str, ...]:
    """Write the tag that goes on the faulty thing."""
    box = rig.show_index.boxes.get(fault.box) if fault.part == "box" else None
    lines = ["OUT OF SERVICE" if fault.act in {"change-box", "replace-piece", "change-output"} else "FIXED", ""]
    lines.append(f"what    {fault.at or 'the rig'}" + (f", {box.model or 'no data sheet'}" if box else ""))
    if box and box.serial:
        lines.append(f"serial  {box.serial}")
    lines += [f"fault   {fault.says}", f"done    {done}"]
    lines.append(f"show    {rig.show.about.name or 'unnamed show'}")
    if time is not None:
        lines.append(f"when    {time.astimezone().strftime('%Y-%m-%d %H:%M')}")
    return tuple(lines)
