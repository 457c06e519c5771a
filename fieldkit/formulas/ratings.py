"""What a loudspeaker's watts stand for: through which impedance they become volts, and how far their noise peaked.

The texts of the standards were not at hand: what is said of them here is not checked against print, and says so.
Of AES2 the crest factor and the two hours were seen in a reproduction.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

Standard = Literal["iec-60268-5", "aes2", "maker", "unknown"]


class Meaning(NamedTuple):
    """How one standard rates."""

    name: str
    lowest: bool
    """True where watts are worked out through the lowest impedance, else through the rated one."""
    crest: float
    """Peak over rms of its test noise; where the standard leaves a range, the low end."""
    says: str


MEANINGS: dict[Standard, Meaning] = {
    "aes2": Meaning("AES2", True, 2.0, "noise of crest factor 2 for two hours, watts through the lowest impedance"),
    "iec-60268-5": Meaning(
        "IEC 60268-5", False, 1.8, "noise of crest factor 1.8 to 2.2 for 100 hours, watts through the rated impedance"
    ),
    "maker": Meaning("the maker", False, 2.0, "taken as noise of crest factor 2, watts through the rated impedance"),
    "unknown": Meaning(
        "nobody knows whom", True, 1.8, "taken low: through the lowest impedance that is known, crest factor 1.8"
    ),
}
"""Standard -> what it means. AES2 and IEC 60268-5 are not checked against print; the other two are our own choice.

An unknown rating counts as the lowest that any of the others would make of it.
"""


def rating_impedance(
    standard: Standard, rated_ohm: float, rated_at_ohm: float | None, minimum_ohm: float | None
) -> float:
    """Find the impedance through which a section's watts become volts [ohm].

    What the sheet says outright (``rated_at``) rules; where the lowest impedance counts and the sheet has none, the
    rated one has to do.
    """
    if rated_at_ohm is not None:
        return rated_at_ohm
    if MEANINGS[standard].lowest and minimum_ohm is not None:
        return min(rated_ohm, minimum_ohm)
    return rated_ohm


def rating_text(standard: Standard, through_ohm: float, *, said: bool) -> str:
    """Say how a section was rated; ``said`` where the sheet gives the impedance that counts."""
    meaning = MEANINGS[standard]
    unchecked = "; not checked against print" if standard in {"aes2", "iec-60268-5"} else ""
    lacks = "" if said or not meaning.lowest else ", and as the sheet has no minimum the rated one"
    return f"rated by {meaning.name} ({meaning.says}{lacks}: {through_ohm:g} ohm{unchecked})"
