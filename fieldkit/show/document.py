"""The show: everything of one job, as an immutable tree. One table of the file is one struct here.

Dicts are part of the tree and are never changed in place; an edit makes a new show (``decoding.changed``).
"""

from __future__ import annotations

import datetime as dt
from typing import Literal, TypeAlias

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Adaptor, Cable, Panel
from fieldkit.gear.loudspeaker import Drive, Loudspeaker
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltRack
from fieldkit.gear.thing import Count, Id, ModelId, Positive, Thing
from fieldkit.show.duty import Duty
from fieldkit.show.position import Position
from fieldkit.show.reading_value import ReadingValue
from fieldkit.units import (
    ApparentPower,
    Area,
    Current,
    Duration,
    Gain,
    Impedance,
    Length,
    Level,
    Mass,
    Power,
    Ratio,
    Resistance,
    SoundLevel,
    Temperature,
    Voltage,
)

Model: TypeAlias = Loudspeaker | Amplifier | Processor | Cable | Adaptor | Panel | BuiltRack


class SheetChoices(Thing, frozen=True, kw_only=True):
    """How the pages for the crew are made: units, stickers, and how many spares travel with what is used."""

    units: Literal["typed", "metric", "imperial"] = "typed"
    """Of lengths and weights; ``typed`` leaves each length as somebody typed it, and gives weights in kg."""
    sticker_width: Length | None = None
    """63 mm unless set."""
    sticker_height: Length | None = None
    """36 mm unless set."""
    spare_loudspeakers: Ratio | None = None
    """Share of what is used, rounded up to whole pieces; none unless set, here and in those that follow."""
    spare_amplifiers: Ratio | None = None
    spare_processors: Ratio | None = None
    spare_cables: Ratio | None = None
    """Of each length by itself."""
    spare_adaptors: Ratio | None = None
    spare_panels: Ratio | None = None


class About(Thing, frozen=True, kw_only=True):
    """What is true of the whole show, and the choices that the checks go by."""

    name: str = ""
    site: str = ""
    contact: str = ""
    date: dt.date | None = None
    temperature: Temperature | None = None
    """Of the air and the cables; 20 °C unless set."""
    humidity: Ratio | None = None
    loss_limit: Gain | None = None
    """Cable loss worth advice, 0.5 dB unless set; twice as much is a warning."""
    preferred_load: Impedance | None = None
    """Lowest load wanted on an output, 4 ohm unless set."""
    limiter_margin: Gain | None = None
    """Thermal limiters stay this far below the continuous rating, 3 dB unless set."""
    least_damping: float | None = None
    """Damping factor below which a sub's line earns advice, 20 unless set."""
    desk_level: Level | None = None
    """Level that the desk's outputs are run at, +4 dBu unless set."""
    desk_clip: Level | None = None
    """Level at which the desk's outputs clip."""
    desk_outputs: dict[str, str] = {}
    """Signal -> the desk's socket that it leaves from: ``{ L = "Out 1" }``."""
    electrical_rules: Literal["iec", "nfpa"] = "iec"
    duty: Duty | None = None
    """Average over rated power of zones that do not say theirs, for mains and heat: 1/8 unless set."""
    sub_duty: Duty | None = None
    """The same where the boxes are subs: 1/3 unless set."""
    rack_weight_limit: Mass | None = None
    """Rack worth advice, 100 kg unless set."""
    rack_heat_limit: Power | None = None
    """Heat in one rack worth advice, 1 kW unless set."""
    phase_limit: Ratio | None = None
    """How far the most loaded phase may stand above the mean of the three without advice, 20 % unless set."""
    sheets: SheetChoices | None = None
    note: str = ""


class Stock(Thing, frozen=True, kw_only=True):
    """How many of a model there are, or one single item by its serial."""

    model: ModelId
    length: Length | None = None
    serial: str = ""
    owned: Count = 0
    hired: Count = 0
    hired_from: str = ""
    due: dt.date | None = None
    out: Count = 0
    """Of these, out of service."""
    back: Count | None = None
    """How many came back at load-out; None while nobody has counted."""
    note: str = ""


class Zone(Thing, frozen=True, kw_only=True):
    """A place that boxes serve."""

    id: Id
    use: Literal["front", "wedge"] | None = None
    """Out front, or for wedges; out front is guessed where nobody says."""
    low_end_from: tuple[Id, ...] | None = None
    """Zones that give this one its low end; guessed where it is not said, ``[]`` for none."""
    signals: dict[str, str] = {}
    """Side -> what feeds it."""
    priority: Positive | None = None
    loss_limit: Gain | None = None
    distance: Length | None = None
    """Way of the cable from the rack to the zone's first box; only a proposal needs it."""
    served_by: tuple[ModelId, ...] = ()
    """Amplifiers, racks, or models of them, that a proposal may use for this zone; any where none is said."""
    timed_to: Id | None = None
    """The zone whose sound this one is to arrive with."""
    reference_distance: Length | None = None
    """From the boxes of that zone to the listeners who hear both alike."""
    own_distance: Length | None = None
    """From the boxes of this zone to the same listeners; without it a delay is a guess, and set nowhere."""
    listeners: Position | None = None
    """Where those listeners are, in place of the two distances; the boxes of both zones then need positions."""
    precedence: Duration | None = None
    """How much later this zone comes by choice, so that the ear takes the other for the source."""
    delay: Duration | None = None
    """Set by hand, as measured; it rules over distances and does not follow the weather."""
    level: Gain | None = None
    """Trim of this zone where its presets run."""
    throw: Length | None = None
    """From its boxes to its farthest listeners."""
    target: SoundLevel | None = None
    """Continuous level that is wanted there."""
    duty: Duty | None = None
    """Average over rated power, for the mains: the show's unless set, which has one for subs."""
    note: str = ""


class UnknownBox(Thing, frozen=True, kw_only=True):
    """Ohms and watts of a box that nobody has a data sheet for."""

    impedance: Impedance
    continuous: Power


class Box(Thing, frozen=True, kw_only=True):
    """One physical loudspeaker."""

    id: Id
    model: ModelId | None = None
    unknown: UnknownBox | None = None
    """In place of a model: what the label on the box says."""
    zone: Id
    side: str = ""
    drive: Drive | None = None
    """The planned drive; may be left out where the model has only one, or passive is meant."""
    switch: Drive | None = None
    """How the switch on the box was seen to stand."""
    reach: Literal["floor", "ladder", "flown"] = "floor"
    """What it takes to get at the box: it sets the minutes of a test there."""
    presets: dict[str, ModelId] = {}
    """Section -> preset, where the choice is not left to the program."""
    position: Position | None = None
    delay: Duration | None = None
    """On top of its zone's, such as in an arc of subs."""
    level: Gain | None = None
    """Trim on top of its zone's."""
    polarity: Literal["normal", "inverted"] = "normal"
    """Against its preset's, such as of the rear sub of a gradient pair."""
    input: str = ""
    """What feeds a self-powered box: a signal, or a processor output (``DP.6``)."""
    supply: Id | None = None
    """Of a self-powered box: the circuit that it is plugged into."""
    serial: str = ""
    note: str = ""


class Rack(Thing, frozen=True, kw_only=True):
    """A rack, loose or as built."""

    id: Id
    units: Positive | None = None
    as_built: ModelId | None = None
    side: str = ""
    weight: Mass | None = None
    """Of the empty case, panels and wiring included; a rack as built has its weight in its model."""
    note: str = ""


class Feeder(Thing, frozen=True, kw_only=True):
    """The cable that brings a supply."""

    length: Length
    area: Area


class Generator(Thing, frozen=True, kw_only=True):
    """What drives a supply that no network feeds."""

    prime: ApparentPower
    """Prime rating, of all phases."""
    power_factor: Ratio | None = None
    """That it is rated at; 0.8 unless set."""


class Supply(Thing, frozen=True, kw_only=True):
    """A mains supply: a circuit with its breaker, a three-phase feed, or a generator's outlet."""

    id: Id
    volts: Voltage
    """Line to neutral, unless ``across`` says that it is line to line."""
    across: Literal["neutral", "lines"] = "neutral"
    """A circuit of one phase across lines loads its phase and the next one: 1 is lines 1 and 2, 3 is 3 and 1."""
    rating: Current
    """Of its breaker, for each line."""
    phases: Literal[1, 3] = 1
    phase: Literal[1, 2, 3] | None = None
    """Which line of a three-phase supply a circuit of one phase is on."""
    fed_from: Id | None = None
    """The supply that this one hangs on: its load, its drop and its leakage count there too."""
    feeder: Feeder | None = None
    network: Literal["public", "private"] | None = None
    """Public unless set: as what feeds it has it, and private behind a generator. It decides the drop allowed."""
    breaker: Literal["B", "C", "D"] | None = None
    residual_current: Current | None = None
    """Rating of the residual-current device at its head, 30 mA; all that hangs below counts."""
    residual_device: str = ""
    """A name for a device that several supplies share."""
    generator: Generator | None = None
    other_load: Current | None = None
    """What else hangs on it, on each line: desk, backline, lights."""
    note: str = ""


class RackUnit(Thing, frozen=True, kw_only=True):
    """One amplifier or processor."""

    id: Id
    model: ModelId
    rack: Id | None = None
    unit: Count | None = None
    supply: Id | None = None
    phase: Literal[1, 2, 3] | None = None
    """Which line it is on, where its supply has three."""
    bridged: tuple[str, ...] = ()
    paralleled: tuple[str, ...] = ()
    inputs: dict[str, str] = {}
    """Input -> a signal, a processor output (``DP.6``), or another input of this unit (``=1``)."""
    ways: dict[str, str] = {}
    """Input -> what its signal goes through on the way: ``"multicore 3 > panel R 3"``."""
    routes: dict[str, str] = {}
    """Output of a processor -> its inputs that feed it: ``1``, or ``1+2`` for a mix."""
    gain: Gain | None = None
    """Where a switch or a menu sets another gain than the model's."""
    attenuators: dict[str, Gain] = {}
    """Channel -> position of its knob; fully up (0 dB) where it is not said."""
    attenuators_locked: bool = False
    unbalanced_inputs: tuple[str, ...] = ()
    """Inputs that are fed by an unbalanced link."""
    serial: str = ""
    note: str = ""


class Step(Thing, frozen=True, kw_only=True):
    """One piece of a run: a cable, an adaptor or a panel, and the box it ends in, if any."""

    cable: ModelId | None = None
    length: Length | None = None
    adaptor: ModelId | None = None
    panel: ModelId | None = None
    socket: str = ""
    shared: str = ""
    """Name of a multicore or panel that several runs go through: it is counted once."""
    contact: Resistance | None = None
    """Resistance of the contacts of this step, for a whole loop."""
    box: Id | None = None


class Run(Thing, frozen=True, kw_only=True):
    """A physical cable path: from a connector through one box after another."""

    id: Id
    start: str = msgspec.field(name="from")
    """Unit or rack and its connector: ``SR-1.A``; empty while it is plugged in nowhere."""
    feeds: dict[str, str] = {}
    """Pin pair -> output; from the connector's pins where it is not said."""
    path: tuple[Step, ...]
    note: str = ""


class Reading(Thing, frozen=True, kw_only=True):
    """What a meter said: where, when, who, cold or warm."""

    line: str
    at: str = "amp"
    value: ReadingValue
    kind: Literal["dc", "1khz", "load"] = "dc"
    """DC ohms, impedance at 1 kHz, or the load that the amplifier itself reports of the line's output."""
    time: dt.datetime | None = None
    by: str = ""
    warm: bool = False
    note: str = ""


class MovedRun(Thing, frozen=True, kw_only=True):
    """Where a run was plugged in before something was lost."""

    run: Id
    start: str = msgspec.field(name="from")
    feeds: dict[str, str] = {}
    adaptor: ModelId | None = None
    """Put before the run for as long as it is moved."""


class ChangedUnit(Thing, frozen=True, kw_only=True):
    """How a unit was set before something was lost."""

    unit: Id
    inputs: dict[str, str] = {}
    """Inputs that were patched anew, and what fed them: empty for nothing."""
    routes: dict[str, str] = {}
    """Outputs of a processor that were routed anew, and their inputs before: empty for none."""
    bridged: tuple[str, ...] | None = None
    paralleled: tuple[str, ...] | None = None
    added: bool = False
    """True for a spare that was brought in, and goes when the lost thing is put back."""


class Lost(Thing, frozen=True, kw_only=True):
    """Something that died during the job, and what was moved for its sake, so that it can be put back."""

    id: str
    """A unit ``SR-2``, an output ``SR-1.3``, a processor's output ``DP.6``, a supply or a box."""
    swapped: bool = False
    """Whether a spare of the same model stands in its place, so that nothing is silent for it any more."""
    moved: tuple[MovedRun, ...] = ()
    changed: tuple[ChangedUnit, ...] = ()
    note: str = ""


class Logged(Thing, frozen=True, kw_only=True):
    """Something that was done to the rig: a line heard in quiet noise, a polarity tested, a fault found and mended."""

    kind: Literal["noise", "polarity", "fault"]
    at: str
    """The output, the box, or the thing that was faulty."""
    ok: bool = True
    """For noise and polarity: whether it was as planned. A fault in the log is a fault that was mended."""
    says: str = ""
    time: dt.datetime | None = None
    by: str = ""


class Show(Thing, frozen=True, kw_only=True):
    """Everything of one job. The order of the fields is the order of the tables in a new file."""

    format: Literal[1] = msgspec.field(default=1)
    about: About = msgspec.field(name="show", default_factory=About)
    loudspeakers: tuple[Loudspeaker, ...] = ()
    amplifiers: tuple[Amplifier, ...] = ()
    processors: tuple[Processor, ...] = ()
    cables: tuple[Cable, ...] = ()
    adaptors: tuple[Adaptor, ...] = ()
    panels: tuple[Panel, ...] = ()
    built_racks: tuple[BuiltRack, ...] = ()
    stock: tuple[Stock, ...] = ()
    zones: tuple[Zone, ...] = ()
    boxes: tuple[Box, ...] = ()
    racks: tuple[Rack, ...] = ()
    supplies: tuple[Supply, ...] = ()
    rack_units: tuple[RackUnit, ...] = ()
    runs: tuple[Run, ...] = ()
    readings: tuple[Reading, ...] = ()
    log: tuple[Logged, ...] = ()
    lost: tuple[Lost, ...] = ()


MODEL_TABLES = ("loudspeakers", "amplifiers", "processors", "cables", "adaptors", "panels", "built_racks")
"""Tables that hold models: their ids are one namespace, since the stock names any of them."""
