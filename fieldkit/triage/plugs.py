"""The labels on cable ends as meter points: the plug that carries one is pulled, and the meter put there."""

from __future__ import annotations

from collections.abc import Iterable

from fieldkit.rig.cable_ends import CableEnd, cable_ends
from fieldkit.rig.evaluation import Rig


def point_at(end: CableEnd, rig: Rig, run: str) -> str:
    """Name the meter point of a cable end; empty where its plug goes into another cable, an adaptor or an inlet."""
    if not end.near:
        return f"{end.place}.in" if end.kind == "input" else ""
    if end.kind in {"amplifier", "rack panel"}:
        return "amp"
    if end.kind == "link":
        return f"{end.place}.out"
    if end.kind == "socket":
        path = next(one.path for one in rig.show.runs if one.id == run)
        number = dict(end.steps)[run]
        return f"{path[number - 2].panel}.out"
    return ""


def labels(rig: Rig) -> dict[str, CableEnd]:
    """Find the cable end of every label."""
    return {end.label: end for end in cable_ends(rig.show, rig.ground)}


def points_at(end: CableEnd | None, rig: Rig, runs: Iterable[str]) -> list[tuple[str, str]]:
    """Give the meter point of a cable end on each of some runs that go through it: run and point."""
    if end is None:
        return []
    return [(run, name) for run in runs if run in end.runs and (name := point_at(end, rig, run))]
