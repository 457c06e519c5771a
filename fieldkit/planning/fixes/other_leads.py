"""Leads that are not in the truck: what else could be laid in their place, and what to hire.

What stands in has the same connectors and no fewer cores, reaches, and is free; whether it loses too much is for
whoever evaluates the show to say.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

import msgspec

from fieldkit.checks.stock import laid, used_cables
from fieldkit.gear.cabling import Cable
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Run, Show, Step, Stock
from fieldkit.show.edits import with_thing
from fieldkit.units import Length

REACHES = 0.999
"""A piece may be shorter than planned by a thousandth: 25 m and 82 ft are the same lead."""

Place = tuple[Run, int]


class OtherLead(msgspec.Struct, frozen=True):
    """A lead in stock that nothing is planned with."""

    model: str
    length: Length


def other_leads(rig: Rig, model: str) -> Iterator[tuple[str, Show]]:
    """List what may be done about leads of a model that are missing: another type that is free, or hire them."""
    used = used_cables(rig).get(model, [])
    missing = [text for text, piece in laid(used, _lengths(rig.show, model)) if piece is None]
    cable = rig.show_index.models.get(model)
    if not missing or not isinstance(cable, Cable):
        return
    for name, free in _free(rig, cable).items():
        for places in _places(rig, model, missing):
            found = _assigned(places, free)
            if found is not None:
                laid_now = ", ".join(
                    f"{run.id} in {piece.length} {name} in place of {run.path[step].length} {model}"
                    for (run, step), piece in found
                )
                yield f"lay {laid_now}", _with_pieces(rig.show, found)
    told = ", ".join(f"{count} × {text}" for text, count in Counter(missing).items())
    yield f"hire {told} of {model}", _hired(rig.show, model, missing)


def _lengths(show: Show, model: str) -> list[float]:
    return [
        item.length.value
        for item in show.stock
        if item.model == model and item.length is not None
        for _ in range(item.owned + item.hired - item.out)
    ]


def _free(rig: Rig, cable: Cable) -> dict[str, list[OtherLead]]:
    """List the free pieces of every model that can replace this one, the thickest model first."""
    used = used_cables(rig)
    others = [
        other
        for other in rig.show.cables
        if other.id != cable.id and other.connectors == cable.connectors and other.cores >= cable.cores
    ]
    found: dict[str, list[OtherLead]] = {}
    for other in sorted(others, key=lambda one: (-one.area.value, one.cores)):
        pieces = {item.length.value: item.length for item in rig.show.stock if item.model == other.id and item.length}
        left = sorted(_lengths(rig.show, other.id))
        for _, taken in laid(used.get(other.id, []), list(left)):
            if taken is not None:
                left.remove(taken)
        if left:
            found[other.id] = [OtherLead(other.id, pieces[length]) for length in left]
    return found


def _places(rig: Rig, model: str, missing: Sequence[str]) -> Iterator[tuple[Place, ...]]:
    """List which steps could get another lead: each in turn where one is missing, else the last ones of the show."""
    steps = [
        (run, place)
        for run in rig.show.runs
        for place, step in enumerate(run.path)
        if step.cable == model and step.length is not None and step.length in missing and not step.shared
    ]
    if len(missing) == 1:
        yield from ((step,) for step in steps)
    elif len(steps) >= len(missing):
        yield tuple(steps[-len(missing) :])


def _assigned(places: Sequence[Place], free: Sequence[OtherLead]) -> list[tuple[Place, OtherLead]] | None:
    """Assign the shortest free piece that reaches to each step; None where a step gets none."""
    left, found = list(free), []
    for run, place in places:
        length = run.path[place].length
        assert length is not None  # noqa: S101  (only steps with a length come here)
        piece = next((one for one in left if one.length.value >= REACHES * length.value), None)
        if piece is None:
            return None
        left.remove(piece)
        found.append(((run, place), piece))
    return found


def _with_pieces(show: Show, found: Sequence[tuple[Place, OtherLead]]) -> Show:
    paths: dict[str, list[Step]] = {}
    for (run, place), piece in found:
        path = paths.setdefault(run.id, list(run.path))
        path[place] = msgspec.structs.replace(path[place], cable=piece.model, length=piece.length)
    for run in show.runs:
        if run.id in paths:
            show = with_thing(show, "runs", msgspec.structs.replace(run, path=tuple(paths[run.id])))
    return show


def _hired(show: Show, model: str, missing: Sequence[str]) -> Show:
    stock = list(show.stock)
    for text in missing:
        length = Length(text)
        same = (place for place, item in enumerate(stock) if item.model == model and item.length == length)
        place = next(same, None)
        if place is None:
            stock.append(Stock(model=model, length=length, hired=1))
        else:
            stock[place] = msgspec.structs.replace(stock[place], hired=stock[place].hired + 1)
    return msgspec.structs.replace(show, stock=tuple(stock))
