"""The rig in hand: where every plug, cable and setting is while moves are made, one after the other."""

from __future__ import annotations

from collections.abc import Iterable

from fieldkit.planning.failover.steps import joint_name
from fieldkit.rig.connect.lines import Line
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import Step

Setting = tuple[str, float | None, float | None]
"""What a host holds: preset, threshold at the output [V], threshold at the amplifier's input [dBu]."""


class PatchedRig:
    """Where everything is while the moves are made, one after the other."""

    def __init__(self, before: Rig, after: Rig) -> None:
        self.before, self.after = before, after
        self.at: dict[str, str] = {run.id: run.start for run in before.show.runs}
        self.held: dict[str, Setting] = {
            output.host.id: setting_of(before, output.host.id)
            for output in before.outputs
            if output.host is not None and output.loads
        }
        self.brought: set[str] = set()
        self.patched: set[str] = set()
        """Units whose inputs are as they are to be."""
        self.led: set[str] = set()
        """Processor outputs and inputs that are led and patched as they are to be."""
        self.muted: dict[str, None] = {}
        self.waiting: set[str] = set()
        """Runs whose move is still to come."""
        self.turned_down: set[str] = set()
        """Signals that the desk sends low, for want of limiters."""
        self.final = {run.id: run.start for run in after.show.runs}
        self.joints: dict[str, str] = {}
        """Runs that wait to be plugged into a socket of a stage box again."""

    def adaptor_of(self, name: str, *, before: bool = False) -> str:
        """Name the adaptor that a run begins with in one plan and not in the other; empty where it does not."""
        runs = [next(run for run in rig.show.runs if run.id == name) for rig in (self.before, self.after)]
        mine, other = runs if before else runs[::-1]
        new = len(mine.path) > 1 and mine.path[0] not in other.path and bool(mine.path[1].cable)
        return mine.path[0].adaptor or "" if new and mine.start else ""

    def lead_of(self, name: str, *, before: bool = False) -> Step | None:
        """Find the lead of the stock that feeds the first box of a run in one plan, and not in the other."""
        runs = [next(run for run in rig.show.runs if run.id == name) for rig in (self.before, self.after)]
        mine, other = runs if before else runs[::-1]
        first = next((step for step in mine.path if step.box), None)
        boxes = {step.box for step in other.path}
        return first if first and first.cable and first.box in boxes and first not in other.path else None

    def joint_of(self, name: str, *, before: bool = False) -> str:
        """Name the socket of a stage box that a run is taken out of; with ``before``, where it goes back into one."""
        if before and name in self.joints:
            return self.joints[name]
        runs = [next(run for run in rig.show.runs if run.id == name) for rig in (self.before, self.after)]
        whole, part = runs[::-1] if before else runs
        for place, step in enumerate(whole.path, start=1):
            first = next((later.box for later in whole.path[place:] if later.box), None)
            there = first in {later.box for later in part.path}
            if step.panel and step.shared and step not in part.path and first and there:
                return joint_name(step)
        return ""

    def runs_on(self, outputs: Iterable[str]) -> list[str]:
        """Name the runs that are on outputs as they are now, and will not be."""
        names = set(outputs)
        return [
            line.run.id
            for line in self.before.lines
            if line.output is not None
            and names & {f"{line.output.unit.id}.{channel}" for channel in line.output.channels}
            and self.at[line.run.id] == line.run.start
            and self.final.get(line.run.id) != line.run.start
        ]


def solved_output(rig: Rig, name: str) -> SolvedOutput:
    """Find an output that feeds something. Raises KeyError where it feeds nothing."""
    found = rig.output(name)
    if found is None:
        raise KeyError(name)
    return found


def old_output(hand: PatchedRig, line: Line) -> SolvedOutput | None:
    """Find what fed the loads of a line before; None where nothing did."""
    old = next((old for old in hand.before.lines if old.run.id == line.run.id and same_loads(old, line)), None)
    return hand.before.output(old.output.id) if old is not None and old.output is not None else None


def same_loads(old: Line, new: Line) -> bool:
    """Tell whether two lines feed the same sections of the same boxes, or one of them more behind its last box."""
    were, are = ([(load.box.id, load.section) for load in line.loads] for line in (old, new))
    common = min(len(were), len(are))
    return were[:common] == are[:common] and (bool(common) or were == are)


def single_channels(outputs: Iterable[str]) -> list[str]:
    """Name the single channels of outputs: those are what has a mute."""
    names = []
    for output in outputs:
        unit, _, channels = output.partition(".")
        names += [f"{unit}.{channel}" for channel in channels.split("+")]
    return names


def is_complete(hand: PatchedRig, output: SolvedOutput) -> bool:
    """Tell whether all that is to be on an output is plugged."""
    return all(hand.at.get(item.line.run.id) == item.line.run.start for item in output.lines)


def setting_of(rig: Rig, host: str) -> Setting:
    """Say what a host must hold in a plan: the lowest limiter of all that it feeds."""
    fed = [output for output in rig.outputs if output.host is not None and output.host.id == host and output.loads]
    limiters = [output.limiter for output in fed if output.limiter]
    levels = [limiter.input_dbu for limiter in limiters if limiter.input_dbu is not None]
    outboard = any(output.host is not None and output.host.kind == "processor" for output in fed)
    return (
        "+".join(dict.fromkeys(preset_held(output) for output in fed)),
        min((limiter.thermal_v for limiter in limiters), default=None),
        min(levels, default=None) if outboard else None,
    )


def preset_held(output: SolvedOutput) -> str:
    """Name what an output must hold, for comparing."""
    return "+".join(dict.fromkeys(f"{load.speaker.id}/{load.choice.id or '-'}" for load in output.loads))


def spoken_preset(output: SolvedOutput) -> str:
    """Say which presets an output must hold, and for what."""
    said = []
    for load in output.loads:
        what = f"{load.speaker.id} {load.section.section}"
        name = load.choice.id
        said.append(f"preset {what}, {load.zone_use.use}: {name}" if name else f"no preset for {what}")
    return " and ".join(dict.fromkeys(said))


def place_of(hand: PatchedRig, start: str) -> str:
    """Name the rack that a connector is in; the unit or rack itself where it is in none."""
    name = start.partition(".")[0]
    unit = hand.after.show_index.units.get(name)
    return (unit.rack or "") if unit else name
