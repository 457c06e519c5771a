"""The clusters that may be formed on one kind of place, and the leads that reach them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from fieldkit.formulas.cables import voltage_drop_db
from fieldkit.gear.cabling import Adaptor, Cable
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.planning.assign.fitting import Fit, fit
from fieldkit.planning.assign.patterns import INFINITY, Fittings, Kind, carries_a
from fieldkit.planning.assign.problem import ClusterOption, Group, Hosting, Question, Way
from fieldkit.rig.connect.connectors import has_larger_plugs, takes_plug
from fieldkit.rig.connect.lines import Load, loop_ohm
from fieldkit.rig.connect.lines import Piece as LinePiece
from fieldkit.rig.solve.ladder import Rung, looking_in, node_volts
from fieldkit.units import Length

LINK_M = 2.0
"""Way from one box to the next beside it. Our own choice."""


class Lead(msgspec.Struct, frozen=True, gc=False):
    """A cable and what joins it to the box."""

    cable: Cable
    adaptor: Adaptor | None = None


def can_reach(kind: Kind, group: Group, fittings: Fittings) -> bool:
    """Tell whether some cable joins places of a kind to boxes of a group, and goes on where it must."""
    if kind.passes_on and not (group.links and _meets(kind.joint, group.speaker)):
        return False
    carried = carried_pairs(kind)
    if not any(True for _ in leads_to(group.speaker, kind.plug, carried, fittings, goes_on=kind.passes_on)):
        return False
    return not kind.passes_on or any(True for _ in links_of(group.speaker, carried, fittings))


def end_adaptor(kind: Kind, group: Group, fittings: Fittings) -> str:
    """Name the adaptor that every lead to a box needs at its end; empty where some lead does without."""
    leads = list(leads_to(group.speaker, kind.plug, carried_pairs(kind), fittings, goes_on=kind.passes_on))
    names = [lead.adaptor.id for lead in leads if lead.adaptor is not None]
    return names[0] if len(names) == len(leads) else ""


def carried_pairs(kind: Kind) -> tuple[str, ...]:
    """List the pairs that a lead must carry; one that goes on carries the first two."""
    return tuple(dict.fromkeys((*kind.pairs, "1", "2"))) if kind.passes_on else kind.pairs


def leads_to(
    speaker: Loudspeaker, plug: str, pairs: Sequence[str], fittings: Fittings, *, goes_on: bool = False
) -> Iterator[Lead]:
    """List the leads from a connector to a box; with ``goes_on`` the box's own socket must take the plug."""
    larger = has_larger_plugs(fittings.cables)
    for cable in fittings.cables:
        near, far = _ends(cable)
        if not takes_plug(plug, near, larger=larger) or any(cable.far_pair(pair) != pair for pair in pairs):
            continue
        if not far or far == speaker.connector or speaker.assumed:
            yield Lead(cable)
        elif not goes_on:
            for adaptor in fittings.adaptors:
                if (
                    adaptor.connectors[:1] == (far,)
                    and adaptor.connectors[-1:] == (speaker.connector,)
                    and all(adaptor.far_pair(pair) == pair for pair in pairs)
                ):
                    yield Lead(cable, adaptor)


def links_of(speaker: Loudspeaker, pairs: Sequence[str], fittings: Fittings) -> Iterator[Lead]:
    """List the cables from one box to the next of its model."""
    for cable in fittings.cables:
        near, far = _ends(cable)
        fits = speaker.assumed or (near in ("", speaker.connector) and far in ("", speaker.connector))
        if fits and all(cable.far_pair(pair) == pair for pair in pairs):
            yield Lead(cable)


def _ends(cable: Cable) -> tuple[str, str]:
    return (cable.connectors[0], cable.connectors[-1]) if cable.connectors else ("", "")


def _meets(joint: str, speaker: Loudspeaker) -> bool:
    """Tell whether an adaptor goes into a box."""
    return not joint or speaker.assumed or joint == speaker.connector


def cable_ohm(cable: Cable, length: Length, temperature_c: float) -> float:
    """Compute the loop resistance of a length of cable [ohm]."""
    gauge = cable.area.awg
    size = cable.area.value if gauge is None else float(gauge)
    piece = LinePiece(1, "cable", cable.id, "1", "1", length.value, size, gauge is not None, 0.0, None, None, ())
    return loop_ohm(piece, temperature_c)


def worst_loss_db(stretches: Sequence[tuple[float, Sequence[Sequence[Load]]]], pair: int) -> float:
    """Compute the loss to the last box of a run on one of its pairs [dB].

    stretches: loop resistance of each stretch [ohm], and the loads at its far end, by pair
    """
    rungs = [
        Rung(ohm, tuple(load.impedance_ohm for load in (loads[pair] if len(loads) > pair else ())))
        for ohm, loads in stretches
    ]
    if not any(rung.across_ohm for rung in rungs):
        return 0.0
    return voltage_drop_db(1.0, node_volts(rungs, 1.0, looking_in(rungs))[-1])


def options_of(question: Question, index: int, way: Way) -> list[ClusterOption]:
    """List the clusters of a group in one drive, on every source that may serve its zone."""
    group = question.groups[index]
    allowed = question.pins.get(group.zone.id)
    found = []
    asked = _AskedWay(index, way, {}, {})
    for number, source in enumerate(question.sources):
        if allowed is not None and not allowed & source.called():
            continue
        if allowed is None and not question.within_reach(group.zone.id, source):
            continue
        for kind in dict.fromkeys(kind for pattern in source.patterns for kind in pattern.counts):
            if kind.pairs != way.pairs or not can_reach(kind, group, question.fittings):
                continue
            found += _sizes(question, asked, number, kind)
    return found


class _AskedWay(msgspec.Struct, frozen=True):
    """A group in one drive."""

    group: int
    way: Way
    over_loss: dict[int, int]
    """Boxes on a run -> how far the loss to the last is over the limit [0.1 dB], as far as computed yet."""
    fits: dict[tuple[tuple[str, ...], int], Fit | None]
    """Modes and models that feed a run, and boxes on it -> how they fit, as far as computed yet."""


def _sizes(question: Question, asked: _AskedWay, source: int, kind: Kind) -> list[ClusterOption]:
    """List the clusters of a group at one kind of place of a source, by number of boxes."""
    index, way, over_loss = asked.group, asked.way, asked.over_loss
    group = question.groups[index]
    outputs = [
        (loads, question.amplifiers[model], mode)
        for (_, loads), (_, mode, model) in zip(way.loads, kind.feeds, strict=True)
    ]
    adaptor = end_adaptor(kind, group, question.fittings)
    feeds = tuple(text for _, mode, model in kind.feeds for text in (mode, model))
    aparts = [True, False] if group.is_sided and question.mirrored else [False]
    if question.faces(group, question.sources[source]):
        aparts = [False]
    lead = _thickest(question, group, way)
    lead_ohm = lead[0] if lead is not None else 0.0
    most_a = _most_a(question, group, kind)
    found = []
    for boxes in range(1, group.count + 1 if group.links else 2):
        if (feeds, boxes) not in asked.fits:
            asked.fits[feeds, boxes] = fit(outputs, boxes, question.limits[group.zone.id], lead_ohm)
        fits = asked.fits[feeds, boxes]
        if fits is None:
            break
        hostings: list[Hosting] = ["inside"] if fits.is_hosted else ["outside"]
        if not fits.is_hosted and not fits.needs_host:
            hostings.append("nowhere")
        if boxes not in over_loss:
            over_loss[boxes] = _over_loss(question, group, way, boxes)
        found += [
            ClusterOption(
                index, way, source, kind, boxes, fits, hosting, apart, adaptor, over_loss[boxes], amps, amps > most_a
            )
            for hosting in hostings
            for amps in (fits.full_a if hosting == "nowhere" else fits.held_a,)
            for apart in aparts
        ]
    return found


def _over_loss(question: Question, group: Group, way: Way, boxes: int) -> int:
    """Say how far the loss to the last of so many boxes is over its zone's limit, by the thickest cable [0.1 dB]."""
    lead = _thickest(question, group, way)
    if lead is None:
        return 0
    lead_ohm, cable = lead
    link_ohm = cable_ohm(cable, Length.of(LINK_M), question.temperature_c)
    loads = tuple(own for _, own in way.loads)
    stretches = [(lead_ohm, loads), *[(link_ohm, loads)] * (boxes - 1)]
    worst_db = max((worst_loss_db(stretches, number) for number in range(len(loads))), default=0.0)
    return max(0, round(10.0 * (worst_db - question.limits[group.zone.id].loss_db)))


def _thickest(question: Question, group: Group, way: Way) -> tuple[float, Cable] | None:
    """Find the cable that loses least on the way to a group: its loop [ohm], and itself; None for a way not known."""
    if group.zone.distance is None:
        return None
    most = max((int(pair) for pair in way.pairs), default=1)
    loops = [
        (cable_ohm(cable, group.zone.distance, question.temperature_c), cable)
        for cable in question.fittings.cables
        if cable.cores >= 2 * most
    ]
    return min(loops, key=lambda item: item[0], default=None)


def _most_a(question: Question, group: Group, kind: Kind) -> float:
    """Say what the way to a group bears: the best lead, the multicore before it, the amplifier's connector [A]."""
    leads = leads_to(group.speaker, kind.plug, carried_pairs(kind), question.fittings, goes_on=kind.passes_on)
    best_a = max((carries_a(lead.cable) for lead in leads), default=INFINITY)
    plugs = (question.amplifiers[model].connector_current for _, _, model in kind.feeds)
    return min(best_a, kind.most_a, *(rated.value for rated in plugs if rated is not None))
