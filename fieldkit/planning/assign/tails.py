"""Where runs that stay end: what may hang behind their last box, on pairs that the run carries and does not use.

A box there takes no connector: its lead goes into the last box, or into an adaptor there that brings another pair over.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence

import msgspec

from fieldkit.planning.assign.patterns import Channel, Fittings, Kind, OutletFeed, Place, Use
from fieldkit.rig.connect.lines import loop_ohm, outputs_at, to_the_end
from fieldkit.rig.failures import failed_now
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Run, Zone


class RunTail(msgspec.Struct, frozen=True):
    """The end of a run that stays."""

    run: Run
    box: str
    """Its last box."""
    zone: Zone
    """That of the last box."""
    side: str
    """That of the last box; empty where it is a mix, or none."""
    plug: str
    """Connector of the last box."""
    pairs: Mapping[str, str]
    """Pair at the end -> pair at the connector that the run starts from."""
    outputs: Mapping[str, str]
    """Pair at the connector -> output on it."""
    loops_ohm: Mapping[str, float]
    """Pair at the connector -> loop of all that lies before the end [ohm]."""


class HeldConnector(msgspec.Struct, frozen=True):
    """A connector with runs on it that stay, or that may."""

    tail: RunTail | None = None
    stay: Use | None = None
    """How they use it; None where they stay for certain, so that it is no longer asked."""


def tails_of(rig: Rig, starts: Collection[str]) -> dict[str, RunTail]:
    """Find the ends that something may hang behind, of runs that are alone on their connector."""
    runs: dict[str, list[Run]] = defaultdict(list)
    for run in rig.show.runs:
        runs[run.start].append(run)
    found = {}
    for start in starts:
        own = runs.get(start, [])
        tail = _tail(own[0], rig) if len(own) == 1 else None
        if tail is not None:
            found[start] = tail
    return found


def _tail(run: Run, rig: Rig) -> RunTail | None:
    index = rig.show_index
    name = run.path[-1].box if run.path else None
    if name is None or index.speakers[name].connectors < 2 or {*failed_now(rig.show)} & {name, run.id}:
        return None
    outputs = outputs_at(run.start, index)
    pairs, loops = {}, {}
    for pair in outputs:
        pieces = to_the_end(run, pair, index)
        if pieces:
            pairs[pieces[-1].pair_out] = pair
            loops[pair] = sum(loop_ohm(piece, rig.conditions.temperature_c) for piece in pieces)
    box = index.boxes[name]
    zone = index.zones[box.zone]
    side = "" if zone.use == "wedge" else box.side
    return RunTail(run, name, zone, side, index.speakers[name].connector, pairs, outputs, loops)


def uses_held(
    held: HeldConnector, feeds: Mapping[str, OutletFeed], wanted: Sequence[tuple[str, ...]], fittings: Fittings
) -> list[Use]:
    """List the ways to use a connector whose runs stay: as they are, and with more behind their end.

    feeds: what the pairs of the connector carry, as far as nothing else takes it
    """
    found = [held.stay] if held.stay is not None else []
    before = found[0] if found else Use((), frozenset(), ())
    for place, parts in _behind(held.tail, feeds, wanted, fittings) if held.tail is not None else ():
        channels: frozenset[Channel] = frozenset().union(*(feed.channels for _, feed in place.feeds))
        if not channels & before.channels:
            found.append(Use((*before.places, place), before.channels | channels, parts))
    return found


def _behind(
    tail: RunTail, feeds: Mapping[str, OutletFeed], wanted: Sequence[tuple[str, ...]], fittings: Fittings
) -> Iterator[tuple[Place, tuple[str, ...]]]:
    """List the places behind an end, directly or by an adaptor, each with the adaptors that it takes."""
    ends = [(tail.pairs, tail.plug, "")]
    for adaptor in fittings.adaptors:
        joint = adaptor.connectors or ("", "")
        over = {far: own for pair, own in tail.pairs.items() if (far := adaptor.far_pair(pair)) is not None}
        if joint[0] in ("", tail.plug) and over != tail.pairs:
            ends.append((over, joint[-1], adaptor.id))
    for pairs, plug, name in ends:
        for need in wanted:
            own = [(pair, pairs.get(pair, "")) for pair in need]
            if not all(at in feeds for _, at in own):
                continue
            carried = tuple((pair, feeds[at].mode, feeds[at].amplifier) for pair, at in own)
            kind = Kind(carried, plug, passes_on=False, behind=tail.run.start)
            yield Place(kind, tuple((at, feeds[at]) for _, at in own), adaptor=name), ((name,) if name else ())
