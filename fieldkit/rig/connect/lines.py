"""The lines of a run: each pin pair followed from the connector through cables, adaptors, panels and boxes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Literal, NamedTuple

import msgspec

from fieldkit.formulas import cables, conductors, impedance, loads
from fieldkit.formulas.figures import Apply, direct
from fieldkit.formulas.ratings import MEANINGS, rating_impedance, rating_text
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Adaptor, Cable
from fieldkit.gear.loudspeaker import Drive, Loudspeaker, Section
from fieldkit.gear.rack import BuiltRack
from fieldkit.rig.connect.outputs import Output, output_of
from fieldkit.rig.connect.presets import Choice, choose
from fieldkit.rig.connect.uses import ZoneUse, planned_drive
from fieldkit.show.document import Box, Model, Rack, RackUnit, Run, Step, Zone
from fieldkit.units import Area


class Load(msgspec.Struct, frozen=True, gc=False):
    """One section of one box on a line, as numbers. None is what the model does not say."""

    box: Box
    speaker: Loudspeaker
    drive: Drive
    section: Section
    choice: Choice
    zone_use: ZoneUse
    impedance_ohm: float
    rated_ohm: float
    """Impedance through which the power was rated, by its standard."""
    crest: float
    """Peak over rms of the noise that it was rated with."""
    continuous_w: float
    peak_w: float | None
    peak_v: float | None
    short_w: float | None
    """IEC short-term maximum input."""
    limiter_w: float | None
    """Power that the chosen preset's own limiter holds."""

    @property
    def rating_text(self) -> str:
        """How its watts were rated, and what is taken where nobody says."""
        section = self.section
        said = section.rated_at is not None or section.minimum is not None
        return rating_text(section.rating, float(self.rated_ohm), said=said)

    @property
    def judged_ohm(self) -> float:
        """What an amplifier has to bear of it: the rated impedance, or what the minimum stands for [ohm]."""
        minimum = self.section.minimum
        return self.impedance_ohm if minimum is None else impedance.judged_impedance(self.impedance_ohm, minimum.value)


class Piece(msgspec.Struct, frozen=True, gc=False):
    """One step of a run as one line sees it: a resistance, and the loads at its far end."""

    step: int
    """Number of the step in the run, from 1; 0 for the wiring inside a rack as built."""
    kind: Literal["cable", "adaptor", "panel", "wiring"]
    model: str
    pair_in: str
    pair_out: str
    length_m: float
    size: float | None
    """Cross-section of a core [mm²], or its gauge number; None where there is no cable."""
    gauge: bool
    extra_ohm: float
    """Contacts, and the loop through an adaptor or panel."""
    current_a: float | None
    """What the cable or adaptor is rated to carry."""
    box: Box | None
    loads: tuple[Load, ...]


class Break(msgspec.Struct, frozen=True, gc=False):
    """Where a line ends before it should: a piece that does not carry the pair on."""

    step: int
    model: str
    pair: str
    beyond: tuple[str, ...]
    """Boxes that this line does not reach."""


class Line(msgspec.Struct, frozen=True, gc=False):
    """One pin pair of a run."""

    id: str
    run: Run
    pair: str
    output: Output | None
    pieces: tuple[Piece, ...]
    loads: tuple[Load, ...]
    """All sections on this line, in the order of the cable."""
    broken: Break | None
    mismatch: str
    """What the connector's pins carry, where the show says that the pair is fed from something else."""

    @property
    def section(self) -> str:
        """What the line carries: one section's name, or several joined by ``+``."""
        return "+".join(dict.fromkeys(load.section.section for load in self.loads))


class ShowIndex(msgspec.Struct, frozen=True):
    """What lines stand on: the things of a show by their ids."""

    models: Mapping[str, Model]
    units: Mapping[str, RackUnit]
    racks: Mapping[str, Rack]
    boxes: Mapping[str, Box]
    speakers: Mapping[str, Loudspeaker]
    """By the box's id."""
    uses: Mapping[str, ZoneUse]
    """By the zone's id."""
    zones: Mapping[str, Zone]
    in_zone: Mapping[str, tuple[Box, ...]]
    """The boxes of each zone, by its id, in the order of the show."""


def lines_of(run: Run, show_index: ShowIndex) -> tuple[Line, ...]:
    """Follow every fed pin pair of a run. A pair that no box of the run uses is no line unless it is fed."""
    start = _sources(run.start, show_index)
    feeds = run.feeds or {pair: name for pair, name in start.outputs.items() if name}
    lines = []
    for pair in sorted(feeds, key=_pair_number):
        line = _line(run, pair, feeds[pair], start, show_index)
        if run.feeds or line.loads or _is_missed(line, show_index):
            lines.append(line)
    return tuple(lines)


def _is_missed(line: Line, show_index: ShowIndex) -> bool:
    """Tell whether a pair gets lost on its way to a box that wants it."""
    if line.broken is None:
        return False
    for name in line.broken.beyond:
        drive = planned_drive(show_index.boxes[name], show_index.speakers[name])
        if any(str(section.pair) == line.broken.pair for section in show_index.speakers[name].sections_in(drive)):
            return True
    return False


class _Start(NamedTuple):
    """The connector that a run starts from."""

    outputs: dict[str, str]
    """Which output each of its pin pairs carries."""
    wiring: Piece | None
    """The wire inside a rack."""


def _line(run: Run, pair: str, fed_from: str, start: _Start, show_index: ShowIndex) -> Line:
    pieces, broken = _follow(run, pair, show_index)
    if start.wiring is not None:
        pieces = (msgspec.structs.replace(start.wiring, pair_in=pair, pair_out=pair), *pieces)
    carried = start.outputs.get(pair, "")
    mismatch = carried or "nothing" if start.outputs and carried != fed_from else ""
    return Line(
        id=f"{run.id}/{pair}",
        run=run,
        pair=pair,
        output=output_named(fed_from, show_index),
        pieces=pieces,
        loads=loads_of(pieces),
        broken=broken,
        mismatch=mismatch,
    )


def loads_of(pieces: Iterable[Piece]) -> tuple[Load, ...]:
    """List the loads of pieces, in the order of the cable."""
    return tuple(load for piece in pieces for load in piece.loads)


def loop_ohm(piece: Piece, temperature_c: float, apply: Apply = direct) -> float:
    """Compute the loop resistance of a piece at a temperature: its conductors, contacts and adaptor [ohm]."""
    if piece.size is None:
        return piece.extra_ohm
    if piece.gauge:
        cold = apply(conductors.stranded_awg_resistance, piece.size)
    else:
        cold = apply(conductors.class_5_resistance, piece.size)
    warm = apply(conductors.resistance_at_temperature, cold, temperature_c)
    loop = apply(cables.loop_resistance, piece.length_m, warm)
    return apply(loads.series, loop, piece.extra_ohm) if piece.extra_ohm else loop


def size_of(area: Area | None) -> tuple[float | None, bool]:
    """Convert a core's size to what the conductor tables want, and say whether it is a gauge number."""
    if area is None:
        return None, False
    return (float(area.awg), True) if area.awg is not None else (area.value, False)


def output_named(name: str, show_index: ShowIndex) -> Output | None:
    """Find the output of this name, ``SR-1.3`` or ``SR-1.3+4``; None where it does not exist."""
    unit_id, _, channels = name.partition(".")
    unit = show_index.units.get(unit_id)
    model = show_index.models.get(unit.model) if unit else None
    if unit is None or not isinstance(model, Amplifier) or not channels:
        return None
    return output_of(unit, model, channels)


def _pair_number(pair: str) -> tuple[int, str]:
    return (int(pair) if pair.isdecimal() else 0, pair)


def outputs_at(start: str, show_index: ShowIndex) -> dict[str, str]:
    """Say which output each pin pair of a connector carries, ``SR-1.A`` of a unit or of a rack as built."""
    return _sources(start, show_index).outputs


def starts_of(name: str, show_index: ShowIndex) -> tuple[str, ...]:
    """List the connectors of an amplifier or a rack as built, as runs name them."""
    unit, rack = show_index.units.get(name), show_index.racks.get(name)
    model = show_index.models.get(unit.model if unit else (rack.as_built or "") if rack else "")
    if isinstance(model, Amplifier):
        names: dict[str, Any] = {**model.connectors, **model.connectors_bridged}
    else:
        names = model.panel if isinstance(model, BuiltRack) else {}
    return tuple(f"{name}.{connector}" for connector in names)


def _sources(start: str, show_index: ShowIndex) -> _Start:
    """Find the connector that a run starts from."""
    name, _, connector = start.partition(".")
    if name in show_index.units:
        return _Start(connector_outputs(show_index.units[name], connector, show_index), None)
    rack = show_index.racks.get(name)
    built = show_index.models.get(rack.as_built or "") if rack else None
    if rack is None or not isinstance(built, BuiltRack):
        return _Start({}, None)
    return _Start(panel_outputs(rack, connector, show_index), _wiring(built))


def panel_outputs(rack: Rack, socket: str, show_index: ShowIndex) -> dict[str, str]:
    """Say which output each pin pair of a socket on the panel of a rack as built carries."""
    built = show_index.models.get(rack.as_built or "")
    if not isinstance(built, BuiltRack):
        return {}
    sources = {}
    for pair, place in built.panel.get(socket, {}).items():
        number, _, channels = place.partition(".")
        unit = show_index.units.get(f"{rack.id}-{number}")
        model = show_index.models.get(unit.model) if unit else None
        if unit and isinstance(model, Amplifier):
            sources[pair] = f"{unit.id}.{_as_set(unit, channels)}"
    return sources


def _wiring(built: BuiltRack) -> Piece | None:
    if built.wiring is None:
        return None
    size, gauge = size_of(built.wiring.area)
    return Piece(0, "wiring", built.id, "", "", built.wiring.length.value, size, gauge, 0.0, None, None, ())


def connector_outputs(unit: RackUnit, connector: str, show_index: ShowIndex) -> dict[str, str]:
    """Say which output each pin pair of an amplifier's connector carries as the unit is set."""
    model = show_index.models.get(unit.model)
    if not isinstance(model, Amplifier):
        return {}
    set_pairs = (*unit.bridged, *unit.paralleled)
    changed = model.connectors_bridged.get(connector, {})
    if any(channels in set_pairs for channels in changed.values()):
        pins = {pair: channels for pair, channels in changed.items() if channels in set_pairs or "+" not in channels}
    else:
        pins = model.connectors.get(connector, {})
    result = {}
    for pair, channels in pins.items():
        if "+" in channels and channels not in set_pairs:
            continue  # the pins of a bridged pair carry nothing useful while the channels are single
        result[pair] = f"{unit.id}.{_as_set(unit, channels)}"
    return result


def _as_set(unit: RackUnit, channels: str) -> str:
    """Name the paralleled pair that a channel belongs to; both posts of it carry the same."""
    for pair in unit.paralleled:
        if channels in pair.split("+"):
            return pair
    return channels


def _follow(run: Run, pair: str, show_index: ShowIndex) -> tuple[tuple[Piece, ...], Break | None]:
    pieces: list[Piece] = []
    for number, step in enumerate(run.path, start=1):
        kind, model, onward, extra = _step(step, pair, show_index)
        if onward is None:
            beyond = tuple(later.box for later in run.path[number - 1 :] if later.box)
            return tuple(pieces), Break(number, model, pair, beyond)
        box = show_index.boxes.get(step.box) if step.box else None
        cable = show_index.models.get(step.cable or "")
        size, gauge = size_of(cable.area if isinstance(cable, Cable) else None)
        pieces.append(
            Piece(
                step=number,
                kind=kind,
                model=model,
                pair_in=pair,
                pair_out=onward,
                length_m=step.length.value if step.length else 0.0,
                size=size,
                gauge=gauge,
                extra_ohm=extra + (step.contact.value if step.contact else 0.0),
                current_a=_rated_current(show_index.models[model]),
                box=box,
                loads=_loads(box, onward, show_index) if box else (),
            )
        )
        pair = onward
    return tuple(pieces), None


def to_the_end(run: Run, pair: str, show_index: ShowIndex) -> tuple[Piece, ...] | None:
    """Follow a pair of a run's connector to the end of the run, used or not; None where it does not get there."""
    pieces, broken = _follow(run, pair, show_index)
    return None if broken is not None else pieces


def _step(
    step: Step, pair: str, show_index: ShowIndex
) -> tuple[Literal["cable", "adaptor", "panel"], str, str | None, float]:
    """Find a step's kind, its model, the pair at its far end (None where nothing carries it), its own ohms."""
    models = show_index.models
    if step.cable is not None:
        return "cable", step.cable, models[step.cable].far_pair(pair), 0.0  # type: ignore[union-attr, call-arg]
    if step.adaptor is not None:
        adaptor = models[step.adaptor]
        own = adaptor.resistance.value if adaptor.resistance else 0.0  # type: ignore[union-attr]
        return "adaptor", step.adaptor, adaptor.far_pair(pair), own  # type: ignore[union-attr, call-arg]
    panel = models[step.panel or ""]
    own = panel.resistance.value if panel.resistance else 0.0  # type: ignore[union-attr]
    return "panel", step.panel or "", panel.far_pair(step.socket, pair), own  # type: ignore[union-attr, call-arg]


def _rated_current(model: Model) -> float | None:
    current = model.current if isinstance(model, (Cable, Adaptor)) else None
    return current.value if current else None


def _loads(box: Box, pair: str, show_index: ShowIndex) -> tuple[Load, ...]:
    speaker, zone_use = show_index.speakers[box.id], show_index.uses[box.zone]
    drive = planned_drive(box, speaker)
    return tuple(
        load_of(box, speaker, drive, section, zone_use)
        for section in speaker.sections
        if section.drive == drive and str(section.pair) == pair and section.impedance is not None
    )


def load_of(box: Box, speaker: Loudspeaker, drive: Drive, section: Section, zone_use: ZoneUse) -> Load:
    """Put the numbers of one section of one box together."""
    choice = choose(box, speaker, section, zone_use)
    impedance = section.impedance.value if section.impedance else 0.0
    limiter = choice.preset.limiter if choice.preset else None
    return Load(
        box=box,
        speaker=speaker,
        drive=drive,
        section=section,
        choice=choice,
        zone_use=zone_use,
        impedance_ohm=impedance,
        rated_ohm=rating_impedance(
            section.rating,
            impedance,
            section.rated_at.value if section.rated_at else None,
            section.minimum.value if section.minimum else None,
        ),
        crest=MEANINGS[section.rating].crest,
        continuous_w=section.continuous.value if section.continuous else 0.0,
        peak_w=section.peak.value if section.peak else None,
        peak_v=section.peak_volts.value if section.peak_volts else None,
        short_w=section.short_term.value if section.short_term else None,
        limiter_w=limiter.value if limiter else None,
    )
