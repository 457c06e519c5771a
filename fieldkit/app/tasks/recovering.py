"""Unsaved work of an earlier time: what is in it, what was saved since, and the two made one; or a file of its own."""

from __future__ import annotations

import os
import time
import tomllib
from collections.abc import Sequence
from pathlib import Path

from fieldkit.app.dialogs.deciding import Deciding
from fieldkit.app.dialogs.windows import ChoiceRow, Choose, Read, TextQuestion
from fieldkit.app.shell import Shell
from fieldkit.errors import UnusableError
from fieldkit.gear.library import find
from fieldkit.show.decoding import decode
from fieldkit.show.document import Show
from fieldkit.show.errors import FileError, ShowError
from fieldkit.show.keep import recovery
from fieldkit.show.keep.journal import Kept
from fieldkit.show.keep.storage import create
from fieldkit.show.versions.merging import Merged, merge
from fieldkit.show.writing import BYTE_ORDER_MARK
from fieldkit.text.words import counted


def show_kept(shell: Shell, place: int = 0) -> None:
    """Show unsaved work of the open show, the newest first, and take or drop it."""
    session = shell.session
    every = shell.kept_work() if session is not None else ()
    if session is None or not every:
        shell.say("there is no unsaved work of this show")
        return
    kept = every[place % len(every)]
    merged = _merged(shell, kept, session.present)
    lines = [("take", "→ take this unsaved work (undo leads back)")] if merged is not None else []
    lines += [("drop", "→ drop it")]
    if len(every) > 1:
        lines += [("next", f"→ another time's: there are {len(every)}")]
    lines += [("", ""), *(("", shell.safe(line)) for line in (_contents(merged) if merged is not None else ()))]

    def chosen(answer: str | None) -> None:
        if answer == "next":
            show_kept(shell, place + 1)
        elif answer == "drop":
            _drop(shell, kept)
        elif answer == "take" and merged is not None:
            _decide(shell, kept, merged)

    title = f"unsaved work, kept {when(kept)}"
    shell.push(Read(title, lines, "enter on → takes or drops   esc leaves it for later"), chosen)


def open_kept(shell: Shell, file: Path) -> None:
    """Open the show that unsaved work is of; where it is gone, offer the work as a file of its own."""
    kept = next((kept for kept in shell.kept_work() if kept.file == file), None)
    if kept is None:
        shell.say("it was answered meanwhile")
        return
    if kept.show_path.exists():
        shell.open(kept.show_path)
        return

    def chosen(answer: str | None) -> None:
        if answer == "drop":
            _drop(shell, kept)
        elif answer == "write":
            shell.ask(
                TextQuestion("name of the file for it", str(_free_name(kept.show_path)), _look),
                lambda text: write(Path(text)),
            )

    def write(path: Path) -> None:
        try:
            create(path, kept.text)
            recovery.drop(kept)
        except ShowError as error:
            shell.say(f"! {error}")
            return
        shell.open(path)

    options = [ChoiceRow("write", ("write it as a new file, and open that",)), ChoiceRow("drop", ("drop it",))]
    shell.push(Choose(f"{kept.show_path.name} is gone from {kept.show_path.parent}", options), chosen)


def when(kept: Kept) -> str:
    """Say when work was kept, as a clock on the wall and a calendar."""
    return time.strftime("%d %b %H:%M", time.localtime(kept.time))


def _merged(shell: Shell, kept: Kept, present: Show) -> Merged | None:
    try:
        base, mine = (_decoded(text) for text in (kept.head.base, kept.text))
        return merge(base, mine, present, find)
    except ShowError as error:
        shell.say(f"! the unsaved work cannot be read: {error}")
        return None


def _decoded(text: str) -> Show:
    try:
        return decode(tomllib.loads(text.removeprefix(BYTE_ORDER_MARK)))
    except tomllib.TOMLDecodeError as error:
        raise FileError(str(error)) from error


def _contents(merged: Merged) -> Sequence[str]:
    """Say what the work holds, what was saved meanwhile, and what of them collides."""
    lines = [f"unsaved: {counted(len(merged.mine), 'change')}", *(f"  {change.says}" for change in merged.mine)]
    if merged.theirs:
        lines += ["", f"in the show since then: {counted(len(merged.theirs), 'change')}"]
        lines += [f"  {change.says}" for change in merged.theirs]
    if merged.conflicts:
        lines += [
            "",
            "both changed, and asked when it is taken:",
            *(f"  {conflict.says}" for conflict in merged.conflicts),
        ]
    return [*lines, *merged.remarks]


def _decide(shell: Shell, kept: Kept, merged: Merged) -> None:
    """Take the work, once what collides is decided."""
    if not merged.conflicts:
        _take(shell, kept, merged.show)
        return

    def decided(show: Show | None) -> None:
        if show is None:
            shell.say("the unsaved work waits: nothing was taken")
        else:
            _take(shell, kept, show)

    title = "unsaved work, and what the show is now"
    shell.push(Deciding(merged, title, mine="unsaved", theirs="the show"), decided)


def _take(shell: Shell, kept: Kept, show: Show) -> None:
    """Take the work as one step, and forget it elsewhere once this session has kept it."""
    session = shell.session
    if session is None:
        return
    if session.read_only:
        shell.say("this show is open to read only: ctrl+t takes it over, and then the work can be taken")
        return
    done = shell.apply("unsaved work of an earlier time taken", lambda: show)
    if not done and session.present != show:
        return  # it said why
    try:
        session.keep_unsaved()
        recovery.drop(kept)
    except ShowError as error:
        shell.say(f"! {error}")
    if not done:
        shell.say("all of it is in the show already")


def _drop(shell: Shell, kept: Kept) -> None:
    try:
        recovery.drop(kept)
    except ShowError as error:
        shell.say(f"! {error}")
    else:
        shell.say("the unsaved work was dropped")
    shell.show_changed()


def _look(text: str) -> str:
    path = Path(text.strip())
    if os.path.exists(path):  # noqa: PTH110  (any text may stand here, one too long for a name too)
        raise UnusableError("there is such a file already")
    if not os.path.isdir(path.absolute().parent):  # noqa: PTH112  (as above)
        raise UnusableError(f"there is no folder '{path.absolute().parent}'")
    return f"in {path.absolute().parent}"


def _free_name(path: Path) -> Path:
    """Propose the name that it had, in its folder if that still stands, else here."""
    return path if path.parent.is_dir() else Path(path.name)
