"""The cells of the chart: each amplifier and mode against each box and drive, how many it carries, and why no more."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import floor, log10

import msgspec

from fieldkit.checks.finding import Finding
from fieldkit.checks.loads import TOLERANCE
from fieldkit.checks.powers import WEAK, driven_w
from fieldkit.formulas import crest, levels, ohms_law
from fieldkit.formulas.figures import direct
from fieldkit.gear.amplifier import Amplifier, PairMode
from fieldkit.gear.processor import Processor
from fieldkit.planning.chart.filling import Fill, cluster_of, fills_of, room_of
from fieldkit.planning.chart.question import (
    Candidate,
    Hosting,
    Library,
    Terms,
    amplifier_gaps,
    candidates_of,
)
from fieldkit.planning.chart.trial import CHANNELS, PREFERENCE, Refusal, SetBy, Trial, TriedPlace, try_out
from fieldkit.rig.connect.outputs import Mode, allows, permission_text
from fieldkit.rig.solve.limits import Limiter, peak_v_of
from fieldkit.rig.solve.solving import SolvedBox, SolvedOutput

MODES: tuple[Mode, ...] = ("single", "bridged", "paralleled")
MOST = 64
"""Boxes on one output that are looked at: far more than anybody links."""


class SectionPower(msgspec.Struct, frozen=True):
    """What one section of a box gets at the number of boxes that its cell says."""

    section: str
    pair: str
    preset: str
    load_ohm: float
    """Of the output, cable included."""
    clean_w: float
    limited_w: float | None
    rated_w: float | None
    headroom_db: float | None
    """How far the output at its limit stands over the continuous rating; below zero it is short of it [dB]."""
    peak_headroom_db: float | None
    """How far its peaks stand over those that the section bears [dB]."""
    loss_db: float
    limiter: Limiter | None
    solved: SolvedOutput


class Cell(msgspec.Struct, frozen=True):
    """One amplifier in one mode against one box in one drive."""

    amplifier: Amplifier
    mode: Mode
    candidate: Candidate
    per_output: int
    """The most boxes on one output, or on one for each pin pair."""
    per_amplifier: int
    outputs: tuple[int, ...]
    """How those spread over the amplifier: boxes on each place, the fullest first."""
    set_by: SetBy
    refusal: Refusal
    """What the checks say of one box more."""
    preferred_per_output: int
    clean_per_output: int
    """The most boxes whose clean watts are at least half of the continuous rating."""
    not_with: tuple[int, ...]
    """Smaller numbers that are not allowed: too strong without a limiter that holds, since fewer boxes load it less."""
    sections: tuple[SectionPower, ...]
    """At ``boxes`` boxes on one output; empty where that cannot be worked out."""
    boxes: int
    """The number that the watts are for: the most, or one where none is allowed."""
    hosting: Hosting
    processor: Processor | None
    notes: tuple[str, ...]

    @property
    def is_assumed(self) -> bool:
        """Tell whether its figures rest on a label."""
        return self.candidate.speaker.assumed

    @property
    def worst(self) -> SectionPower | None:
        """The section with the least headroom, which the cell speaks of."""
        return min(self.sections, key=_headroom, default=None)

    @property
    def places(self) -> int:
        """How many times the amplifier has the outputs that one box takes."""
        return places_of(self.amplifier, self.mode, self.candidate)

    @property
    def processor_outputs(self) -> int:
        """Outputs of a processor that the presets need: one for each preset, whatever number of boxes share it."""
        return len({item.preset for item in self.sections if item.preset}) if self.hosting == "processor" else 0


def _headroom(item: SectionPower) -> float:
    return float("inf") if item.headroom_db is None else item.headroom_db


def chart(library: Library, terms: Terms) -> tuple[Cell, ...]:
    """Hold every amplifier and mode of a library against every box and drive."""
    every = candidates_of(library, terms)
    return tuple(
        cell_of(amplifier, mode, candidate, library, terms)
        for amplifier in library.amplifiers
        for mode in modes_of(amplifier)
        for candidate in every
    )


def modes_of(amplifier: Amplifier) -> tuple[Mode, ...]:
    """List the modes that a model allows; a pair that nobody says anything of is not charted."""
    return tuple(mode for mode in MODES if CHANNELS[mode] <= amplifier.channels and allows(amplifier, mode))


def modes_left_out(amplifier: Amplifier) -> Iterator[tuple[Mode, str]]:
    """Say which modes are not charted, and why."""
    modes: tuple[PairMode, ...] = ("bridged", "paralleled")
    for mode in modes if amplifier.channels > 1 else ():
        if not allows(amplifier, mode):
            yield mode, permission_text(amplifier, mode)


def places_of(amplifier: Amplifier, mode: Mode, candidate: Candidate) -> int:
    """Count how many times an amplifier has the outputs that one box takes, slots for its presets included."""
    outputs = amplifier.channels // CHANNELS[mode]
    hosts = amplifier.hosts
    if hosts and hosts.slots and hosts.takes(candidate.speaker.id) and candidate.has_presets:
        outputs = min(outputs, hosts.slots)
    return outputs // len(candidate.pairs) if candidate.pairs else 0


def hosting_of(amplifier: Amplifier, candidate: Candidate, library: Library) -> tuple[Hosting, Processor | None]:
    """Say where the presets of a box run, and the processor that holds its limiter where the amplifier does not."""
    inside = amplifier.hosts is not None and amplifier.hosts.takes(candidate.speaker.id)
    processor = None if inside else library.processor_for(candidate.speaker)
    if not candidate.has_presets:
        return "none", processor
    return ("hosted" if inside else "processor" if processor else "none"), processor


def cell_of(amplifier: Amplifier, mode: Mode, candidate: Candidate, library: Library, terms: Terms) -> Cell:
    """Work out one cell."""
    hosting, processor = hosting_of(amplifier, candidate, library)
    blank = Cell(
        amplifier=amplifier,
        mode=mode,
        candidate=candidate,
        per_output=0,
        per_amplifier=0,
        outputs=(),
        set_by="unknown",
        refusal=Refusal("unknown", "", ""),
        preferred_per_output=0,
        clean_per_output=0,
        not_with=(),
        sections=(),
        boxes=0,
        hosting=hosting,
        processor=processor,
        notes=(*candidate.gaps, *amplifier_gaps(amplifier)),
    )
    cannot = _cannot(amplifier, candidate, terms)
    if cannot is not None:
        return msgspec.structs.replace(blank, set_by=cannot.set_by, refusal=cannot)
    return _worked_out(blank, OutputTrials(amplifier, mode, candidate, terms, processor))


def _cannot(amplifier: Amplifier, candidate: Candidate, terms: Terms) -> Refusal | None:
    """Say why a pair cannot be tried at all."""
    if not candidate.is_usable:
        return Refusal("unknown", "", "; ".join(candidate.gaps) or "it has no section that an amplifier feeds")
    if not amplifier.ratings(bridged=False):
        return Refusal("unknown", "", "; ".join(amplifier_gaps(amplifier)))
    for pair, _ in candidate.pairs:
        if terms.cable is not None and terms.cable.far_pair(pair) is None:
            return Refusal("cable", "pairs-lost", f"'{terms.cable.id}' has no core for pin pair {pair}")
    return None


class OutputTrials:
    """One amplifier, mode and box; numbers of boxes are tried on it, each once."""

    def __init__(
        self, amplifier: Amplifier, mode: Mode, candidate: Candidate, terms: Terms, processor: Processor | None
    ) -> None:
        self.amplifier = amplifier
        self.mode: Mode = mode
        self.candidate = candidate
        self.terms = terms
        self.processor = processor
        self._trials: dict[int, Trial] = {}
        self._findings: dict[int, tuple[Finding, ...]] = {}

    def trial(self, count: int) -> Trial:
        """Put so many boxes on one place, the other outputs idle."""
        if count not in self._trials:
            place = TriedPlace(self.candidate, count, self.mode)
            self._trials[count] = try_out(self.amplifier, [place], self.terms, lambda _: self.processor)
        return self._trials[count]

    def spread(self, counts: Sequence[int]) -> Trial:
        """Put boxes on several places at once."""
        places = [TriedPlace(self.candidate, count, self.mode) for count in counts]
        return try_out(self.amplifier, places, self.terms, lambda _: self.processor)

    def findings(self, count: int) -> tuple[Finding, ...]:
        """Return the findings for a number of boxes on one place."""
        if count not in self._findings:
            self._findings[count] = self.trial(count).findings()
        return self._findings[count]

    def error(self, count: int) -> Refusal | None:
        """Say what the checks call an error about so many boxes, their number aside."""
        worst = next((item for item in self.findings(count) if item.severity == "error"), None)
        return Refusal("preset", worst.rule, worst.says) if worst is not None else None

    def most_by_load(self) -> int:
        """Compute a number of boxes that the minimum load certainly refuses."""
        output = self.trial(1).outputs[0].output
        lowest = min(sum(1.0 / load.judged_ohm for load in loads) ** -1 for _, loads in self.candidate.pairs)
        return min(MOST, floor(lowest / max(output.minimum_ohm * TOLERANCE, 1e-9)) + 1)

    def most(self) -> tuple[int, Refusal]:
        """Find the largest number of boxes that the checks accept, and what they say of one more."""
        refusal = Refusal("minimum-load", "", f"{MOST} boxes on one output are as many as are looked at")
        for count in range(self.most_by_load(), 0, -1):
            trial = self.trial(count)
            found = trial.refusal() or trial.is_too_strong()
            if found is None:
                # What else is wrong, such as no place for a preset, is wrong with any number.
                wrong = self.error(count)
                return (0, wrong) if wrong is not None else (count, refusal)
            refusal = found
        return 0, refusal


def _worked_out(blank: Cell, trials: OutputTrials) -> Cell:
    places = places_of(trials.amplifier, trials.mode, trials.candidate)
    most, refusal = trials.most()
    if most and not places:
        most, refusal = 0, Refusal("outputs", "", _too_few_outputs(trials))
    boxes = max(1, most)
    trial = trials.trial(boxes)
    sections = tuple(_power(solved) for solved in trial.outputs)
    counts, total = _spread(trials, most, places)
    set_by = refusal.set_by
    if total is not None:
        set_by, refusal = "supply", total
    counting = range(most, 0, -1)
    return msgspec.structs.replace(
        blank,
        per_output=most,
        per_amplifier=sum(counts),
        outputs=counts,
        set_by=set_by,
        refusal=refusal,
        preferred_per_output=next((n for n in counting if not trials.trial(n).is_under_preferred()), 0),
        clean_per_output=next((n for n in counting if _is_clean(trials.trial(n))), 0),
        not_with=tuple(n for n in range(1, most) if trials.trial(n).refusal() or trials.trial(n).is_too_strong()),
        sections=sections,
        boxes=boxes,
        notes=(
            *_unreached(trials.amplifier, trials.mode, trials.candidate),
            *blank.notes,
            *_notes(trials, boxes, refusal),
        ),
    )


def _too_few_outputs(trials: OutputTrials) -> str:
    wanted, there = len(trials.candidate.pairs), trials.amplifier.channels // CHANNELS[trials.mode]
    return f"one box takes {wanted} outputs, and there are {there} for it, {trials.mode}"


def _is_clean(trial: Trial) -> bool:
    """Tell whether every section's clean watts, through the impedance of its rating, are half of its rating or more."""
    return all(
        crest.clean_power(ohms_law.power_from_voltage(box.full_v, box.load.rated_ohm)) >= WEAK * box.load.continuous_w
        for output in trial.outputs
        for box in output.lines[0].boxes
    )


def _unreached(amplifier: Amplifier, mode: Mode, candidate: Candidate) -> Iterator[str]:
    """Say so where no connector of the amplifier carries all pin pairs of a box, so that no plain lead feeds it."""
    tables = [*amplifier.connectors.values(), *(amplifier.connectors_bridged.values() if mode == "bridged" else ())]
    carried = [{pair for pair, own in pins.items() if ("+" in own) == (mode == "bridged")} for pins in tables]
    wanted = {pair for pair, _ in candidate.pairs}
    if carried and not any(wanted <= pairs for pairs in carried):
        pairs = " and ".join(sorted(wanted, key=int))
        yield f"no connector carries pin pair {pairs}, {mode}: it takes a breakout, an adaptor or a lead made for it"


def _notes(trials: OutputTrials, boxes: int, refusal: Refusal) -> Iterator[str]:
    for item in trials.findings(boxes):
        if item.rule not in {PREFERENCE, refusal.rule}:
            yield f"{item.severity}: {item.says}"
    if trials.mode == "bridged" and trials.trial(boxes).outputs[0].gain_db is not None:
        gain = levels.bridged_gain(0.0)
        yield f"bridged: {gain:.1f} dB more gain, so thresholds at the input are {gain:.1f} dB lower"


def _power(solved: SolvedOutput) -> SectionPower:
    """Compute the power of the section that gets least on this output; all boxes on it are alike."""
    box = min(solved.lines[0].boxes, key=lambda box: driven_w(box) / (box.load.continuous_w or 1e-9))
    load = box.load
    rated = load.continuous_w or None
    return SectionPower(
        section=load.section.section,
        pair=str(load.section.pair),
        preset=load.choice.id or "",
        load_ohm=solved.load_ohm or 0.0,
        clean_w=box.clean_w,
        limited_w=box.limited_w,
        rated_w=rated,
        headroom_db=10.0 * log10(driven_w(box) / rated) if rated and driven_w(box) > 0.0 else None,
        peak_headroom_db=_peak_headroom(solved, box) if rated else None,
        loss_db=box.loss_db,
        limiter=solved.limiter,
        solved=solved,
    )


def _peak_headroom(solved: SolvedOutput, box: SolvedBox) -> float | None:
    peak_v = crest.sine_peak(solved.clip_v) * box.full_v / solved.can_give_v if solved.can_give_v else 0.0
    bears_v = peak_v_of(box.load, direct)
    return 20.0 * log10(peak_v / bears_v) if peak_v > 0.0 and bears_v > 0.0 else None


PLENTY = 0.999
"""Of what a supply carries by its sums: nearer to the limit the outputs are solved together."""


def _spread(trials: OutputTrials, most: int, places: int) -> tuple[tuple[int, ...], Refusal | None]:
    """Spread boxes over all places: the most of them in all, and what a common supply says of one more.

    Without a common supply, or where it carries all, each place has the most that an output takes.
    """
    full = (most,) * places
    if not most or not places or trials.amplifier.supply_limit is None:
        return full, None
    cluster = cluster_of(trials.amplifier, trials.trial(most))
    all_full = Fill(demand_w=places * cluster.demand_w, share=cluster.share * PLENTY)
    if room_of(trials.amplifier).takes(all_full):
        return full, None
    refusal = trials.spread(full).refusal()
    if refusal is None:
        return full, None
    room = room_of(trials.amplifier, places * CHANNELS[trials.mode] * len(trials.candidate.pairs))
    clusters = [cluster_of(trials.amplifier, trials.trial(count)) for count in range(most, 0, -1)]
    fills = fills_of(clusters, room)
    for total in sorted(fills, reverse=True):
        for fill in fills[total]:
            counts = tuple(cluster.count for cluster in fill.clusters)
            found = trials.spread(counts).refusal() if counts else None
            if found is None:
                return counts, refusal
            refusal = found
    return (), refusal
