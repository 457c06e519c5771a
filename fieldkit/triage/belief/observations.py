"""What was heard, seen and metered, as it is written on a command line or typed on the screen.

ML2=no-high        an ear at a box
SR-1.3=protect     the lights of an output
amp:1=3.4ohm:dc    a meter at a point and pin pair; also open, short; dc unless 1khz is said; warm or cold
cable=moved        a swap; M1.cable=moved for the lead to another box than the one with the symptom
ML2=reversed       a polarity tester
replace the lead to ML2   a fix that was done and did not help
ML2=switch         a look at the amplifier (amp), or at a box and its plugs, and what was seen; wrong, or right
SL+SR=fuller       two boxes alone, one of them inverted at its output: fuller, thinner, same
SR-1.3=ML2         which box played with noise on one output alone; nothing, or all that did: ML1+ML2
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Literal, TypeAlias

import msgspec

from fieldkit.errors import UnusableError
from fieldkit.show.reading_value import ReadingValue
from fieldkit.text.words import nearest, printable
from fieldkit.triage.errors import ObservationError
from fieldkit.triage.model.hearing import HEARD, LIGHTS
from fieldkit.triage.model.looking import LOOKED


class Ear(msgspec.Struct, frozen=True):
    """What a box does."""

    box: str
    word: str


class Light(msgspec.Struct, frozen=True):
    """What an output's lights show."""

    output: str
    word: str


class Metered(msgspec.Struct, frozen=True):
    """What a meter said between the two pins of a pair."""

    point: str
    """``amp``, ``ML2.in``, ``ML2.out``, ``ML2.alone``, ``PANEL.out``; with the run ahead where it needs saying."""
    pair: str
    """As the pins are numbered there."""
    ohm: float | None
    """None for what a word says."""
    word: Literal["open", "short", ""] = ""
    kind: Literal["dc", "1khz"] = "dc"
    warm: bool | None = None


class SwapSeen(msgspec.Struct, frozen=True):
    """Whether the fault moved with what was exchanged."""

    what: Literal["cable", "adaptor", "output", "box"]
    moved: bool
    at: str = ""
    """The box whose lead or adaptor it was; empty for the box that has the symptom."""


class Polarity(msgspec.Struct, frozen=True):
    """What a polarity tester said, against what the plan intends."""

    box: str
    word: Literal["planned", "reversed", "nothing"]
    """``nothing`` where the tester hears nothing."""


class Look(msgspec.Struct, frozen=True):
    """What a look at the amplifier or at a box found."""

    place: str
    word: str
    """``right``, ``wrong``, or what was seen."""


class Played(msgspec.Struct, frozen=True):
    """Which boxes played with quiet noise on one output alone."""

    output: str
    boxes: frozenset[str]


class Inverted(msgspec.Struct, frozen=True):
    """How two boxes sound together, all others muted, once one of them is inverted at its output."""

    box: str
    beside: str
    word: Literal["fuller", "thinner", "same"]


class Tried(msgspec.Struct, frozen=True):
    """A fix that was done and did not help."""

    fix: str
    """As the advice words it, or a part of that which no other fix has."""


Observation: TypeAlias = Ear | Light | Metered | SwapSeen | Polarity | Look | Played | Inverted | Tried


def ear(text: str) -> Ear:
    """Read ``ML2=no-high``. Raises ObservationError."""
    box, word = _parts("heard", text, "ML2=no-high", HEARD)
    return Ear(box, word)


def light(text: str) -> Light:
    """Read ``SR-1.3=protect``. Raises ObservationError."""
    output, word = _parts("lights", text, "SR-1.3=protect", LIGHTS)
    return Light(output, word)


SWAPPED = ("cable", "adaptor", "output", "box")
POLARITIES = ("planned", "reversed", "nothing")


def swap(text: str) -> SwapSeen:
    """Read ``cable=moved``. Raises ObservationError."""
    what, word = _parts("swapped", text, "cable=moved", ("moved", "stayed"))
    at, _, piece = what.rpartition(".")
    if piece not in SWAPPED:
        raise ObservationError(f"swapped: expected one of {', '.join(SWAPPED)}, got '{printable(what)}'")
    return SwapSeen(piece, word == "moved", at)  # type: ignore[arg-type]  # one of the three, as just checked


def polarity(text: str) -> Polarity:
    """Read ``ML2=reversed``. Raises ObservationError."""
    box, word = _parts("polarity", text, "ML2=reversed", POLARITIES)
    return Polarity(box, word)  # type: ignore[arg-type]  # one of the three, as just checked


def look(text: str) -> Look:
    """Read ``amp=wrong``. Raises ObservationError."""
    return Look(*_parts("looked", text, "ML2=right", (*LOOKED, "wrong")))


def played(text: str) -> Played:
    """Read ``SR-1.3=ML2``, ``SR-1.3=ML1+ML2``, ``SR-1.3=nothing``. Raises ObservationError."""
    output, equals, said = text.partition("=")
    boxes = frozenset(name.strip() for name in said.split("+") if name.strip())
    if not equals or not output.strip() or not boxes:
        raise ObservationError(
            f"played: expected an output and the boxes that played, such as SR-1.3=ML2, or nothing, got {_got(text)}"
        )
    return Played(output.strip(), frozenset() if boxes == {"nothing"} else boxes)


TOGETHER = ("fuller", "thinner", "same")


def inverted(text: str) -> Inverted:
    """Read ``SL+SR=fuller``. Raises ObservationError."""
    name, word = _parts("inverted", text, "SL+SR=fuller", TOGETHER)
    box, plus, beside = (part.strip() for part in name.partition("+"))
    if not plus or not box or not beside or box == beside:
        raise ObservationError(f"inverted: expected two boxes, such as SL+SR=fuller, got {_got(text)}")
    return Inverted(box, beside, word)  # type: ignore[arg-type]  # one of the three, as just checked


def tried(text: str) -> Tried:
    """Read ``replace the lead to ML2``, a part of a fix. Raises ObservationError."""
    if not text.strip():
        raise ObservationError(
            "tried: expected a fix that did not help, such as 'replace the lead to ML2', got nothing"
        )
    return Tried(text.strip())


def agreed(seen: Iterable[Observation]) -> tuple[Observation, ...]:
    """Leave out what was said twice. Raises ObservationError for two answers of which only one can be true.

    A reading may be taken again, and differ.
    """
    kept: dict[tuple[str, str], Observation] = {}
    every = tuple(dict.fromkeys(seen))
    for item in every:
        found = _asked(item)
        if found is None:
            continue
        earlier = kept.setdefault(found[:2], item)
        if earlier is not item:
            what, name, word = found
            said = (_asked(earlier) or found)[2]
            raise ObservationError(
                f"{what}: '{printable(name)}' cannot be both {said} and {word}; say what is true now"
            )
    return every


def question(item: Observation) -> tuple[str, str] | None:
    """Return the subject of an answer that excludes others on the same; None for a reading and for a fix."""
    found = _asked(item)
    return found and found[:2]


def _asked(item: Observation) -> tuple[str, str, str] | None:
    """Return option, name and answer of an observation that has one answer only; None for others."""
    if isinstance(item, Ear):
        return "heard", item.box, item.word
    if isinstance(item, Light):
        return "lights", item.output, item.word
    if isinstance(item, SwapSeen):
        return "swapped", f"{item.at}.{item.what}" if item.at else item.what, "moved" if item.moved else "stayed"
    if isinstance(item, Polarity):
        return "polarity", item.box, item.word
    if isinstance(item, Look):
        return "looked", item.place, item.word
    if isinstance(item, Inverted):
        return "inverted", f"{item.box}+{item.beside}", item.word
    if isinstance(item, Played):
        return "played", item.output, " and ".join(sorted(item.boxes)) or "nothing"
    return None


def named_wrong(seen: Iterable[Observation]) -> list[Observation]:
    """List what was found not to be well; a reading in a case was not, or it would only narrow the prediction."""
    return [
        item
        for item in seen
        if isinstance(item, Metered)
        or (
            isinstance(item, (Ear, Light, Polarity, Look)) and item.word not in {"normal", "signal", "planned", "right"}
        )
    ]


def named(seen: Iterable[Observation]) -> list[str]:
    """List the boxes, outputs and runs that observations name, what is not well first.

    A box that sounds well is asked about only where nothing else is named: it bears witness for another line.
    """
    wrong: list[str] = []
    well: list[str] = []
    witnesses: list[str] = []
    for item in seen:
        if isinstance(item, Ear):
            (witnesses if item.word == "normal" else wrong).append(item.box)
        elif isinstance(item, Light):
            (well if item.word == "signal" else wrong).append(item.output)
        elif isinstance(item, Polarity):
            (well if item.word == "planned" else wrong).append(item.box)
        elif isinstance(item, Look) and item.place != "amp":
            (well if item.word == "right" else wrong).append(item.place)
        elif isinstance(item, Inverted):
            well += [item.box, item.beside]
        elif isinstance(item, Played):
            wrong.append(item.output)
        elif isinstance(item, Metered) and item.point != "amp":
            well.append(_thing_at(item.point))
    return list(dict.fromkeys([*wrong, *well] if wrong or well else witnesses))


def _thing_at(point: str) -> str:
    """Return the box or run of ``ML2.in``, ``W1.amp``, ``W1.ML2.in``; a cable end is returned unchanged."""
    ahead, dot, last = point.rpartition(".")
    return ahead.rpartition(".")[2] if dot and last in {"in", "out", "alone", "amp"} else point


_BARE = re.compile(r"\d+(?:[.,]\d+)?|[.,]\d+")


def metered(text: str) -> Metered:
    """Read ``amp:1=3.4ohm``, ``ML2.in:2=open:dc``. Raises ObservationError."""
    place, equals, said = text.partition("=")
    point, colon, pair = place.rpartition(":")
    if not equals or not colon or not point.strip() or not pair.strip():
        raise ObservationError(f"reading: expected a point, pin pair and value such as amp:1=3.4ohm, got {_got(text)}")
    value, *rest = (part.strip() for part in said.split(":"))
    kind: Literal["dc", "1khz"] = "dc"
    warm: bool | None = None
    for word in rest:
        if word.lower() in {"dc", "1khz"}:
            kind = "1khz" if word.lower() == "1khz" else "dc"
        elif word.lower() in {"warm", "cold"}:
            warm = word.lower() == "warm"
        else:
            raise ObservationError(f"reading: expected 'dc' or '1khz' after the value, got '{printable(word)}'")
    ohm, spelled = meter_value(value)
    return Metered(point.strip(), pair.strip(), ohm, spelled, kind, warm)


def meter_value(text: str) -> tuple[float | None, Literal["open", "short", ""]]:
    """Read what a meter shows: ohms, with or without the unit, or a word. Raises ObservationError."""
    typed = text.strip()
    try:
        value = ReadingValue(f"{typed.replace(',', '.')} ohm" if _BARE.fullmatch(typed) else typed)
    except UnusableError as error:
        raise ObservationError(f"reading: {error}") from error
    if value.word:
        return None, "open" if value.word == "open" else "short"
    return value.ohm, ""


def _parts(what: str, text: str, example: str, words: Iterable[str]) -> tuple[str, str]:
    name, equals, word = text.rpartition("=")
    if not equals or not name.strip():
        raise ObservationError(f"{what}: expected something such as {example}, got {_got(text)}")
    word = word.strip().lower()
    if word not in words:
        raise ObservationError(f"{what}: '{printable(word)}' is none of the answers{nearest(word, words)}")
    return name.strip(), word


def _got(text: str) -> str:
    return f"'{printable(text)}'" if text else "nothing"
