"""The end of a search: which fix did not help, what it was, its tag, and what the user's own odds learn of it."""

from __future__ import annotations

from collections.abc import Callable

from fieldkit.app.dialogs.windows import ChoiceRow, Read
from fieldkit.app.session import Session
from fieldkit.app.shell import Shell
from fieldkit.show.errors import ShowError
from fieldkit.triage.advice.advice import Advice
from fieldkit.triage.belief.learning import count_in, learned, more, take_back
from fieldkit.triage.belief.observations import Tried
from fieldkit.triage.model.fault import NONE_OF_THESE, NOTHING, Fault
from fieldkit.triage.model.odds import OWN_NAME, origin
from fieldkit.triage.rig_check.recording import fault_tag, now, with_fixed


def _suspected(advice: Advice) -> list[Fault]:
    """List the faults that something can be done about."""
    return [item.fault for item in advice.suspects if item.fault.kind not in {NOTHING, NONE_OF_THESE}]


def ask_useless(shell: Shell, advice: Advice, take: Callable[[Tried], None]) -> None:
    """Ask which fix was done and did not help."""
    fixes = list(dict.fromkeys(fault.fix for fault in _suspected(advice)))
    options = [ChoiceRow(str(place), (shell.safe(fix),)) for place, fix in enumerate(fixes)]
    if options:
        shell.choose("done, and it did not help", options, lambda key: take(Tried(fixes[int(key)])))


def ask_fixed(shell: Shell, session: Session, advice: Advice, done: Callable[[], None], fix: str = "") -> None:
    """Ask what it was, of all or of what a fix puts right, and keep it: the log, the fault tag, out of service.

    ``done`` leaves the search.
    """
    faults = _suspected(advice)
    faults = [fault for fault in faults if fault.fix == fix] or faults
    options = [ChoiceRow(str(place), (fault.at, shell.safe(fault.says))) for place, fault in enumerate(faults)]

    def take(key: str) -> None:
        fault, time = faults[int(key)], now()
        tag = fault_tag(session.rig, fault, fault.fix, time)
        shell.apply(f"fixed: {fault.says}", lambda: with_fixed(session.present, fault, fault.fix, time=time))
        done()
        shown = [("", shell.safe(line)) for line in tag]
        shell.push(Read("fault tag", shown), lambda _: _ask_to_count(shell, fault))

    if options:
        shell.choose("fixed: what was it", options, take)


def show_learned(shell: Shell) -> None:
    """List what closed cases have counted in: what, how often, since when; enter takes one case back."""
    try:
        found = learned()
    except ShowError as error:
        shell.note(f"! {error}")
        return
    if not found:
        shell.note("no closed case is counted in your odds yet")
        return
    options = [
        ChoiceRow(item.kind, (item.kind.replace("-", " "), f"{item.cases}", f"since {item.since.isoformat()}"))
        for item in found
    ]

    def take(kind: str) -> None:
        try:
            take_back(kind)
        except ShowError as error:
            shell.note(f"! {error}")
            return
        shell.show_changed()
        shell.note(f"one case taken back from your odds: {kind.replace('-', ' ')}")

    shell.choose("counted in your odds; enter takes one case back", options, take)


def _ask_to_count(shell: Shell, fault: Fault) -> None:
    """Ask whether a closed case moves the user's own odds; it does so only for a yes."""

    def take() -> None:
        try:
            count_in(fault.counted_as)
        except ShowError as error:
            shell.note(f"! {error}")
            return
        shell.show_changed()
        shell.note(f"counted in your {OWN_NAME}: {fault.name}")

    try:
        odds = more(fault.counted_as)
    except ShowError as error:
        shell.note(f"! {error}")
        return
    if odds is not None:
        lines = [
            f"{fault.counted_as.replace('-', ' ')}: {odds[0]:g} now, {odds[1]:g} then, in your {OWN_NAME}",
            f"odds so far: {origin()}",
        ]
        shell.confirm("let this case count in your own odds?", lines, take, "count it in")
