"""A show resolved and solved. Evaluation is a pure function of the show, cached by the identity of its parts.

How it flows: the show's things by id → the use of each zone → the lines of each run → outputs with their
lines and hosts → each amplifier solved. A run or an amplifier whose parts are those of last time is not worked
out again.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from functools import partial
from itertools import chain

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.loudspeaker import Loudspeaker, unknown_box
from fieldkit.gear.rack import BuiltRack
from fieldkit.rig.connect.hosts import host_of, source_of
from fieldkit.rig.connect.lines import Line, ShowIndex, lines_of
from fieldkit.rig.connect.outputs import outputs_of
from fieldkit.rig.connect.uses import zone_uses
from fieldkit.rig.solve.memory import Memory
from fieldkit.rig.solve.solving import Conditions, SolvedLine, SolvedOutput, Wired, solve_amplifier
from fieldkit.show.contents import PlaceInRack, all_units, models_by_id, unit_in
from fieldkit.show.document import MODEL_TABLES, Box, Model, Rack, RackUnit, Run, Show

DEFAULT_TEMPERATURE_C = 20.0
DEFAULT_MARGIN_DB = 3.0
DEFAULT_PREFERRED_OHM = 4.0
DEFAULT_LOSS_DB = 0.5
DEFAULT_DAMPING = 20.0


class LaidRun(msgspec.Struct, frozen=True, eq=False, gc=False):
    """A run with its lines; the very same object for as long as its start, its pieces and its boxes are the same."""

    run: Run
    lines: tuple[Line, ...]


class Rig(msgspec.Struct, frozen=True):
    """A show with everything that follows from it."""

    show: Show
    show_index: ShowIndex
    conditions: Conditions
    runs: tuple[LaidRun, ...]
    lines: tuple[Line, ...]
    """Of all runs."""
    amplifiers: tuple[tuple[SolvedOutput, ...], ...]
    """The outputs of each amplifier, in the order of the show."""
    outputs: tuple[SolvedOutput, ...]
    """All outputs of all amplifiers."""
    memory: Memory
    """What was worked out beyond lines and outputs for the show before it, and may still hold for this one."""
    derived: dict[Hashable, object]
    """What was worked out from this very rig so far, by what worked it out."""

    @property
    def preferred_ohm(self) -> float:
        """Lowest load wanted on an output [ohm]."""
        preferred = self.show.about.preferred_load
        return preferred.value if preferred else DEFAULT_PREFERRED_OHM

    @property
    def air_text(self) -> str:
        """The temperature of the air in the unit in which it was typed; in °C where nobody says it."""
        typed = self.show.about.temperature
        if typed is None:
            return f"{self.conditions.temperature_c:g} °C"
        return f"{typed.quantity.number:g} {typed.quantity.unit}"

    def output(self, name: str) -> SolvedOutput | None:
        """Find an output by its id."""
        return next((output for output in self.outputs if output.output.id == name), None)

    def line(self, name: str) -> tuple[SolvedOutput, SolvedLine] | None:
        """Find a solved line by its id, with its output."""
        for output in self.outputs:
            for solved in output.lines:
                if solved.line.id == name:
                    return output, solved
        return None

    def loss_limits_db(self) -> dict[str, float]:
        """Cable loss worth a note, by zone [dB]."""
        common = self.show.about.loss_limit
        limits = {zone.id: zone.loss_limit or common for zone in self.show.zones}
        return {name: limit.value if limit else DEFAULT_LOSS_DB for name, limit in limits.items()}


class Evaluator:
    """Evaluates shows one after the other, and keeps what the next one may have in common with the last."""

    def __init__(self, beside: Rig | None = None) -> None:
        """Begin with nothing, or with what is known of a rig that the shows will differ little from."""
        self._memory = beside.memory.branch() if beside is not None else Memory()

    def evaluate(self, show: Show) -> Rig:
        """Resolve and solve a show. The show's references must hold (``show.storage.load`` sees to that)."""
        self._memory.begin()
        show_index = self._ground(show)
        about = show.about
        temperature_c = about.temperature.value if about.temperature else DEFAULT_TEMPERATURE_C
        margin_db = about.limiter_margin.value if about.limiter_margin else DEFAULT_MARGIN_DB
        conditions = self._memory.once(
            ("conditions",), (temperature_c, margin_db), lambda: Conditions(temperature_c, margin_db)
        )
        runs = self._runs(show, show_index)
        lines = tuple(chain.from_iterable(laid.lines for laid in runs))
        amplifiers = self._amplifiers(show_index, conditions, runs)
        return Rig(
            show=show,
            show_index=show_index,
            conditions=conditions,
            runs=runs,
            lines=lines,
            amplifiers=amplifiers,
            outputs=tuple(chain.from_iterable(amplifiers)),
            memory=self._memory,
            derived={},
        )

    def _ground(self, show: Show) -> ShowIndex:
        models = tuple(getattr(show, table) for table in MODEL_TABLES)
        tables = (show.racks, show.rack_units, show.boxes, show.zones, *models)
        return self._memory.once(("index",), tables, lambda: self._index(show))

    def _index(self, show: Show) -> ShowIndex:
        once = self._memory.once
        model_tables = tuple(getattr(show, table) for table in MODEL_TABLES)
        models = once(("models",), model_tables, lambda: models_by_id(show))
        units = once(("units",), (show.racks, show.rack_units, show.built_racks), lambda: self._units(show))
        speakers = once(("speakers",), (show.boxes, models), lambda: self._speakers(show.boxes, models))
        return ShowIndex(
            models=models,
            units=units,
            racks=once(("racks",), (show.racks,), lambda: {rack.id: rack for rack in show.racks}),
            boxes=once(("boxes",), (show.boxes,), lambda: {box.id: box for box in show.boxes}),
            speakers=speakers,
            uses=self._memory.same("uses", zone_uses(show, speakers)),
            zones=once(("zones",), (show.zones,), lambda: {zone.id: zone for zone in show.zones}),
            in_zone=once(("in zones",), (show.zones, show.boxes), lambda: _in_zones(show)),
        )

    def _units(self, show: Show) -> dict[str, RackUnit]:
        """Index the units; one of a rack as built is the very object of last time where nothing of it changed."""

        def bring(place: PlaceInRack) -> RackUnit:
            return self._memory.once(("unit", place.name), place, partial(unit_in, place))

        return {unit.id: unit for unit in all_units(show, bring)}

    def _speakers(self, boxes: Sequence[Box], models: dict[str, Model]) -> dict[str, Loudspeaker]:
        found = self._memory.each("speakers", boxes, lambda box: _speaker(box, models), (models,))
        return dict(zip((box.id for box in boxes), found, strict=True))

    def _runs(self, show: Show, show_index: ShowIndex) -> tuple[LaidRun, ...]:
        """Follow the lines of each run, where anything is another that it passes."""
        names = dict(zip(map(id, show.runs), self._memory.each("names on runs", show.runs, _names_on), strict=True))
        boxes, speakers, uses = show_index.boxes, show_index.speakers, show_index.uses

        def parts(run: Run) -> tuple[object, ...]:
            starts, models, its_boxes = names[id(run)]
            found: list[object] = [show_index.models[name] for name in models]
            for name, socket in starts:
                if name in show_index.racks:
                    found += _rack_parts(show_index.racks[name], socket, show_index)
                elif name in show_index.units:
                    found += [show_index.units[name], show_index.models[show_index.units[name].model]]
            for name in its_boxes:
                box = boxes[name]
                found += (box, speakers[name], uses[box.zone])
            return tuple(found)

        def lay(run: Run) -> LaidRun:
            return LaidRun(run, lines_of(run, show_index))

        return self._memory.each_of("runs", show.runs, (show_index,), parts, lay)

    def _amplifiers(
        self, show_index: ShowIndex, conditions: Conditions, runs: Sequence[LaidRun]
    ) -> tuple[tuple[SolvedOutput, ...], ...]:
        """Solve each amplifier, where anything is another on its outputs or before its inputs."""
        units, models = show_index.units, show_index.models
        on_unit = self._memory.grouped("lines on units", self._memory.each("lines on units", runs, _lines_on_units))

        def parts(unit: RackUnit) -> tuple[object, ...]:
            found: list[object] = [conditions, models[unit.model], *on_unit.get(unit.id, ())]
            feeding = {source.partition(".")[0] for source in unit.inputs.values() if "." in source}
            for name in sorted(feeding) if feeding else ():
                if name in units:
                    found += [units[name], models[units[name].model]]
            return tuple(found)

        def solve(unit: RackUnit) -> tuple[SolvedOutput, ...]:
            model = models[unit.model]
            if not isinstance(model, Amplifier):
                return ()
            return solve_amplifier(_wired(unit, model, on_unit.get(unit.id, ()), show_index), conditions)

        solved = self._memory.each_of("amplifiers", units.values(), (units, models, conditions, on_unit), parts, solve)
        return tuple(
            its for its, unit in zip(solved, units.values(), strict=True) if isinstance(models[unit.model], Amplifier)
        )


def _speaker(box: Box, models: dict[str, Model]) -> Loudspeaker:
    if box.unknown is not None:
        return unknown_box(box.unknown.impedance, box.unknown.continuous)
    model = models[box.model or ""]
    if not isinstance(model, Loudspeaker):
        raise TypeError(f"{box.id}: expected a loudspeaker, got '{box.model}'")
    return model


def _in_zones(show: Show) -> dict[str, tuple[Box, ...]]:
    found: dict[str, list[Box]] = {zone.id: [] for zone in show.zones}
    for box in show.boxes:
        found[box.zone].append(box)
    return {name: tuple(boxes) for name, boxes in found.items()}


def _lines_on_units(laid: LaidRun) -> tuple[tuple[str, Line], ...]:
    return tuple((line.output.unit.id, line) for line in laid.lines if line.output is not None)


def _names_on(run: Run) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...], tuple[str, ...]]:
    """List what a run names: units and racks that feed it, each with its socket, models of its pieces, its boxes."""
    feeding = {
        (name, socket) for name, _, socket in (start.partition(".") for start in (run.start, *run.feeds.values()))
    }
    models = tuple(step.cable or step.adaptor or step.panel or "" for step in run.path)
    return tuple(sorted(feeding)), models, tuple(step.box for step in run.path if step.box)


def _wired(unit: RackUnit, model: Amplifier, lines: Sequence[Line], show_index: ShowIndex) -> list[Wired]:
    """List the outputs of an amplifier with their lines, hosts and sources."""
    by_output: dict[str, list[Line]] = {}
    for line in lines:
        if line.output is not None:
            by_output.setdefault(line.output.id, []).append(line)
    own = outputs_of(unit, model)
    # A run may name one leg of a bridged pair: it is solved as such, and a check says what is wrong.
    known = {output.id for output in own}
    fed = (its[0].output for its in by_output.values())
    wired = []
    for output in (*own, *(output for output in fed if output is not None and output.id not in known)):
        its = tuple(by_output.get(output.id, ()))
        source = source_of(output, show_index.units, show_index.models)
        loads = [load for line in its for load in line.loads]
        wired.append(Wired(output, its, host_of(output, loads, source), source.text))
    return wired


def _rack_parts(rack: Rack, socket: str, show_index: ShowIndex) -> list[object]:
    """List what a run from a socket on the panel of a rack as built depends on: the units wired to it among others."""
    built = show_index.models.get(rack.as_built or "")
    parts: list[object] = [rack, built]
    if isinstance(built, BuiltRack):
        for number in sorted({place.partition(".")[0] for place in built.panel.get(socket, {}).values()}):
            unit = show_index.units[f"{rack.id}-{number}"]
            parts += [unit, show_index.models[unit.model]]
    return parts


def evaluate(show: Show) -> Rig:
    """Resolve and solve one show by itself."""
    return Evaluator().evaluate(show)
