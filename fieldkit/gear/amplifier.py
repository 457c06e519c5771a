"""A model of amplifier, and what hosting presets means for amplifiers and processors alike."""

from __future__ import annotations

from typing import Annotated, Literal

from fieldkit.gear.names import FreeText, OwnPart, names
from fieldkit.gear.thing import Case, Count, ModelId, Positive, Thing
from fieldkit.units import Current, Duration, Frequency, Gain, Impedance, Level, Mass, Power, Ratio, Resistance

LoudspeakerHosted = Annotated[
    str, names("a loudspeaker model whose presets run here, or any", "loudspeaker", gone="item", required=False)
]
Topology = Literal["common", "bridge-tied", "alternate"]
PairMode = Literal["bridged", "paralleled"]
Permission = Literal["allowed", "assumed", "refused"]
"""Whether the model allows two channels to work as one: it says so; nobody says; or it does not."""


class Rating(Thing, frozen=True, kw_only=True):
    """One line of an amplifier's power table: sine watts into a load, all channels of that mode driven."""

    load: Impedance
    power: Power
    bridged: bool = False
    minimum: bool = False
    """The lowest load allowed in this mode; without a mark, the lowest load in the table."""


class Hosts(Thing, frozen=True, kw_only=True):
    """Where presets can run: for which loudspeakers, how many, at which levels."""

    presets: tuple[LoudspeakerHosted, ...] = ()
    """Loudspeaker models whose presets run here; ``any`` for a processor with filters of its own."""
    slots: Positive | None = None
    """How many outputs can hold a preset at the same time; every output unless said."""
    full_scale: Level | None = None
    """Level at 0 dBFS: of an amplifier's input, of a processor's output."""
    longest_delay: Duration | None = None
    sample_rate: Frequency | None = None
    """48 kHz unless given."""
    lowest_threshold: Level | None = None
    """Lowest level that its limiters can be set to, at the same point as full scale."""

    def takes(self, *speakers: str) -> bool:
        """Tell whether presets of all these loudspeakers can run here."""
        return "any" in self.presets or set(speakers) <= set(self.presets)


class Amplifier(Thing, frozen=True, kw_only=True):
    """A type of amplifier."""

    id: ModelId
    description: FreeText = ""
    channels: Positive
    units: Count = 2
    weight: Mass | None = None
    outputs: Topology = "common"
    """What the minus posts are: common, driven (bridge-tied), or the hot post of even channels (alternate)."""
    powers: tuple[Rating, ...]
    bridgeable: bool | None = None
    """Whether its pairs may be bridged; where it is not said, a bridged power in the table says yes."""
    parallelable: bool | None = None
    """Whether its pairs may be paralleled for current; nothing else in the model says so."""
    gain: Gain | None = None
    sensitivity: Level | None = None
    """Input for full power into the highest rated load; used where no gain is given."""
    input_clip: Level | None = None
    balanced: bool = True
    attenuators: bool = False
    """Whether there are knobs that somebody can turn."""
    output_resistance: Resistance | None = None
    connectors: dict[OwnPart, dict[OwnPart, OwnPart]] = {}
    """Connector -> pin pair -> the channel whose posts it carries; a bridged pair is ``1+2``."""
    connectors_bridged: dict[OwnPart, dict[OwnPart, OwnPart]] = {}
    """Connectors whose pins change when the pair they name is bridged."""
    connector_current: Current | None = None
    supply_limit: Power | None = None
    """Sine watts that the common power supply carries for all outputs together."""
    idle_power: Power | None = None
    """Taken from the mains with no signal."""
    efficiency: Ratio | None = None
    """Of output stage and supply together: at any output where they switch, at full power where they are linear."""
    linear: bool = False
    """A linear output stage (class B or AB): its efficiency falls with the root of its output."""
    power_factor: Ratio | None = None
    third_harmonic: Ratio | None = None
    """Third harmonic of its mains current, as a share of that current: guessed from the power factor unless said."""
    leakage: Current | None = None
    """To earth, in normal service."""
    inrush: Current | None = None
    """When it is switched on."""
    hosts: Hosts | None = None
    case: Case | None = None
    note: FreeText = ""

    def ratings(self, *, bridged: bool) -> tuple[Rating, ...]:
        """List the power table of one mode, from the highest load to the lowest, however the file has it."""
        table = [rating for rating in self.powers if rating.bridged == bridged]
        return tuple(sorted(table, key=lambda rating: -rating.load.value))

    def permission(self, mode: PairMode) -> Permission:
        """Say whether two channels of it may be bridged or paralleled.

        What nobody says is refused where both posts are driven, since nothing there is built for it; elsewhere it is
        assumed, and every figure that rests on it says so.
        """
        said = self.bridgeable if mode == "bridged" else self.parallelable
        if said is None and mode == "bridged" and any(rating.bridged for rating in self.powers):
            said = True
        if said is None:
            return "refused" if self.outputs == "bridge-tied" else "assumed"
        return "allowed" if said else "refused"

    def minimum_load_ohm(self, *, bridged: bool) -> float:
        """Find the lowest load allowed: marked, else the lowest rated, else twice the single one if bridged."""
        table = self.ratings(bridged=bridged)
        if not table:
            return 2.0 * self.minimum_load_ohm(bridged=False) if bridged else 0.0
        marked = [rating.load.value for rating in table if rating.minimum]
        return marked[0] if marked else min(rating.load.value for rating in table)
