"""What is patched into the inputs when plugs move: each output gets its signal, or what its preset runs on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import msgspec

from fieldkit.gear.processor import Processor
from fieldkit.planning.failover.placements import ALIKE_DB, Decision, PlacedFeed
from fieldkit.planning.failover.plugs import PairNeed, Plug
from fieldkit.planning.failover.processor_outputs import entered
from fieldkit.rig.connect.hosts import Host, followed
from fieldkit.rig.solve.evaluation import Rig

Drawn = tuple[object, ...]
"""A preset that wants a processor output of its own."""


class Patched(msgspec.Struct, frozen=True):
    """The inputs that change."""

    sources: Mapping[tuple[str, str], str]
    """Unit and input -> signal or processor output; empty where nothing is planned."""
    routes: Mapping[tuple[str, str], str]
    """Processor and output -> its inputs that lead there, where that changes."""
    moves: int
    """How many of them belong to plugs that do not move: each is something to do by itself."""


class Wish(msgspec.Struct, frozen=True, eq=False):
    """What one output must get, and where its preset runs."""

    unit: str
    channel: int
    source: str
    host: str
    """Where the preset runs; empty where it runs nowhere."""
    outboard: bool
    slots: int
    need: PairNeed
    gain_db: float | None
    moved: bool
    new: bool
    """Whether anything about it is otherwise than before."""
    drawn: bool = False
    """Whether its source is a processor output that was free."""


def pools_of(decisions: Sequence[Decision], free: Mapping[str, tuple[str, ...]]) -> dict[Drawn, str]:
    """Assign a free processor output to each preset that needs one; empty where there are too few."""
    taken: dict[Drawn, str] = {}
    for item in decisions:
        for feed in item.place.feeds if item.place else ():
            if feed.pool and drawn_for(feed) not in taken:
                number = sum(other[0] == feed.pool for other in taken)
                names = free[feed.pool]
                taken[drawn_for(feed)] = names[number] if number < len(names) else ""
    return taken


def drawn_for(feed: PlacedFeed) -> Drawn:
    """Say which processor output a feed draws: feeds with the same answer share one."""
    feed = feed.beside or feed
    gain = None if feed.gain_db is None else round(feed.gain_db / ALIKE_DB)
    return feed.pool, feed.need.settings, feed.need.source, feed.need.signal, gain


def sources_for(
    rig: Rig, plugs: Sequence[Plug], decisions: Sequence[Decision], free: Mapping[str, tuple[str, ...]]
) -> Patched | None:
    """Work out the patching; None where one input or processor output would have to be two things at a time."""
    wishes = list(_wishes(plugs, decisions, pools_of(decisions, free)))
    if not _hosts_agree(wishes) or not _hosts_have_room(wishes):
        return None
    sources: dict[tuple[str, str], str] = {}
    moves = 0
    for name in dict.fromkeys(wish.unit for wish in wishes):
        its = [wish for wish in wishes if wish.unit == name]
        before = rig.show_index.units[name].inputs
        after = _patched(before, {str(wish.channel): wish.source for wish in its})
        for channel in after:
            if after[channel] != before.get(channel, ""):
                sources[name, channel] = after[channel]
                moves += not any(wish.moved for wish in its if str(wish.channel) == channel)
    led = _led(rig, wishes)
    if led is None:
        return None
    entries, routes = led
    return Patched(sources | entries, routes, moves + len(entries))


Changes = dict[tuple[str, str], str]


def _led(rig: Rig, wishes: Sequence[Wish]) -> tuple[Changes, Changes] | None:
    """Lead the signals to the processor outputs that are drawn from the free ones; None where inputs run out."""
    entries: Changes = {}
    routes: Changes = {}
    for wish in wishes:
        name, _, number = wish.source.partition(".")
        if not wish.drawn or not wish.need.signals or (name, number) in routes:
            continue
        unit = rig.show_index.units[name]
        model = rig.show_index.models[unit.model]
        more = {entry: source for (owner, entry), source in entries.items() if owner == name}
        found = entered(unit, model, wish.need.signals, more) if isinstance(model, Processor) else None
        if found is None:
            return None
        entries |= {(name, entry): source for entry, source in found.inputs.items()}
        if unit.routes.get(number, "") != found.route:
            routes[name, number] = found.route
    return entries, routes


def _wishes(plugs: Sequence[Plug], decisions: Sequence[Decision], pools: Mapping[Drawn, str]) -> Iterator[Wish]:
    touched = {item.plug.start for item in decisions}
    staying = [item.plug for item in decisions if item.stays]
    for plug in (*(plug for plug in plugs if plug.start not in touched), *staying):
        for need in plug.needs:
            if not need.failed:
                yield _as_before(need)
    for item in decisions:
        for feed in item.place.feeds if item.place else ():
            source = pools[drawn_for(feed)] if feed.pool else feed.source
            outboard = feed.host is not None and feed.host.kind == "processor"
            host = source if outboard else feed.host.id if feed.host else ""
            yield Wish(
                unit=feed.output.unit.id,
                channel=feed.output.channels[0],
                source=source,
                host=host,
                outboard=outboard,
                slots=_slots(feed.host),
                need=feed.need,
                gain_db=feed.gain_db,
                moved=bool(item.place and item.place.moved),
                new=True,
                drawn=bool(feed.pool) and feed.beside is None,
            )


def _as_before(need: PairNeed) -> Wish:
    host = need.host
    return Wish(
        unit=need.output.unit.id,
        channel=need.output.channels[0],
        source=need.source,
        host=host.id if host else "",
        outboard=host is not None and host.kind == "processor",
        slots=_slots(host),
        need=need,
        gain_db=need.gain_db,
        moved=False,
        new=False,
    )


def _slots(host: Host | None) -> int:
    return host.hosts.slots or 0 if host else 0


def _hosts_agree(wishes: Sequence[Wish]) -> bool:
    """Tell whether each processor output that something new comes to holds one preset, and one limiter for all.

    A limiter in a processor is right for one gain behind it. Beside what stays, an output with less gain is safe,
    only quieter; one with more gain is not.
    """
    for host in {wish.host for wish in wishes if wish.new and wish.outboard}:
        on_it = [wish for wish in wishes if wish.outboard and wish.host == host]
        if len({wish.need.settings for wish in on_it}) > 1:
            return False
        gains = [wish.gain_db for wish in on_it]
        known = [gain for gain in gains if gain is not None]
        if known and len(known) < len(gains):
            return False
        staying = [wish.gain_db for wish in on_it if not wish.new and wish.gain_db is not None]
        coming = [wish.gain_db for wish in on_it if wish.new and wish.gain_db is not None]
        if staying and coming and max(coming) > min(staying) + ALIKE_DB:
            return False
        if not staying and coming and max(coming) > min(coming) + ALIKE_DB:
            return False
    return True


def _hosts_have_room(wishes: Sequence[Wish]) -> bool:
    """Tell whether no unit is asked to hold more presets than it can, where something new comes to it."""
    held: dict[str, set[str]] = {}
    slots: dict[str, int] = {}
    for wish in wishes:
        if wish.host and any(load.choice.preset for load in wish.need.loads):
            unit = wish.host.partition(".")[0]
            held.setdefault(unit, set()).add(wish.host)
            slots[unit] = wish.slots
    new = {wish.host.partition(".")[0] for wish in wishes if wish.new}
    return all(not slots[unit] or len(names) <= slots[unit] for unit, names in held.items() if unit in new)


def _patched(before: Mapping[str, str], wanted: Mapping[str, str]) -> dict[str, str]:
    """Change as few inputs as will do: the ends of links first, and a link only where it leads elsewhere."""
    after = dict(before)
    for channel in sorted(wanted, key=lambda name: (_links(before, name), int(name))):
        if followed(after, channel) != wanted[channel]:
            after[channel] = wanted[channel]
    return after


def _links(inputs: Mapping[str, str], channel: str) -> int:
    """Count the links between an input and what it gets."""
    count, text = 0, inputs.get(channel, "")
    while text.startswith("=") and count < len(inputs):
        count, text = count + 1, inputs.get(text[1:], "")
    return count
