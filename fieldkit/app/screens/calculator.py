"""Calculator: expressions with units, a tape of results, forms for every formula."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Input

from fieldkit.app.dialogs.windows import ChoiceRow, Choose, Read
from fieldkit.app.screens.frame import MainScreen
from fieldkit.app.tape import TapeEntry, expression_help
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.app.widgets.typed_line import TextQuestion, TypedLine
from fieldkit.errors import UnusableError


class Calculator(MainScreen):
    """A tape of calculations."""

    BINDINGS = [Binding("escape", "leave_field", show=False)]
    FIELD_KEYS = (("enter", "take"), ("tab", "finish the word"), ("up", "earlier"), ("esc", "keys of the tape"))

    PURPOSE = (
        "Calculate with units: sqrt(500 W * 8 ohm), cable_loss(30 m, 2.5 mm², 8 ohm), 4 dBu in V; or fill in a formula."
    )
    WORDS = (
        ("tape", "the results so far, the newest on top"),
        ("form", "a formula with its fields; the one left blank is found"),
    )

    def body(self) -> ComposeResult:
        """Show the list of results, and the field that has the keys on arrival."""
        yield Rows(
            [ListColumn("result", minimum=10, right=True, decimal=True), ListColumn("expression", share=1)],
            empty="no results yet: type an expression with units below",
        )
        yield TypedLine(self._question())

    def fill(self) -> None:
        """Show the tape, the newest on top."""
        rows = [
            Row(str(place), (self.bench.safe(entry.text), self.bench.safe(entry.expression)))
            for place, entry in enumerate(self.bench.tape)
        ]
        self.query_one(Rows).show(rows[::-1])

    def _question(self, text: str = "") -> TextQuestion:
        return TextQuestion("", text, self._look, help=expression_help(self.bench.tape))

    def begin(self) -> None:
        """Begin in the field: whoever comes here wants to type."""
        self.query_one(TypedLine).begin()

    def action_open(self, text: str = "") -> None:
        """Type an expression."""
        line = self.query_one(TypedLine)
        line.ask(self._question(text))
        line.begin()

    def action_leave_field(self) -> None:
        """Give the keys to the tape."""
        self.set_focus(self.query_one(Rows))

    @property
    def takes_whole_text(self) -> bool:
        """A question mark is a key as long as it is the first in the field."""
        return bool(self.query_one(Input).value)

    async def on_typed_line_help_asked(self) -> None:
        """Open the menu, as ``?`` does everywhere."""
        self.query_one(TypedLine).ask(self._question())
        await self.app.run_action("app.menu")

    def on_typed_line_submitted(self, event: TypedLine.Submitted) -> None:
        """Put the result on the tape, and go on typing."""
        self._keep(event.text)
        self.query_one(TypedLine).ask(self._question())

    def _entry(self, text: str) -> TapeEntry:
        """Work out an expression, and say which formulas it took."""
        from fieldkit.calculator import evaluate

        expression, word, unit = text.rpartition(" in ")
        # "5 ft 3 in" ends in a unit and not in a conversion.
        converted = bool(word and unit.strip() and expression.strip())
        asked = (expression, unit.strip()) if converted else (text,)
        result = evaluate(*asked, ascii_only=self.bench.terminal.ascii_only)
        why: list[str] = []
        for used in result.used:
            inputs = ", ".join(f"{label} {number:g} {unit}".rstrip() for label, number, unit in used.inputs)
            why += [
                f"{used.name}: {used.value:.6g} {used.unit}",
                f"  {used.formula}",
                f"  with {inputs}",
                f"  source: {used.source}",
                "",
            ]
        return TapeEntry(text, result.text, f"{result.value:.6g} {result.unit}".rstrip(), tuple(why))

    def _look(self, text: str) -> str:
        if not text.strip():
            raise UnusableError("an expression such as sqrt(500 W * 8 ohm), or 4 dBu in V")
        return f"= {self._entry(text).text}"

    def _keep(self, text: str) -> None:
        self.bench.tape.append(self._entry(text))
        self.renew()
        self.query_one(Rows).action_edge(0)

    def action_copy(self) -> None:
        """Type an expression of the tape again."""
        key = self.query_one(Rows).key
        if key:
            self.action_open(self.bench.tape[int(key)].expression)

    def action_remove(self) -> None:
        """Take a result off the tape."""
        key = self.query_one(Rows).key
        if key:
            del self.bench.tape[int(key)]
            self.renew()

    def action_why(self) -> None:
        """Show the formulas behind a result."""
        key = self.query_one(Rows).key
        if not key:
            return
        lines = self.bench.tape[int(key)].why
        if lines:
            self.bench.push(Read("where it comes from", [("", self.bench.safe(line)) for line in lines]))
        else:
            self.note("arithmetic with units, by definition")

    def action_add(self) -> None:
        """Choose a formula to fill in."""
        from fieldkit.calculator.listing import listing

        options = [
            ChoiceRow(entry.name, (entry.name, entry.title)) for entry in listing() if entry.subject != "mathematics"
        ]
        self.bench.push(Choose("which formula", options), lambda name: self._form(name) if name else None)

    def _form(self, name: str) -> None:
        from fieldkit.app.dialogs.form import FormulaForm

        def take(answer: str | None) -> None:
            if answer:
                expression, _, text = answer.partition("\0")
                self.bench.tape.append(TapeEntry(expression, text, text))
                self.renew()

        self.bench.push(FormulaForm(name, self.bench.tape), take)
