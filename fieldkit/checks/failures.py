"""Failures: what failed during the job, what is silent for it, and that it is to be put back."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.checks.finding import Finding, Kind
from fieldkit.checks.rules import Choices, finding, show_rule
from fieldkit.gear.processor import Processor
from fieldkit.rig.failures import failures_of, silenced
from fieldkit.rig.solve.evaluation import Rig


@show_rule
def what_has_failed(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find what is noted as failed: a warning while something is silent for it, else a reminder."""
    for failure in rig.show.failed:
        failures = failures_of(rig.show, rig.show_index.units, [failure.id])
        silent = () if failure.swapped else silenced(rig, failures)
        boxes = list(dict.fromkeys(item.load.box.id for item in silent))
        where = (_kind(failure.id, rig), failure.id)
        if boxes:
            yield finding(
                "warning",
                "failed-and-silent",
                where,
                f"{failure.id} has failed; silent for it: {', '.join(boxes)}",
                why="nothing comes out of them until they are plugged round it, or it works again",
                fix=f"ask for the moves (fieldkit failover, or x at it), or put {failure.id} back when it works again",
                boxes=len(boxes),
            )
        else:
            moved = ", ".join(dict.fromkeys(item.run for item in failure.moved))
            told = f"; moved for it: {moved}" if moved else ""
            spare = "; a spare stands in its place" if failure.swapped else ""
            yield finding(
                "note",
                "failed-and-noted",
                where,
                f"{failure.id} has failed{spare}{told}",
                why="if one more thing fails, there may be nothing left to move to",
                fix=f"put {failure.id} back when it works again: what was moved goes back with it",
            )


def _kind(name: str, rig: Rig) -> Kind:
    unit, dot, _ = name.partition(".")
    if dot:
        model = rig.show_index.models.get(rig.show_index.units[unit].model)
        return "host" if isinstance(model, Processor) else "output"
    if name in rig.show_index.units:
        return "unit"
    return "supply" if any(supply.id == name for supply in rig.show.supplies) else "box"
