"""Whom an error concerns: the outputs that it touches, and the names by which paper and screens know its things."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from fieldkit.checks.finding import Finding
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput

LIVE_KINDS = frozenset({"output", "line", "run", "box", "zone", "unit", "host"})
"""Errors about these are about what a driver or an amplifier gets: what they concern is not to be plugged."""


class Concern(msgspec.Struct, frozen=True):
    """One error, with what it concerns."""

    finding: Finding
    outputs: tuple[str, ...]
    names: frozenset[str]
    """Of its thing, its outputs and their lines."""

    @property
    def live(self) -> bool:
        """Whether an amplifier or a driver is in danger, so that nothing of it is to be plugged."""
        return bool(self.outputs) and self.finding.where.kind in LIVE_KINDS


def concerns_of(rig: Rig, findings: tuple[Finding, ...]) -> tuple[Concern, ...]:
    """Pick the errors among findings, each with what it concerns."""
    return tuple(_concern(rig, item) for item in findings if item.severity == "error")


def _concern(rig: Rig, item: Finding) -> Concern:
    outputs = list(_outputs(rig, item))
    lines = [line.line.id for output in outputs for line in output.lines]
    names = {item.where.id, *(output.output.id for output in outputs), *lines}
    return Concern(item, tuple(output.output.id for output in outputs), frozenset(names - {""}))


def _outputs(rig: Rig, item: Finding) -> Iterator[SolvedOutput]:
    kind, name = item.where.kind, item.where.id
    for output in rig.outputs:
        concerned = {
            "output": output.output.id == name,
            "unit": output.output.unit.id == name,
            "line": any(line.line.id == name for line in output.lines),
            "run": any(line.line.run.id == name for line in output.lines),
            "box": any(load.box.id == name for load in output.loads),
            "zone": any(load.box.zone == name for load in output.loads),
            "host": output.host is not None and output.host.id == name,
        }.get(kind, False)
        if concerned and (output.lines or kind == "output"):
            yield output
