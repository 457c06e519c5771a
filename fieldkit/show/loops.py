"""Circles: a name that leads back to itself."""

from __future__ import annotations

from collections.abc import Callable, Iterable


def circle(names: Iterable[str], following: Callable[[str], Iterable[str]]) -> list[str]:
    """Find one way from a name back to itself, ``[a, b, a]``; empty where there is none. Each name is visited once."""
    done: set[str] = set()
    for start in names:
        if start in done:
            continue
        trail = {start: iter(following(start))}
        while trail:
            name, ways = next(reversed(trail.items()))
            for other in ways:
                if other in trail:
                    way = list(trail)
                    return [*way[way.index(other) :], other]
                if other not in done:
                    trail[other] = iter(following(other))
                    break
            else:
                done.add(name)
                del trail[name]
    return []
