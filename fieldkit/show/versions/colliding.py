"""Which changes of two sides are one, and which cannot both be."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from fieldkit.show.versions.changes import Change
from fieldkit.show.versions.tree import Node


def together(mine: Sequence[Change], theirs: Sequence[Change]) -> tuple[Change, ...]:
    """Join the changes of two sides; one that both made alike stands once, marked ``both``."""
    others = {change.path: change for change in theirs}
    joined = []
    for change in mine:
        other = others.get(change.path)
        same = other is not None and (other.kind, other.after) == (change.kind, change.after)
        joined.append(msgspec.structs.replace(change, side="both") if same else change)
    alike = {change.path for change in joined if change.side == "both"}
    return (*joined, *(change for change in theirs if change.path not in alike))


def collisions(changes: Iterable[Change]) -> list[tuple[list[Change], list[Change]]]:
    """List groups of changes, mine and theirs, that touch one another; in each, one side has to give way."""
    sides: dict[str, dict[tuple[str, ...], Change]] = {"mine": {}, "theirs": {}}
    for change in changes:
        if change.side in sides:
            sides[change.side][change.path] = change
    touching = _Touching(sides["mine"], sides["theirs"])
    groups: list[tuple[list[Change], list[Change]]] = []
    seen: set[tuple[str, ...]] = set()
    for path in sides["mine"]:
        if path in seen or not touching.of("mine", path):
            continue
        group: dict[str, dict[tuple[str, ...], None]] = {"mine": {path: None}, "theirs": {}}
        waiting = [("mine", path)]
        while waiting:
            side, here = waiting.pop()
            other = "theirs" if side == "mine" else "mine"
            found = [(other, there) for there in touching.of(side, here)]
            found += [(side, there) for there in touching.beside(side, here)]
            group[side].update(dict.fromkeys(touching.needed(side, here)))
            for where, there in found:
                if there not in group[where]:
                    group[where][there] = None
                    waiting.append((where, there))
        seen.update(group["mine"])
        groups.append(
            (
                [change for there, change in sides["mine"].items() if there in group["mine"]],
                [change for there, change in sides["theirs"].items() if there in group["theirs"]],
            )
        )
    return groups


class _Touching:
    """Finds the changes that touch one: at its place, around it, within it, and steps beside it in a run."""

    def __init__(self, mine: dict[tuple[str, ...], Change], theirs: dict[tuple[str, ...], Change]) -> None:
        self._sides = {"mine": mine, "theirs": theirs}
        self._within: dict[str, dict[tuple[str, ...], list[tuple[str, ...]]]] = {"mine": {}, "theirs": {}}
        for side, changes in self._sides.items():
            for path in changes:
                for length in range(1, len(path)):
                    self._within[side].setdefault(path[:length], []).append(path)

    def of(self, side: str, path: tuple[str, ...]) -> list[tuple[str, ...]]:
        """List what touches a change of a side on the other side."""
        other = "theirs" if side == "mine" else "mine"
        around = [path[:length] for length in range(1, len(path) + 1) if path[:length] in self._sides[other]]
        return [*around, *self._within[other].get(path, ()), *self._neighbours(side, path, other)]

    def beside(self, side: str, path: tuple[str, ...]) -> list[tuple[str, ...]]:
        """List what belongs to a change on its own side.

        That is a step that another one took the place of, and all that went or changed since a thing went.
        """
        with_it = gone_with(self._sides[side][path], self._sides[side].values())
        return [*(change.path for change in with_it), *self._neighbours(side, path, side)]

    def needed(self, side: str, path: tuple[str, ...]) -> list[tuple[str, ...]]:
        """List the removals on the same side without which a change would not have been made."""
        change = self._sides[side][path]
        return [
            there
            for there, other in self._sides[side].items()
            if other.after is None and len(there) == 2 and there != path and _let_go(change, there[1])
        ]

    def _neighbours(self, side: str, path: tuple[str, ...], other: str) -> list[tuple[str, ...]]:
        """List what was put in beside a step that goes, or the steps that go beside what was put in."""
        word, _, number = path[-1].partition(" ")
        if len(path) != 4 or path[2] != "path" or word not in {"step", "gap"}:
            return []
        place = int(number)
        if word == "gap":
            steps = [(*path[:3], f"step {step}") for step in (place, place + 1)]
            return [step for step in steps if step in self._sides[other] and self._sides[other][step].after is None]
        if self._sides[side][path].after is not None:
            return []
        gaps = [(*path[:3], f"gap {gap}") for gap in (place - 1, place)]
        return [gap for gap in gaps if gap in self._sides[other]]


def gone_with(change: Change, others: Iterable[Change]) -> list[Change]:
    """List, where a change removes a thing, what else went or changed because of it."""
    if change.after is not None or len(change.path) != 2:
        return []
    return [other for other in others if other.path != change.path and _let_go(other, change.path[1])]


def _let_go(change: Change, label: str) -> bool:
    """Tell whether a change took a label out of where it was named, alone or before what is joined to it."""
    return change.kind in {"removed", "changed"} and _names(change.before, label) and not _names(change.after, label)


def _names(node: Node, label: str) -> bool:
    if isinstance(node, dict):
        return any(_names(inner, label) for inner in node.values())
    if isinstance(node, list):
        return any(_names(inner, label) for inner in node)
    return isinstance(node, str) and (node == label or node.startswith((f"{label}.", f"{label}/")))
