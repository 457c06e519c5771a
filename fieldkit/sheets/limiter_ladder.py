"""The limiter ladder of an output: what its box bears, where it clips, where the limiters hold, the highest on top."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import msgspec

from fieldkit.formulas import crest, levels
from fieldkit.formulas.figures import direct
from fieldkit.rig.signal.account import Account, account_of
from fieldkit.rig.solve.limits import peak_v_of
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.sheets.diagram import COLUMNS
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Bar, Diagram, Lettering, Mark
from fieldkit.text.widths import clipped
from fieldkit.units import format_number

BAR_AT = 50
LOWEST_DB = 24.0
"""The bars reach from so far below the highest rung of all outputs to it."""


class LadderRung(msgspec.Struct, frozen=True):
    """One level of a ladder, at the posts."""

    name: str
    volts: str
    """As the limiter is set: rms or peak."""
    rms_v: float
    """Of a sine that reaches it [V]."""
    dbfs: float | None
    """In the host."""


LADDER_WORDS = (
    "Limiter ladders, an output each: volts at the posts, their level as a sine, and the level in the host; the bars "
    "are in dB, as far below the highest rung of the rig."
)
Ladder = tuple[SolvedOutput, list[LadderRung]]


def limiter_ladders(material: Material) -> Iterator[Diagram]:
    """Draw the ladders of all outputs, those of each amplifier in a drawing of its own."""
    by_unit: dict[str, list[Ladder]] = {}
    for output in material.rig.outputs:
        account = account_of(material.rig, output.output.id)
        if account is not None:
            rungs = sorted(_rungs(output, account), key=lambda rung: -rung.rms_v)
            by_unit.setdefault(output.output.unit.id, []).append((output, rungs))
    highest = max((rung.rms_v for its in by_unit.values() for _, rungs in its for rung in rungs), default=0.0)
    yield from (_ladders(unit, its, highest) for unit, its in by_unit.items())


def _ladders(unit: str, ladders: Sequence[Ladder], highest: float) -> Diagram:
    marks: list[Mark] = []
    y = 0
    for output, rungs in ladders:
        boxes = " ".join(dict.fromkeys(load.box.id for load in output.loads))
        assumed = " (assumed)" if output.assumed else ""
        marks.append(Lettering(0, y, clipped(f"{output.output.id}  {boxes}{assumed}", COLUMNS), bold=True))
        y += 1
        for rung in rungs:
            marks += _rung(rung, y, highest)
            y += 1
    return Diagram(f"Limiters of {unit}", y, tuple(marks))


def _rungs(output: SolvedOutput, account: Account) -> Iterator[LadderRung]:
    """List the rungs; a level in the host is known where it is for a limiter, and all move alike."""
    name = output.output.id
    fast, slow = (account.number(f"{kind} limiter at the posts", "dBu", name) for kind in ("fast", "slow"))
    host = account.number("fast limiter in the host", "dBFS", name)
    offset = host - fast if host is not None and fast is not None else None

    def rung(words: str, volts: float, unit: str) -> LadderRung:
        rms_v = crest.sine_of_peak(volts) if unit == "V peak" else volts
        dbu = levels.dbu_from_voltage(rms_v)
        return LadderRung(words, f"{format_number(volts, 3)} {unit}", rms_v, None if offset is None else dbu + offset)

    rated = [load for load in output.loads if load.continuous_w > 0.0]
    if rated:
        yield rung("box bears, peaks", min(peak_v_of(load, direct) for load in rated), "V peak")
    if output.clip_v > 0.0:
        yield rung("amplifier clips", output.clip_v * math.sqrt(2.0), "V peak")
    fast_v = account.number("fast limiter at the posts", "V peak", name)
    slow_v = account.number("slow limiter at the posts", "V rms", name)
    if rated:
        long_v = min(math.sqrt(load.continuous_w * load.rated_ohm) for load in rated)
        yield rung("box bears, for long", long_v, "V rms")
    if fast_v is not None and fast is not None:
        yield rung("fast limiter", fast_v, "V peak")
    if slow_v is not None and slow is not None:
        yield rung("slow limiter", slow_v, "V rms")


def _rung(rung: LadderRung, y: int, highest: float) -> Iterator[Mark]:
    dbu = levels.dbu_from_voltage(rung.rms_v)
    below_db = levels.dbu_from_voltage(highest) - dbu
    host = f"{rung.dbfs:+.1f} dBFS" if rung.dbfs is not None else ""
    yield Lettering(2, y, rung.name)
    yield Lettering(22, y, f"{rung.volts:>12}")
    yield Lettering(35, y, f"{dbu:+.1f} dBu")
    yield Lettering(COLUMNS - 12, y, f"{host:>12}")
    yield Bar(BAR_AT - 5, y, COLUMNS - BAR_AT - 8, max(0.0, round(1.0 - below_db / LOWEST_DB, 2)))
