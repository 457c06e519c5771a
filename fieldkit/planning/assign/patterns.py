"""Fill patterns: what a connector offers, and what an amplifier or rack as built can offer at the same time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import product

import msgspec

from fieldkit.gear.cabling import Adaptor, Cable, Panel
from fieldkit.rig.connect.outputs import Mode

INFINITY = float("inf")
Channel = tuple[int, int]
"""Number of the unit in a rack as built (0 for a loose amplifier), and of its channel."""


class OutletFeed(msgspec.Struct, frozen=True, gc=False):
    """What one pin pair of a connector carries."""

    name: str
    """``3`` or ``3+4``; in a rack as built ``2.3+4``."""
    mode: Mode
    amplifier: str
    """Its model."""
    channels: frozenset[Channel]


class Kind(msgspec.Struct, frozen=True, order=True, gc=False):
    """What a place offers to a cluster of boxes: places of one kind are alike."""

    feeds: tuple[tuple[str, Mode, str], ...]
    """For each pin pair at the box: pair, mode and model of the amplifier."""
    plug: str
    """Connector that the lead begins with; empty where nobody knows."""
    passes_on: bool
    """Another cluster comes behind this one on the same run, so that its boxes must link and carry all pairs."""
    joint: str = ""
    """Connector of the adaptor that comes behind; empty where nobody knows."""
    most_a: float = INFINITY
    """What the multicore to a panel carries on each core [A]."""
    behind: str = ""
    """It lies behind the last box of the run on this connector, which stays."""

    @property
    def pairs(self) -> tuple[str, ...]:
        """The pin pairs at the box."""
        return tuple(pair for pair, _, _ in self.feeds)


class Place(msgspec.Struct, frozen=True, gc=False):
    """A place for one cluster."""

    kind: Kind
    feeds: tuple[tuple[str, OutletFeed], ...]
    """Pin pair at the connector -> what it carries."""
    panel: str = ""
    socket: str = ""
    adaptor: str = ""
    """It lies behind the place before it, and this adaptor brings its pair over."""


class Use(msgspec.Struct, frozen=True, gc=False):
    """One way to use a connector: its places, and what that takes."""

    places: tuple[Place, ...]
    channels: frozenset[Channel]
    parts: tuple[str, ...]
    """Adaptors and panels."""


class Fittings(msgspec.Struct, frozen=True):
    """Cables, adaptors and panels that can be had."""

    cables: tuple[Cable, ...]
    adaptors: tuple[Adaptor, ...]
    panels: tuple[Panel, ...]


def uses_of(
    pins: Mapping[str, OutletFeed], plug: str, wanted: Sequence[tuple[str, ...]], fittings: Fittings
) -> tuple[Use, ...]:
    """List the ways to use one connector for boxes that want these pin pairs."""
    found: dict[tuple[Place, ...], Use] = {}
    for places, parts in (
        *_direct(pins, plug, wanted),
        *_one_behind(pins, plug, wanted, fittings),
        *_crossed(pins, plug, wanted, fittings),
        *_panels(pins, plug, wanted, fittings),
    ):
        channels = [feed.channels for place in places for _, feed in place.feeds]
        together: frozenset[Channel] = frozenset().union(*channels)
        if len(together) == sum(map(len, channels)):
            found.setdefault(places, Use(places, together, parts))
    return tuple(found.values())


def _place(pairs: Mapping[str, str], pins: Mapping[str, OutletFeed], plug: str, **more: str) -> Place:
    """Make a place; ``pairs`` gives for each pair at the box the pair at the connector."""
    kind = Kind(
        tuple((pair, pins[own].mode, pins[own].amplifier) for pair, own in pairs.items()), plug, passes_on=False
    )
    return Place(kind, tuple((own, pins[own]) for own in pairs.values()), **more)


_Found = Iterator[tuple[tuple[Place, ...], tuple[str, ...]]]


def _direct(pins: Mapping[str, OutletFeed], plug: str, wanted: Sequence[tuple[str, ...]]) -> _Found:
    for pairs in wanted:
        if all(pair in pins for pair in pairs):
            yield (_place({pair: pair for pair in pairs}, pins, plug),), ()


def _one_behind(
    pins: Mapping[str, OutletFeed], plug: str, wanted: Sequence[tuple[str, ...]], fittings: Fittings
) -> _Found:
    """Two lots on one run: the first on its pair, the second on another pair that an adaptor brings over."""
    if not any(cable.far_pair("2") == "2" for cable in fittings.cables):
        return
    singles = [pairs[0] for pairs in wanted if len(pairs) == 1]
    for adaptor in fittings.adaptors:
        ends = adaptor.connectors or ("", "")
        # What comes behind may also come alone, the adaptor at the connector itself: it must go in there.
        if plug and ends[0] not in ("", plug):
            continue
        for first, second in product(singles, singles):
            for own, over in adaptor.pins.items():
                if over != second or own in (first, second) or own not in pins or first not in pins:
                    continue
                near = _place({first: first}, pins, plug)
                kind = msgspec.structs.replace(near.kind, passes_on=True, joint=ends[0])
                behind = _place({second: own}, pins, ends[-1], adaptor=adaptor.id)
                yield (msgspec.structs.replace(near, kind=kind), behind), (adaptor.id,)


def _crossed(
    pins: Mapping[str, OutletFeed], plug: str, wanted: Sequence[tuple[str, ...]], fittings: Fittings
) -> _Found:
    """One lot on another pair than its own, which an adaptor at the connector brings over."""
    singles = [pairs[0] for pairs in wanted if len(pairs) == 1]
    for adaptor in fittings.adaptors:
        ends = adaptor.connectors or ("", "")
        if ends[0] not in ("", plug) and plug:
            continue
        for single in singles:
            for own, over in adaptor.pins.items():
                if over == single and own != single and own in pins:
                    yield (_place({single: own}, pins, ends[-1], adaptor=adaptor.id),), (adaptor.id,)


def _panels(pins: Mapping[str, OutletFeed], plug: str, wanted: Sequence[tuple[str, ...]], fittings: Fittings) -> _Found:
    """List the sets of places at the sockets of a breakout panel at the end of a multicore."""
    for panel in fittings.panels:
        if not plug or panel.connector != plug or not any(_reaches(cable, plug, pins) for cable in fittings.cables):
            continue
        most_a = max(carries_a(cable) for cable in fittings.cables if _reaches(cable, plug, pins))
        choices = []
        for socket, pairs in panel.sockets.items():
            own = {at_box: at_tail for at_tail, at_box in pairs.items() if at_tail in pins}
            served = [need for need in wanted if all(pair in own for pair in need)]
            found = [
                _place({pair: own[pair] for pair in need}, pins, panel.socket_connector, panel=panel.id, socket=socket)
                for need in served
            ]
            kinds = [msgspec.structs.replace(place.kind, most_a=most_a) for place in found]
            places = [msgspec.structs.replace(place, kind=kind) for place, kind in zip(found, kinds, strict=True)]
            if places:
                choices.append(places)
        for chosen in product(*choices) if choices else ():
            yield tuple(chosen), (panel.id,)


def carries_a(cable: Cable) -> float:
    """Say what a cable is rated to carry [A]; any current where nobody says."""
    return cable.current.value if cable.current is not None else INFINITY


def _reaches(cable: Cable, plug: str, pins: Mapping[str, OutletFeed]) -> bool:
    ends = cable.connectors or (plug, plug)
    return ends[0] == ends[-1] == plug and all(cable.far_pair(pair) == pair for pair in pins)


Counts = tuple[tuple[Kind, int], ...]


class Pattern(msgspec.Struct, frozen=True, gc=False):
    """One way to use all connectors of one amplifier or rack."""

    uses: tuple[tuple[str, Use], ...]
    """Connector -> its use."""
    counts: dict[Kind, int]
    parts: dict[str, int]


class _State(msgspec.Struct, frozen=True, gc=False):
    uses: tuple[tuple[str, Use], ...]
    counts: Counts
    parts: tuple[tuple[str, int], ...]


def patterns_of(connectors: Sequence[tuple[str, Sequence[Use]]], slots: int | None = None) -> tuple[Pattern, ...]:
    """Combine the uses of all connectors in every way that the channels allow; ``slots`` bounds the outputs used."""
    blocks = _blocks(connectors)
    # Where presets have too few slots, a state that another outdoes may still be the one that they hold.
    keep = _undominated if slots is None else list
    whole: list[_State] = [_State((), (), ())]
    for block in blocks:
        own = keep(_block_states(block))
        whole = keep([_joined(left, right) for left in whole for right in own])
    made = (
        Pattern(state.uses, dict(state.counts), dict(state.parts))
        for state in sorted(whole, key=_order)
        if state.counts and (slots is None or _outputs(state) <= slots)
    )
    return tuple(made)


def patterns_by_block(connectors: Sequence[tuple[str, Sequence[Use]]]) -> tuple[tuple[Pattern, int], ...]:
    """List the ways to use each lot of connectors that has no channel in common with others, with the lot's number.

    One amplifier uses one of each lot, or none: there are far fewer of these than of what they make together.
    """
    return tuple(
        (Pattern(state.uses, dict(state.counts), dict(state.parts)), number)
        for number, block in enumerate(_blocks(connectors))
        for state in sorted(_undominated(_block_states(block)), key=_order)
        if state.counts
    )


def _outputs(state: _State) -> int:
    return sum(len(place.feeds) for _, use in state.uses for place in use.places)


def _order(state: _State) -> tuple[int, Counts]:
    return (sum(count for _, count in state.parts), state.counts)


def _blocks(connectors: Sequence[tuple[str, Sequence[Use]]]) -> list[list[tuple[str, Sequence[Use]]]]:
    """Part the connectors into lots that have no channel in common."""
    blocks: list[tuple[set[Channel], list[tuple[str, Sequence[Use]]]]] = []
    for name, uses in connectors:
        channels = set().union(*(use.channels for use in uses)) if uses else set()
        touching = [block for block in blocks if block[0] & channels]
        merged = (set(channels), [item for block in touching for item in block[1]] + [(name, uses)])
        for block in touching:
            merged[0].update(block[0])
            blocks.remove(block)
        blocks.append(merged)
    return [block for _, block in blocks]


def _block_states(block: Sequence[tuple[str, Sequence[Use]]]) -> Iterable[_State]:
    states: dict[tuple[frozenset[Channel], Counts, tuple[tuple[str, int], ...]], _State] = {
        (frozenset(), (), ()): _State((), (), ())
    }
    for name, uses in block:
        for (taken, _, _), state in list(states.items()):
            for use in uses:
                if taken & use.channels:
                    continue
                added = _joined(state, _state_of(name, use))
                states.setdefault((taken | use.channels, added.counts, added.parts), added)
    return states.values()


def _state_of(name: str, use: Use) -> _State:
    kinds = Counter(place.kind for place in use.places)
    return _State(((name, use),), tuple(kinds.items()), tuple(Counter(use.parts).items()))


def _joined(left: _State, right: _State) -> _State:
    return _State((*left.uses, *right.uses), _sum(left.counts, right.counts), _sum(left.parts, right.parts))


def _sum(left: tuple, right: tuple) -> tuple:  # type: ignore[type-arg]  # of kinds or of names, alike on both sides
    total = Counter(dict(left))
    total.update(dict(right))
    return tuple(sorted(total.items()))


def _undominated(states: Iterable[_State]) -> list[_State]:
    """Leave out what another state outdoes: as many places of each kind, with no more parts."""
    kept: list[_State] = []
    for state in sorted(states, key=lambda item: (-sum(count for _, count in item.counts), _order(item))):
        if not any(_outdoes(other, state) for other in kept):
            kept.append(state)
    return kept


def _outdoes(one: _State, other: _State) -> bool:
    counts, parts, minimum = dict(one.counts), dict(one.parts), dict(other.parts)
    return all(counts.get(kind, 0) >= number for kind, number in other.counts) and all(
        number <= minimum.get(part, 0) for part, number in parts.items()
    )
