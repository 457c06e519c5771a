"""What a chart is made of: the models that take part, the terms on which they are held against each other, and gaps."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Adaptor, Cable
from fieldkit.gear.loudspeaker import USES, Drive, Loudspeaker, Section, Use, unknown_box
from fieldkit.gear.processor import Processor
from fieldkit.rig.connect.lines import Load, load_of
from fieldkit.rig.connect.presets import preset_for
from fieldkit.rig.connect.uses import ZoneUse
from fieldkit.rig.solve.evaluation import DEFAULT_LOSS_DB, DEFAULT_PREFERRED_OHM
from fieldkit.rig.solve.solving import Conditions
from fieldkit.show.document import Box, Model, UnknownBox

Hosting = Literal["hosted", "processor", "none"]
"""Where the presets of a box run: in the amplifier, on a processor of the library, or nowhere."""


class Terms(msgspec.Struct, frozen=True):
    """On which terms models are held against each other."""

    preferred_ohm: float = DEFAULT_PREFERRED_OHM
    cable: Cable | None = None
    """Between the amplifier and the first box; the boxes behind it link with leads of no length."""
    length_m: float = 0.0
    use: Use | None = None
    """What the boxes are for; None takes for each the first use that it has all its presets for."""
    loss_db: float = DEFAULT_LOSS_DB
    """Loss of the cable worth a word."""
    conditions: Conditions = Conditions()


class Library(msgspec.Struct, frozen=True):
    """The models that take part, each kind in its order."""

    amplifiers: tuple[Amplifier, ...]
    loudspeakers: tuple[Loudspeaker, ...]
    processors: tuple[Processor, ...]
    adaptors: tuple[Adaptor, ...] = ()
    unknown: tuple[UnknownBox, ...] = ()
    """Boxes of which only the label is known."""

    def processor_for(self, speaker: Loudspeaker) -> Processor | None:
        """Find the processor that takes the presets of a loudspeaker, the one with most outputs."""
        able = [model for model in self.processors if model.hosts and model.hosts.takes(speaker.id)]
        return max(able, key=lambda model: model.outputs, default=None)


def library_of(models: Iterable[Model], unknown: Sequence[UnknownBox] = ()) -> Library:
    """Sort models by what they are for a chart; of two with one id the first counts."""
    by_id: dict[str, Model] = {}
    for model in models:
        by_id.setdefault(model.id, model)
    every = tuple(by_id.values())
    return Library(
        amplifiers=tuple(model for model in every if isinstance(model, Amplifier)),
        loudspeakers=tuple(model for model in every if isinstance(model, Loudspeaker)),
        processors=tuple(model for model in every if isinstance(model, Processor)),
        adaptors=tuple(model for model in every if isinstance(model, Adaptor)),
        unknown=tuple(unknown),
    )


class Candidate(msgspec.Struct, frozen=True):
    """A box in one drive and use, as loads that an amplifier would see."""

    name: str
    """Its model's id, or its label where it is unknown."""
    speaker: Loudspeaker
    drive: Drive
    use: Use
    pairs: tuple[tuple[str, tuple[Load, ...]], ...]
    """Pin pair at the box -> the sections on it; each pair needs an output."""
    gaps: tuple[str, ...]
    """What its model does not say, and what cannot be worked out for that."""
    unknown: UnknownBox | None = None

    @property
    def title(self) -> str:
        """Name it with its drive where it has several."""
        return f"{self.name} {self.drive}" if len(self.speaker.drives()) > 1 else self.name

    @property
    def loads(self) -> tuple[Load, ...]:
        """All its sections that are fed."""
        return tuple(load for _, loads in self.pairs for load in loads)

    @property
    def is_sub(self) -> bool:
        """Tell whether it gives low end and nothing else."""
        return all(load.section.section == "sub" for load in self.loads)

    @property
    def has_presets(self) -> bool:
        """Tell whether one of its sections has a preset for this use."""
        return any(load.choice.preset is not None for load in self.loads)

    @property
    def has_all_presets(self) -> bool:
        """Tell whether each of its sections that has presets at all has one for this use."""
        return all(load.choice.preset is not None for load in self.loads if load.section.presets)

    @property
    def is_usable(self) -> bool:
        """Tell whether enough is known to put it on an amplifier."""
        return bool(self.pairs) and not any(load.impedance_ohm <= 0.0 for load in self.loads)


def candidates_of(library: Library, terms: Terms) -> tuple[Candidate, ...]:
    """List the boxes of a library in each drive that an amplifier feeds; self-powered ones need none."""
    known = [
        candidate_of(speaker, drive, terms)
        for speaker in library.loudspeakers
        for drive in speaker.drives()
        if drive != "self-powered"
    ]
    return (*known, *(_of_label(label, terms) for label in library.unknown))


def candidate_of(speaker: Loudspeaker, drive: Drive, terms: Terms) -> Candidate:
    """Make a candidate of a model in one drive, for the use of the terms or the first that most sections serve."""
    sections = speaker.sections_in(drive)
    use = terms.use or _first_use(speaker, sections)
    box = Box(id=speaker.id, model=speaker.id, zone="chart", drive=drive)
    return _candidate(speaker.id, speaker, drive, box, use)


def label_text(label: UnknownBox) -> str:
    """Name a box of which only ohms and watts are known."""
    return f"{label.impedance}/{label.continuous}".replace(" ", "")


def _of_label(label: UnknownBox, terms: Terms) -> Candidate:
    speaker = unknown_box(label.impedance, label.continuous)
    box = Box(id="unknown", unknown=label, zone="chart")
    made = _candidate(label_text(label), speaker, "passive", box, terms.use or "full range")
    return msgspec.structs.replace(made, unknown=label)


def _candidate(name: str, speaker: Loudspeaker, drive: Drive, box: Box, use: Use) -> Candidate:
    zone_use = ZoneUse(use=use, low_end_from=(), guessed=False, why="as the chart is asked for")
    pairs: dict[str, tuple[Load, ...]] = {}
    for section in speaker.sections_in(drive):
        pair = str(section.pair)
        pairs[pair] = (*pairs.get(pair, ()), load_of(box, speaker, drive, section, zone_use))
    ordered = tuple(sorted(pairs.items(), key=lambda item: int(item[0])))
    return Candidate(name, speaker, drive, use, ordered, tuple(_gaps(speaker.sections_in(drive))))


def _first_use(speaker: Loudspeaker, sections: Sequence[Section]) -> Use:
    """Find the first use for which most sections have a preset; all sections, unless the model is incomplete."""

    def served(use: Use) -> int:
        return sum(preset_for(speaker, section, use) is not None for section in sections)

    return max(USES, key=served)


def _gaps(sections: Sequence[Section]) -> Iterable[str]:
    for section in sections:
        if section.impedance is None:
            yield f"no impedance of its {section.section} section: no load, so no number"
        if section.continuous is None:
            yield f"no continuous rating of its {section.section} section: watts and headroom are not judged"
        if section.peak is None and section.peak_volts is None:
            yield f"no peak rating of its {section.section} section: the peaks of its continuous rating are taken"


def amplifier_gaps(model: Amplifier) -> tuple[str, ...]:
    """Say what an amplifier's model leaves open, and which column suffers."""
    found = []
    if not model.ratings(bridged=False):
        found.append("no powers of a single channel: no load and no watts, so no number")
    if model.gain is None and model.sensitivity is None:
        found.append("no gain and no sensitivity: thresholds at its input are not known")
    if model.connector_current is None:
        found.append("no current of its connectors: that is not judged")
    if model.input_clip is None:
        found.append("no input clip: what clips first is not known")
    return tuple(found)
