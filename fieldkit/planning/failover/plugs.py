"""Plugs that a person can move as one piece, what their pin pairs need, and the sockets that could take them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.rig.connect.connectors import pairs_reached, plug_shape, shape_at
from fieldkit.rig.connect.hosts import Host
from fieldkit.rig.connect.lines import Line, Load
from fieldkit.rig.connect.outputs import Output
from fieldkit.rig.failures import Failures, reason
from fieldkit.rig.priorities import zone_priorities
from fieldkit.rig.signal.chain import signal_paths
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.contents import all_units
from fieldkit.show.document import RackUnit, Run, Show
from fieldkit.show.edits import with_thing

WHOLE = 60
"""A box, in parts: sections of which it has up to six each count the same, in whole numbers."""


Weight = tuple[int, ...]
"""Parts of boxes, by priority from the first to the last."""


Kind = tuple[tuple[str, str, str, float], ...]
"""What an output must be set up for: model, section, preset and ohms of each load."""


class PairNeed(msgspec.Struct, frozen=True, eq=False):
    """One pin pair of a plug with what it feeds, and the output that feeds it in the plan."""

    pair: str
    lines: tuple[Line, ...]
    loads: tuple[Load, ...]
    output: Output
    source: str
    host: Host | None
    gain_db: float | None
    signal: str
    """What the zone is to hear; empty where nobody has said it, or where zones differ."""
    signals: tuple[str, ...]
    """What arrives in the plan, or is to: a processor output that stands in must get it."""
    weight: Weight
    cut_off: bool
    """Whether its output itself has failed: whoever else comes to its channels is not heard there."""
    modes: tuple[tuple[str, str], ...]
    """Channel pairs that it stands on, and how each is set."""
    failed: str
    """Why it is silent; empty while it plays."""

    @property
    def kind(self) -> Kind:
        """What an output must be set up for to serve these loads."""
        loads = self.loads
        return tuple(
            (load.speaker.id, load.section.section, load.choice.id or "", load.impedance_ohm) for load in loads
        )

    @property
    def settings(self) -> frozenset[tuple[str, str, str]]:
        """The same without the number of boxes: what one output can hold at a time."""
        return frozenset((load.speaker.id, load.section.section, load.choice.id or "") for load in self.loads)


class Plug(msgspec.Struct, frozen=True, eq=False):
    """All that begins at one connector."""

    start: str
    runs: tuple[Run, ...]
    needs: tuple[PairNeed, ...]
    shape: str
    """What it looks like, such as ``4-pole``; empty where nobody has said it."""
    reach: frozenset[str]
    """Pin pairs that lead to a section of some box, fed or not."""
    rank: int
    """Place of the best priority on it, from 0."""
    order: int
    unclear: str
    """Why a plan must leave it alone; empty where it can be moved."""
    parent: str = ""
    """The connector that feeds it, where it begins at a socket of a stage box and not at that connector itself."""
    behind_m: float = 0.0
    """How much cable lies between the two."""

    @property
    def weight(self) -> Weight:
        """What is silent when all of it is."""
        return added(need.weight for need in self.needs)

    @property
    def failed_weight(self) -> Weight:
        """What is silent as long as it stays where it is."""
        return added((need.weight if need.failed else (0,) * len(need.weight)) for need in self.needs)

    @property
    def is_failed(self) -> bool:
        """Tell whether something on it is silent."""
        return any(need.failed for need in self.needs)


def added(weights: Iterable[Weight]) -> Weight:
    """Add weights, priority by priority."""
    return tuple(sum(parts) for parts in zip(*weights, strict=True))


def ranks_of(rig: Rig) -> dict[str, int]:
    """Rank the zones by priority, set or guessed, from 0."""
    known = zone_priorities(rig.show, rig.show_index.speakers)
    steps = sorted({priority.order for priority in known.values()})
    return {name: steps.index(priority.order) for name, priority in known.items()}


def plugs_of(rig: Rig, failures: Failures) -> list[Plug]:
    """List the plugs of a show that feed something, in the order of its runs."""
    ranks = ranks_of(rig)
    arriving = {path.to: path.signals for path in signal_paths(rig)}
    terms = _NeedTerms(rig, failures, ranks, _shares(rig, failures), arriving)
    by_start: dict[str, list[Run]] = {}
    for run in rig.show.runs:
        if run.start:
            by_start.setdefault(run.start, []).append(run)
    fed = {solved.line.id: (output, solved.line) for output in rig.outputs for solved in output.lines}
    result = []
    for order, (start, runs) in enumerate(by_start.items()):
        by_pair: dict[str, list[Line]] = {}
        for line in rig.lines:
            if line.run.start == start and line.loads and line.id in fed:
                by_pair.setdefault(line.pair, []).append(line)
        needs = tuple(_need(pair, lines, terms) for pair, lines in sorted(by_pair.items()))
        if needs:
            loads = [load for need in needs for load in need.loads]
            unclear = _unclear(by_pair)
            reach = frozenset(pair for run in runs for pair in pairs_reached(run, rig.show_index))
            rank = min(ranks[load.box.zone] for load in loads)
            shape = plug_shape(runs[0], rig.show_index.models) or shape_at(start, rig.show_index)
            result.append(Plug(start, tuple(runs), needs, shape, reach, rank, order, unclear))
    return result


class _NeedTerms(msgspec.Struct, frozen=True):
    """What the needs of all plugs are made from."""

    rig: Rig
    failures: Failures
    ranks: Mapping[str, int]
    """Zone -> its place by priority."""
    shares: Mapping[str, int]
    """Box -> what each of its sections counts."""
    arriving: Mapping[str, tuple[str, ...]]
    """Output -> the signals that reach it."""


def _need(pair: str, lines: list[Line], terms: _NeedTerms) -> PairNeed:
    rig, failures, ranks = terms.rig, terms.failures, terms.ranks
    solved = next(output for output in rig.outputs for item in output.lines if item.line.id == lines[0].id)
    loads = tuple(load for line in lines for load in line.loads)
    weight = [0] * (max(ranks.values(), default=0) + 1)
    for load in loads:
        weight[ranks[load.box.zone]] += terms.shares.get(load.box.id, 0)
    signal, unit, channels = _signal(loads, rig.show), solved.output.unit, set(solved.output.channels)
    return PairNeed(
        pair=pair,
        lines=tuple(lines),
        loads=loads,
        output=solved.output,
        source=solved.source,
        host=solved.host,
        gain_db=solved.gain_db,
        signal=signal,
        signals=terms.arriving.get(solved.output.id) or ((signal,) if signal else ()),
        weight=tuple(weight),
        cut_off=bool(failures.of_output(solved.output)),
        modes=tuple((pair, mode_of(unit, pair)) for pair in channel_pairs(unit, solved.output.model, channels)),
        failed=reason(rig, failures, solved.output, solved.source),
    )


def _signal(loads: Iterable[Load], show: Show) -> str:
    zones = {zone.id: zone for zone in show.zones}
    wanted = {zones[load.box.zone].signals.get(load.box.side, "") for load in loads}
    return wanted.pop() if len(wanted) == 1 else ""


def _shares(rig: Rig, failures: Failures) -> dict[str, int]:
    """Compute the share of a box that each section counts; failed boxes have none: no cable restores them."""
    counts: dict[str, int] = {}
    for output in rig.outputs:
        for load in output.loads:
            counts[load.box.id] = counts.get(load.box.id, 0) + 1
    return {box: max(1, WHOLE // count) for box, count in counts.items() if box not in failures.boxes}


def _unclear(by_pair: Mapping[str, list[Line]]) -> str:
    """Say why a plug cannot be planned with: the show contradicts itself about it."""
    for pair, lines in by_pair.items():
        if any(line.mismatch for line in lines):
            return f"the show feeds pair {pair} from what its connector does not carry; fix that first"
        if len({line.output.id for line in lines if line.output}) > 1:
            return f"pair {pair} of its connector is fed by two outputs in the show; fix that first"
    return ""


def with_unit(show: Show, unit: RackUnit) -> Show:
    """Write what changed of a unit, and no more: a rack as built brings the rest of its own."""
    effective = next((item for item in all_units(show) if item.id == unit.id), None)
    if effective is None:
        return with_thing(show, "rack_units", unit)  # a spare comes in
    written = next((item for item in show.rack_units if item.id == unit.id), None)
    if written is None:
        written = RackUnit(id=unit.id, model=unit.model)
    more = {key: source for key, source in unit.inputs.items() if effective.inputs.get(key, "") != source}
    led = {key: route for key, route in unit.routes.items() if effective.routes.get(key, "") != route}
    values: dict[str, object] = {"inputs": {**written.inputs, **more}, "routes": {**written.routes, **led}}
    if unit.bridged != effective.bridged:
        values["bridged"] = unit.bridged
    if unit.paralleled != effective.paralleled:
        values["paralleled"] = unit.paralleled
    return with_thing(show, "rack_units", msgspec.structs.replace(written, **values))


PairMode = Literal["single", "bridged", "paralleled"]


def channel_pairs(unit: RackUnit, model: Amplifier, touched: set[int]) -> list[str]:
    """Name the pairs of channels that these channels belong to, as set or as they could be set."""
    named = {*unit.bridged, *unit.paralleled}
    for table in (*model.connectors.values(), *model.connectors_bridged.values()):
        named.update(channels for channels in table.values() if "+" in channels)
    return sorted(pair for pair in named if touched & {int(part) for part in pair.split("+") if part.isdecimal()})


def mode_of(unit: RackUnit, pair: str) -> PairMode:
    """Say how a pair of channels is set."""
    if pair in unit.bridged:
        return "bridged"
    return "paralleled" if pair in unit.paralleled else "single"


def with_modes(unit: RackUnit, changes: Sequence[tuple[str, str, PairMode]]) -> RackUnit:
    """Return a unit with the modes of some of its channel pairs changed."""
    for _, pair, mode in changes:
        bridged = tuple(item for item in unit.bridged if item != pair)
        paralleled = tuple(item for item in unit.paralleled if item != pair)
        if mode == "bridged":
            bridged = (*bridged, pair)
        unit = msgspec.structs.replace(unit, bridged=bridged, paralleled=paralleled)
    return unit
