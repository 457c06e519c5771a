"""The search for a fault at the rig: the next test on top, suspects, fixes, what was said; and its questions."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from fieldkit.app.dialogs.answering import Letters
from fieldkit.app.dialogs.windows import Ask, ChoiceRow, Choose, TextQuestion
from fieldkit.app.shell import Shell
from fieldkit.app.tasks.rig_check import look_at_reading
from fieldkit.app.trouble import MISSING_LETTERS, Trouble, answered, letters_of, read_at
from fieldkit.app.widgets.rows import Row
from fieldkit.errors import NoAnswerError, UnusableError
from fieldkit.reports.triage_text import bar, odds_words
from fieldkit.show.document import Logged
from fieldkit.text.style import Style
from fieldkit.triage.advice.advice import Advice
from fieldkit.triage.advice.cautions import CLICKS, before_metering
from fieldkit.triage.advice.menu import Test
from fieldkit.triage.advice.muting import comes_first, muting_text
from fieldkit.triage.belief.doors import Doors, clock, doors_at
from fieldkit.triage.belief.observations import Metered, Observation
from fieldkit.triage.belief.saying import SAID, spoken
from fieldkit.triage.errors import ObservationError
from fieldkit.triage.model.looking import SETTINGS
from fieldkit.triage.rig_check.recording import now, with_note

# ---- the list --------------------------------------------------------------------------------------------------------


MOST_NOTES = 5


def search_rows(advice: Advice, trouble: Trouble, doors: Doors, notes: Sequence[Logged], style: Style) -> Iterator[Row]:
    """List the advice: what to mute, the next test, suspects, fixes, what was said and noted, what cannot be told."""
    state = ["worked before"] if trouble.worked_before else []
    state += [doors.says] if doors.says else []
    more = "".join(f", {word}" for word in state)
    yield Row("head", (f"fault at {trouble.what}{more}: next test, suspects, fixes, what was said",), wide=True)
    yield from _next_rows(advice)
    if not doors.asked:
        yield Row("doors", ("how long to the doors? enter: minutes, or the time",), "quiet", wide=True)
    for place, item in enumerate(advice.suspects[:7]):
        words = odds_words(item.share, fits=not advice.misfits)
        odds = f"{item.share:4.0%} {words} {bar(item.share, style, 10)}"
        mark = "quiet" if item.share < 0.03 else ""
        yield Row(f"suspect {place}", (f"{odds} {item.fault.says}",), mark, wide=True)
    for place, act in enumerate(advice.plan[:4], start=1):
        yield Row(f"fix {place}", (f"fix {place}: {act.fix} ({act.share:.0%}, {act.minutes:g} min)",), wide=True)
    for place, said in enumerate(trouble.seen):
        more = f"   ({trouble.compared(said)})" if isinstance(said, Metered) else ""
        yield Row(f"seen {place}", (f"said: {spoken(said)}{more}",), wide=True)
    for place, note in enumerate(notes[-MOST_NOTES:]):
        at = f"{note.time.astimezone():%H:%M}" if note.time else "earlier"
        yield Row(f"noted {place}", (f"noted {at}: {note.says}",), wide=True)
    for place, text in enumerate(advice.misfits[:2]):
        yield Row(f"misfit {place}", (f"! does not fit the likeliest, ask again: {text}",), "warning", wide=True)
    for place, text in enumerate(advice.cannot_tell[:2]):
        yield Row(f"cannot {place}", (f"cannot tell: {text}",), "quiet", wide=True)


def _next_rows(advice: Advice) -> Iterator[Row]:
    following = advice.next
    at_once = comes_first(advice.first, following.test.kind if following else "")
    if at_once:
        yield Row("mute", (f"! first: {muting_text(advice.first)}",), "error", wide=True)
    if following is None:
        yield Row("fixes", ("no test is worth its minutes: do the fixes in this order   (enter when done)",), wide=True)
        return
    yield Row("next", (f"next, {following.test.minutes:g} min: {following.test.says}   (enter)",), wide=True)
    if advice.first and not at_once:
        yield Row("mute", (f"! before anybody listens: {muting_text(advice.first)}",), "warning", wide=True)
    for place, text in enumerate(advice.cautions):
        yield Row(f"caution {place}", (f"! {text}",), "warning", wide=True)
    yield Row("because", (f"  {following.why}",), "quiet", wide=True)
    for place, outcome in enumerate(following.outcomes[:3]):
        said = SAID.get(outcome.answer, outcome.answer)
        yield Row(f"outcome {place}", (f"  {said} ({outcome.chance:.0%}): {outcome.means}",), "quiet", wide=True)
    for place, move in enumerate(advice.moves):
        yield Row(f"move {place}", (f"  {place + 1}. {move}",), "warning", wide=True)


# ---- its questions ---------------------------------------------------------------------------------------------------


def ask_test(shell: Shell, test: Test, take: Callable[[Observation], None], typed: str = "") -> None:
    """Ask what a test answers: a reading, or one letter; ``typed`` is the digit that began a reading."""
    if test.kind == "meter":
        outputs = [out for out in shell.session.rig.outputs if out.loads] if shell.session else []
        hint = f"{before_metering(outputs)}   ohms or OL, enter   esc leaves"
        shell.ask(
            TextQuestion(test.says, typed, look_at_reading, hint=hint, begun=bool(typed)),
            lambda text: take(read_at(test, text)),
        )
        return
    letters = {letter: (word, SAID.get(word, word)) for letter, word in letters_of(test).items()}
    caution = CLICKS if test.kind == "polarity" else ""

    def answer(word: str | None) -> None:
        if word in SETTINGS and len(test.outputs) > 1:
            options = [ChoiceRow(name, (name,)) for name in test.outputs]
            window = Choose(f"{SAID[word]}: at which output", options, at_once=True)
            shell.push(window, lambda name: take(answered(test, word, name)) if name is not None else None)
        elif word is not None:
            take(answered(test, word))

    shell.push(Letters(shell.safe(test.says), letters, caution), answer)


def ask_other(shell: Shell, trouble: Trouble, take: Callable[[Test], None]) -> None:
    """Choose another test than the one that is proposed."""
    if shell.session is None:
        return
    try:
        tests = {str(place): test for place, test in enumerate(trouble.tests(shell.session.rig))}
    except (ObservationError, NoAnswerError):
        return  # the rows say why
    options = [ChoiceRow(key, (f"{test.minutes:g} min", shell.safe(test.says))) for key, test in tests.items()]
    if options:
        shell.choose("which test", options, lambda key: take(tests[key]))


def ask_without(shell: Shell, trouble: Trouble) -> None:
    """Say what there is not: set once, for this fault and those after it."""
    letters = {
        letter: (word, f"{said}{': no' if word in trouble.without else ''}")
        for letter, (word, said) in MISSING_LETTERS.items()
    }

    def take(word: str | None) -> None:
        if word is not None:
            trouble.without ^= {word}
            shell.show_changed()
            shell.note(f"no {', no '.join(sorted(trouble.without))}" if trouble.without else "all there")

    shell.push(Letters("what is not there, or there again", letters), take)


def ask_note(shell: Shell, at: str) -> None:
    """Ask for a note on what is looked for, and keep it in the log with the time."""
    session = shell.session
    if session is None:
        return

    def look(text: str) -> str:
        if not text.strip():
            raise UnusableError("a few words, such as: crackles when the lead is moved")
        return f"kept at {at}, {clock():%H:%M}"

    def take(text: str) -> None:
        shell.apply(f"noted at {at}", lambda: with_note(session.present, at, text, now()))

    shell.ask(TextQuestion(f"note on {at}", "", look), take)


def ask_doors(shell: Shell) -> None:
    """Ask how long it is until the doors; no answer is one too, and it is not asked again."""
    doors = shell.doors
    doors.asked = True

    def look(text: str) -> str:
        return f"= {doors_at(text, clock()):%H:%M}" if text.strip() else "nobody knows"

    def take(text: str | None) -> None:
        if text is not None:
            doors.at = doors_at(text, clock()) if text.strip() else None
        shell.show_changed()

    shell.push(Ask(TextQuestion("how long to the doors: 20 min, or 19:45", "", look)), take)
