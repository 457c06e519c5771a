"""Fitting: how the pairs of a plug meet those of a socket, and what an output then is, solved and looked over."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import Choices, choices_of, output_rules
from fieldkit.gear.cabling import Adaptor, Cable
from fieldkit.planning.failover.placements import PlacedFeed
from fieldkit.planning.failover.plugs import Plug, with_modes
from fieldkit.planning.failover.sockets import Socket
from fieldkit.planning.failover.spares import free_adaptors
from fieldkit.rig.connect.connectors import has_larger_plugs, takes_plug
from fieldkit.rig.connect.hosts import host_of, source_of
from fieldkit.rig.connect.lines import Line, ShowIndex
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput, Wired, solve_output


class Fitting:
    """Knows the plugs, adaptors and limits of a show."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        models = rig.show_index.models
        self.choices: Choices = choices_of(rig)
        self.larger = has_larger_plugs(model for model in models.values() if isinstance(model, Cable))
        self.adaptors = [model for name in free_adaptors(rig) if isinstance(model := models[name], Adaptor)]

    def pins(self, plug: Plug, socket: Socket, adaptor: Adaptor | None) -> dict[str, tuple[str, str]] | None:
        """Map each pair of the plug to the pair at the socket and its output; None where they do not fit."""
        shape = socket.shape
        if adaptor is not None:
            if len(adaptor.connectors) < 2:
                return None
            if not takes_plug(shape, adaptor.connectors[0], larger=self.larger):
                return None
            shape = adaptor.connectors[-1]
        stays = socket.id == plug.start and adaptor is None
        if not stays and not takes_plug(shape, plug.shape, larger=self.larger):
            return None
        found: dict[str, tuple[str, str]] = {}
        for pair, output in socket.pins.items():
            far = adaptor.far_pair(pair) if adaptor else pair
            if far in plug.reach:
                found[far] = (pair, output)
        needed = {need.pair for need in plug.needs}
        if stays:
            return {pair: found[pair] for pair in needed} if needed <= set(found) else None
        # A pair that reaches a section which the plan does not feed must not arrive live.
        if set(found) != needed or len({output for _, output in found.values()}) < len(needed):
            return None
        if socket.wired & {output for _, output in found.values()}:
            return None
        used = {output.partition(".")[2] for _, output in found.values()}
        idle = [pair for _, pair, _ in socket.changes if not _touches(pair, used)]
        return None if idle else found

    def at(self, show_index: ShowIndex, feed: PlacedFeed, lines: Sequence[Line]) -> SolvedOutput:
        """Solve an output with these lines on it."""
        output = lines[0].output or feed.output
        source = source_of(output, show_index.units, show_index.models)
        loads = [load for line in lines for load in line.loads]
        wired = Wired(output, tuple(lines), host_of(output, loads, source), source.text)
        return solve_output(wired, self.rig.conditions, 1.0)

    def findings(self, solved: SolvedOutput) -> list[Finding]:
        """List what the rules about outputs find."""
        return [item for rule in output_rules for item in rule(solved, self.choices)]

    def errors(self, solved: SolvedOutput) -> set[str]:
        """Name the rules that find an error."""
        return {item.rule for item in self.findings(solved) if item.severity == "error"}

    def warnings(self, solved: SolvedOutput) -> set[str]:
        """Name the rules that find a warning."""
        return {item.rule for item in self.findings(solved) if item.severity == "warning"}

    def grounded(self, socket: Socket, feeds: Sequence[PlacedFeed]) -> ShowIndex:
        """Return the show index with the units of a socket as they will be set."""
        units = dict(self.rig.show_index.units)
        for feed in feeds:
            unit = with_modes(
                units[feed.output.unit.id], [item for item in socket.changes if item[0] == feed.output.unit.id]
            )
            inputs = {**unit.inputs, str(feed.output.channels[0]): feed.source}
            units[unit.id] = msgspec.structs.replace(unit, inputs=inputs)
        return msgspec.structs.replace(self.rig.show_index, units=units)


def _touches(pair: str, used: set[str]) -> bool:
    return any(part in channels.split("+") for channels in used for part in pair.split("+"))
