"""What a change does, in words: two rigs side by side, before anybody takes the second."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import msgspec

from fieldkit.checks.checking import check
from fieldkit.checks.finding import SEVERITIES, Finding
from fieldkit.rig.power.supplies import supplies_of
from fieldkit.rig.signal.account import Account, accounts_that_differ
from fieldkit.rig.signal.entries import written
from fieldkit.rig.solve.evaluation import Evaluator, Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import Show
from fieldkit.text.style import Style
from fieldkit.text.words import counted

NOTHING = "nothing that is worked out changes"
MOST_GONE = 3
"""Findings that are fixed are told whole up to this many, and else by their number."""
LOUD = ("error", "warning")
"""Findings told whole; advice is told by its number."""
JUST_SEEN_DB, JUST_SEEN_S, JUST_SEEN_A = 0.05, 5e-6, 0.05
"""Half the last digit that is printed: what is less reads the same."""
JUST_SEEN_PART = 0.005
"""Of a load or a power, which are printed with three digits."""


class CheckedRig(msgspec.Struct, frozen=True):
    """A rig with what the checks say of it."""

    rig: Rig
    findings: tuple[Finding, ...]


def effects_of(before: CheckedRig, show: Show, style: Style) -> tuple[str, ...]:
    """Say what would be if a show took the place of the one that is there; what both have in common is known."""
    after = Evaluator(before.rig).evaluate(show)
    return effects(before, CheckedRig(after, check(after)), style)


def effects(before: CheckedRig, after: CheckedRig, style: Style) -> tuple[str, ...]:
    """Say what a change brings, the worst first; one line that says so where it brings nothing."""
    lines = (
        *_findings(before.findings, after.findings),
        *_gone(before.findings, after.findings),
        *_sounding(before.rig, after.rig),
        *_outputs(before.rig, after.rig, style),
        *_hosts(before.rig, after.rig),
        *_supplies(before.rig, after.rig),
    )
    return lines or (NOTHING,)


def _key(item: Finding) -> tuple[str, str, str, str]:
    return (item.severity, item.rule, item.where.kind, item.where.id)


def _new(before: tuple[Finding, ...], after: tuple[Finding, ...]) -> list[Finding]:
    """List what the second has and the first has not; of several alike, those that are more."""
    left: dict[tuple[str, str, str, str], int] = {}
    for item in before:
        left[_key(item)] = left.get(_key(item), 0) + 1
    new = []
    for item in after:
        if left.get(_key(item), 0) > 0:
            left[_key(item)] -= 1
        else:
            new.append(item)
    return new


def _findings(before: tuple[Finding, ...], after: tuple[Finding, ...]) -> Iterator[str]:
    new = _new(before, after)
    for item in sorted(new, key=lambda one: SEVERITIES.index(one.severity)):
        if item.severity in LOUD:
            yield f"new {item.severity}: {_said(item)}"
    quiet = sum(item.severity not in LOUD for item in new)
    if quiet:
        yield counted(quiet, "more note")


def _said(item: Finding) -> str:
    """Write a finding with what it is about in front, where it does not begin with that."""
    return item.says if item.says.startswith(item.where.id) else f"{item.where.id}: {item.says}"


def _gone(before: tuple[Finding, ...], after: tuple[Finding, ...]) -> Iterator[str]:
    gone = _new(after, before)
    if len(gone) > MOST_GONE:
        told = [counted(number, name) for name in LOUD if (number := sum(item.severity == name for item in gone))]
        quiet = sum(item.severity not in LOUD for item in gone)
        yield f"no more: {', '.join([*told, *([counted(quiet, 'note')] if quiet else [])])}"
        return
    for item in gone:
        yield f"no more {item.severity}: {_said(item)}"


def _driven(rig: Rig) -> dict[str, None]:
    return dict.fromkeys(load.box.id for output in rig.outputs for load in output.loads)


def _sounding(before: Rig, after: Rig) -> Iterator[str]:
    had, has = _driven(before), _driven(after)
    silent = [name for name in had if name not in has and name in after.show_index.boxes]
    gone = [name for name in had if name not in after.show_index.boxes]
    if silent:
        yield f"no longer driven: {' '.join(silent)}"
    if gone:
        yield f"no longer in the show: {' '.join(gone)}"
    more = [name for name in has if name not in had]
    if more:
        yield f"driven now: {' '.join(more)}"


def _differ(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is not other
    return abs(one - other) > JUST_SEEN_PART * max(abs(one), abs(other))


def _outputs(before: Rig, after: Rig, style: Style) -> Iterator[str]:
    had = {output.output.id: output for output in before.outputs if output.loads}
    has = {output.output.id: output for output in after.outputs if output.loads}
    told: dict[tuple[str, ...], list[str]] = {}
    for name, now in has.items():
        was = had.get(name)
        if was is now:
            continue
        if was is None:
            yield f"{name}: load {style.value(now.load_ohm, 'ohm')} where it drove nothing"
            continue
        told.setdefault(tuple(_of_output(was, now, style)), []).append(name)
    yield from _together(told)


def _of_output(was: SolvedOutput, now: SolvedOutput, style: Style) -> Iterator[str]:
    if _differ(was.load_ohm, now.load_ohm):
        yield f"load {style.value(was.load_ohm, 'ohm')} → {style.value(now.load_ohm, 'ohm')}"
    if _differ(was.can_give_v, now.can_give_v):
        yield f"gives {style.value(was.can_give_v, 'V')} → {style.value(now.can_give_v, 'V')}"
    if was.source != now.source:
        yield f"fed by {was.source or 'nothing'} → {now.source or 'nothing'}"
    first = {(item.load.box.id, item.load.section): item for line in was.lines for item in line.boxes}
    for line in now.lines:
        for item in line.boxes:
            other = first.get((item.load.box.id, item.load.section))
            if other is not None and abs(item.loss_db - other.loss_db) > JUST_SEEN_DB / 5:
                yield f"{item.load.box.id} loses {other.loss_db:.2f} → {item.loss_db:.2f} dB"


def _hosts(before: Rig, after: Rig) -> Iterator[str]:
    those, these = accounts_that_differ(before, after)
    had = {account.host: account for account in those}
    told: dict[tuple[str, ...], list[str]] = {}
    for account in these:
        was = had.get(account.host)
        if was is not None and was is not account:
            told.setdefault(tuple(_of_host(was, account)), []).append(account.host)
    yield from _together(told)


def _together(told: Mapping[tuple[str, ...], list[str]]) -> Iterator[str]:
    """Write what changes alike in one line."""
    for parts, names in told.items():
        if parts:
            yield f"{' '.join(names)}: {', '.join(parts)}"


def _of_host(was: Account, now: Account) -> Iterator[str]:
    if was.preset != now.preset:
        yield f"preset {was.preset or 'none'} → {now.preset or 'none'}"
    for name, unit, just_seen in (("gain in all", "dB", JUST_SEEN_DB), ("delay in all", "ms", 1e3 * JUST_SEEN_S)):
        one, other = was.number(name, unit), now.number(name, unit)
        if one is not None and other is not None and abs(one - other) > just_seen:
            yield f"{name} {written(one, unit)} → {written(other, unit)}"
    if was.word("polarity in all") != now.word("polarity in all"):
        yield f"polarity in all {was.word('polarity in all')} → {now.word('polarity in all')}"
    for name in ("slow limiter", "fast limiter"):
        had, has = _acts(was, name), _acts(now, name)
        if (had is None) != (has is None) or (had and has and _is_other(had, has)):
            yield f"{name} {written(*had) if had else 'none'} → {written(*has) if has else 'none'}"


def _acts(account: Account, name: str) -> tuple[float, str] | None:
    """Say where a limiter acts: as a level in its host where that is known, else as volts at the posts."""
    found = account.entry(f"{name} in the host") or account.entry(name) or account.entry(f"{name} at the posts")
    return None if found is None or isinstance(found.value, str) else (found.value, found.unit)


def _is_other(one: tuple[float, str], other: tuple[float, str]) -> bool:
    if one[1] != other[1]:
        return True
    return abs(one[0] - other[0]) > (JUST_SEEN_DB if one[1] == "dBu" else JUST_SEEN_PART * one[0])


def _supplies(before: Rig, after: Rig) -> Iterator[str]:
    if not after.show.supplies:
        return
    had = {loaded.supply.id: loaded for loaded in supplies_of(before).loaded}
    for loaded in supplies_of(after).loaded:
        was = had.get(loaded.supply.id)
        if was is None:
            continue
        if abs(was.load_a - loaded.load_a) > JUST_SEEN_A:
            yield f"{loaded.supply.id}: {was.load_a:.1f} → {loaded.load_a:.1f} A"
        drop, now = max(was.drop_share), max(loaded.drop_share)
        if abs(drop - now) > JUST_SEEN_PART / 10:
            yield f"{loaded.supply.id}: drop {100 * drop:.1f} → {100 * now:.1f} %"
