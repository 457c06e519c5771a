"""The ends of the cables: a label for each, where it plugs in, and what is at the other end.

The ends of a run are lettered from the amplifier outward: ``W7-A`` and ``W7-B`` are the first cable of run W7,
``W7-C`` and ``W7-D`` the next. A cable that several runs share is named by itself: ``MULTI-A``, ``MULTI-B``.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

import msgspec

from fieldkit.gear.cabling import Cable
from fieldkit.gear.rack import BuiltRack
from fieldkit.rig.connect.lines import ShowIndex
from fieldkit.show.document import Run, Show, Step
from fieldkit.units import Length

Kind: TypeAlias = Literal["amplifier", "rack panel", "input", "link", "panel", "socket", "adaptor", "cable", "nothing"]


class CableEnd(msgspec.Struct, frozen=True):
    """One end of one cable."""

    label: str
    kind: Kind
    """What it plugs into: ``input`` and ``link`` are those of a box, ``panel`` and ``socket`` those of a breakout."""
    where: str
    """The same in words: ``FL1 input``, ``FX socket A``."""
    place: str
    """The label of the thing it plugs into, where that has one: a box, an amplifier, a rack."""
    connector: str
    """Of the cable at this end; empty where the model does not say."""
    other: str
    """Label of the other end."""
    cable: str
    length: Length | None
    near: bool
    """True for the end toward the amplifier."""
    steps: tuple[tuple[str, int], ...]
    """Run and number of the step, counted from 1; several where runs share the cable."""

    @property
    def runs(self) -> tuple[str, ...]:
        """The runs that go through this cable."""
        return tuple(dict.fromkeys(run for run, _ in self.steps))


def cable_ends(show: Show, show_index: ShowIndex) -> tuple[CableEnd, ...]:
    """List near and far end of every cable, one after the other, in the order of the runs."""
    shared: dict[tuple[str, str], int] = {}
    found: list[CableEnd] = []
    for run in show.runs:
        own = 0
        for number, step in enumerate(run.path, start=1):
            if step.cable is None:
                continue
            key = (step.shared, step.cable)
            if step.shared and key in shared:
                at = shared[key]
                found[at : at + 2] = [
                    msgspec.structs.replace(end, steps=(*end.steps, (run.id, number))) for end in found[at : at + 2]
                ]
                continue
            if step.shared:
                shared[key] = len(found)
                labels = (f"{step.shared}-A", f"{step.shared}-B")
            else:
                labels = (f"{run.id}-{letters(own)}", f"{run.id}-{letters(own + 1)}")
                own += 2
            found += _ends(run, number, step, labels, show_index)
    return tuple(found)


def letters(number: int) -> str:
    """Letter the ends: A to Z, then AA, AB and so on; 0 is A."""
    name = ""
    number += 1
    while number:
        number, left = divmod(number - 1, 26)
        name = chr(ord("A") + left) + name
    return name


def _ends(
    run: Run, number: int, step: Step, labels: tuple[str, str], show_index: ShowIndex
) -> tuple[CableEnd, CableEnd]:
    model = show_index.models.get(step.cable or "")
    connectors = model.connectors if isinstance(model, Cable) else ()
    sides = []
    for near in (True, False):
        kind, where, place = _before(run, number, show_index) if near else _after(run, number)
        sides.append(
            CableEnd(
                label=labels[0 if near else 1],
                kind=kind,
                where=where,
                place=place,
                connector="" if not connectors else connectors[0 if near else -1],
                other=labels[1 if near else 0],
                cable=step.cable or "",
                length=step.length,
                near=near,
                steps=((run.id, number),),
            )
        )
    return sides[0], sides[1]


def _before(run: Run, number: int, show_index: ShowIndex) -> tuple[Kind, str, str]:
    """Say what the near end of a step plugs into: the amplifier, or what the step before ends in."""
    if number == 1:
        name, _, connector = run.start.partition(".")
        rack = show_index.racks.get(name)
        built = rack is not None and isinstance(show_index.models.get(rack.as_built or ""), BuiltRack)
        if built and name not in show_index.units:
            return "rack panel", f"rack {name} panel {connector}", name
        return "amplifier", f"{name} socket {connector}", name
    last = run.path[number - 2]
    if last.box:
        return "link", f"{last.box} link", last.box
    if last.panel:
        return "socket", f"{last.shared or last.panel} socket {last.socket}", ""
    if last.adaptor:
        return "adaptor", f"adaptor {last.adaptor}", ""
    return "cable", f"the cable before it ({last.cable})", ""


def _after(run: Run, number: int) -> tuple[Kind, str, str]:
    """Say what the far end of a step plugs into: a box, or what the next step begins with."""
    step = run.path[number - 1]
    if step.box:
        return "input", f"{step.box} input", step.box
    if number == len(run.path):
        return "nothing", "nothing", ""
    following = run.path[number]
    if following.panel:
        return "panel", f"{following.shared or following.panel} inlet", ""
    if following.adaptor:
        at = f" at {following.box}" if following.box else ""
        return "adaptor", f"adaptor {following.adaptor}{at}", following.box or ""
    return "cable", f"the next cable ({following.cable})", ""
