"""Boxes of one model and use in one zone that would not play alike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import Choices, finding, show_rule
from fieldkit.rig.signal.siblings import ALIKE_VOLTS, Sibling, families, trims
from fieldkit.rig.solve.evaluation import Rig


@show_rule
def siblings_play_alike(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find boxes alike in one zone whose wiring brings them another gain, limiter, polarity or delay."""
    for name, family in families(rig):
        if len({item.measure for item in family}) > 1:
            yield _not_comparable(family)
            continue
        different = rig.memory.once(("siblings differ", name), (family,), partial(_first_different, family))
        if different is not None:
            yield _found(rig, *different)


def _first_different(family: Sequence[Sibling]) -> tuple[Sibling, Sibling, tuple[str, ...]] | None:
    """Find the quietest of a family, one that differs from it, and in what: one finding a family is enough.

    The account of each output has its own trim.
    """
    one, *others = sorted(family, key=lambda item: item.gain_db)
    for other in others:
        differs = tuple(_differences(one, other))
        if differs:
            return one, other, differs
    return None


def _differences(one: Sibling, other: Sibling) -> Iterator[str]:
    if other.trim_db:
        modes = f"{_wired(other)} against {_wired(one)}"
        yield f"{other.name} plays {-other.trim_db:.1f} dB louder than {one.name} ({modes})"
    limits = [item.output.limiter for item in (one, other)]
    if limits[0] is not None and limits[1] is not None:
        volts = sorted(limiter.thermal_v for limiter in limits if limiter is not None)
        if volts[1] > ALIKE_VOLTS * volts[0]:
            yield f"slow limiters of {limits[0].thermal_v:.1f} and {limits[1].thermal_v:.1f} V rms"
    if one.preset != other.preset:
        yield f"{one.name} runs {one.preset or 'no preset'}, {other.name} {other.preset or 'no preset'}"


def _wired(item: Sibling) -> str:
    gain = f" at {item.gain_db:.1f} dB" if not item.measure else ""
    mode = "" if item.output.output.mode == "single" else f"{item.output.output.mode} "
    return f"{mode}{item.output.output.id}{gain}"


def _found(rig: Rig, one: Sibling, other: Sibling, differs: Sequence[str]) -> Finding:
    trim = trims(rig).get((other.name, other.load.section.section))
    if trim is None:
        fix = "drive both from outputs of one kind, with one preset that runs for both"
    elif trim.in_host:
        host = other.output.host.id if other.output.host is not None else ""
        fix = f"drive both from outputs of one kind, or set {trim.trim_db:+.1f} dB on {host}, as its account says"
    elif other.output.output.model.attenuators:
        name, down_db = other.output.output.id, -trim.trim_db
        fix = f"turn {name} down by {down_db:.1f} dB at its knob, and write it in 'attenuators'"
    else:
        fix = "drive both from outputs of one kind, or give each a processor output: a trim has no place here"
    return finding(
        "warning",
        "siblings-differ",
        ("zone", one.load.box.zone),
        f"{one.load.speaker.id} {one.load.section.section}: {'; '.join(differs)}",
        why="boxes alike in one zone are heard as one source, and the louder, earlier or turned one pulls it over",
        fix=fix,
        difference_db=other.gain_db - one.gain_db,
    )


def _not_comparable(family: Sequence[Sibling]) -> Finding:
    names = ", ".join(dict.fromkeys(item.output.output.id for item in family if item.measure))
    return finding(
        "warning",
        "siblings-not-compared",
        ("zone", family[0].load.box.zone),
        f"whether its {family[0].load.speaker.id} boxes play alike cannot be said: the gain of {names} is not known",
        why="boxes alike in one zone are heard as one source",
        fix="measure the gain, or take it from the data sheet, and write it into the model",
    )
