"""The ladder: how good plans are beside each other, and what each number of plugs moved brings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise

import msgspec

from fieldkit.planning.assign.judging import Alternative, MoveRung, Proposal
from fieldkit.text.words import counted

Worth = tuple[tuple[int, ...], ...]

UNDER_PREFERRED = "load-under-preferred"

PARTS = (
    "more errors",
    "more boxes silent, or such as come first",
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
    return (*_wrong(proposal), *((number,) for number in _takes(proposal)))


def _wrong(proposal: Proposal) -> Worth:
    rules = Counter(item.rule for item in proposal.findings)
    return (
        (len(proposal.errors),),
        proposal.silent,
        (rules["output-too-weak"],),
        (rules["preset-has-no-host"] + rules["no-limiter"],),
        (rules["both-sides-on-one-amplifier"],),
    )


def _takes(proposal: Proposal) -> tuple[int, int, int]:
    low = sum(item.rule == UNDER_PREFERRED for item in proposal.findings)
    warnings = sum(item.severity == "warning" and item.rule != UNDER_PREFERRED for item in proposal.findings)
    return proposal.rack_units, low, warnings


PLUGS_A_WARNING = 3
PLUGS_A_ZONE = 9
"""Plugs that a warning, and a zone whose sides hang on one amplifier, are worth; of rack units in use and outputs under
the preferred load each is worth one. Our own choice.
"""


def weighed(proposal: Proposal) -> tuple[Worth, int]:
    """Say how good a plan is where plugs move: what is wrong with it first, then what it takes, plugs among it."""
    *wrong, (shared,) = _wrong(proposal)
    units, low, warnings = _takes(proposal)
    plugs = proposal.replugged + units + low + PLUGS_A_WARNING * (warnings - shared) + PLUGS_A_ZONE * shared
    return tuple(wrong), plugs


def what_is_worse(tried: Proposal, best: Proposal) -> str:
    """Say in words what one plan has more of than a better one; empty where they are as good."""
    pairs = zip(worth(tried), worth(best), PARTS, strict=True)
    return next((words for one, other, words in pairs if one > other), "")


def on_ladder(chosen: Proposal, plans: Sequence[Proposal]) -> Proposal:
    """Add the ladder: plans that are better than all with fewer plugs, and what each brings against the one below."""
    rungs: list[Proposal] = []
    for plan in sorted(plans, key=lambda plan: (plan.replugged, worth(plan))):
        if not rungs or worth(plan) < worth(rungs[-1]):
            rungs.append(chosen if plan.replugged == chosen.replugged and worth(plan) == worth(chosen) else plan)
    if len(rungs) < 2:
        return chosen
    first = "nothing that is plugged moves" if not rungs[0].replugged else "as few plugs moved as can be"
    ladder = [MoveRung(rungs[0].replugged, rungs[0].rack_units, (first,), rungs[0])]
    ladder += [
        MoveRung(plan.replugged, plan.rack_units, tuple(_brings(below, plan)), plan) for below, plan in pairwise(rungs)
    ]
    others = tuple(
        Alternative(
            name=rung.name,
            rack_units=rung.rack_units,
            moves=rung.plugs,
            condition=f"{counted(rung.plugs, 'plug')} of what stands there {'moves' if rung.plugs == 1 else 'move'}",
            risk=what_is_worse(rung.proposal, chosen) or "what is plugged and tested moves",
            says=f"{rung.name}: {'; '.join(rung.brings)}",
        )
        for rung in ladder
        if rung.proposal is not chosen
    )
    return msgspec.structs.replace(chosen, ladder=tuple(ladder), alternatives=(*others, *chosen.alternatives))


def _brings(below: Proposal, plan: Proposal) -> Iterator[str]:
    """Say what a plan brings against one with fewer plugs moved, and what it takes."""
    heard = [name for name in below.mute if name not in plan.mute]
    if heard:
        yield f"{', '.join(heard)} {'plays' if len(heard) == 1 else 'play'}"
    quiet = [name for name in plan.mute if name not in below.mute]
    if quiet:
        yield f"in place of {', '.join(quiet)}"
    if plan.rack_units != below.rack_units:
        change = plan.rack_units - below.rack_units
        yield f"{counted(abs(change), 'rack unit')} {'more' if change > 0 else 'fewer'}"
    yield from (f"gone: {text}" for text in _loud(below, plan))
    yield from (f"new: {text}" for text in _loud(plan, below))


def _loud(one: Proposal, other: Proposal) -> Iterator[str]:
    """Name the errors and warnings of one plan that another does not have."""
    known = {(item.rule, item.where) for item in other.findings}
    for item in one.findings:
        if item.severity != "note" and item.rule != "box-unfed" and (item.rule, item.where) not in known:
            yield item.says if item.says.startswith(f"{item.where.id} ") else f"{item.where.id}: {item.says}"
