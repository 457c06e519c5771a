"""Which runs may change places at the amplifier: the same on every pin pair, so that no driver gets another band."""

from __future__ import annotations

from fieldkit.rig.connect.lines import Line
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput

LIMITERS_ALIKE = 0.06
"""Share by which two limiters may differ and still count as the same, half a decibel."""

MOVE = (
    "mute both outputs",
    "see that preset, limiter and input of the other output are those that this line needs",
    "pull and plug",
    "unmute quietly, one output at a time",
)


def safe_partner(rig: Rig, run: str) -> str | None:
    """Find a run whose plug may change places with this one's; None where there is none."""
    own = _lines(rig, run)
    if not own:
        return None
    for other in rig.show.runs:
        if other.id != run and are_alike(rig, own, _lines(rig, other.id)):
            return other.id
    return None


def _lines(rig: Rig, run: str) -> dict[str, Line]:
    return {line.pair: line for line in rig.lines if line.run.id == run}


def are_alike(rig: Rig, own: dict[str, Line], other: dict[str, Line]) -> bool:
    """Tell whether two runs may change places at the amplifier: the same on every pin pair, on other outputs."""
    if own.keys() != other.keys():
        return False
    for pair, line in own.items():
        one = rig.output(line.output.id) if line.output else None
        twin = other[pair].output
        two = rig.output(twin.id) if twin else None
        if one is None or two is None or one.output.id == two.output.id or not _same(one, two):
            return False
        if not line.loads or not other[pair].loads:
            return False
    return True


def _same(one: SolvedOutput, two: SolvedOutput) -> bool:
    """Tell whether two outputs are set alike: mode, sections, presets, host, limiters."""
    if one.output.mode != two.output.mode or one.limiter is None or two.limiter is None:
        return False
    first, second = (
        {(load.speaker.id, load.section.section, load.choice.id) for load in its.loads} for its in (one, two)
    )
    if first != second or any(load.choice.preset is None for its in (one, two) for load in its.loads):
        return False
    alike = abs(one.limiter.thermal_v - two.limiter.thermal_v) <= LIMITERS_ALIKE * one.limiter.thermal_v
    return alike and abs(one.limiter.peak_v - two.limiter.peak_v) <= LIMITERS_ALIKE * one.limiter.peak_v
