"""Saving, and what others do to the same file: merge with it, follow it, take the show over; and leaving."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from fieldkit.app.dialogs.deciding import Deciding
from fieldkit.app.dialogs.windows import ChoiceRow, TextQuestion
from fieldkit.app.session import Session
from fieldkit.app.shell import Shell
from fieldkit.errors import UnusableError
from fieldkit.gear.library import find
from fieldkit.show.document import Show
from fieldkit.show.errors import ChangedError, ReadOnlyError, ShowError
from fieldkit.show.keep import copies
from fieldkit.show.keep.storage import create
from fieldkit.show.opening import Opened, open_show
from fieldkit.show.versions.changes import differences
from fieldkit.show.versions.merging import Merged, merge
from fieldkit.text.words import counted


def save(shell: Shell) -> None:
    """Write the show, or say what stands in the way."""
    if shell.session is None or shell.session.read_only:
        shell.say("this show is open to read only" if shell.session else "no show is open")
        return
    _save(shell, shell.session)


def _save(shell: Shell, session: Session, *, read_only_too: bool = False) -> None:
    try:
        session.save(read_only_too=read_only_too)
    except ChangedError:
        _changed_underneath(shell, session)
    except ReadOnlyError:
        lines = ["It is replaced all the same, and stays read only; the version before stands beside it as .bak."]
        shell.confirm("the file is read only", lines, lambda: _save(shell, session, read_only_too=True), yes="save")
    except ShowError as error:
        shell.say(f"! {error}")
    else:
        shell.say(f"saved: {session.path.name}")


def _changed_underneath(shell: Shell, session: Session) -> None:
    """Somebody else saved the file: make both one, or keep both, and ask which goes on."""
    try:
        opened = open_show(session.path)
        merged = merge(session.stored.show, session.present, opened.show, find)
    except ShowError as error:
        shell.say(f"! somebody else has saved this file, and it cannot be read now: {error}")
        return

    def chosen(answer: str) -> None:
        try:
            if answer == "both":
                _decide(shell, session, merged, opened)
            elif answer == "mine":
                session.save_over(opened)
                shell.say("saved; their version stands beside it as .bak")
            elif answer == "theirs":
                mine = copies.put_aside(session.path, session.text())
                session.take_version(opened)
                shell.say(f"their version is open; yours stands beside it as {mine.parent.name}/{mine.name}")
        except (ShowError, OSError) as error:
            shell.say(f"! {error}")

    collide = f"{len(merged.conflicts)} to decide" if merged.conflicts else "nothing collides"
    options = [
        ChoiceRow("both", ("make both one", f"{len(merged.theirs)} of theirs, {len(merged.mine)} of mine; {collide}")),
        ChoiceRow("mine", ("save mine", "theirs is kept beside it as .bak")),
        ChoiceRow("theirs", ("go on from theirs", "mine is kept in the folder of copies beside it")),
    ]
    shell.choose("somebody else has saved this file since it was read", options, chosen)


def _decide(shell: Shell, session: Session, merged: Merged, opened: Opened) -> None:
    def decided(show: Show | None) -> None:
        if show is not None:
            session.take_merge(show, opened)
            save(shell)

    shell.push(Deciding(merged, "mine, and what somebody else has saved"), decided)


def tell_of_others(shell: Shell, word: str, text: str) -> None:
    """Say what became of keeping, of the claim, or of the file, and follow what somebody else saved."""
    session = shell.session
    if session is None:
        return
    if word == "kept":
        shell.say(text)
    elif word == "taken":
        session.read_only = True
        who = text or "somebody else"
        shell.say(f"{who} took this show over: here it is read only now; ctrl+t takes it back")
        shell.show_changed()
    elif word == "other" and session.read_only:
        shell.say("nobody else has this show open any more: ctrl+t takes it over" if not text else f"{text} has it")
    elif word == "file":
        _follow(shell, session)


def _follow(shell: Shell, session: Session) -> None:
    """Show what somebody else saved, or say how to merge it."""
    try:
        opened = open_show(session.path)
    except ShowError as error:
        shell.say(f"! the file was changed by somebody else, and cannot be used now: {error}")
        return
    if opened.stored.text == session.stored.text:
        return
    if session.read_only and not session.dirty:
        what = tuple(change.says for change in differences(session.present, opened.show, find))
        session.follow(opened)
        shell.say(f"saved just now: {'; '.join(what)[:200] or 'only the layout of the file'}")
    else:
        over = "ctrl+t takes the show over, then " if session.read_only else ""
        shell.say(f"somebody else has saved this file: {over}ctrl+s merges")


def take_over(shell: Shell) -> None:
    """Become the one who may write this show."""
    session = shell.session
    if session is None or not session.read_only:
        shell.say("no show is open" if session is None else "this show is open to be edited already")
        return
    other = session.other()

    def take() -> None:
        says = session.take_over()
        if says:
            shell.say(f"! it could not be taken over: {says}")
            return
        shell.say("this show is yours to edit now")
        _follow(shell, session)

    if other is None:
        take()
        return
    lines = [f"It {'is' if other.alive else 'was'} open by {other.says}."]
    if other.alive:
        lines.append("They can only read from then on; what they have not saved is kept for them.")
    shell.confirm("take this show over", lines, take, yes="take it over")


def leave(shell: Shell) -> None:
    """Leave, asking when a fault is still being looked for, and when something is not saved."""
    trouble = shell.trouble
    if trouble is None or not trouble.seen:
        _leave_saved(shell)
        return
    answers = counted(len(trouble.seen), "answer")
    shell.confirm(
        f"a fault at {trouble.what} is still being looked for",
        [
            f"leaving drops {answers}",
            "a note (:) keeps in the log what was found, and 'fixed' in the menu closes the case",
        ],
        lambda: _leave_saved(shell),
        yes="leave",
    )


def _leave_saved(shell: Shell) -> None:
    if shell.session is None or not shell.session.dirty:
        _leave(shell)
        return

    def chosen(answer: str) -> None:
        if answer == "save":
            save(shell)
            if shell.session is not None and not shell.session.dirty:
                _leave(shell)
        elif answer == "drop":
            _leave(shell, drop=True)
        elif answer == "keep":
            shell.keep_unsaved()
            _leave(shell)

    options = [
        ChoiceRow("save", ("save and leave",)),
        ChoiceRow("keep", ("leave; unsaved work is offered at the next start",)),
        ChoiceRow("drop", ("leave and drop what is not saved",)),
    ]
    shell.choose("something is not saved", options, chosen)


def _leave(shell: Shell, *, drop: bool = False) -> None:
    if shell.session is not None:
        if drop:
            shell.session.forget_kept()
        shell.session.close()
    shell.app.exit()


EMPTY_SHOW = 'format = 2\n\n[show]\nname = "New show"\n'


def make_show(
    shell: Shell,
    name: str = "show.toml",
    content: str = EMPTY_SHOW,
    title: str = "name of the new file",
    then: Callable[[], object] | None = None,
) -> None:
    """Ask for a file name, write a new file, and open it; ``then`` comes after it."""

    def path_of(text: str) -> Path:
        typed = text.strip()
        return Path(typed if typed.endswith(".toml") else f"{typed}.toml")

    def look(text: str) -> str:
        if not text.strip():
            raise UnusableError("expected a name for the file")
        path = path_of(text)
        if os.path.exists(path):  # noqa: PTH110  (any text may stand here, one too long for a name too)
            raise UnusableError("there is such a file already")
        return f"{path.name} in {path.absolute().parent}"

    def make(text: str) -> None:
        path = path_of(text)
        try:
            create(path, content)
        except ShowError as error:
            shell.note(f"! {error}")
            return
        shell.open(path)
        if then is not None:
            then()

    shell.ask(TextQuestion(title, name, look), make)
