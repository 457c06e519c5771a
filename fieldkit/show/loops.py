"""Circles: a name that leads back to itself."""

from __future__ import annotations

from collections.abc import Callable


def loop(start: str, following: Callable[[str], tuple[str, ...]]) -> list[str]:
    """Find a way from a name back to itself; empty where there is none."""
    trail: list[str] = []
    seen: set[str] = set()
    stack: list[tuple[str, int]] = [(start, 0)]
    while stack:
        name, depth = stack.pop()
        trail = [*trail[:depth], name]
        for other in following(name):
            if other == start:
                return [*trail, start]
            if other not in seen:
                seen.add(other)
                stack.append((other, depth + 1))
    return []
