"""Today's air: type a temperature, see what every delay becomes, and take it as one step."""

from __future__ import annotations

import re

import msgspec
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input

from fieldkit.app.dialogs.windows import Dialog
from fieldkit.app.shell import Shell
from fieldkit.app.widgets.lines import TextLine
from fieldkit.errors import FieldkitError
from fieldkit.reports.chain import weather_lines
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.edits import changed
from fieldkit.units import Temperature

BARE_NUMBER = re.compile(r"[-+−]?\d+(?:[.,]\d+)?")


class Weather(Dialog[str]):
    """A temperature, with the delays before and after it while one types."""

    DEFAULT_CSS = "Weather #delays { height: auto; max-height: 20; }"

    def __init__(self, rig: Rig) -> None:
        super().__init__()
        self.rig = rig

    def compose(self) -> ComposeResult:
        """Lay out title, field, table."""
        now = self.rig.air_text
        with Vertical(classes="small"):
            yield TextLine(f"today's air: {now} in the show", classes="title")
            yield Input(now, id="value")
            yield TextLine(id="delays")
            yield TextLine(
                "enter takes the temperature, and delays and cables with it   esc leaves", classes="hint", id="said"
            )

    def on_mount(self) -> None:
        """Begin in the field."""
        field = self.query_one(Input)
        field.cursor_blink = False
        self.set_focus(field)
        self._show(field.value)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Follow what is typed."""
        self._show(event.value)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the temperature, unless it is none."""
        if self._show(event.value):
            self.dismiss(self._with_unit(event.value))

    def _with_unit(self, text: str) -> str:
        """Give a bare number the unit that the show has, else °C: a thermometer shows no more."""
        fahrenheit = str(self.rig.show.about.temperature or "").rstrip().endswith("F")
        return f"{text.strip()} {'°F' if fahrenheit else '°C'}" if BARE_NUMBER.fullmatch(text.strip()) else text

    def _show(self, text: str) -> bool:
        said = self._with_unit(text)
        try:
            lines = [*([f"= {said}"] if said != text else []), *weather_lines(self.rig, Temperature(said).value)]
        except FieldkitError as error:
            self.query_one("#delays", TextLine).say(f"! {error}")
            return False
        self.query_one("#delays", TextLine).say("\n".join(lines))
        return True


def ask_for_weather(shell: Shell) -> None:
    """Ask for today's temperature, and take it into the show."""
    session = shell.session
    if session is None:
        return

    def take(text: str | None) -> None:
        if text is not None:
            show = session.present
            shell.apply(
                f"air at {text}",
                lambda: msgspec.structs.replace(show, about=changed(show.about, temperature=text)),
            )

    shell.push(Weather(session.rig), take)
