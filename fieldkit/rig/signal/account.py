"""The settings account of an output: what its preset brings, what you set on top, and what then reads back.

Made here once; pages, spreadsheets, cards, ``lines``, fail-over steps and windows print from it. What a preset
brings is never among what is to be set; a part that would be nothing (0 dB, 0 ms) is left out of both, and the
readings say what it comes to in all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import chain
from typing import Literal

import msgspec

from fieldkit.rig.connect.hosts import running_preset
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.connect.outputs import input_socket, knob_at
from fieldkit.rig.signal.asked import by_host, disagreements, most_held, of_hosts
from fieldkit.rig.signal.basis import bases
from fieldkit.rig.signal.chain import SignalPath, box_paths, routed_inputs, signal_paths
from fieldkit.rig.signal.delays import ZoneDelay, delays_by_side
from fieldkit.rig.signal.entries import AccountEntry
from fieldkit.rig.signal.gains import gain_chain, valid_at
from fieldkit.rig.signal.processing import delay_parts, gain_parts, polarity
from fieldkit.rig.signal.setting_place import SettingPlace, longest_s, processing_brought, rate_hz
from fieldkit.rig.signal.siblings import trims
from fieldkit.rig.signal.thresholds import (
    HostLimits,
    limiter_brought,
    limiter_conditions,
    limiter_notes,
    limiters_read,
    limiters_to_set,
)
from fieldkit.rig.solve.derived import Derived
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import Box


class Account(msgspec.Struct, frozen=True, gc=False):
    """All that is to be known of the settings of one host output, and of the amplifier outputs behind it."""

    host: str
    """``SR-1.3``, ``DP.6``; the amplifier's output, or the box, where nothing hosts a preset."""
    kind: Literal["amplifier", "processor", "none"]
    """``none``: what is to be set has to be set somewhere else."""
    outputs: tuple[str, ...]
    boxes: tuple[str, ...]
    zones: tuple[tuple[str, str], ...]
    """Zone and side of what it feeds."""
    section: str
    signals: tuple[str, ...]
    inputs: tuple[str, ...]
    """Inputs of the processor that are routed to it; empty where that is not planned, and in an amplifier."""
    preset: str | None
    preset_why: str
    preset_guessed: bool
    """True where another preset may be right, since nobody said how the zone is used."""
    preset_brings: tuple[AccountEntry, ...]
    you_set: tuple[AccountEntry, ...]
    reads_back: tuple[AccountEntry, ...]
    notes: tuple[str, ...]
    """What the levels hold for, why limiters are as they are, and what cannot be set."""
    conditions: tuple[str, ...]
    """Of the notes, those without which nobody can set the host."""
    assumed: bool
    disagreements: tuple[str, ...]
    """In what the boxes of this host output want different settings; the first box's are given."""

    def of_output(self, output: str) -> Account:
        """Pick the account of one of its amplifier outputs: the host's settings and those that are its own."""
        parts = {
            name: tuple(item for item in getattr(self, name) if item.output in ("", output))
            for name in ("preset_brings", "you_set", "reads_back")
        }
        return msgspec.structs.replace(self, **parts)

    def entry(self, quantity: str, output: str = "") -> AccountEntry | None:
        """Find an entry by its quantity, and where several outputs have it by output."""
        for item in (*self.preset_brings, *self.you_set, *self.reads_back):
            if item.quantity == quantity and (not output or item.output in ("", output)):
                return item
        return None

    def number(self, quantity: str, unit: str, output: str = "") -> float | None:
        """Look up the number of an entry in a unit; None where there is none."""
        found = self.entry(quantity, output)
        return None if found is None else found.in_unit(unit)

    def word(self, quantity: str) -> str:
        """Look up an entry that is a word; empty where there is none."""
        found = self.entry(quantity)
        return found.value if found is not None and isinstance(found.value, str) else ""


def _accounts(rig: Rig) -> tuple[Account, ...]:
    return (*chain.from_iterable(of_hosts(rig, "accounts", _maker(rig))), *_of_boxes(rig, delays_by_side(rig)))


def accounts_that_differ(before: Rig, after: Rig) -> tuple[tuple[Account, ...], tuple[Account, ...]]:
    """Make the accounts of two rigs, without those of host outputs that are known to be the same in both.

    That is where all that they rest on is the very same, as after an edit.
    """
    same = {*bases(before)} & {*bases(after)}
    others = [basis for rig in (before, after) for basis in bases(rig) if basis not in same]
    names = {name for basis in others for name in by_host(basis.outputs)}

    def of(rig: Rig) -> tuple[Account, ...]:
        make = _maker(rig)
        its = (make(host, outputs) for host, outputs in by_host(rig.outputs).items() if host in names)
        return (*its, *_of_boxes(rig, delays_by_side(rig)))

    return of(before), of(after)


def _maker(rig: Rig) -> Callable[[str, Sequence[SolvedOutput]], Account]:
    waits = delays_by_side(rig)
    paths = {path.to: path for path in signal_paths(rig)}
    return lambda host, outputs: _account(rig, host, outputs, paths, waits)


def _of_boxes(rig: Rig, waits: Mapping[tuple[str, str], ZoneDelay]) -> tuple[Account, ...]:
    """Make the accounts of self-powered boxes."""
    paths, index = {path.to: path for path in box_paths(rig)}, rig.show_index

    def rests_on(box: Box) -> tuple[object, ...]:
        path = paths[box.id]
        unit = index.units[path.processor.partition(".")[0]] if path.processor else None
        model = index.models.get(unit.model) if unit is not None else None
        zone = index.zones[box.zone]
        return (path, rig.conditions, waits[box.zone, box.side], zone, index.speakers[box.id], unit, model)

    def make(box: Box) -> Account:
        return _self_powered(rig, paths[box.id], waits)

    boxes = [index.boxes[name] for name in paths]
    return rig.memory.each_of("accounts of boxes", boxes, (paths,), rests_on, make)


accounts = Derived[tuple[Account, ...]](_accounts)
"""The accounts of every host output that feeds a box, in the order of the show."""


def account_of(rig: Rig, output: str) -> Account | None:
    """Make the account of one amplifier output; None where it drives nothing."""
    found = _by_output(rig).get(output)
    return found.of_output(output) if found is not None else None


_by_output = Derived[dict[str, Account]](lambda rig: {name: item for item in accounts(rig) for name in item.outputs})


def _account(
    rig: Rig,
    name: str,
    outputs: Sequence[SolvedOutput],
    paths: Mapping[str, SignalPath],
    found: Mapping[tuple[str, str], ZoneDelay],
) -> Account:
    loads = [(output, load) for output in outputs for load in output.loads]
    ruling, first = most_held(outputs), loads[0][1]
    host = ruling.host
    unit, _, number = name.partition(".")
    limits = HostLimits(name, tuple(outputs), ruling, rig.conditions.margin_db)
    zones = tuple(dict.fromkeys((load.box.zone, load.box.side) for _, load in loads))
    preset = running_preset(first, host)
    own = f"preset {preset.id}" if preset is not None else ""
    gains, waits = gain_parts(rig, first, host), delay_parts(first, found, host)
    hosts = host.hosts if host is not None else None
    place = SettingPlace(name if host is not None else f"before {name}", rate_hz(hosts), longest_s(hosts))
    missing = (*_trims_elsewhere(rig, loads), *_guessed(found, zones))
    return Account(
        host=name,
        kind=host.kind if host is not None else "none",
        outputs=tuple(output.output.id for output in outputs),
        boxes=tuple(dict.fromkeys(load.box.id for _, load in loads)),
        zones=zones,
        section="+".join(dict.fromkeys(load.section.section for _, load in loads)),
        signals=tuple(dict.fromkeys(signal for output in outputs for signal in paths[output.output.id].signals)),
        inputs=routed_inputs(rig.show_index.units[unit], number)
        if host is not None and host.kind == "processor"
        else (),
        preset=preset.id if preset is not None else None,
        preset_why=first.choice.why,
        preset_guessed=preset is not None and any(load.choice.guessed for _, load in loads),
        preset_brings=(*processing_brought(first, preset, place), *limiter_brought(limits)),
        you_set=(
            *place.on_top([item for item in gains if item[0] != own], [item for item in waits if item[0] != own]),
            *place.turned_over(first.box),
            *limiters_to_set(limits),
            *(entry for output in outputs for entry in _at_amplifier(output)),
        ),
        reads_back=(
            *place.in_all(gains, waits, polarity(first, host), rig.conditions.temperature_c),
            *(entry for output in outputs for entry in _at_posts(rig, output)),
            *(entry for output in outputs for entry in limiters_read(limits, output, gain_chain(rig, output))),
        ),
        notes=(*limiter_notes(limits), *missing),
        conditions=(*limiter_conditions(limits), *missing),
        assumed=any(output.assumed for output in outputs),
        disagreements=disagreements(rig, loads, found),
    )


def _self_powered(rig: Rig, path: SignalPath, found: Mapping[tuple[str, str], ZoneDelay]) -> Account:
    """List the settings of what feeds a self-powered box: level, delay, polarity; its limiters are its own."""
    box = rig.show_index.boxes[path.to]
    wait = found[box.zone, box.side]
    zone = rig.show_index.zones[box.zone]
    waits = [(f"zone {wait.zone} {wait.side}".strip(), wait.delay_s)]
    waits += [(f"box {box.id}", box.delay.value)] if box.delay else []
    named = [(f"zone {zone.id}", zone.level), (f"box {box.id}", box.level)]
    gains = [(name, gain.value) for name, gain in named if gain is not None]
    unit, _, number = path.processor.partition(".")
    hosts = (
        getattr(rig.show_index.models.get(rig.show_index.units[unit].model), "hosts", None) if path.processor else None
    )
    place = SettingPlace(path.processor or f"before {box.id}", rate_hz(hosts), longest_s(hosts))
    own = ("self-powered: its limiters are its own", *_guessed(found, [(box.zone, box.side)]))
    return Account(
        host=path.processor or box.id,
        kind="processor" if path.processor else "none",
        outputs=(),
        boxes=(box.id,),
        zones=((box.zone, box.side),),
        section="full",
        signals=path.signals,
        inputs=routed_inputs(rig.show_index.units[unit], number) if path.processor else (),
        preset=None,
        preset_why="self-powered: its processing is its own",
        preset_guessed=False,
        preset_brings=(),
        you_set=(*place.on_top(gains, [item for item in waits if item[1]]), *place.turned_over(box)),
        reads_back=tuple(place.in_all(gains, waits, box.polarity, rig.conditions.temperature_c)),
        notes=own,
        conditions=own,
        assumed=rig.show_index.speakers[box.id].assumed,
        disagreements=(),
    )


def _trims_elsewhere(rig: Rig, loads: Sequence[tuple[SolvedOutput, Load]]) -> Iterator[str]:
    """Say what its boxes lack to play as their siblings, where the host cannot be set to it."""
    told: dict[tuple[str, str, float], list[str]] = {}
    for output, load in loads:
        trim = trims(rig).get((load.box.id, load.section.section))
        if trim is not None and not trim.in_host:
            told.setdefault((output.output.id, trim.like, trim.trim_db), []).append(load.box.id)
    knobs = {output.output.id: output.output.model.attenuators for output, _ in loads}
    for (name, like, trim_db), boxes in told.items():
        where = "at its knob, which moves the levels here" if knobs[name] else "and nothing here can be set to it"
        yield f"! {name} needs {trim_db:+.1f} dB for {' '.join(boxes)} to play as {like}, {where}"


def _guessed(found: Mapping[tuple[str, str], ZoneDelay], zones: Sequence[tuple[str, str]]) -> Iterator[str]:
    """Say where a delay would be a guess, so that none is to be set."""
    for place in zones:
        if found[place].guess_s is not None:
            name = " ".join(place).strip()
            yield f"! no delay is set for zone {name}: how far its boxes are from the listeners is not known"


def _at_amplifier(output: SolvedOutput) -> Iterator[AccountEntry]:
    """List what is set at the amplifier itself: the mode of a pair, its gain switch, its knobs."""
    name, unit = output.output.id, output.output.unit
    if output.output.mode != "single":
        channels = "+".join(map(str, output.output.channels))
        yield AccountEntry(f"channels {channels}", output.output.mode, "", unit.id, output=name)
    if unit.gain is not None:
        yield AccountEntry("gain switch", unit.gain.value, "dB", unit.id, output=name)
    for channel in output.output.channels if output.output.model.attenuators else ():
        locked = "locked" if unit.attenuators_locked else "not locked"
        at = knob_at(output.output, channel)
        yield AccountEntry(f"knob {channel}", at, "dB", f"{unit.id} knob {channel}", locked, output=name)


def _at_posts(rig: Rig, output: SolvedOutput) -> Iterator[AccountEntry]:
    """List gain and full output at the posts, and the level at the input socket that it takes."""
    name, chain = output.output.id, gain_chain(rig, output)
    yield AccountEntry("full output", output.can_give_v, "V", f"{name} posts", output=name)
    if output.supply_scale < 1.0:
        yield AccountEntry(
            "short peaks clip at", output.clip_v, "V", f"{name} posts", "the supply is shared", output=name
        )
    if chain is not None:
        yield AccountEntry(
            "gain to the posts", chain.amplifier_db, "dB", f"{name} posts", valid_at(output), output=name
        )
        yield AccountEntry("clips from", chain.socket_dbu, "dBu", input_socket(output.output), output=name)
