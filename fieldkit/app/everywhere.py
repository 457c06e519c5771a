"""What can be asked from any screen: a label, the findings, what is wrong with something."""

from __future__ import annotations

from fieldkit.app.dialogs.windows import ChoiceRow, Choose
from fieldkit.app.screens.frame import MainScreen
from fieldkit.app.widgets.rows import Rows
from fieldkit.app.workbench import Workbench
from fieldkit.checks.scope import well
from fieldkit.reports.cards import labels

TROUBLED = {"box", "run", "output", "unit", "zone", "rack", "cable end"}
"""Kinds of labels that a fault can be looked for at."""


def go_to(bench: Workbench) -> None:
    """Find a label and show its card."""
    if bench.session is None:
        bench.say("no show is open")
        return
    known = {label.key: label for label in labels(bench.session.rig)}
    options = [ChoiceRow(label.key, (label.id, label.kind, label.about)) for label in known.values()]
    bench.push(
        Choose("go to a label", options, at_once=True),
        lambda key: bench.show_card(known[key].kind, known[key].id) if key else None,
    )


def triage(here: MainScreen) -> None:
    """Look for a fault: at the thing of this row where that has a label, else at a label that is typed."""
    bench = here.bench
    if bench.session is None:
        bench.say("no show is open")
        return
    wanted = {label.id: label for label in labels(bench.session.rig) if label.kind in TROUBLED}
    row = here.main()
    words = row.key.split() if isinstance(row, Rows) else []
    name = next(
        (
            part
            for word in words[::-1]
            for part in (word, word.partition("/")[0], word.rpartition(".")[0])
            if part in wanted
        ),
        None,
    )
    if name is not None:
        _look_for(bench, name)
        return
    options = [ChoiceRow(label.id, (label.id, label.kind, label.about)) for label in wanted.values()]
    bench.push(
        Choose("something is wrong with", options, at_once=True),
        lambda name: _look_for(bench, name) if name else None,
    )


def _look_for(bench: Workbench, name: str) -> None:
    bench.go_to("triage", name)


def findings(bench: Workbench) -> None:
    """List the findings; enter goes to the cause."""
    if bench.session is None:
        bench.say("no show is open")
        return
    found = bench.session.findings
    if not found:
        bench.say(well(bench.session.rig))
        return
    options = [
        ChoiceRow(str(place), (item.severity, item.where.id, bench.safe(item.says))) for place, item in enumerate(found)
    ]
    bench.choose(f"{len(found)} findings, worst first", options, lambda key: bench.show_finding(found[int(key)]))
