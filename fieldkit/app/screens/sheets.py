"""Sheets: look at the pages for the crew, choose among them, and write them into a folder."""

from __future__ import annotations

from pathlib import Path

from textual.app import ComposeResult
from textual.message import Message

from fieldkit.app.dialogs.preview import WRITE, Preview
from fieldkit.app.dialogs.windows import ChoiceRow, Choose, TextQuestion
from fieldkit.app.screens.frame import MainScreen
from fieldkit.app.widgets.beside import WIDTH, Beside, Split
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.app.workbench import Workbench
from fieldkit.errors import UnusableError
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.sheets.collection import PAGES, make_page, make_pages, page_keys
from fieldkit.sheets.folder import FORMATS, count_text, files_of, write_files
from fieldkit.sheets.material import UNITS, Material, Units, material_of
from fieldkit.sheets.text import page_text
from fieldkit.show.errors import ShowError
from fieldkit.show.opening import open_show

FORMAT_WORDS = {
    "html": "one file with drawings, for a browser, a phone and a printer",
    "phone": "one file that takes a label and answers, dark, without a network",
    "text": "80 columns, for a terminal or a plain printer",
    "csv": "each table by itself, for a spreadsheet",
}


class Sheets(MainScreen):
    """The pages for the crew."""

    PURPOSE = "Put the show on paper: look at each page, choose which to write and how, and write them into a folder."
    WORDS = (
        ("sheet", "a page for the crew"),
        ("revision", "eight digits that follow from what is on a page: the same digits, the same page"),
        ("since", "an older file of this show: a page is added with what changed since"),
    )

    class Progress(Message):
        """How far the writing has come, or how it ended."""

        def __init__(self, text: str) -> None:
            super().__init__()
            self.text = text

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.chosen: dict[str, None] = dict.fromkeys(PAGES)
        self.formats: dict[str, None] = dict.fromkeys(FORMATS)
        self.units: Units | None = None
        """What the reader chose here; the show's own choice until then."""
        self.older: tuple[str, Material] | None = None
        self.folder = ""
        self._made: tuple[Rig, Units | None, Material] | None = None

    def body(self) -> ComposeResult:
        """Show the list of pages, with the page under the cursor beside it where there is room."""
        with Split():
            yield Rows(
                [ListColumn(""), ListColumn("page", minimum=10), ListColumn("what it is", share=1)],
                empty="no show is open",
            )
            yield Beside()

    def fill(self) -> None:
        """Show pages, formats and choices."""
        rows: list[Row] = []
        if self.session is not None:
            rows += [self._row("page", name, name in self.chosen, page.purpose) for name, page in PAGES.items()]
            rows += [self._row("format", name, name in self.formats, FORMAT_WORDS[name]) for name in FORMATS]
            rows.append(Row("units", ("", "units", f"{self._units()}; enter changes it")))
            since = Path(self.older[0]).name if self.older else "nothing older to compare with; enter names a file"
            rows.append(Row("since", ("", "since", since)))
        self.query_one(Rows).show([Row(row.key, tuple(map(self.bench.safe, row.cells)), row.mark) for row in rows])

    def _row(self, kind: str, name: str, chosen: bool, words: str) -> Row:  # noqa: FBT001
        return Row(f"{kind} {name}", ("yes" if chosen else "-", name, words), mark="" if chosen else "quiet")

    def _units(self) -> str:
        material = self._material()
        return {"typed": "lengths as typed, weights in kg"}.get(material.units, material.units) if material else ""

    def _material(self) -> Material | None:
        """Return the material of the pages, made anew only when the show or the units have changed."""
        session = self.session
        if session is None:
            return None
        if self._made is None or self._made[0] is not session.rig or self._made[1] != self.units:
            material = Material(session.rig, session.findings, self.units)
            self._made = (session.rig, self.units, material)
        return self._made[2]

    def _lines(self, name: str, width: int) -> tuple[str, ...]:
        """Write a page as text for the screen."""
        material = self._material()
        if material is None:
            return ()
        pages = (make_page(material, key) for key in page_keys(material, [name]))
        return tuple(self.bench.safe(line) for page in pages for line in page_text(page, width).split("\n"))

    def details_here(self) -> tuple[str, ...]:
        """Write the page of this row where it stands beside the list: it is only made when there is room for it."""
        kind, _, name = self.query_one(Rows).key.partition(" ")
        beside = not self.query_one(Beside).is_below
        return self._lines(name, WIDTH - 3) if kind == "page" and beside else ()

    def action_open(self) -> None:
        """Look at a page, or change a choice."""
        kind, _, name = self.query_one(Rows).key.partition(" ")
        if kind == "page":

            def back(last: str | None) -> None:
                page = (last or name).removeprefix(WRITE)
                self.query_one(Rows).move_to(f"page {page}")
                if last and last.startswith(WRITE):
                    self._ask_folder((page,))

            self.bench.push(Preview(tuple(PAGES), name, self._lines), back)
        elif kind == "format":
            self.action_mark()
        elif kind == "units":
            self.action_units()
        elif kind == "since":
            self.action_since()

    def action_card(self) -> None:
        """Look at a page."""
        if self.query_one(Rows).key.startswith("page "):
            self.action_open()

    def action_mark(self) -> None:
        """Take a page or a format, or leave it out."""
        kind, _, name = self.query_one(Rows).key.partition(" ")
        if kind not in {"page", "format"}:
            return
        picked = self.chosen if kind == "page" else self.formats
        if name in picked:
            del picked[name]
        else:
            picked[name] = None
        self.fill()
        self.query_one(Rows).action_step(1)

    def action_all(self) -> None:
        """Choose all pages, or none where all are chosen."""
        self.chosen = {} if len(self.chosen) == len(PAGES) else dict.fromkeys(PAGES)
        self.fill()

    def action_units(self) -> None:
        """Choose the units of lengths and weights."""
        options = [
            ChoiceRow("typed", ("as typed", "weights in kg")),
            ChoiceRow("metric", ("metric", "m and kg")),
            ChoiceRow("imperial", ("imperial", "ft and lb")),
        ]

        def chosen(answer: str | None) -> None:
            if answer in UNITS:
                self.units = answer
                self._compare_again()
                self.fill()

        if self.session is not None:
            self.bench.push(Choose("lengths and weights on paper", options), chosen)

    def _compare_again(self) -> None:
        """Have the older show in the same units: another unit is no change."""
        material = self._material()
        if self.older is not None and material is not None:
            name, older = self.older
            self.older = (name, Material(older.rig, older.findings, material.units))

    def action_since(self) -> None:
        """Ask for an older file of this show."""
        session = self.session
        if session is None:
            self.note("no show is open")
            return

        def look(text: str) -> str:
            if not text.strip():
                return "compare with nothing"
            older = open_show(Path(text.strip())).show
            return f"{older.about.name or 'unnamed show'}: {len(older.boxes)} boxes, {len(older.runs)} runs"

        def take(text: str) -> None:
            name, material = text.strip(), self._material()
            if name and material is not None:
                try:
                    self.older = (name, material_of(open_show(Path(name)).show, material.units))
                except ShowError as error:
                    self.note(f"! {error}")
                    return
            else:
                self.older = None
            self.fill()

        previous = session.path.with_name(f"{session.path.name}.bak")
        known = self.older[0] if self.older else (str(previous) if previous.exists() else "")
        self.bench.ask(TextQuestion("an older file of this show (empty: none)", known, look), take)

    def action_write(self) -> None:
        """Ask for a folder, and write."""
        session, material = self.session, self._material()
        if session is None or material is None:
            self.note("no show is open")
        elif not self.chosen or not self.formats:
            self.note("! choose at least one page and one format: m on its row")
        else:
            self._ask_folder(tuple(self.chosen))

    def _ask_folder(self, names: tuple[str, ...]) -> None:
        """Ask where to write these pages."""
        session = self.session
        if session is None:
            return
        if not self.formats:
            self.note("! choose at least one format: m on its row")
            return
        what = f"the page {names[0]}" if len(names) == 1 else "the pages"
        folder = self.folder or str(session.path.with_name(f"{session.path.stem}-sheets"))
        question = TextQuestion(f"write {what} into the folder", folder, _look_at_folder)
        self.bench.ask(question, lambda text: self._write(text, names))

    def _write(self, text: str, names: tuple[str, ...]) -> None:
        """Write in a thread, which tells how far it is."""
        material = self._material()
        if material is None:
            return
        self.folder = text.strip()
        folder, formats = Path(self.folder), tuple(self.formats)
        older = self.older[1] if self.older else None

        def work() -> None:
            self.post_message(self.Progress("making the pages"))
            try:
                files = files_of(make_pages(material, names, older), formats, material)
                done: list[str] = []

                def tell(name: str) -> None:
                    done.append(name)
                    self.post_message(self.Progress(f"writing {len(done)} of {len(files)}: {name}"))

                written = write_files(folder, files, tell)
            except ShowError as error:
                self.post_message(self.Progress(f"! {error.problem}"))
                return
            stale = f"; of an earlier time: {', '.join(written.stale)}" if written.stale else ""
            self.post_message(self.Progress(f"{count_text(written)} in {folder.name or folder}{stale}"))

        self.run_worker(work, thread=True, exclusive=True, group="sheets")

    def on_sheets_progress(self, event: Progress) -> None:
        """Say how far the writing has come."""
        self.note(event.text)


def _look_at_folder(text: str) -> str:
    """Say what will happen to a folder. Raises UnusableError where nothing can be written."""
    if not text.strip():
        raise UnusableError("expected the name of a folder")
    path = Path(text.strip())
    try:
        if path.is_dir():
            return f"it is there; pages of the same name are replaced, the rest stays: {path.absolute()}"
        if path.exists():
            raise UnusableError("this is a file; expected a folder")
    except OSError as error:
        raise UnusableError(f"no folder can be called so: {error.strerror}") from error
    return f"it will be made: {path.absolute()}"
