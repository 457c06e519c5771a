"""What comes before any test: the outputs that are muted while a suspect could harm a driver by what they put out.

A file alone: it protects drivers, comes before all other advice, and is read and tested by itself.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from fieldkit.triage.belief.posterior import Belief

HARM_OVER = 0.01
"""Share of all suspects together by which an output could harm a driver, over which it is muted."""

LIKELY = 0.05
"""Share from which on muting comes before whatever is next; under it, before anybody listens: no band stops for 1 %."""

SILENT_TESTS = {"look", "lights", "meter"}
"""Kinds of tests for which nothing plays that does not play already."""

WORTH_ADDING = 1e-4
"""Suspects with a smaller share are not asked what they could harm: a hundred of them make one percent."""


class Mute(msgspec.Struct, frozen=True):
    """An output to mute, and why."""

    output: str
    share: float
    """Of all suspects by which it could harm a driver."""
    suspect: str
    """The likeliest of them, in words."""
    harm: str

    @property
    def says(self) -> str:
        """The step in one sentence."""
        return f"mute {self.output} and keep it muted: if {self.suspect}, it could put {self.harm} ({self.share:.0%})"


def mutes(belief: Belief) -> tuple[Mute, ...]:
    """List the outputs to mute now, the likeliest harm first."""
    found: dict[str, Mute] = {}
    pairs = sorted(zip(belief.mixed, belief.case.signatures, strict=True), key=lambda pair: -pair[0])
    for share, signature in pairs:
        if share < WORTH_ADDING:
            break
        for harm in signature.harms if signature else ():
            known = found.get(harm.output)
            suspect = signature.fault.says.partition(":")[0] if signature else ""
            found[harm.output] = (
                msgspec.structs.replace(known, share=known.share + share)
                if known
                else Mute(harm.output, share, suspect, harm.says)
            )
    return tuple(sorted((mute for mute in found.values() if mute.share > HARM_OVER), key=lambda mute: -mute.share))


def muting_text(found: Sequence[Mute]) -> str:
    """Say all that is muted in one sentence, with the reason of the likeliest."""
    if len(found) == 1:
        return found[0].says
    names = ", ".join(f"{mute.output} ({mute.share:.0%})" for mute in found)
    worst = found[0]
    return f"mute {names} and keep them muted: if {worst.suspect}, {worst.output} could put {worst.harm}"


def comes_first(found: Sequence[Mute], kind: str) -> bool:
    """Tell whether muting comes before a next test of a kind: it is likely enough, or somebody listens."""
    return bool(found) and (found[0].share >= LIKELY or kind not in SILENT_TESTS)


def outputs_of(found: Sequence[Mute]) -> frozenset[str]:
    """Name the outputs."""
    return frozenset(mute.output for mute in found)
