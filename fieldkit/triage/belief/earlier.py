"""What the show's readings tell a triage: what was well narrows the predictions, what was not is evidence."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Literal

import msgspec

from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Reading
from fieldkit.triage.belief.observations import Metered, Observation, Played, Polarity
from fieldkit.triage.model.circuit import Circuit, is_open
from fieldkit.triage.model.edits import with_element
from fieldkit.triage.model.odds import Numbers, OddsTable
from fieldkit.triage.rig_check.meter_pass import entries, known_items

Place = tuple[str, str, str, bool]
"""Run, point, pin pair there, and whether the meter was a DC one."""


class Earlier(msgspec.Struct, frozen=True):
    """Readings of the lines of a case, as they stand in the show."""

    well: dict[Place, float]
    """The latest ones that were as expected [ohm]."""
    wrong: tuple[Metered, ...]
    """The latest ones that were not."""
    passes: tuple[Observation, ...] = ()
    """What the noise and the polarity pass of the rig check found of these lines."""


def earlier_passes(rig: Rig, outputs: Collection[str], boxes: Collection[str]) -> tuple[Observation, ...]:
    """List the results of the passes of the rig check as observations."""
    found: list[Observation] = []
    for item in rig.show.log:
        if item.kind == "polarity" and item.at in boxes:
            found.append(Polarity(item.at, "planned" if item.ok else "reversed"))
        if item.kind == "noise" and item.at in outputs:
            output = rig.output(item.at)
            planned = frozenset(load.box.id for load in output.loads) if output else frozenset()
            found.append(Played(item.at, planned if item.ok else frozenset(item.played)))
    return tuple(found)


def earlier_readings(rig: Rig, runs: Collection[str], table: OddsTable) -> Earlier:
    """Sort the readings of some runs."""
    well: dict[Place, float] = {}
    wrong: list[Metered] = []
    known = known_items(rig)
    if not rig.show.readings and not known:
        return Earlier(well, ())
    by_name = rig.show_index.boxes
    for run in runs:
        for box in (by_name[step.box] for one in rig.show.runs if one.id == run for step in one.path if step.box):
            for item in known.values():
                if box.serial and (item.model, item.serial) == (box.model, box.serial) and item.value.ohm is not None:
                    well[run, f"{box.id}.alone", item.pair, item.kind == "dc"] = item.value.ohm
    for entry in entries(rig, table, runs, known):
        run = entry.line.rpartition("/")[0]
        for said in (entry.dc, entry.z1k):
            if said is None:
                continue
            reading, dc = said.reading, said.reading.kind == "dc"
            place = (run, entry.at, entry.pair, dc)
            if said.verdict.ok is False:
                wrong.append(_as_observed(f"{run}.{entry.at}", entry.pair, reading))
                if said.before is not None:
                    well[place] = said.before
            elif reading.value.ohm is not None and not reading.warm:
                well[place] = reading.value.ohm
    return Earlier(well, tuple(wrong))


def with_own_readings(circuit: Circuit, run: str, well: Mapping[Place, float], meter: Numbers) -> Circuit:
    """Let the sections of boxes that were metered by themselves have the DC ohms that they read.

    Only where one section hangs on the pair, and where the reading is within the spread that a healthy driver has.
    """
    for index, station in enumerate(circuit.stations):
        for number, element in enumerate(station.elements):
            pair = element.plus[:-1]
            read = well.get((run, f"{station.box}.alone", pair, True))
            single = sum(other.plus == element.plus for other in station.elements) == 1
            if read is None or not single or is_open(element.dc_ohm):
                continue
            spread = meter["batch_spread"] + meter["own_spread"] + element.dc_guess
            if abs(read - element.dc_ohm) <= 3.0 * spread * element.dc_ohm:
                known = msgspec.structs.replace(element, dc_ohm=read, dc_guess=0.0)
                circuit = with_element(circuit, index, number, known)
    return circuit


def _as_observed(point: str, pair: str, reading: Reading) -> Metered:
    word = reading.value.word
    said: Literal["open", "short", ""] = "open" if word == "open" else "short" if word else ""
    # A box by itself is on the bench, and cold unless somebody says otherwise; of a line nobody knows.
    cold = False if point.endswith(".alone") else None
    return Metered(
        point, pair, reading.value.ohm, said, "1khz" if reading.kind == "1khz" else "dc", True if reading.warm else cold
    )
