"""What comes before any test: the outputs that are muted while a suspect could harm a driver by what they put out.

A file alone: it protects drivers, comes before all other advice, and is read and tested by itself.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from fieldkit.triage.belief.posterior import Belief

HARM_OVER = 0.01
"""Share of all suspects together by which an output could harm a driver, over which it is muted."""

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


def outputs_of(found: Sequence[Mute]) -> frozenset[str]:
    """Name the outputs."""
    return frozenset(mute.output for mute in found)
