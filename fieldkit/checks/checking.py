"""Run every rule over a rig, and keep what has not changed since the last time."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Hashable, Iterator
from typing import Any

from fieldkit.checks import bands, cables, levels, loads, pins, powers, presets, spares, stock
from fieldkit.checks.finding import SEVERITIES, Finding
from fieldkit.checks.rules import (
    BoxSubject,
    Choices,
    Feed,
    box_rules,
    choices_of,
    line_rules,
    output_rules,
    show_rules,
)
from fieldkit.rig.evaluation import Rig

FAMILIES = (loads, powers, bands, pins, presets, levels, cables, stock, spares)
"""The modules whose rules are run; importing one declares its rules."""


class Checker:
    """Checks rigs one after the other; findings about parts that are the very same are not looked for again."""

    def __init__(self) -> None:
        self._kept: dict[Hashable, tuple[tuple[Any, ...], tuple[Finding, ...]]] = {}
        self._used: dict[Hashable, tuple[tuple[Any, ...], tuple[Finding, ...]]] = {}
        self._choices: Choices | None = None

    def check(self, rig: Rig, today: datetime.date | None = None) -> tuple[Finding, ...]:
        """Give all findings about a rig, errors first, then in the order of the show."""
        choices = choices_of(rig, today)
        if choices != self._choices:
            self._kept, self._choices = {}, choices
        self._used = {}
        found: list[Finding] = []
        for output in rig.outputs:
            found += self._once(
                ("output", id(output)), (output,), lambda output=output: _all(output_rules, output, choices)
            )
        for line in rig.lines:
            found += self._once(("line", id(line)), (line,), lambda line=line: _all(line_rules, line, choices))
        found += self._boxes(rig, choices)
        found += _all(show_rules, rig, choices)
        self._kept = self._used
        return tuple(sorted(found, key=lambda item: SEVERITIES.index(item.severity)))

    def _boxes(self, rig: Rig, choices: Choices) -> Iterator[Finding]:
        feeds: dict[str, list[tuple[Any, Any, Any]]] = {}
        for output in rig.outputs:
            for solved in output.lines:
                for box in solved.boxes:
                    feeds.setdefault(box.load.box.id, []).append((output, solved.line, box.load))
        for line in rig.lines:
            if line.output is None:
                for load in line.loads:
                    feeds.setdefault(load.box.id, []).append((None, line, load))
        runs: dict[str, list[str]] = {}
        for run in rig.show.runs:
            for step in run.path:
                if step.box and run.id not in runs.setdefault(step.box, []):
                    runs[step.box].append(run.id)
        for box in rig.show.boxes:
            its = feeds.get(box.id, [])
            through = tuple(runs.get(box.id, ()))
            speaker, use = rig.ground.speakers[box.id], rig.ground.uses[box.zone]
            parts = (box, speaker, use, *(part for feed in its for part in feed))

            def look(
                box: Any = box, speaker: Any = speaker, use: Any = use, its: Any = its, through: Any = through
            ) -> list[Finding]:
                subject = BoxSubject(box, speaker, use, tuple(Feed(*feed) for feed in its), through)
                return _all(box_rules, subject, choices)

            yield from self._once(("box", box.id, through), parts, look)

    def _once(
        self, key: Hashable, parts: tuple[Any, ...], look: Callable[[], list[Finding]]
    ) -> tuple[Finding, ...]:
        kept = self._kept.get(key)
        if kept is None or len(kept[0]) != len(parts) or any(a is not b for a, b in zip(kept[0], parts, strict=True)):
            kept = (parts, tuple(look()))
        self._used[key] = kept
        return kept[1]


def _all(rules: list[Any], subject: Any, choices: Choices) -> list[Finding]:
    return [finding for rule in rules for finding in rule(subject, choices)]


def check(rig: Rig, today: datetime.date | None = None) -> tuple[Finding, ...]:
    """Check one rig by itself."""
    return Checker().check(rig, today)


def counts(findings: tuple[Finding, ...]) -> dict[str, int]:
    """Count findings by severity, under the names of the ``check`` command."""
    names = {"error": "errors", "warning": "warnings", "advice": "advice"}
    return {names[severity]: sum(item.severity == severity for item in findings) for severity in SEVERITIES}
