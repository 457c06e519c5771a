"""Overview: where the job stands, the findings, and the show in numbers; with no show, where to begin."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from pathlib import Path

from textual.app import ComposeResult

from fieldkit import samples
from fieldkit.app.addresses import Address
from fieldkit.app.screens.frame import MainScreen, finding_lines
from fieldkit.app.session import Session
from fieldkit.app.tour import Tour
from fieldkit.app.widgets.beside import Beside, Split
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.checks.checking import counts
from fieldkit.checks.finding import SEVERITIES
from fieldkit.checks.scope import EMPTY_PLAN, NO_FINDINGS, is_empty, scope_of, well
from fieldkit.reports.standing import NONE, standing
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.text.words import counted

WAYS = {
    "problems": "says what was looked at",
    "rig check": "goes to the first thing that is left: a line to meter, then noise, then polarity",
    "failed": "marks what failed, or puts it back",
    "doors": "says when they open",
}
"""Where the lines lead that are not about a part of the plan."""


class Overview(MainScreen):
    """Where one begins."""

    PURPOSE = (
        "Where the job stands: what is not planned, checked or back yet, each line a way to its place. Then what is "
        "wrong, worst first, and the show in numbers. With no show open: where to begin."
    )
    WORDS = (
        ("error", "the rig must not be used like this"),
        ("warning", "look at it before the doors"),
        ("note", "worth knowing"),
        ("finding", "something that the checks have to say, with the reason and a way out"),
    )

    def body(self) -> ComposeResult:
        """Show the list, with the whole text of a finding beside it where there is room."""
        with Split():
            yield Rows([ListColumn("", minimum=8), ListColumn("", minimum=8), ListColumn("", share=1)], empty="")
            yield Beside()

    def fill(self) -> None:
        """Show what to do next."""
        session = self.session
        self.query_one(Rows).show(self._begin() if session is None else self._next(session))

    def told_here(self) -> tuple[str, ...]:
        """Say the finding of this row whole."""
        session = self.session
        verb, _, rest = self.query_one(Rows).key.partition(" ")
        if (verb, rest) == ("stands", "problems") and session is not None and session.findings:
            return finding_lines(session.findings[0])
        if verb == "stands":
            row = next(row for row in self.query_one(Rows).rows if row.key == f"stands {rest}")
            return (": ".join(filter(None, row.cells)), f"   enter: {WAYS.get(rest, 'goes to the first of them')}")
        if verb != "finding" or session is None:
            return ()
        from fieldkit.planning.fixes.single_edits import curable

        item = session.findings[int(rest)]
        return (*finding_lines(item), *(("   enter: looks for a fix of one edit",) if curable(item) else ()))

    def action_failed(self) -> None:
        """Mark what this finding is about failed, or any unit or supply; or put one back."""
        from fieldkit.app.tasks.failing_over import mark_failed

        session = self.session
        verb, _, rest = self.query_one(Rows).key.partition(" ")
        names: list[str] = []
        if session is not None and verb == "finding":
            where = session.findings[int(rest)].where
            if where.kind in {"box", "output", "unit", "supply"}:
                names.append(where.id)
        mark_failed(self.bench, names)

    def _begin(self) -> list[Row]:
        rows = list(self._kept())
        rows.append(Row("new", ("new", "show file", "an empty show to plan in")))
        rows.append(
            Row("tour", ("tour", "ten steps", "a small hall is built, proved and put on paper, in a file of yours"))
        )
        rows += [
            Row(f"file {path}", ("show", path.name, "in this folder"))
            for path in sorted(Path.cwd().glob("*.toml"))[:40]
            if _is_show(path)
        ]
        rows += [
            Row(f"sample {name}", ("sample", name, "invented; a copy of your own is made of it"))
            for name in samples.names()
        ]
        return [Row(row.key, tuple(self.bench.safe(cell) for cell in row.cells)) for row in rows]

    def _kept(self) -> Iterator[Row]:
        """List the unsaved work of earlier times."""
        if every := self.bench.kept_work():
            from fieldkit.app.tasks.recovering import when

            for kept in every:
                where = f"{when(kept)}, in {kept.show_path.parent}"
                yield Row(f"kept {kept.file}", ("unsaved", kept.show_path.name, where))

    def _next(self, session: Session) -> list[Row]:
        rows = list(self._stands(session))
        for place, item in enumerate(session.findings):
            cells = (item.severity, item.where.id, item.says)
            rows.append(
                Row(f"finding {place}", cells, mark=item.severity if item.severity in {"error", "warning"} else "")
            )
        show, rig = session.present, session.rig
        rows += self._scope(rig)
        boxes = len(show.boxes)
        weight = sum(speaker.weight.value for speaker in rig.show_index.speakers.values() if speaker.weight)
        text = f"boxes {boxes}, lines {len(rig.lines)}, amplifiers {len(rig.amplifiers)}; boxes weigh {weight:.0f} kg"
        rows.append(Row("numbers", ("numbers", "", text)))
        return [Row(row.key, tuple(self.bench.safe(cell) for cell in row.cells), row.mark) for row in rows]

    def _stands(self, session: Session) -> Iterator[Row]:
        """Say where the job stands: problems, what is not planned yet, the rig check, what failed, the doors."""
        number = counts(session.findings)
        said = f"{counted(number['errors'], 'error')}, {counted(number['warnings'], 'warning')}"
        said += f", {counted(number['notes'], 'note')}"
        worst = next((word for word in SEVERITIES if number[f"{word}s"]), "")
        if not session.findings:
            said = EMPTY_PLAN if is_empty(session.rig) else NO_FINDINGS
        state = counted(number[f"{worst}s"], worst) if worst else NONE
        yield Row("stands problems", ("problems", state, said), worst if worst != "note" else "")
        for item in standing(session.rig):
            mark = "quiet" if item.is_done else "warning" if item.word == "failed" else ""
            yield Row(f"stands {item.word}", (item.word, item.state, item.says), mark)
        doors = self.bench.doors
        at = f"{doors.at:%H:%M}" if doors.at is not None else ""
        yield Row("stands doors", ("doors", at, doors.says or "nobody has said when they open"))

    def _scope(self, rig: Rig) -> list[Row]:
        """Say what was checked and what was not, in as many rows as that takes here."""
        scope, width = scope_of(rig), max(20, self.app.size.width - 24)
        told = (("checked", scope.checked), ("not planned", scope.not_checked)) if not is_empty(rig) else ()
        return [
            Row(f"scope {word} {number}", ("" if number else word, "", line), "quiet")
            for word, subjects in told
            for number, line in enumerate(textwrap.wrap(", ".join(subjects), width))
        ]

    def action_open(self) -> None:
        """Show a finding, or open a show."""
        verb, _, rest = self.query_one(Rows).key.partition(" ")
        session = self.session
        if verb == "finding" and session is not None:
            self.bench.show_finding(session.findings[int(rest)])
        elif verb == "file":
            self.bench.open(Path(rest))
        elif verb == "kept":
            from fieldkit.app.tasks.recovering import open_kept

            open_kept(self.bench, Path(rest))
        elif verb == "sample":
            from fieldkit.app.tasks.saving import make_show

            text = (samples.folder() / f"{rest}.toml").read_text(encoding="utf-8")
            make_show(self.bench, f"{rest}.toml", text, "the sample is copied; name of your copy")
        elif verb == "tour":
            self.action_tour()
        elif verb == "new":
            self.action_new()
        elif verb == "numbers":
            self.action_edit_show()
        elif verb == "stands" and session is not None:
            self._go_on(session, rest)

    def _go_on(self, session: Session, word: str) -> None:
        """Go to where a line of the state leads."""
        if word == "problems":
            if session.findings:
                self.bench.show_finding(session.findings[0])
            else:
                self.note(well(session.rig))
        elif word == "doors":
            from fieldkit.app.tasks.fault_search import ask_doors

            ask_doors(self.bench)
        elif word == "failed":
            self.action_failed()
        else:
            item = next(item for item in standing(session.rig) if item.word == word)
            self.bench.go_to(item.screen, then=lambda screen: screen.show_new(item.table, item.name))

    def action_edit_show(self) -> None:
        """Edit what is true of the whole show."""
        if self.session is not None:
            self.bench.edit_at(Address("show", ""))

    def action_tour(self) -> None:
        """Begin the tour in a new file, or end it."""
        from fieldkit.app.tasks.saving import make_show

        bench = self.bench
        if bench.tour is not None:
            bench.tour = None
            self.renew()
            return

        def begin() -> None:
            bench.tour = Tour()
            bench.show_changed()

        make_show(bench, "tour-hall.toml", title="the tour builds a hall: name of its file", then=begin)

    def action_add(self) -> None:
        """Add anything to the show, or begin with a new file where none is open."""
        if self.session is None:
            self.action_new()
        else:
            self.bench.add_one_of(("zones", "boxes", "rack_units", "runs", "racks", "supplies", "stock"))

    def action_card(self) -> None:
        """Show the card of the thing that this finding is about."""
        session = self.session
        verb, _, rest = self.query_one(Rows).key.partition(" ")
        if verb == "finding" and session is not None:
            where = session.findings[int(rest)].where
            self.bench.show_card(where.kind, where.id)

    def action_why(self) -> None:
        """Show the finding of this row whole."""
        if self.query_one(Rows).key.startswith("finding "):
            self.action_open()

    def action_new(self) -> None:
        """Make a new show file and open it."""
        from fieldkit.app.tasks.saving import make_show

        make_show(self.bench)

    def action_recover(self) -> None:
        """Show what unsaved work differs in, and take or drop it."""
        from fieldkit.app.tasks.recovering import open_kept, show_kept

        if self.session is not None:
            show_kept(self.bench)
            return
        verb, _, rest = self.query_one(Rows).key.partition(" ")
        if verb == "kept":
            open_kept(self.bench, Path(rest))
        else:
            self.note("put the cursor on unsaved work first: it stands on top, where there is any")


def _is_show(path: Path) -> bool:
    """Tell a show file from other TOML by its first lines."""
    try:
        with path.open(encoding="utf-8") as file:
            return any(line.startswith("format") for _, line in zip(range(20), file, strict=False))
    except (OSError, UnicodeDecodeError):
        return False
