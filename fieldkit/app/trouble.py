"""The fault that is being looked for: what is asked about, the answers so far, and the advice that follows.

It knows nothing of screens; the advice is a function of the rig and the answers.
"""

from __future__ import annotations

from math import inf
from typing import Literal

from fieldkit.rig.solve.evaluation import Rig
from fieldkit.triage.advice.advice import Advice, advice_of, from_the_show, mentioned, with_neighbours
from fieldkit.triage.advice.menu import Means, Test, menu
from fieldkit.triage.belief.observations import (
    Ear,
    Inverted,
    Light,
    Look,
    Metered,
    Observation,
    Polarity,
    SwapSeen,
    meter_value,
    named_wrong,
    question,
)
from fieldkit.triage.belief.posterior import Belief
from fieldkit.triage.belief.saying import spoken
from fieldkit.triage.belief.search import FaultSearch
from fieldkit.triage.model.odds import table

LETTERS = {
    "listen": {
        "s": "silent",
        "w": "quiet",
        "b": "no-low",
        "v": "no-high",
        "r": "distorted",
        "i": "crackle",
        "z": "hum",
        "o": "other-signal",
        "p": "louder-alone",
        "f": "late",
        "y": "loud",
        "m": "no-mid",
        "1": "rattle",
        "2": "buzz",
        "3": "hiss",
        "4": "radio",
        "n": "normal",
    },
    "lights": {"o": "off", "n": "on", "s": "signal", "i": "limit", "p": "protect", "m": "mute"},
    "swap": {"m": "moved", "s": "stayed"},
    "polarity": {"p": "planned", "r": "reversed", "n": "nothing"},
    "together": {"f": "fuller", "i": "thinner", "n": "same"},
    "amp": {
        "n": "right",
        "m": "mute",
        "i": "input",
        "r": "preset",
        "y": "level",
        "b": "polarity",
        "v": "off",
        "p": "plug-half",
        "o": "empty",
        "f": "label",
        "z": "loose",
        "1": "burnt",
        "w": "wrong",
    },
    "box": {
        "n": "right",
        "s": "switch",
        "p": "plug-half",
        "o": "empty",
        "f": "label",
        "r": "lead",
        "m": "model",
        "i": "extra",
        "b": "burnt",
        "v": "wet",
        "z": "loose",
        "w": "wrong",
    },
}
"""Letters that answer a test in words, by what is asked: only those that mean nothing else on every screen."""


def letters_of(test: Test) -> dict[str, str]:
    """Return the letters and words that answer a test: at an amplifier other things are seen than at a box."""
    if test.kind == "look":
        return LETTERS["amp" if test.at == "amp" else "box"]
    return LETTERS["together" if test.kind == "polarity" and test.what else test.kind]


MISSING_LETTERS = {
    "m": ("meter", "a meter"),
    "i": ("1khz", "an impedance meter at 1 kHz"),
    "p": ("tester", "a polarity tester"),
    "s": ("spares", "spare leads and boxes"),
    "o": ("help", "a second person"),
}
"""What may not be there, by letter."""


class Trouble:
    """One fault being looked for."""

    def __init__(self, what: str, without: frozenset[str] = frozenset()) -> None:
        self.what = what
        self.seen: list[Observation] = []
        self.changed = ""
        """What the last answer changed, and why, in one line."""
        self.worked_before = self.running = False
        """Of these, ``running`` and the minutes left follow the doors."""
        self.left_min = inf
        self.without = without
        """What there is not: set once, for all faults."""
        self._known: tuple[object, ...] = ()
        self._case: FaultSearch | None = None
        self._belief: Belief | None = None
        self._advice: Advice | None = None

    def say(self, item: Observation) -> Observation | None:
        """Take an answer; gives the earlier answer to the same question, which it replaces."""
        asked = question(item)
        earlier = next((said for said in self.seen if asked and question(said) == asked), None)
        self.seen = [said for said in self.seen if said is not earlier] + [item]
        return earlier

    @property
    def has_evidence(self) -> bool:
        """Tell whether a tester, or a meter at the box by itself, found this very box wrong: then that is known."""
        wrong = named_wrong(self._belief.seen) if self._belief else []
        return any(
            (isinstance(item, Polarity) and item.box == self.what)
            or (isinstance(item, Metered) and item.point.endswith(f"{self.what}.alone"))
            for item in wrong
        )

    def advice(self, rig: Rig) -> Advice:
        """Work out the advice for a rig; again only when something has changed. Raises ObservationError."""
        key = (rig, tuple(self.seen), self.worked_before, self.running, self.left_min, self.without)
        if self._advice is None or self._known[0] is not rig or self._known[1:] != key[1:]:
            asked = tuple(with_neighbours(rig, [self.what], self.seen))
            if self._case is None or self._known[0] is not rig or self._case.what != asked:
                self._case = FaultSearch(rig, asked, table(), mentioned(self.seen))
            seen = (*from_the_show(self._case, self.seen), *self.seen)
            before = self._belief
            self._belief = Belief(self._case, seen, worked_before=self.worked_before, running=self.running)
            self.changed = what_changed(before, self._belief)
            self._advice, self._known = advice_of(self._belief, self.means()), key
        return self._advice

    def tests(self, rig: Rig) -> tuple[Test, ...]:
        """List every test of the case."""
        advice = self.advice(rig)
        return menu(self._case, advice.means) if self._case else ()

    def means(self) -> Means:
        """Return the means that are available now."""
        return Means(self.running, self.left_min, without=self.without)

    def compared(self, item: Metered) -> str:
        """Say what a reading should be when all is well, and what the likeliest fault predicts."""
        if self._case is None or self._belief is None:
            return ""
        run, point, pair = self._case.point(item.point, item.pair)
        predicted = self._case.predictions(run, point, pair, dc=item.kind == "dc")
        best = max(range(len(self._belief.shares)), key=self._belief.shares.__getitem__)
        parts = []
        for word, index in (("well", 0), ("suspect", best)):
            number = predicted.of_fault[index]
            if number >= 0:
                reading = predicted.readings[number]
                open_ = reading.low == float("inf")
                span = f"{reading.low:.1f}" + (f"-{reading.high:.1f}" if reading.high - reading.low > 0.1 else "")
                parts.append(f"{word} {'open' if open_ else span + ' ohm'}")
        return ", ".join(parts)


def answered(test: Test, word: str, output: str = "") -> Observation:
    """Make the observation of an answer in a word; of a setting, with the output that has it where somebody says."""
    if test.kind == "listen":
        return Ear(test.at, word)
    if test.kind == "lights":
        return Light(test.at, word)
    if test.kind == "polarity" and test.what:
        return Inverted(test.at, test.what, word)  # type: ignore[arg-type]  # its words
    if test.kind == "polarity":
        return Polarity(test.at, word)  # type: ignore[arg-type]  # its words
    if test.kind == "look":
        return Look(output or test.at, word)
    return SwapSeen(test.what, word == "moved", test.box)  # type: ignore[arg-type]  # cable, output or box


def read_at(test: Test, text: str) -> Metered:
    """Make the observation of a meter test from what the meter shows. Raises ObservationError."""
    ohm, word = meter_value(text)
    kind: Literal["dc", "1khz"] = "dc" if test.dc else "1khz"
    return Metered(test.at, test.pair, ohm, word, kind)


def what_changed(before: Belief | None, now: Belief) -> str:
    """Say in one line what an answer changed: the likeliest fix, from what to what, and the answer."""
    if before is None or before.case is not now.case or not now.seen or len(now.seen) <= len(before.seen):
        return ""
    fix, share, _ = now.fixes[0]
    old = next((part for name, part, _ in before.fixes if name == fix), 0.0)
    return f"{old:.0%} before, {share:.0%} now: {fix}, since {spoken(now.seen[-1])}"
