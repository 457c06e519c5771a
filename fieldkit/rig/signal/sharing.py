"""Which lines may share a processor output, and what would merge where there are too few of them.

Outputs of amplifiers that host no preset for their boxes need a processor output. Those of one signal, preset,
delay, level and polarity may share one. Different presets never merge: that destroys drivers. Outputs that are patched
to one processor output have been merged already, and are one need; a rule of its own says what they lose by it.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from itertools import chain, combinations

import msgspec

from fieldkit.gear.processor import Processor
from fieldkit.rig.signal.basis import Basis, bases
from fieldkit.rig.signal.delays import ZoneDelay, delays_by_side
from fieldkit.rig.signal.processing import delay_parts, gain_parts
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput


class ProcessingNeed(msgspec.Struct, frozen=True, gc=False):
    """What a processor output has to be, and the amplifier outputs that share it."""

    signal: str
    speaker: str
    preset: str
    polarity: str
    delay_s: float
    level_db: float
    outputs: tuple[str, ...] = ()

    @property
    def processing(self) -> tuple[str, str, str]:
        """What never merges with another."""
        return self.speaker, self.preset, self.polarity


class Merge(msgspec.Struct, frozen=True, gc=False):
    """Two needs that one processor output could serve, and what is lost."""

    first: ProcessingNeed
    second: ProcessingNeed
    loses: str


class Sharing(msgspec.Struct, frozen=True, gc=False):
    """The needs of a rig against the processor outputs that there are."""

    needs: tuple[ProcessingNeed, ...]
    outputs: int
    """Outputs of all processors that can hold presets, less those that feed self-powered boxes."""
    merges: tuple[Merge, ...]
    """Those that lose least first; looked for only where outputs are missing."""

    @property
    def short(self) -> int:
        """How many outputs are missing; 0 where there are enough."""
        return max(0, len(self.needs) - self.outputs)


def sharing(rig: Rig) -> Sharing:
    """Count what processor outputs are needed, and find what could merge where they do not suffice."""
    grouped: dict[ProcessingNeed, list[str]] = {}
    merged: dict[tuple[str, str, str, str], ProcessingNeed] = {}
    every = rig.memory.each("needs of processing", bases(rig), partial(_needs_of, rig, delays_by_side(rig)))
    for output, need in chain.from_iterable(every):
        if "." in output.source:  # a processor output
            need = merged.setdefault((output.source, *need.processing), need)  # noqa: PLW2901
        grouped.setdefault(need, []).append(output.output.id)
    needs = tuple(msgspec.structs.replace(need, outputs=tuple(names)) for need, names in grouped.items())
    found = Sharing(needs=needs, outputs=_processor_outputs(rig), merges=())
    return msgspec.structs.replace(found, merges=_merges(needs)) if found.short else found


def _needs_of(
    rig: Rig, delays: Mapping[tuple[str, str], ZoneDelay], basis: Basis
) -> list[tuple[SolvedOutput, ProcessingNeed]]:
    """Find what the outputs of an amplifier need that does not host the presets of their boxes itself."""
    found = []
    for output in basis.outputs:
        load = output.loads[0] if output.loads else None
        inside = output.output.model.hosts
        if load is None or load.choice.preset is None:
            continue
        if inside is not None and ("any" in inside.presets or load.speaker.id in inside.presets):
            continue
        need = ProcessingNeed(
            signal=rig.show_index.zones[load.box.zone].signals.get(load.box.side, ""),
            speaker=load.speaker.id,
            preset=load.choice.preset.id,
            polarity=load.box.polarity,
            delay_s=round(sum(value for _, value in delay_parts(load, delays, None)), 6),
            level_db=round(sum(value for _, value in gain_parts(rig, load, None)), 3),
        )
        found.append((output, need))
    return found


def _processor_outputs(rig: Rig) -> int:
    models = [rig.show_index.models[unit.model] for unit in rig.show_index.units.values()]
    hosting = [model for model in models if isinstance(model, Processor) and model.hosts is not None]
    taken = {box.input for box in rig.show.boxes if "." in box.input}
    return max(0, sum(_slots(model) for model in hosting) - len(taken))


def _slots(model: Processor) -> int:
    slots = model.hosts.slots if model.hosts is not None else None
    return min(model.outputs, slots) if slots else model.outputs


def _merges(needs: tuple[ProcessingNeed, ...]) -> tuple[Merge, ...]:
    found = []
    for one, other in combinations(needs, 2):
        if one.processing != other.processing:
            continue
        wait_ms, level_db = 1e3 * abs(one.delay_s - other.delay_s), abs(one.level_db - other.level_db)
        mono = one.signal != other.signal
        said = [f"{one.signal or 'nothing'} and {other.signal or 'nothing'} become one signal"] if mono else []
        said += [f"timing {wait_ms:.1f} ms off"] if wait_ms else []
        said += [f"level {level_db:.1f} dB off"] if level_db else []
        found.append(((mono, wait_ms, level_db), Merge(one, other, ", ".join(said))))
    return tuple(merge for _, merge in sorted(found, key=lambda item: item[0]))
