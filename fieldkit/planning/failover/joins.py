"""Joins: what one show has joined by a link socket or a Y-lead, and another one has apart."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from fieldkit.gear.cabling import Panel
from fieldkit.planning.failover.junctions import splits
from fieldkit.planning.failover.steps import joint_name
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Run, Step


class Join(msgspec.Struct, frozen=True):
    """What one show has joined, and another one apart."""

    coming: str
    """The run that joins."""
    boxes: tuple[str, ...]
    playing: tuple[str, ...]
    """The runs that it joins, which change."""
    start: str
    """The connector that feeds them while they are joined."""
    own_start: str
    """The connector that feeds them while they are apart."""
    away: str
    """Where what comes is plugged while it is apart: a connector, or a socket of a stage box."""
    box: str = ""
    """Whose link socket it is; empty for a Y-lead."""
    lead: Step | None = None
    """A lead from the stock, in place of its own one."""
    adaptor: str = ""

    @property
    def at(self) -> str:
        """Say where it joins."""
        return f"the link socket of {self.box}" if self.box else f"a Y-lead in {self.start}"


def joins_between(apart: Rig, together: Rig) -> list[Join]:
    """List what is joined in one show and not in the other."""
    return [*_by_links(apart, together), *_by_y_leads(apart, together)]


def _by_links(apart: Rig, together: Rig) -> Iterator[Join]:
    was = {run.id: run for run in apart.show.runs}
    owners = {step.box: run for run in apart.show.runs for step in run.path if step.box}
    for run in together.show.runs:
        old = was.get(run.id)
        last = old.path[-1].box if old is not None and old.path else None
        if old is None or not run.start or last is None or last not in {step.box for step in run.path}:
            continue
        end = next(number for number, step in enumerate(run.path, start=1) if step.box == last)
        added = run.path[end:]
        boxes = tuple(step.box for step in added if step.box)
        coming = owners.get(boxes[0]) if boxes else None
        if coming is None or coming.id == run.id:
            continue
        lead = next(step for step in added if step.box)
        yield Join(
            coming=coming.id,
            boxes=boxes,
            playing=(run.id,),
            start=run.start,
            own_start=old.start,
            away=_away(coming, added),
            box=last,
            lead=lead if lead not in coming.path else None,
            adaptor=_adaptor(added[0], coming),
        )


def _by_y_leads(apart: Rig, together: Rig) -> Iterator[Join]:
    was = {run.id: run for run in apart.show.runs}
    groups: dict[str, list[Run]] = {}
    for run in together.show.runs:
        first = run.path[0] if run.path else None
        if run.id in was and first is not None and first.panel and first.shared and first not in was[run.id].path:
            groups.setdefault(first.shared, []).append(run)
    for runs in groups.values():
        panel = together.show_index.models[runs[0].path[0].panel or ""]
        own = next(iter(panel.sockets)) if isinstance(panel, Panel) and splits(panel) else ""
        stay = tuple(run.id for run in runs if run.path[0].socket == own)
        come = [run for run in runs if run.id not in stay]
        if stay and len(come) == 1:
            coming, rest = was[come[0].id], come[0].path[1:]
            boxes = tuple(step.box for step in rest if step.box)
            adaptor = _adaptor(rest[0], coming)
            before, away = was[stay[0]].start, _away(coming, rest)
            yield Join(coming.id, boxes, stay, come[0].start, before, away, adaptor=adaptor)


def _away(run: Run, rest: tuple[Step, ...]) -> str:
    """Say where a run is plugged by itself: at its connector, or at the stage box that stays behind."""
    left = [step for step in run.path if step.panel and step.shared and step not in rest]
    return joint_name(left[-1]) if left else run.start


def _adaptor(first: Step, coming: Run) -> str:
    return first.adaptor or "" if first not in coming.path else ""
