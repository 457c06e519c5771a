"""What can be asked from any screen: a label, the findings, all commands, help."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from fieldkit import guide
from fieldkit.app.actions import EVERYWHERE, Action, key_text
from fieldkit.app.addresses import WORDS
from fieldkit.app.dialogs.windows import ChoiceRow, Choose, Read
from fieldkit.app.widgets.rows import Rows
from fieldkit.reports.cards import KnownLabel, card, labels, places_of
from fieldkit.reports.text import well
from fieldkit.show.document import MODEL_TABLES

if TYPE_CHECKING:
    from fieldkit.app.application import FieldkitApp


TROUBLED = {"box", "run", "output", "unit", "zone", "rack", "cable end"}
"""Kinds of labels that a fault can be looked for at."""


class Everywhere:
    """The part of the application that answers from any screen."""

    @property
    def _app(self) -> FieldkitApp:
        return cast("FieldkitApp", self)

    def action_go_to(self) -> None:
        """Find a label and show its card."""
        if self._app.session is None:
            self._app.say("no show is open")
            return
        known = {label.key: label for label in labels(self._app.session.rig)}
        options = [ChoiceRow(label.key, (label.id, label.kind, label.about)) for label in known.values()]
        self._app.push_screen(
            Choose("go to a label", options, columns=3, at_once=True),
            lambda key: self.show_card(known[key]) if key else None,
        )

    def show_card(self, label: KnownLabel) -> None:
        """Show the card of a label."""
        if self._app.session is None:
            return
        session = self._app.session
        lines = card(session.rig, session.findings, label.kind, label.id, self._app.style)
        places = places_of(session.rig, label.kind, label.id)
        shown = [("", self._app.safe(line)) for line in lines]
        # At the end, so that an enter after a label that was found while one typed does not open anything.
        shown += [("", "")] if places else []
        arrows = [self._app.safe(f"→ edit {WORDS[table]} {name}") for table, name in places]
        shown += [(f"edit {number}", text) for number, text in enumerate(arrows)]

        def chosen(key: str | None) -> None:
            frame = self._app.frame
            if key and frame is not None:
                frame.edit(*places[int(key.removeprefix("edit "))])

        hint = f"{'end, enter on → edits   ' if places else ''}arrows scroll   esc leaves"
        self._app.push_screen(Read(f"{label.id}: {label.kind}", shown, hint), chosen)

    def action_triage(self) -> None:
        """Look for a fault: at the thing of this row where that has a label, else at a label that is typed."""
        if self._app.session is None:
            self._app.say("no show is open")
            return
        wanted = {label.id: label for label in labels(self._app.session.rig) if label.kind in TROUBLED}
        row = self._app.frame.main() if self._app.frame else None
        words = row.key.split() if isinstance(row, Rows) else []
        here = next((part for word in words[::-1] for part in (word, word.partition("/")[0]) if part in wanted), None)
        if here is not None:
            self._look_for(here)
            return
        options = [ChoiceRow(label.id, (label.id, label.kind, label.about)) for label in wanted.values()]
        self._app.push_screen(
            Choose("something is wrong with", options, columns=3, at_once=True),
            lambda name: self._look_for(name) if name else None,
        )

    def _look_for(self, name: str) -> None:
        self._app.switch_mode("triage")
        self._app.call_after_refresh(self._begin, name)

    def _begin(self, name: str) -> None:
        from fieldkit.app.screens.triage import Triage

        frame = self._app.frame
        if isinstance(frame, Triage):
            frame.begin(name)
        else:
            self._app.call_after_refresh(self._begin, name)

    def action_findings(self) -> None:
        """List the findings; enter goes to the cause."""
        if self._app.session is None:
            self._app.say("no show is open")
            return
        findings = self._app.session.findings
        if not findings:
            self._app.say(well(self._app.session.rig))
            return
        options = [
            ChoiceRow(str(place), (item.severity, item.where.id, self._app.safe(item.says)))
            for place, item in enumerate(findings)
        ]

        def chosen(key: str | None) -> None:
            if key is not None and self._app.frame is not None:
                self._app.frame.show_finding(findings[int(key)])

        self._app.push_screen(Choose(f"{len(findings)} findings, worst first", options, columns=3), chosen)

    def action_palette(self) -> None:
        """Find any command, screen or label."""
        actions = self._actions()
        options = [ChoiceRow(f"do {name}", (text, keys, help_text)) for name, text, keys, help_text in actions]
        if self._app.session is not None:
            options += [
                ChoiceRow(f"to {label.key}", (label.id, label.kind, label.about))
                for label in labels(self._app.session.rig)
            ]
        session = self._app.session
        known = {label.key: label for label in labels(session.rig)} if session else {}
        findings = session.findings if session else ()
        options += [
            ChoiceRow(f"see {place}", (item.where.id, item.severity, self._app.safe(item.says)))
            for place, item in enumerate(findings)
        ]
        models = (
            [(table, model.id) for table in MODEL_TABLES for model in getattr(session.present, table)]
            if session
            else []
        )
        options += [ChoiceRow(f"edit {table} {name}", (name, "model", table)) for table, name in models]

        async def chosen(key: str | None) -> None:
            verb, _, rest = (key or "").partition(" ")
            if verb == "to":
                self.show_card(known[rest])
            elif verb == "see" and self._app.frame is not None:
                self._app.frame.show_finding(findings[int(rest)])
            elif verb == "edit" and self._app.frame is not None:
                self._app.frame.edit(*rest.split(" ", 1))
            elif verb:
                await self._app.run_action(rest, self._app.frame or self._app)

        self._app.push_screen(Choose("any command, screen or label", options, columns=3), chosen)

    def _actions(self) -> list[tuple[str, str, str, str]]:
        """List what can be done here: action, word, keys, help."""
        frame = self._app.frame
        own = [("screen", action) for action in (frame.ACTIONS if frame else ())]
        everywhere = [("app", action) for action in EVERYWHERE]
        listed = [
            (f"{scope}.{action.name}", action.label, key_text(action.key), action.help)
            for scope, action in (*own, *everywhere)
        ]
        listed += [
            (f"app.screen('{mode}')", name, key, f"go to the screen {name}") for key, mode, name in self._app.screens()
        ]
        return listed

    def action_help(self) -> None:
        """Say what this screen is for, its keys and its words."""
        frame = self._app.frame
        if frame is None:
            return
        lines = [frame.PURPOSE, "", "keys here"]
        lines += [f"  {_keys(action):<16} {action.help}" for action in frame.ACTIONS]
        lines += ["", "keys everywhere"]
        lines += [f"  {_keys(action):<16} {action.help}" for action in EVERYWHERE]
        lines += [f"  {key + ' F' + key:<16} {name}" for key, _, name in self._app.screens()]
        lines += ["  arrows h j k l   move; page up and down, home, end too", "  enter esc        open or edit; back"]
        if frame.WORDS:
            lines += ["", "words", *(f"  {word:<16} {meaning}" for word, meaning in frame.WORDS)]
        pages = [(topic, f"→ {title}") for topic, title in guide.topics().items()]
        shown = [("", line) for line in lines] + [("", ""), ("", "the guide: a page a task"), *pages]
        hint = "end, enter on → reads a page of the guide   arrows scroll   esc leaves"
        self._app.push_screen(Read(f"help: {frame.NAME}", shown, hint), self._read_guide)

    def _read_guide(self, topic: str | None) -> None:
        """Show a page of the guide; leaving it leads back to the help."""
        if topic is None:
            return
        lines = [("", self._app.safe(line)) for line in guide.page(topic).splitlines()]
        self._app.push_screen(Read(f"guide: {topic}", lines), lambda _: self.action_help())


def _keys(action: Action) -> str:
    return " ".join(key_text(key) for key in action.keys.split(","))
