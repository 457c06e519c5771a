"""The same as text at 80 columns: what each line should read, the suspects, the next test."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator

from fieldkit.reports.text import WIDTH
from fieldkit.rig.solve.meters import Band
from fieldkit.text.style import Style
from fieldkit.triage.advice.advice import Advice
from fieldkit.triage.advice.cautions import ALWAYS, HIGH_TIER
from fieldkit.triage.advice.muting import comes_first, muting_text
from fieldkit.triage.model.odds import origin
from fieldkit.triage.rig_check.meter_pass import NOT_READ, CheckedLine

BAR = 20


def readings_text(entries: Iterable[CheckedLine], style: Style) -> Iterator[str]:
    """Print what each line should read at the amplifier, and at every point that was read, with the verdict."""
    shown = [entry for entry in entries if entry.at == "amp" or entry.all_said]
    if not shown:
        yield "no loudspeaker line to meter yet"
        return
    yield f"{'line':<10} {'at':<12} {'pins':<5} {'DC should read':<22} {'read':<10} verdict"
    for entry in shown:
        kinds = [("", entry.expected.dc, entry.dc)] if entry.dc or not entry.z1k else []
        if entry.z1k:
            kinds.append(("1 kHz ", entry.expected.z1k, entry.z1k))
        if entry.load:
            kinds.append(("amp. ", entry.reported, entry.load))
        for mark, band, said in kinds:
            should = mark + band_text(band, "no verdict" if mark else "open", style)
            read = style.plain(str(said.reading.value)) if said else "-"
            first = f"exchanged with {entry.exchanged}? " if entry.exchanged and said else ""
            verdict = (
                NOT_READ if said is None else f"{first}{said.verdict.says}{'; ' + said.change if said.change else ''}"
            )
            row = f"{entry.line:<10} {entry.at:<12} {entry.pair:<5} {should:<22} {read:<10} "
            yield from textwrap.wrap(
                style.plain(row + verdict), WIDTH, subsequent_indent=" " * 6, break_on_hyphens=False
            )
    yield ""
    yield from textwrap.wrap(f"Caution: {HIGH_TIER} {ALWAYS}", WIDTH)


def band_text(band: Band | None, otherwise: str, style: Style) -> str:
    """Write an expected reading with its band."""
    return f"{style.value(band.value, 'ohm')} ({band.low:.2f}-{band.high:.2f})" if band else otherwise


def odds_words(share: float, *, fits: bool = True) -> str:
    """Say a share in words; nothing is sure while an answer does not fit."""
    if share >= 0.95 and not fits:
        return "likely, not sure"
    for minimum, words in (
        (0.95, "nearly sure"),
        (0.7, "likely"),
        (0.4, "as likely as not"),
        (0.15, "possible"),
        (0.03, "unlikely"),
    ):
        if share >= minimum:
            return words
    return "very unlikely"


def bar(share: float, style: Style, width: int = BAR) -> str:
    """Draw a share as a bar; nothing where bars are left out."""
    if not style.bars:
        return ""
    full = round(share * width)
    return ("#" if style.ascii_only else "█") * full + ("." if style.ascii_only else "·") * (width - full)


def triage_text(advice: Advice, style: Style) -> Iterator[str]:
    """Print the suspects, what to do next, and the order of the fixes."""
    for item in advice.suspects[:8]:
        words = odds_words(item.share, fits=not advice.misfits)
        head = f"{item.share:4.0%} {words} {bar(item.share, style, 10)} "
        yield from _wrapped(head, item.fault.says, style)
        yield from _wrapped("     fix: ", item.fault.fix, style)
    yield ""
    following = advice.next
    at_once = comes_first(advice.first, following.test.kind if following else "")
    if at_once:
        yield from _wrapped("first: ", muting_text(advice.first), style)
    if following is None:
        yield "next: no test is worth its minutes; do the fixes in this order"
    else:
        yield from _wrapped(f"next, {following.test.minutes:g} min: ", following.test.says, style)
        if advice.first and not at_once:
            yield from _wrapped("before anybody listens: ", muting_text(advice.first), style)
        yield from _wrapped("  why: ", following.why, style)
        for outcome in following.outcomes[:4]:
            yield from _wrapped(f"  {outcome.answer} ({outcome.chance:.0%}): ", outcome.means, style)
        for number, move in enumerate(advice.moves, start=1):
            yield from _wrapped(f"  {number}. ", move, style)
    if advice.plan:
        yield ""
        yield "fixes, in the order that gets the show going soonest:"
        for number, act in enumerate(advice.plan[:5], start=1):
            yield from _wrapped(f"  {number}. ", f"{act.fix} ({act.share:.0%}, {act.minutes:g} min)", style)
    for text in advice.misfits[:3]:
        yield ""
        yield from _wrapped("does not fit the likeliest, ask again: ", text, style)
    for text in advice.cannot_tell[:3]:
        yield ""
        yield from _wrapped("cannot tell: ", text, style)
    if advice.cautions:
        yield ""
        yield from textwrap.wrap(style.plain("Caution: " + " ".join(advice.cautions)), WIDTH)
    yield ""
    yield from textwrap.wrap(f"Odds and minutes: {origin()}; a triage.toml of your own changes them.", WIDTH)


def _wrapped(lead: str, text: str, style: Style) -> list[str]:
    return textwrap.wrap(style.plain(lead + text), WIDTH, subsequent_indent=" " * 8, break_on_hyphens=False)
