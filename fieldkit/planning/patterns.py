"""Fill patterns: what an amplifier or rack as built can offer at the same time, and nothing outdone by another."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import msgspec

from fieldkit.planning.outlets import Channel, Kind, Use

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
    counts, parts, least = dict(one.counts), dict(one.parts), dict(other.parts)
    return all(counts.get(kind, 0) >= number for kind, number in other.counts) and all(
        number <= least.get(part, 0) for part, number in parts.items()
    )
