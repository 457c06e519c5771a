"""What pages are made from: a rig, its findings, and the units that the reader wants."""

from __future__ import annotations

import re
from functools import cached_property
from typing import Literal, TypeAlias, cast

from fieldkit.checks.checking import check
from fieldkit.checks.concern import Concern, concerns_of
from fieldkit.checks.finding import Finding
from fieldkit.reports.cards import lines_by_box
from fieldkit.rig.connect.cable_ends import CableEnd, cable_ends
from fieldkit.rig.connect.lines import Line
from fieldkit.rig.signal.chain import signal_cables
from fieldkit.rig.solve.evaluation import Rig, evaluate
from fieldkit.rig.solve.solving import SolvedLine, SolvedOutput
from fieldkit.sheets.places import RackPlace, StageSide, rack_places, stage_sides
from fieldkit.show.document import Model, RackUnit, SheetChoices, Show
from fieldkit.units import Length, convert, format_value

Units: TypeAlias = Literal["typed", "metric", "imperial"]
QUANTITY = re.compile(r"(?<![\w.,])([+-]?\d+(?:\.\d+)?) (m|ft|kg|lb|°C|°F)(?![\w²/])")
INTO = {
    "imperial": {"m": "ft", "kg": "lb", "°C": "°F"},
    "metric": {"ft": "m", "lb": "kg", "°F": "°C"},
}
UNITS: tuple[Units, ...] = ("typed", "metric", "imperial")


def _converted(number: str, unit: str, into: dict[str, str]) -> str:
    """Write a quantity of a sentence in another unit, in as many digits as it had decimals."""
    other = into.get(unit)
    if other is None:
        return f"{number} {unit}"
    decimals = len(number.partition(".")[2])
    return f"{convert(float(number), unit, other):.{max(1, decimals)}f} {other}"


def material_of(show: Show, units: str | None = None) -> Material:
    """Solve and check a show, and give it as pages want it."""
    rig = evaluate(show)
    return Material(rig, check(rig), cast("Units | None", units))


class Material:
    """A rig and its findings, with what several pages look up in them."""

    def __init__(self, rig: Rig, findings: tuple[Finding, ...], units: Units | None = None) -> None:
        """``units`` overrides what the show says."""
        self.rig = rig
        self.show = rig.show
        self.findings = findings
        self.choices = rig.show.about.sheets or SheetChoices()
        self.units: Units = units or self.choices.units

    @cached_property
    def concerns(self) -> tuple[Concern, ...]:
        """The errors, each with what it concerns."""
        return concerns_of(self.rig, self.findings)

    @cached_property
    def ends(self) -> tuple[CableEnd, ...]:
        """Both ends of every cable."""
        return cable_ends(self.rig.show, self.rig.show_index)

    @cached_property
    def ends_of(self) -> dict[tuple[str, int], tuple[CableEnd, CableEnd]]:
        """Near and far end by run and number of the step."""
        return {
            place: (self.ends[index], self.ends[index + 1])
            for index in range(0, len(self.ends), 2)
            for place in self.ends[index].steps
        }

    @cached_property
    def rack_places(self) -> tuple[RackPlace, ...]:
        """The racks, and the units that stand in none."""
        return rack_places(self.show, self.rig.show_index.units.values())

    @cached_property
    def stage_sides(self) -> tuple[StageSide, ...]:
        """The boxes of each hand on the stage."""
        return stage_sides(self.show)

    @cached_property
    def outputs_of_unit(self) -> dict[str, list[SolvedOutput]]:
        """The solved outputs of each amplifier."""
        found: dict[str, list[SolvedOutput]] = {}
        for output in self.rig.outputs:
            found.setdefault(output.output.unit.id, []).append(output)
        return found

    @cached_property
    def units_of_rack(self) -> dict[str, list[RackUnit]]:
        """The units of each rack."""
        found: dict[str, list[RackUnit]] = {}
        for unit in self.rig.show_index.units.values():
            found.setdefault(unit.rack or "", []).append(unit)
        return found

    @cached_property
    def ends_into(self) -> dict[str, list[str]]:
        """The labels of the cable ends that go into each box."""
        found: dict[str, list[str]] = {}
        for end in self.ends:
            if not end.near and end.place:
                found.setdefault(end.place, []).append(end.label)
        return found

    @cached_property
    def plugs_in(self) -> dict[str, list[str]]:
        """The labels of the cable ends in each socket of amplifiers and rack panels: ``SR-1.A``."""
        found: dict[str, list[str]] = {}
        for run in self.show.runs:
            ends = self.ends_of.get((run.id, 1))
            found.setdefault(run.start, []).append(ends[0].label if ends else run.id)
        return found

    @cached_property
    def signal_ends(self) -> dict[str, tuple[str, ...]]:
        """The labels of the signal cables at each of their ends, in words: ``A1 input 2``."""
        found: dict[str, tuple[str, ...]] = {}
        for cable in signal_cables(self.rig):
            if cable.kind == "signal cable":
                for place in (cable.start, cable.end):
                    found[place] = (*found.get(place, ()), cable.id)
        return found

    @cached_property
    def lines_at(self) -> dict[str, list[Line]]:
        """The lines at each socket of amplifiers and rack panels, fed or not."""
        found: dict[str, list[Line]] = {}
        for line in self.rig.lines:
            found.setdefault(line.run.start, []).append(line)
        return found

    @cached_property
    def lines_of_box(self) -> dict[str, list[tuple[SolvedOutput, SolvedLine]]]:
        """The lines that feed each box."""
        return lines_by_box(self.rig)

    @cached_property
    def lines_of_run(self) -> dict[str, list[Line]]:
        """The lines of each run, fed or not."""
        found: dict[str, list[Line]] = {}
        for line in self.rig.lines:
            found.setdefault(line.run.id, []).append(line)
        return found

    @cached_property
    def line(self) -> dict[str, Line]:
        """The lines by their ids, fed or not."""
        return {line.id: line for line in self.rig.lines}

    @cached_property
    def output(self) -> dict[str, SolvedOutput]:
        """The solved outputs by their ids."""
        return {output.output.id: output for output in self.rig.outputs}

    def model(self, name: str) -> Model | None:
        """Find a model by its id."""
        return self.rig.show_index.models.get(name)

    def length(self, length: Length | None) -> str:
        """Write a length as the reader wants it; empty for none."""
        if length is None or self.units == "typed":
            return length or ""
        unit = "m" if self.units == "metric" else "ft"
        return format_value(convert(length.value, "m", unit), unit)

    def size(self, width_mm: float, height_mm: float) -> str:
        """Write a width and a height [mm] as the reader wants them."""
        if self.units != "imperial":
            return f"{width_mm:g} × {height_mm:g} mm"
        return f"{convert(width_mm, 'mm', 'in'):.2f} × {convert(height_mm, 'mm', 'in'):.2f} in"

    @property
    def air(self) -> str:
        """The temperature of the air as the reader wants it."""
        if self.units == "typed":
            return self.rig.air_text
        unit = "°F" if self.units == "imperial" else "°C"
        return format_value(convert(self.rig.conditions.temperature_c, "°C", unit), unit)

    def said(self, text: str) -> str:
        """Give a sentence of the program in the reader's units: lengths, weights and temperatures that stand in it.

        What somebody typed does not go through here. Cross-sections stay as they are marked on the cable.
        """
        into = INTO.get(self.units)
        if into is None:
            return text
        return QUANTITY.sub(lambda found: _converted(found[1], found[2], into), text)

    @property
    def mass_unit(self) -> str:
        """The unit of weights."""
        return "lb" if self.units == "imperial" else "kg"

    def mass(self, kilograms: float) -> float:
        """Convert a weight [kg] to the reader's unit."""
        return convert(kilograms, "kg", self.mass_unit)
