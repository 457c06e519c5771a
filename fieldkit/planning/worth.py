"""How good a plan is, so that two can be held against each other."""

from __future__ import annotations

from collections import Counter

from fieldkit.planning.proposals import Proposal

Worth = tuple[int, ...]

UNDER_PREFERRED = "load-under-preferred"

PARTS = (
    "more errors",
    "more boxes silent",
    "more outputs too weak",
    "more presets without a place to run",
    "more zones that hang on one amplifier",
    "more rack units",
    "more outputs under the preferred load",
    "more warnings",
)
"""What each part of a worth counts, as what it means to have more of it."""


def worth(proposal: Proposal) -> Worth:
    """Say how good a plan is, the smaller the better: what is wrong with it first, then what it takes."""
    rules = Counter(item.rule for item in proposal.findings)
    return (
        len(proposal.errors),
        len(proposal.undriven) + rules["box-unfed"],
        rules["output-too-weak"],
        rules["preset-has-no-host"] + rules["no-limiter"],
        rules["both-sides-on-one-amplifier"],
        proposal.rack_units,
        rules[UNDER_PREFERRED],
        sum(item.severity == "warning" and item.rule != UNDER_PREFERRED for item in proposal.findings),
    )


def what_is_worse(tried: Proposal, best: Proposal) -> str:
    """Say in words what one plan has more of than a better one; empty where they are as good."""
    pairs = zip(worth(tried), worth(best), PARTS, strict=True)
    return next((words for one, other, words in pairs if one > other), "")
