"""Feed what needs outboard processing: an output of a processor each, shared where there are too few.

What may share is ``rig.sharing``'s to say: the same box, preset and polarity. Sharing costs a signal of one's own,
timing or level, and every way says what it costs; different presets are never merged. The last way is one more
processor. Nothing here is believed: who offers a way evaluates and checks the show that it gives.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from fieldkit.gear.library import every
from fieldkit.gear.processor import Processor
from fieldkit.planning.assign.inputs import Wanted, fed
from fieldkit.planning.assign.sources import Unavailable, taken_by
from fieldkit.rig.signal.sharing import Merge, ProcessingNeed, Sharing, sharing
from fieldkit.rig.solve.evaluation import Rig, evaluate
from fieldkit.show.document import RackUnit, Show, Stock
from fieldkit.show.edits import with_thing
from fieldkit.show.labels import next_label
from fieldkit.text.words import counted

MOST_MERGES = 6
"""Ways to share that are tried, those that lose least first."""
MOST_MODELS = 2
"""Processors that are offered in addition, the smallest that suffice."""

Groups = tuple[tuple[ProcessingNeed, ...], ...]


class Feeding(msgspec.Struct, frozen=True):
    """One way to give every output that has no preset in its amplifier a processor output."""

    label: str
    """What is done, and what it costs."""
    show: Show


def feedings(rig: Rig) -> Iterator[Feeding]:
    """List the ways, those that lose least first; none where every output has what it needs, or needs none."""
    found = sharing(rig)
    if not found.needs:
        return
    if not found.short:
        yield from _fed(rig, tuple((need,) for need in found.needs), "a processor output for each need")
    else:
        for groups, loses in _shared(found):
            yield from _fed(rig, groups, f"share: {loses}")
        for model in _models(rig, found.short):
            yield from _with_one_more(rig, model, found)


def _shared(found: Sharing) -> Iterator[tuple[Groups, str]]:
    """Merge needs until there are outputs enough, beginning with one merge after the other."""
    seen: set[frozenset[ProcessingNeed]] = set()
    for first in found.merges[:MOST_MERGES]:
        merges = _merged(found, first)
        if len(merges) < found.short:
            continue
        groups = _groups(found.needs, merges)
        shared = frozenset(need for group in groups if len(group) > 1 for need in group)
        if len(groups) <= found.outputs and shared not in seen:
            seen.add(shared)
            yield groups, "; ".join(f"{_names(merge)}{_price(merge)}" for merge in merges)


def _merged(found: Sharing, first: Merge) -> list[Merge]:
    """Add the merges that lose least to a first one, each joining what was apart, as many as it takes."""
    chosen = [first]
    for merge in found.merges:
        if len(chosen) >= found.short:
            break
        groups = _groups(found.needs, chosen)
        together = next(group for group in groups if merge.first in group)
        if merge.second not in together:
            chosen.append(merge)
    return chosen


def _groups(needs: Sequence[ProcessingNeed], merges: Sequence[Merge]) -> Groups:
    """Put needs together that merges join."""
    groups = [[need] for need in needs]
    for merge in merges:
        one = next(group for group in groups if merge.first in group)
        other = next(group for group in groups if merge.second in group)
        if one is not other:
            one += other
            groups.remove(other)
    return tuple(tuple(group) for group in groups)


def _names(merge: Merge) -> str:
    return f"{' '.join(merge.first.outputs)} with {' '.join(merge.second.outputs)}"


def _price(merge: Merge) -> str:
    return f" ({merge.loses})" if merge.loses else ""


def _fed(rig: Rig, groups: Groups, label: str) -> Iterator[Feeding]:
    """Patch inputs and routes for these groups; nothing where some output is left without, or nothing changes.

    What is patched already stays, though a need may then take more than one output; where that takes too many,
    each group gets one.
    """
    for staying in (True, False):
        wants = list(_wants(rig, groups, staying=staying))
        show, problems = fed(rig.show, wants, _in_use(rig, wants))
        if not problems:
            if show != rig.show:
                yield Feeding(label, show)
            return


def _wants(rig: Rig, groups: Groups, *, staying: bool) -> Iterator[Wanted]:
    """Say what each output wants; those that have a processor output already come first and keep it."""
    sources = {output.output.id: output.source for output in rig.outputs}
    listed = []
    for number, group in enumerate(groups):
        signals = tuple(dict.fromkeys(need.signal for need in group if need.signal))
        patched = [sources[name] for need in group for name in need.outputs if "." in sources[name]]
        for need in group:
            for name in need.outputs:
                unit, _, channels = name.partition(".")
                what = f"the preset '{need.preset}' of {need.speaker}"
                here = sources[name] if sources[name] in patched else patched[0] if patched else ""
                key = (number, here if staying else "")
                wanted = Wanted(unit, channels, signals[0] if signals else "", key, what, signals[1:])
                listed.append(("." not in sources[name], wanted))
    listed.sort(key=lambda item: item[0])
    for _, wanted in listed:
        yield wanted


def _in_use(rig: Rig, wants: Sequence[Wanted]) -> Unavailable:
    """Find the connectors and channels that are in use, without the channels of these wants."""
    asked: dict[str, set[int]] = {}
    for want in wants:
        asked.setdefault(want.unit, set()).update(map(int, want.channels.split("+")))
    taken = taken_by(rig)
    channels = {unit: frozenset(numbers - asked.get(unit, set())) for unit, numbers in taken.channels.items()}
    return msgspec.structs.replace(taken, channels=channels)


def _models(rig: Rig, short: int) -> list[Processor]:
    """List the smallest processors that hold what is missing, the show's own first."""
    known = {model.id: model for model in rig.show.processors}
    for entry in every():
        if isinstance(entry.model, Processor):
            known.setdefault(entry.model.id, entry.model)
    enough = [model for model in known.values() if model.hosts is not None and model.outputs >= short]
    return sorted(enough, key=lambda model: (model.units, model.outputs))[:MOST_MODELS]


def _with_one_more(rig: Rig, model: Processor, found: Sharing) -> Iterator[Feeding]:
    """Hire one more processor, put it where the others stand, and feed everything."""
    show = rig.show
    beside = next((unit for unit in rig.show_index.units.values() if isinstance(_model(rig, unit), Processor)), None)
    name = next_label(show, beside.id if beside is not None else "P1")
    unit = RackUnit(id=name, model=model.id)
    if beside is not None:
        unit = msgspec.structs.replace(unit, rack=beside.rack, supply=beside.supply, phase=beside.phase)
    show = with_thing(with_thing(show, "processors", model), "rack_units", unit)
    stock = Stock(model=model.id, hired=1, note="to hire: one more processor for the presets")
    show = msgspec.structs.replace(show, stock=(*show.stock, stock))
    more = evaluate(show)
    units = counted(model.units, "rack unit")
    weight = f", {model.weight}" if model.weight is not None else ""
    label = f"hire {model.id} ({units}{weight}) as {name}: nothing shared"
    yield from _fed(more, tuple((need,) for need in found.needs), label)


def _model(rig: Rig, unit: RackUnit) -> object:
    return rig.show_index.models.get(unit.model)
