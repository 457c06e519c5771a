"""Words of messages: a text made safe for one line, the nearest known name, a number with its word."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence

MOST_NEAR = 8
"""Names that are offered for a part of a name."""

Path = tuple[str | int, ...]
"""Where in a file: ``("boxes", 3, "zone")``."""


def printable(text: str, longest: int = 80) -> str:
    """Make a text safe for one line of a terminal: no control characters, no line ends, not too long."""
    if len(text) <= longest and text.isprintable():
        return text
    plain = "".join(mark if mark.isprintable() else f"\\x{ord(mark):02x}" for mark in text[: longest + 1])
    return plain if len(plain) <= longest else plain[: longest - 1] + "…"


def nearest(word: str, names: Iterable[str]) -> str:
    """Say which known name is near, or which names there are when they are few."""
    import difflib

    known = sorted(set(names))
    close = difflib.get_close_matches(word[:80], known, n=1, cutoff=0.6)
    if close:
        return f"; did you mean '{close[0]}'?"
    holding = [name for name in known if len(word) > 1 and word.casefold() in name.casefold()]
    if holding:
        one_of = "one of " if len(holding) > 1 else ""
        return f"; did you mean {one_of}{', '.join(holding[:MOST_NEAR])}{', …' if len(holding) > MOST_NEAR else ''}?"
    if not known:
        return "; there is none yet"
    return f"; expected {'one of ' if len(known) > 1 else ''}{', '.join(known)}" if len(known) <= 30 else ""


_PLAIN = str.maketrans("øłđıħŧðþæœ", "oldihtdpao")
"""Letters that carry no mark of their own in Unicode, and the letter that a keyboard without them has."""


def folded(text: str) -> str:
    """Write a text as it is compared: no capitals, no accents, in any script, so that ``Café`` is found by ``cafe``."""
    if text.isascii():
        return text.casefold()
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(mark for mark in apart if not unicodedata.combining(mark)).translate(_PLAIN)


_ORDINALS = ("", "first", "second", "third", "fourth", "fifth", "sixth")


def ordinal(number: int) -> str:
    """Say which one of several: ``second``; from the seventh on ``7th`` and so on."""
    if 0 < number < len(_ORDINALS):
        return _ORDINALS[number]
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def all_of(names: Sequence[str]) -> str:
    """List names in a sentence: a, b and c."""
    return " and ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


def counted(number: int, word: str) -> str:
    """Write a number with its word: ``1 error``, ``2 errors``, ``3 boxes``."""
    return f"{number} {word}{'' if number == 1 else 'es' if word.endswith('x') else 's'}"
