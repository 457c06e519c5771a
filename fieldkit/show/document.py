"""The show: everything of one job, as an immutable tree. One table of the file is one struct here.

Dicts are part of the tree and are never changed in place; an edit makes a new show (``decoding.changed``).
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal, TypeAlias

import msgspec

from fieldkit.gear import model_file
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Adaptor, Cable, Panel
from fieldkit.gear.loudspeaker import Drive, Loudspeaker
from fieldkit.gear.names import FreeText, OwnPart, Serial, Word, names
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltRack, UnitModel
from fieldkit.gear.thing import Count, Id, ModelId, Positive, Thing
from fieldkit.show.duty import Duty
from fieldkit.show.named import (
    AdaptorModel,
    BoxInput,
    BoxOnRun,
    BoxThatPlayed,
    CableModel,
    Connector,
    FailedThing,
    FeedsSupply,
    LineName,
    LoggedPlace,
    LoudspeakerModel,
    MeterPoint,
    OutputName,
    PanelModel,
    PowersUnit,
    RackModel,
    RackName,
    RunName,
    ServedBy,
    SignalWay,
    StockedModel,
    UnitInput,
    UnitName,
    ZoneForLowEnd,
    ZoneForTiming,
    ZoneNearby,
    ZoneOfBox,
)
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

Model: TypeAlias = model_file.Model


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

    name: FreeText = ""
    site: FreeText = ""
    contact: FreeText = ""
    date: dt.date | None = None
    temperature: Temperature | None = None
    """Of the air and the cables; 20 °C unless set."""
    humidity: Ratio | None = None
    loss_limit: Gain | None = None
    """Cable loss worth a note, 0.5 dB unless set; twice as much is a warning."""
    preferred_load: Impedance | None = None
    """Lowest load wanted on an output, 4 ohm unless set."""
    limiter_margin: Gain | None = None
    """Thermal limiters stay this far below the continuous rating, 3 dB unless set."""
    minimum_damping: float | None = None
    """Damping factor below which a sub's line earns a note, 20 unless set."""
    desk_level: Level | None = None
    """Level that the desk's outputs are run at, +4 dBu unless set."""
    desk_clip: Level | None = None
    """Level at which the desk's outputs clip."""
    desk_outputs: dict[Word, Word] = {}
    """Signal -> the desk's socket that it leaves from: ``{ L = "Out 1" }``."""
    electrical_rules: Literal["iec", "nfpa"] = "iec"
    duty: Duty | None = None
    """Average over rated power of zones that do not say theirs, for mains and heat: 1/8 unless set."""
    sub_duty: Duty | None = None
    """The same where the boxes are subs: 1/3 unless set."""
    rack_weight_limit: Mass | None = None
    """Rack worth a note, 100 kg unless set."""
    rack_heat_limit: Power | None = None
    """Heat in one rack worth a note, 1 kW unless set."""
    phase_limit: Ratio | None = None
    """How far the most loaded phase may stand above the mean of the three without advice, 20 % unless set."""
    sheets: SheetChoices | None = None
    note: FreeText = ""


class Stock(Thing, frozen=True, kw_only=True):
    """How many of a model there are, or one single item by its serial."""

    model: StockedModel
    length: Length | None = None
    serial: Serial = ""
    owned: Count = 0
    hired: Count = 0
    hired_from: FreeText = ""
    due: dt.date | None = None
    out: Count = 0
    """Of these, out of service."""
    back: Count | None = None
    """How many came back at load-out; None while nobody has counted."""
    note: FreeText = ""


class Zone(Thing, frozen=True, kw_only=True):
    """A place that boxes serve."""

    id: Id
    use: Literal["front", "wedge"] | None = None
    """Out front, or for wedges; out front is guessed where nobody says."""
    low_end_from: tuple[ZoneForLowEnd, ...] | None = None
    """Zones that give this one its low end; guessed where it is not said, ``[]`` for none."""
    signals: dict[Word, Word] = {}
    """Side -> what feeds it."""
    priority: Positive | None = None
    loss_limit: Gain | None = None
    distance: Length | None = None
    """Way of the cable from the rack to the zone's first box; only a proposal needs it."""
    near: tuple[ZoneNearby, ...] = ()
    """Zones whose boxes stand so near that a short link reaches from theirs to these; said on one of both is enough."""
    served_by: tuple[ServedBy, ...] = ()
    """Amplifiers, racks, or models of them, that a proposal may use for this zone; any where none is said."""
    timed_to: ZoneForTiming | None = None
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
    note: FreeText = ""


class UnknownBox(Thing, frozen=True, kw_only=True):
    """Ohms and watts of a box that nobody has a data sheet for."""

    impedance: Impedance
    continuous: Power


class Box(Thing, frozen=True, kw_only=True):
    """One physical loudspeaker."""

    id: Id
    model: LoudspeakerModel | None = None
    unknown: UnknownBox | None = None
    """In place of a model: what the label on the box says."""
    zone: ZoneOfBox
    side: Word = ""
    drive: Drive | None = None
    """The planned drive; may be left out where the model has only one, or passive is meant."""
    switch: Drive | None = None
    """How the switch on the box was seen to stand."""
    reach: Literal["floor", "ladder", "flown"] = "floor"
    """What it takes to get at the box: it sets the minutes of a test there."""
    presets: dict[OwnPart, ModelId] = {}
    """Section -> preset, where the choice is not left to the program."""
    position: Position | None = None
    delay: Duration | None = None
    """On top of its zone's, such as in an arc of subs."""
    level: Gain | None = None
    """Trim on top of its zone's."""
    polarity: Literal["normal", "inverted"] = "normal"
    """Against its preset's, such as of the rear sub of a gradient pair."""
    input: BoxInput = ""
    """What feeds a self-powered box: a signal, or a processor output (``DP.6``)."""
    supply: PowersUnit | None = None
    """Of a self-powered box: the circuit that it is plugged into."""
    serial: Serial = ""
    note: FreeText = ""


class Rack(Thing, frozen=True, kw_only=True):
    """A rack, loose or as built."""

    id: Id
    units: Positive | None = None
    as_built: RackModel | None = None
    side: Word = ""
    weight: Mass | None = None
    """Of the empty case, panels and wiring included; a rack as built has its weight in its model."""
    note: FreeText = ""


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
    """Phase to neutral, unless ``across`` says that it is phase to phase."""
    across: Literal["neutral", "phases"] = "neutral"
    """A circuit of one phase across lines loads its phase and the next one: 1 is lines 1 and 2, 3 is 3 and 1."""
    rating: Current
    """Of its breaker, for each line."""
    phases: Literal[1, 3] = 1
    phase: Literal[1, 2, 3] | None = None
    """Which line of a three-phase supply a circuit of one phase is on."""
    fed_from: FeedsSupply | None = None
    """The supply that this one hangs on: its load, its drop and its leakage count there too."""
    feeder: Feeder | None = None
    network: Literal["public", "private"] | None = None
    """Public unless set: as what feeds it has it, and private behind a generator. It decides the drop allowed."""
    breaker: Literal["B", "C", "D"] | None = None
    residual_current: Current | None = None
    """Rating of the residual-current device at its head, 30 mA; all that hangs below counts."""
    residual_device: Word = ""
    """A name for a device that several supplies share."""
    generator: Generator | None = None
    other_load: Current | None = None
    """What else hangs on it, on each line: desk, backline, lights."""
    note: FreeText = ""


class RackUnit(Thing, frozen=True, kw_only=True):
    """One amplifier or processor."""

    id: Id
    model: UnitModel
    rack: RackName | None = None
    unit: Count | None = None
    supply: PowersUnit | None = None
    phase: Literal[1, 2, 3] | None = None
    """Which line it is on, where its supply has three."""
    bridged: tuple[OwnPart, ...] = ()
    paralleled: tuple[OwnPart, ...] = ()
    inputs: dict[OwnPart, UnitInput] = {}
    """Input -> a signal, a processor output (``DP.6``), or another input of this unit (``=1``)."""
    ways: dict[OwnPart, SignalWay] = {}
    """Input -> what its signal goes through on the way: ``"multicore 3 > panel R 3"``."""
    routes: dict[OwnPart, OwnPart] = {}
    """Output of a processor -> its inputs that feed it: ``1``, or ``1+2`` for a mix."""
    gain: Gain | None = None
    """Where a switch or a menu sets another gain than the model's."""
    attenuators: dict[OwnPart, Gain] = {}
    """Channel -> position of its knob; fully up (0 dB) where it is not said."""
    attenuators_locked: bool = False
    unbalanced_inputs: tuple[OwnPart, ...] = ()
    """Inputs that are fed by an unbalanced link."""
    serial: Serial = ""
    note: FreeText = ""


class Step(Thing, frozen=True, kw_only=True):
    """One piece of a run: a cable, an adaptor or a panel, and the box it ends in, if any."""

    cable: CableModel | None = None
    length: Length | None = None
    adaptor: AdaptorModel | None = None
    panel: PanelModel | None = None
    socket: OwnPart = ""
    shared: Word = ""
    """Name of a multicore or panel that several runs go through: it is counted once."""
    contact: Resistance | None = None
    """Resistance of the contacts of this step, for a whole loop."""
    box: BoxOnRun | None = None


class Run(Thing, frozen=True, kw_only=True):
    """A physical cable path: from a connector through one box after another."""

    id: Id
    start: Connector = msgspec.field(name="from")
    """Unit or rack and its connector: ``SR-1.A``; empty while it is plugged in nowhere."""
    feeds: dict[OwnPart, OutputName] = {}
    """Pin pair -> output; from the connector's pins where it is not said."""
    path: tuple[Step, ...]
    note: FreeText = ""


class Reading(Thing, frozen=True, kw_only=True):
    """What a meter said: where, when, who, cold or warm."""

    line: LineName
    at: MeterPoint = "amp"
    value: ReadingValue
    kind: Literal["dc", "1khz", "load"] = "dc"
    """DC ohms, impedance at 1 kHz, or the load that the amplifier itself reports of the line's output."""
    time: dt.datetime | None = None
    by: FreeText = ""
    warm: bool = False
    note: FreeText = ""


class MovedRun(Thing, frozen=True, kw_only=True):
    """Where a run was plugged in before something failed."""

    run: RunName
    start: Connector = msgspec.field(name="from")
    feeds: dict[OwnPart, OutputName] = {}
    adaptor: AdaptorModel | None = None
    """Put before the run for as long as it is moved."""
    path: tuple[Step, ...] = ()
    """How it was laid, where it was taken apart or joined with another run; empty where that is as it was."""


class ChangedUnit(Thing, frozen=True, kw_only=True):
    """How a unit was set before something failed."""

    unit: UnitName
    inputs: dict[OwnPart, UnitInput] = {}
    """Inputs that were patched anew, and what fed them: empty for nothing."""
    routes: dict[OwnPart, OwnPart] = {}
    """Outputs of a processor that were routed anew, and their inputs before: empty for none."""
    bridged: tuple[OwnPart, ...] | None = None
    paralleled: tuple[OwnPart, ...] | None = None
    added: bool = False
    """True for a spare that was brought in, and goes when the failed thing is put back."""


class ChangedBox(Thing, frozen=True, kw_only=True):
    """What a self-powered box was fed with before something failed."""

    box: Annotated[Id, names("a box", "box", gone="row")]
    input: BoxInput = ""
    """A signal or a processor output; empty for nothing."""


class Failure(Thing, frozen=True, kw_only=True):
    """Something that failed during the job, and what was moved for its sake, so that it can be put back."""

    id: FailedThing
    """A unit ``SR-2``, an output ``SR-1.3``, a processor's output ``DP.6``, a supply or a box."""
    swapped: bool = False
    """Whether a spare of the same model stands in its place, so that nothing is silent for it any more."""
    moved: tuple[MovedRun, ...] = ()
    changed: tuple[ChangedUnit, ...] = ()
    rewired: tuple[ChangedBox, ...] = ()
    note: FreeText = ""


class Logged(Thing, frozen=True, kw_only=True):
    """Something that was done to the rig: heard in quiet noise, tested for polarity, found and fixed, noted."""

    kind: Literal["noise", "polarity", "fault", "note"]
    at: LoggedPlace
    """The output, the box, or the thing that was faulty, or that a note is about."""
    ok: bool = True
    """For noise and polarity: whether it was as planned. A fault in the log is a fault that was fixed."""
    played: tuple[BoxThatPlayed, ...] = ()
    """For noise that was not as planned: the boxes that played instead; none for silence."""
    says: FreeText = ""
    time: dt.datetime | None = None
    by: FreeText = ""


class Show(Thing, frozen=True, kw_only=True):
    """Everything of one job. The order of the fields is the order of the tables in a new file."""

    format: Literal[2] = msgspec.field(default=2)
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
    failed: tuple[Failure, ...] = ()


MODEL_TABLES = ("loudspeakers", "amplifiers", "processors", "cables", "adaptors", "panels", "built_racks")
"""Tables that hold models: their ids are one namespace, since the stock names any of them."""

TABLE_WORDS = {
    "show": "the show",
    "boxes": "box",
    "zones": "zone",
    "racks": "rack",
    "rack_units": "unit",
    "runs": "run",
    "supplies": "supply",
    "stock": "stock",
    "readings": "reading",
    "log": "log",
    "failed": "failed",
    "loudspeakers": "loudspeaker",
    "amplifiers": "amplifier",
    "processors": "processor",
    "cables": "cable",
    "adaptors": "adaptor",
    "panels": "panel",
    "built_racks": "rack as built",
}
"""What one thing of each table is called."""
