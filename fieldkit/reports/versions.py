"""What changed between two versions of a show, and what follows from it, as text and as an object."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fieldkit.gear.wording import to_plain
from fieldkit.reports.effects import CheckedRig, effects
from fieldkit.show.versions.changes import ORDER, Change
from fieldkit.show.versions.merging import Merged, Pick, settled
from fieldkit.text.style import Style

SAME = "the two shows say the same"


def diff_text(changes: Sequence[Change], before: CheckedRig, after: CheckedRig, style: Style) -> list[str]:
    """Write the changes, then what they bring."""
    if not changes:
        return [SAME]
    follows = effects(before, after, style)
    return [style.plain(line) for line in ("changed:", *(f"  {one.says}" for one in changes), "", "what follows:")] + [
        style.plain(f"  {line}") for line in follows
    ]


def diff_object(changes: Sequence[Change], before: CheckedRig, after: CheckedRig) -> dict[str, Any]:
    """Say the same for programs."""
    return {
        "changes": [change_object(change) for change in changes],
        "follows": list(effects(before, after, Style())) if changes else [],
    }


def change_object(change: Change) -> dict[str, Any]:
    """Describe one change: where, what kind, before and after as the file has them."""
    table, *inner = change.path if change.kind != "renamed" else change.path[1:]
    return {
        "kind": change.kind,
        "table": table,
        "path": [part.replace("\0", " ").strip() for part in inner if part != ORDER],
        "thing": change.thing,
        "field": change.field,
        "before": to_plain(change.before),
        "after": to_plain(change.after),
        "says": change.says,
    }


def decided(merged: Merged, every: str, single: Mapping[int, str]) -> tuple[Merged, list[str]]:
    """Decide what collides: by its number from 1, else all for one side, which may be empty for none.

    Also gives the names of all that came up, in their order; what comes up because of an answer has the next number.
    """
    numbered = [conflict.name for conflict in merged.conflicts]
    while True:
        sides = {name: single.get(number, every) for number, name in enumerate(numbered, start=1)}
        picks: dict[str, Pick] = {
            name: "theirs" if side == "theirs" else "mine" for name, side in sides.items() if side
        }
        merged = settled(merged, picks)
        new = [conflict.name for conflict in merged.conflicts if conflict.name not in numbered]
        if not new:
            return merged, numbered
        numbered += new
