"""A show resolved and solved. Evaluation is a pure function of the show, cached by the identity of its parts.

How it flows: the show's things by id → the use of each zone → the lines of each run → outputs with their
lines and hosts → each amplifier solved. A run or an amplifier whose parts are those of last time is not worked
out again.
"""

from __future__ import annotations

from collections.abc import Sequence
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
from fieldkit.show.contents import all_units, models_by_id
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

    @property
    def preferred_ohm(self) -> float:
        """Lowest load wanted on an output [ohm]."""
        preferred = self.show.about.preferred_load
        return preferred.value if preferred else DEFAULT_PREFERRED_OHM

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

    def __init__(self) -> None:
        self._memory = Memory()

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
        amplifiers = self._amplifiers(show_index, conditions, lines)
        return Rig(
            show=show,
            show_index=show_index,
            conditions=conditions,
            runs=runs,
            lines=lines,
            amplifiers=amplifiers,
            outputs=tuple(chain.from_iterable(amplifiers)),
            memory=self._memory,
        )

    def _ground(self, show: Show) -> ShowIndex:
        models = tuple(getattr(show, table) for table in MODEL_TABLES)
        tables = (show.racks, show.rack_units, show.boxes, show.zones, *models)
        return self._memory.once(("index",), tables, lambda: self._index(show))

    def _index(self, show: Show) -> ShowIndex:
        tables = (show.racks, show.rack_units, show.built_racks)
        units = self._memory.once(("units",), tables, lambda: {unit.id: unit for unit in all_units(show)})
        model_tables = tuple(getattr(show, table) for table in MODEL_TABLES)
        models = self._memory.once(("models",), model_tables, lambda: models_by_id(show))
        speakers = {box.id: self._speaker(box, models) for box in show.boxes}
        in_zone: dict[str, list[Box]] = {zone.id: [] for zone in show.zones}
        for box in show.boxes:
            in_zone[box.zone].append(box)
        return ShowIndex(
            models=models,
            units=units,
            racks={rack.id: rack for rack in show.racks},
            boxes={box.id: box for box in show.boxes},
            speakers=speakers,
            uses=zone_uses(show, speakers),
            zones=self._memory.once(("zones",), (show.zones,), lambda: {zone.id: zone for zone in show.zones}),
            in_zone={name: tuple(boxes) for name, boxes in in_zone.items()},
        )

    def _speaker(self, box: Box, models: dict[str, Model]) -> Loudspeaker:
        if box.unknown is not None:
            unknown = box.unknown
            return self._memory.once(
                ("unknown", box.id), (unknown,), lambda: unknown_box(unknown.impedance, unknown.continuous)
            )
        model = models[box.model or ""]
        if not isinstance(model, Loudspeaker):
            raise TypeError(f"{box.id}: expected a loudspeaker, got '{box.model}'")
        return model

    def _runs(self, show: Show, show_index: ShowIndex) -> tuple[LaidRun, ...]:
        """Follow the lines of each run, where anything is another that it passes."""
        names = dict(zip(map(id, show.runs), self._memory.each("names on runs", show.runs, _names_on), strict=True))
        boxes, speakers, uses = show_index.boxes, show_index.speakers, show_index.uses

        def parts(run: Run) -> tuple[object, ...]:
            starts, models, its_boxes = names[id(run)]
            found: list[object] = [show_index.models[name] for name in models]
            for name in starts:
                if name in show_index.racks:
                    found += _rack_parts(show_index.racks[name], show_index)
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
        self, show_index: ShowIndex, conditions: Conditions, lines: Sequence[Line]
    ) -> tuple[tuple[SolvedOutput, ...], ...]:
        """Solve each amplifier, where anything is another on its outputs or before its inputs."""
        units, models = show_index.units, show_index.models
        on_unit: dict[str, list[Line]] = {}
        for line in lines:
            if line.output is not None:
                on_unit.setdefault(line.output.unit.id, []).append(line)

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

        solved = self._memory.each_of("amplifiers", units.values(), (units, models, conditions, *lines), parts, solve)
        return tuple(
            its for its, unit in zip(solved, units.values(), strict=True) if isinstance(models[unit.model], Amplifier)
        )


def _names_on(run: Run) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """List what a run names: units and racks that feed it, models of its pieces, its boxes."""
    feeding = dict.fromkeys((run.start.partition(".")[0], *(name.partition(".")[0] for name in run.feeds.values())))
    models = tuple(step.cable or step.adaptor or step.panel or "" for step in run.path)
    return tuple(feeding), models, tuple(step.box for step in run.path if step.box)


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


def _rack_parts(rack: Rack, show_index: ShowIndex) -> list[object]:
    """List what a run from the panel of a rack as built depends on."""
    built = show_index.models.get(rack.as_built or "")
    parts: list[object] = [rack, built]
    for number in range(1, len(built.contents) + 1 if isinstance(built, BuiltRack) else 1):
        unit = show_index.units[f"{rack.id}-{number}"]
        parts += [unit, show_index.models[unit.model]]
    return parts


def evaluate(show: Show) -> Rig:
    """Resolve and solve one show by itself."""
    return Evaluator().evaluate(show)
