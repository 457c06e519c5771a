"""The form of a formula: a row a field; the one that is left blank is found as soon as the others are there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical

from fieldkit.app.action_table import actions_at
from fieldkit.app.actions import bindings
from fieldkit.app.dialogs.windows import Ask, Dialog, TextQuestion
from fieldkit.app.tape import TapeEntry, expression_help
from fieldkit.app.widgets.key_bar import KeyBar
from fieldkit.app.widgets.lines import TextLine
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.calculator.errors import CalculatorError
from fieldkit.calculator.listing import RESULT, fill
from fieldkit.calculator.names import formulas
from fieldkit.calculator.naming import describe
from fieldkit.formulas.declaration import specification


class FormulaForm(Dialog[str]):
    """Fields of one formula."""

    BINDINGS: ClassVar = [*bindings("form", actions_at("form")), Binding("escape", "leave", "back", show=True)]

    def __init__(self, name: str, tape: Sequence[TapeEntry]) -> None:
        super().__init__()
        self.tape = tape
        self.spec = specification(formulas()[name])
        self.fields = dict.fromkeys((*(item.label for item in self.spec.parameters), RESULT), "")
        self.found: tuple[str, str] | None = None

    def compose(self) -> ComposeResult:
        """Lay out title, fields, and what was found."""
        with Vertical():
            yield TextLine(f"{self.spec.name}: {self.spec.title}", classes="title")
            yield TextLine(self.spec.formula, classes="hint")
            yield Rows(
                [
                    ListColumn("field", minimum=10),
                    ListColumn("value", minimum=14),
                    ListColumn("unit"),
                    ListColumn("", share=1),
                ]
            )
            yield TextLine(id="said")
            yield KeyBar()

    def on_mount(self) -> None:
        """Show the fields."""
        self._fill()
        self.set_focus(self.query_one(Rows))

    def _fill(self) -> None:
        self.found = None
        said = "leave one field blank; it is found when the others are there"
        try:
            unknown, answer, _ = fill(self.spec.name, self.fields)
            self.found = (unknown, describe(answer))
            said = f"{unknown} = {describe(answer)}   (a puts it on the tape)"
        except CalculatorError as error:
            blanks = sum(not text.strip() for text in self.fields.values())
            if blanks <= 1:
                said = f"! {error}"
        rows = []
        for label in self.fields:
            parameter = next((item for item in self.spec.parameters if item.label == label), None)
            unit = parameter.unit if parameter else self.spec.unit
            meaning = parameter.meaning if parameter else self.spec.result
            value = self.fields[label] or (f"= {self.found[1]}" if self.found and self.found[0] == label else "")
            rows.append(Row(label, (label, value, unit, meaning)))
        self.query_one(Rows).show(rows)
        self.query_one("#said", TextLine).say(said)

    def on_rows_chosen(self, event: Rows.Chosen) -> None:
        """Type a field."""
        label = event.key

        def look(text: str) -> str:
            if not text.strip():
                return "(left blank: to be found)"
            from fieldkit.calculator import evaluate

            return "= " + "; ".join(evaluate(part).text for part in text.split(";") if part.strip())

        def take(text: str | None) -> None:
            if text is not None:
                self.fields[label] = text
                self._fill()

        title = f"{self.spec.name}: {label}"
        question = TextQuestion(title, self.fields[label], look, help=expression_help(self.tape))
        self.app.push_screen(Ask(question), take)

    def action_remove(self) -> None:
        """Leave a field blank."""
        key = self.query_one(Rows).key
        if key:
            self.fields[key] = ""
            self._fill()

    def action_add(self) -> None:
        """Put what was found on the tape."""
        if self.found is not None:
            label, text = self.found
            known = ", ".join(f"{name} {value}" for name, value in self.fields.items() if value)
            self.dismiss(f"{self.spec.name}: {label} with {known}\0{text}")
