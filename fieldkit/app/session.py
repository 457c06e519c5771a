"""The one owner of the show that is open: every change goes through here, every screen reads from here.

It knows nothing of screens. What the program shows is a function of ``present``, ``rig`` and ``findings``.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import msgspec

from fieldkit.checks.checking import check
from fieldkit.checks.finding import Finding
from fieldkit.rig.solve.evaluation import Evaluator, Rig
from fieldkit.show.document import Show
from fieldkit.show.errors import DocumentError
from fieldkit.show.history import History
from fieldkit.show.keep import claims
from fieldkit.show.keep.keeping import Keeper
from fieldkit.show.keep.storage import Stored, save
from fieldkit.show.opening import Opened
from fieldkit.show.references import problems
from fieldkit.show.writing import updated
from fieldkit.text.style import Style


class Session:
    """A show that is open, with its history, its rig and its findings."""

    def __init__(
        self,
        opened: Opened,
        claimed: claims.ClaimAnswer | None = None,
        tell: Callable[[str, str], None] = lambda _word, _text: None,
    ) -> None:
        """Work on a show that was opened, and claimed unless nobody else could have it open.

        ``tell`` is called from another thread, with a word and a text: ``kept`` and what became of keeping unsaved
        work; ``file`` where the file is another one now; ``taken`` and who took the show over; ``other`` and who has
        it, empty once nobody has.
        """
        self.stored: Stored = opened.stored
        self.claimed = claimed
        self.read_only = claimed is not None and claimed.other is not None
        """Whether somebody else has it open."""
        held = claimed.held if claimed is not None else None
        self._keeper = Keeper(self.path, held, tell, watch=claimed is not None)
        self.history = History(opened.show)
        self._evaluator = Evaluator()
        self._subscribers: list[Callable[[], None]] = []
        self.rig: Rig
        self.findings: tuple[Finding, ...]
        self._work_out()

    @property
    def present(self) -> Show:
        """The show as it is now."""
        return self.history.present

    @property
    def path(self) -> Path:
        """The file it was read from."""
        return self.stored.path

    @property
    def dirty(self) -> bool:
        """Whether there is something to save."""
        return self.history.dirty

    def subscribe(self, subscriber: Callable[[], None]) -> None:
        """Be told after every change."""
        self._subscribers.append(subscriber)

    def apply(self, label: str, show: Show, field: str = "") -> bool:
        """Take a new value of the show; the label says what was done, for undo.

        Raises DocumentError, and changes nothing, for a value whose ids do not hold or that may only be read.
        """
        if self.read_only:
            raise DocumentError("this show is open to read only")
        for _, thing, says in problems(show, sound=self.present):
            raise DocumentError(says, thing=thing)
        if not self.history.apply(label, show, field):
            return False
        self._changed()
        return True

    def preview(self, show: Show) -> Rig:
        """Work out what a show would be, without taking it. Raises DocumentError where its ids do not hold."""
        for _, thing, says in problems(show, sound=self.present):
            raise DocumentError(says, thing=thing)
        return Evaluator(self.rig).evaluate(show)

    def effects(self, show: Show, style: Style) -> tuple[str, ...]:
        """Say what a show would bring, without taking it. Raises DocumentError where its ids do not hold."""
        from fieldkit.reports.effects import CheckedRig, effects_of

        for _, thing, says in problems(show, sound=self.present):
            raise DocumentError(says, thing=thing)
        return effects_of(CheckedRig(self.rig, self.findings), show, style)

    def undo(self) -> str:
        """Go back one step and say what was undone; empty when there is nothing."""
        label = self.history.undo()
        if label:
            self._changed()
        return label

    def redo(self) -> str:
        """Go forth one step and say what was done again; empty when there is nothing."""
        label = self.history.redo()
        if label:
            self._changed()
        return label

    def save(self, *, read_only_too: bool = False) -> None:
        """Write the show to its file. Raises ChangedError, ReadOnlyError, FileError; nothing is lost then."""
        held = self._keeper.held
        if held is not None and not held.is_ours():
            self.read_only = True
            raise DocumentError("somebody else took this show over, and nothing was saved; your work is kept")
        self.stored = save(self.stored, self.present, read_only_too=read_only_too)
        self.history.mark_saved()
        self._keeper.seen()
        self._keeper.answered()
        self._tell()

    def keep_unsaved(self) -> bool:
        """See that unsaved work is kept, if there is any. Raises FileError."""
        if not self.dirty:
            return False
        self._keeper.flush()
        return True

    def forget_kept(self) -> None:
        """Drop what was kept of this session, since it is not wanted."""
        self._keeper.answered()

    def close(self) -> None:
        """Release the lock of the file, and keep unsaved work for the next start."""
        self._keeper.close()

    def other(self) -> claims.ShowClaim | None:
        """Tell who else has the show open, or had when it was opened, and is gone."""
        known = self.claimed.other if self.claimed is not None else None
        try:
            now = claims.look(self.path)
        except OSError:
            return known
        return now or (msgspec.structs.replace(known, alive=False) if known is not None else None)

    def take_over(self) -> str:
        """Become the one who may write, from whoever has the show; says in words who still has it, or why not."""
        answer = claims.claim(self.path, over=self.other())
        if answer.held is None and (answer.other is not None or not self.read_only):
            return answer.other.says if answer.other is not None else answer.problem
        self.claimed, self.read_only = answer, False
        self._keeper.held = answer.held
        self._tell()
        return ""

    def follow(self, opened: Opened) -> None:
        """Show what somebody else saved, in place of what was read before."""
        self.stored = opened.stored
        self.history = History(opened.show)
        self._changed()

    def text(self) -> str:
        """Return the text that saving would write."""
        return _text_of(self.stored, self.present, dirty=self.dirty)

    def take_version(self, opened: Opened) -> None:
        """Go on from another version of the file, which somebody else saved; undo leads back to one's own."""
        self.stored = opened.stored
        self.history.apply("the version of somebody else", opened.show)
        self.history.mark_saved()
        self._changed()

    def take_merge(self, show: Show, opened: Opened) -> None:
        """Go on from one's own work and another version of the file made one, in one step; nothing is written yet."""
        self.stored = opened.stored
        self.history.apply("made one with what somebody else saved", show)
        self.history.saved = opened.show
        self._changed()

    def save_over(self, opened: Opened) -> None:
        """Write one's own version over the one that somebody else saved, which stays beside it as ``.bak``."""
        self.stored = opened.stored
        self.save()

    def _changed(self) -> None:
        # What the keeper is given cannot change any more, so that it may work the text out in its own time.
        stored, present, dirty = self.stored, self.present, self.dirty
        self._keeper.edited(stored.text, lambda: _text_of(stored, present, dirty=dirty))
        self._work_out()
        self._tell()

    def _work_out(self) -> None:
        self.rig = self._evaluator.evaluate(self.present)
        self.findings = check(self.rig)

    def _tell(self) -> None:
        for subscriber in self._subscribers:
            subscriber()


def _text_of(stored: Stored, show: Show, *, dirty: bool) -> str:
    """Return the text that saving would write: the file as it is where nothing was edited."""
    return updated(stored.text, stored.show, show) if dirty else stored.text
