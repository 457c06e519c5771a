"""Two versions of one show: what changed, and both made one."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path

from fieldkit.commands.command import CommandLine, UsageError
from fieldkit.commands.output import DONE, FOUND, note, one_line, print_json, print_lines, style_of_output
from fieldkit.commands.shows import named_as_typed, open_named


def diff(given: CommandLine) -> int:
    """Print what changed between two versions of a show, and what follows."""
    from fieldkit.checks.checking import check
    from fieldkit.gear.library import find, trouble
    from fieldkit.reports.effects import CheckedRig
    from fieldkit.rig.solve.evaluation import evaluate
    from fieldkit.show.versions.changes import differences

    old, new = (open_named(name) for name in given.words)
    note(trouble())
    changes = differences(old.stored.show, new.stored.show, find)
    rigs = [evaluate(opened.show) for opened in (old, new)]
    before, after = (CheckedRig(rig, check(rig)) for rig in rigs)
    if "--json" in given:
        from fieldkit.reports.versions import diff_object

        print_json(diff_object(changes, before, after))
    else:
        from fieldkit.reports.versions import diff_text

        print_lines(diff_text(changes, before, after, style_of_output()))
    return DONE


def merge(given: CommandLine) -> int:
    """Make two versions of a show one; FOUND, and nothing written, while something collides."""
    from fieldkit.gear.library import find
    from fieldkit.reports.versions import decided
    from fieldkit.show.document import Show
    from fieldkit.show.keep.storage import write_text
    from fieldkit.show.versions.merged_text import merged_text
    from fieldkit.show.versions.merging import merge

    names = given.words
    every, single = _take(given.values("--take"))
    # Git gives an empty file where there was none that both came from.
    none_before = os.path.isfile(names[0]) and not Path(names[0]).stat().st_size  # noqa: PTH113 - any name may be typed
    base = Show() if none_before else open_named(names[0]).stored.show
    mine, theirs = (open_named(name).stored for name in names[1:])
    merged, numbered = decided(merge(base, mine.show, theirs.show, find), every, single)
    wrong = [number for number in single if not 1 <= number <= len(numbered)]
    if wrong:
        raise UsageError(f"--take: there is no number {wrong[0]}; {len(numbered)} to decide")
    style = style_of_output()
    for remark in merged.remarks:
        note(remark)
    if merged.conflicts:
        for conflict in merged.conflicts:
            print(f"{numbered.index(conflict.name) + 1}: {one_line(conflict.says)}", file=sys.stderr)
        note(
            f"nothing is written: {len(merged.conflicts)} to decide, by --take mine, --take theirs, or --take 1=theirs"
        )
        return FOUND
    out = given.value("-o")
    if out is None:
        print_lines(style.plain(f"{change.side}: {change.says}") for change in merged.changes)
        return DONE
    with named_as_typed(out):
        write_text(Path(out), merged_text(merged.show, mine, theirs), keep_before=False)
    return DONE


def _take(words: Sequence[str]) -> tuple[str, dict[int, str]]:
    """Read what is to be taken: a side for all, and sides by number."""
    every, single = "", {}
    for word in words:
        number, equals, side = word.rpartition("=")
        if side not in {"mine", "theirs"} or (equals and not (number.isascii() and number.isdecimal())):
            raise UsageError(
                f"--take: expected mine, theirs, or a number with one of them such as 1=mine, got '{word}'"
            )
        if equals:
            single[int(number)] = side
        else:
            every = side
    return every, single
