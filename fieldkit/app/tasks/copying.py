"""Boxes copied: another like each, or a whole side to the other after a look at what comes and what cannot."""

from __future__ import annotations

from collections.abc import Sequence

from fieldkit.app.dialogs.windows import ChoiceRow, Read
from fieldkit.app.shell import Shell
from fieldkit.show.edits import find, with_thing
from fieldkit.show.mirroring import Mirrored, across_like, mirrored, other_side


def copy_boxes(shell: Shell, names: Sequence[str]) -> bool:
    """Add a box like each of these, on the other side where its zone has two; none is on a run yet."""
    session = shell.session
    if session is None or not names:
        return False
    show, copies = session.present, []
    for name in names:
        copy = across_like(show, find(show, "boxes", name))
        show = with_thing(show, "boxes", copy)
        copies.append(copy.id)
    what = f"box {copies[0]} like {names[0]}" if len(copies) == 1 else f"{len(copies)} boxes ({' '.join(copies)})"
    done = shell.apply(f"{what} added", lambda: show)
    if done:
        shell.show_new("boxes", copies[0])
    return done


def mirror_side(shell: Shell, name: str, marked: Sequence[str]) -> None:
    """Copy the side of a box's zone, or the marked boxes of that side, after showing what is made."""
    session = shell.session
    if session is None:
        return
    show = session.present
    box = find(show, "boxes", name)
    if not box.side:
        shell.note(f"{name} is on no side: say first which one it is on")
        return
    names = [item.id for item in show.boxes if item.zone == box.zone and item.side == box.side]
    names = [item for item in names if item in marked] or names

    def to(side: str) -> None:
        _preview(shell, mirrored(show, names, box.side, side), f"{box.zone} {box.side} to {side}")

    across = other_side(show, box.zone, box.side)
    if across is not None:
        to(across)
        return
    sides = dict.fromkeys(item.side for item in show.boxes if item.side and item.side != box.side)
    if not sides:
        shell.note("no other side is in use: copy a box (c) and name its side")
        return
    shell.choose(f"{box.zone} {box.side}: to which side", [ChoiceRow(side, (side,)) for side in sides], to)


def _preview(shell: Shell, made: Mirrored, what: str) -> None:
    """Show what is made and left out; enter takes it."""
    if not made.boxes and not made.runs:
        shell.note(f"nothing to copy: {'; '.join(made.left_out)}")
        return
    lines = [f"boxes: {' '.join(made.boxes)}"]
    lines += [f"runs: {' '.join(made.runs)}"] if made.runs else ["runs: none"]
    lines += [f"not copied: {text}" for text in made.left_out]
    lines += shell.foretold(lambda: made.show)

    def taken(key: str | None) -> None:
        if key == "take" and shell.apply(f"{what} copied", lambda: made.show):
            shell.show_new("boxes", made.boxes[0])

    rows = [("take", "→ take it"), *(("", shell.safe(line)) for line in lines)]
    shell.push(Read(shell.safe(f"mirror {what}"), rows, "enter on → takes it   esc leaves"), taken)
