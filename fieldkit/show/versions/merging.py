"""Two versions of a show made one, by things and fields: what the two did apart is done, what collides is asked.

``merge(base, mine, theirs, library)`` gives a ``Merged``: the ``changes`` of both sides, each with the side that made
it (``mine``, ``theirs``, or ``both`` for one that both made alike), the ``conflicts``, ``remarks`` to be read, and
``show``, which always loads: where a conflict is open, it has *mine*. ``settled(merged, picks, without)`` gives the
merge with conflicts decided (name of a conflict -> ``mine`` or ``theirs``) and single changes left out (by their
names). Nothing is dropped without a word: what cannot stay without a change that was left out
goes too, and a remark says so. ``library`` is ``gear.library.find``; ``changes`` says why.

What collides: one field with two values; a thing removed here and edited there; a thing added twice under one id with
other fields; steps put into a run at one place, or beside a step that the other took out; another order of the same
rows; two changes each of which is sound, and which together leave a name that points nowhere.

Two rows without an id that both added alike (stock without a serial, a reading or an entry of the log without a
time) are one, since a show merged with itself is itself; a remark says so, for they may be meant as two.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Literal

import msgspec

from fieldkit.show.document import Show
from fieldkit.show.errors import DocumentError
from fieldkit.show.versions.changes import Change, Library, changed, levelled, renaming, words
from fieldkit.show.versions.colliding import collisions, gone_with, together
from fieldkit.show.versions.renames import Rename, followed, renames
from fieldkit.show.versions.weaving import Flaw, Weaver

Pick = Literal["mine", "theirs"]
Names = frozenset[tuple[str, ...]]

MOST_TRIED = 200
"""Changes that are tried one by one for what makes a name point nowhere; behind them the sides are asked as wholes."""


class Conflict(msgspec.Struct, frozen=True):
    """Changes of both sides that cannot both be: one side's are taken, and the other's left out."""

    name: str
    """Names it for ``settled``, whatever else is decided."""
    thing: str
    """In words: ``box ML2``."""
    field: str
    """In words; empty where it is about the whole thing."""
    base: str
    """What stood there, in words, and what each side did."""
    mine: str
    theirs: str
    why: str
    """What collides, in words."""
    of_mine: Names
    """Names of the changes that go where theirs is taken, and the other way round."""
    of_theirs: Names

    @property
    def says(self) -> str:
        """One line: ``box ML2 level: was -3 dB; mine: -6 dB; theirs: 0 dB (both changed it)``."""
        was = f"was {self.base}; " if self.base else ""
        return f"{self.thing} {self.field}".strip() + f": {was}mine: {self.mine}; theirs: {self.theirs} ({self.why})"


class Merged(msgspec.Struct, frozen=True):
    """Two versions made one, as far as decided."""

    show: Show
    changes: tuple[Change, ...]
    """Of both sides against the base, in the order of the file, also those that are left out."""
    conflicts: tuple[Conflict, ...]
    """Those that nobody has decided."""
    decided: tuple[Conflict, ...]
    remarks: tuple[str, ...]
    picks: Mapping[str, Pick]
    without: Names
    weaver: Weaver
    """What makes a show of some of the changes."""

    @property
    def mine(self) -> tuple[Change, ...]:
        """What mine changed."""
        return tuple(change for change in self.changes if change.side != "theirs")

    @property
    def theirs(self) -> tuple[Change, ...]:
        """What theirs changed."""
        return tuple(change for change in self.changes if change.side != "mine")


def merge(base: Show, mine: Show, theirs: Show, library: Library | None = None) -> Merged:
    """Make one show of two that came from one base. Raises DocumentError for a base that does not load."""
    if library is not None:
        base, mine, theirs = levelled(base, mine, theirs, library)
    of_mine, of_theirs = renames(base, mine), renames(base, theirs)
    # What a side renamed has its new label in all three, so that the other changes are seen beside that label.
    # What both renamed has mine's.
    labels = {(name.table, name.old): name.new for name in (*of_theirs, *of_mine)}
    other = (Rename(name.table, name.new, labels[name.table, name.old]) for name in of_theirs)
    theirs = followed(theirs, (name for name in other if name.old != name.new))
    only_theirs = [name for name in of_theirs if labels[name.table, name.old] == name.new and name not in of_mine]
    mine, theirs = followed(mine, only_theirs), followed(theirs, of_mine)
    weaver = Weaver(followed(followed(base, of_mine), only_theirs), mine, theirs, labels, library)
    changes = together(
        [*(renaming(name, "mine") for name in of_mine), *changed(weaver.base, weaver.mine, "mine")],
        [*(renaming(name, "theirs") for name in of_theirs), *changed(weaver.base, weaver.theirs, "theirs")],
    )
    return settled(Merged(base, changes, (), (), (), {}, frozenset(), weaver), {})


def settled(merged: Merged, picks: Mapping[str, Pick], without: Collection[tuple[str, ...]] = ()) -> Merged:
    """Decide the conflicts of a merge and leave single changes out; all anew, not on top of what was."""
    left_out = frozenset(without)
    remarks = list(_said_once(merged.changes))
    conflicts: dict[str, Conflict] = {}
    gone = set(left_out)
    for mine, theirs in collisions(change for change in merged.changes if change.name not in left_out):
        conflict = _conflict(mine, theirs)
        conflicts[conflict.name] = conflict
        gone |= _losers(conflict, picks)
    while True:
        applied = [change for change in merged.changes if change.name not in gone]
        show, flaws = merged.weaver.woven(applied)
        if show is not None and not flaws:
            break
        clash = _clash(merged.weaver, applied, flaws)
        if clash is not None and clash.name not in conflicts:
            conflicts[clash.name] = clash
            gone |= _losers(clash, picks)
            continue
        if not applied:
            raise DocumentError(f"the version that both came from cannot be used: {flaws[0].says}")
        more = _with_it(merged.weaver, applied, flaws)
        gone |= {change.name for change in more}
        remarks += [f"left out too: {change.says} ({flaws[0].says})" for change in more]
    return msgspec.structs.replace(
        merged,
        show=show,
        conflicts=tuple(one for one in conflicts.values() if one.name not in picks),
        decided=tuple(one for one in conflicts.values() if one.name in picks),
        remarks=tuple(remarks),
        picks=dict(picks),
        without=left_out,
    )


def _losers(conflict: Conflict, picks: Mapping[str, Pick]) -> Names:
    return conflict.of_mine if picks.get(conflict.name) == "theirs" else conflict.of_theirs


def _said_once(changes: Iterable[Change]) -> Iterable[str]:
    """Say which rows both sides added alike that nothing proves to be one."""
    for change in changes:
        proof = {"stock": "serial", "readings": "time", "log": "time"}.get(change.path[0])
        added = change.side == "both" and change.kind == "added" and len(change.path) == 2
        if proof and added and not change.after.get(proof):
            yield f"{change.thing} was added by both alike, and stands once; if two are meant, put in the other"


def _conflict(mine: list[Change], theirs: list[Change]) -> Conflict:
    """Put a collision into words."""
    first, other = mine[0], theirs[0]
    outer = min((*mine, *theirs), key=lambda change: (len(change.path), change.path))
    field, base = outer.field, ""
    if len(mine) > 1 or len(theirs) > 1 or first.path != other.path:
        says = ["; ".join(_did(change, outer.thing) for change in changes) for changes in (mine, theirs)]
        why = "one removed what the other changed"
        field = (
            field if len(outer.path) > 2 and all(change.field.startswith(field) for change in (*mine, *theirs)) else ""
        )
    elif first.kind == "renamed":
        says, field, why = [f"renamed to {change.after}" for change in (first, other)], "", "both renamed it"
    elif not first.field and isinstance(first.after, dict) and isinstance(other.after, dict):
        keys = [key for key in {**first.after, **other.after} if first.after.get(key) != other.after.get(key)]
        says = [words({key: change.after.get(key, "") for key in keys}) for change in (first, other)]
        why = "both added it, with other values"
    else:
        says, why = [_value(change) for change in (first, other)], "both changed it"
        if first.kind != "order" and not first.path[-1].startswith("gap "):
            base = words(first.before)
    return Conflict(
        name="\0".join(("field", *outer.path)),
        thing=outer.thing,
        field=field,
        base=base,
        mine=says[0],
        theirs=says[1],
        why=why,
        of_mine=frozenset(change.name for change in mine),
        of_theirs=frozenset(change.name for change in theirs),
    )


def _value(change: Change) -> str:
    if change.kind == "order":
        return " ".join(name.partition("\0")[0] for name in change.after)
    return words(change.after) if change.after is not None else "removed"


def _did(change: Change, thing: str) -> str:
    return change.says.removeprefix(f"{thing}: ").removeprefix(f"{thing} ")


def _clash(weaver: Weaver, applied: list[Change], flaws: tuple[Flaw, ...]) -> Conflict | None:
    """Find changes of both sides that load without one another; None where the first flaw is not of that kind."""
    flaw = flaws[0]
    for side, other in (("mine", "theirs"), ("theirs", "mine")):
        users = _touching(flaw, [change for change in applied if change.side == side])
        if not users or not _helps(weaver, applied, users, flaws):
            continue
        cause = _cause(weaver, applied, [change for change in applied if change.side == other], flaws)
        if cause is None:
            continue
        went = gone_with(cause, (change for change in applied if change.side == other))
        sides = {side: users, other: [cause, *went]}
        return Conflict(
            name="\0".join(("clash", *flaw.place)),
            thing=users[0].thing,
            field="",
            base="",
            mine="; ".join(change.says for change in sides["mine"]),
            theirs="; ".join(change.says for change in sides["theirs"]),
            why=f"together {flaw.says}",
            of_mine=frozenset(change.name for change in sides["mine"]),
            of_theirs=frozenset(change.name for change in sides["theirs"]),
        )
    return None


def _touching(flaw: Flaw, changes: Iterable[Change]) -> list[Change]:
    """List the changes of the row that a flaw is in; of those, the ones of its field where there are any."""
    row = [change for change in changes if change.path[: len(flaw.row)] == flaw.row]
    field = [change for change in row if len(change.path) > 2 and change.path[2] == flaw.field]
    return field or row


def _cause(weaver: Weaver, applied: list[Change], candidates: list[Change], flaws: tuple[Flaw, ...]) -> Change | None:
    """Find the change without which the first flaw is gone: best one that goes without another flaw."""
    # Most names point nowhere since what they named was removed.
    candidates = sorted(candidates, key=lambda change: change.after is not None)[:MOST_TRIED]
    for alone in (True, False):
        for change in candidates:
            if _helps(weaver, applied, [change], flaws, alone=alone):
                return change
    return None


def _helps(
    weaver: Weaver, applied: list[Change], without: list[Change], flaws: tuple[Flaw, ...], *, alone: bool = False
) -> bool:
    """Tell whether the first flaw is gone without some changes; ``alone``, without making others."""
    out = {change.name for change in without}
    show, left = weaver.woven(change for change in applied if change.name not in out)
    places = {flaw.place for flaw in left}
    if show is None or flaws[0].place in places:
        return False
    return not alone or places <= {flaw.place for flaw in flaws}


def _with_it(weaver: Weaver, applied: list[Change], flaws: tuple[Flaw, ...]) -> list[Change]:
    """List what has to go too, so that a show loads: what touches the flaw's row, or what made it one, or all."""
    users = _touching(flaws[0], applied)
    for some in (*([change] for change in users), users):
        if some and _helps(weaver, applied, some, flaws, alone=some != users):
            return some
    cause = _cause(weaver, applied, applied, flaws)
    return [cause] if cause is not None else list(applied)
