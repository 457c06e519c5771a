"""Shows with something to lose, and an independent look at each step of a plan that gets over it."""

import msgspec
from rigs import show_of

from fieldkit.checks.rules import choices_of, output_rules
from fieldkit.gear.amplifier import Amplifier
from fieldkit.rig.losses import losses_of, lost_now
from fieldkit.rig.signal.chain import signal_paths
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.document import RackUnit

MODELS = """
format = 1
[[loudspeakers]]
id = "top"
sections = [
    { drive = "passive", section = "full", impedance = "8 ohm", continuous = "350 W", peak = "1400 W", presets = ["p-front", "p-wedge"] },
    { drive = "bi-amp", section = "low", impedance = "8 ohm", continuous = "350 W", peak = "1400 W", low = "60 Hz", presets = ["low"] },
    { drive = "bi-amp", section = "high", pair = 2, impedance = "16 ohm", continuous = "60 W", peak = "480 W", low = "1200 Hz", presets = ["high"] },
]
presets = [
    { id = "p-front", uses = ["alone", "with sub"], high_pass = "60 Hz", limiter = "300 W" },
    { id = "p-wedge", uses = ["wedge", "wedge with sub"], high_pass = "80 Hz", limiter = "250 W" },
    { id = "low", uses = ["any"], high_pass = "60 Hz", low_pass = "1200 Hz", limiter = "300 W" },
    { id = "high", uses = ["any"], high_pass = "1200 Hz", limiter = "55 W" },
]
[[loudspeakers]]
id = "sub"
sections = [{ drive = "passive", section = "sub", impedance = "8 ohm", continuous = "900 W", peak = "3600 W", presets = ["sub-any"] }]
presets = [{ id = "sub-any", uses = ["any"], high_pass = "30 Hz", limiter = "800 W" }]
[[amplifiers]]
id = "four"
channels = 4
units = 2
gain = "32 dB"
output_resistance = "10 mohm"
powers = [
    { load = "8 ohm", power = "500 W" }, { load = "4 ohm", power = "900 W", least = true },
    { load = "8 ohm", power = "1800 W", bridged = true, least = true },
]
connectors = { A = { 1 = "1", 2 = "2" }, B = { 1 = "2" }, C = { 1 = "3", 2 = "4" }, D = { 1 = "4" } }
connectors_bridged = { A = { 1 = "1+2" }, C = { 1 = "3+4" } }
hosts = { presets = ["top", "sub"], full_scale = "21 dBu" }
[[amplifiers]]
id = "plain"
channels = 2
gain = "30 dB"
powers = [{ load = "8 ohm", power = "500 W" }, { load = "4 ohm", power = "900 W", least = true }]
connectors = { A = { 1 = "1" }, B = { 1 = "2" } }
[[amplifiers]]
id = "hot"
channels = 2
gain = "38 dB"
powers = [{ load = "8 ohm", power = "500 W" }, { load = "4 ohm", power = "900 W", least = true }]
connectors = { A = { 1 = "1" }, B = { 1 = "2" } }
[[processors]]
id = "dsp"
inputs = 2
outputs = 4
hosts = { presets = ["any"], full_scale = "20 dBu" }
[[cables]]
id = "two"
cores = 2
area = "2.5 mm²"
[[cables]]
id = "four-core"
cores = 4
area = "2.5 mm²"
[[cables]]
id = "eight-core"
cores = 8
area = "2.5 mm²"
connectors = ["8-pole", "8-pole"]
[[adaptors]]
id = "eight-to-four"
connectors = ["4-pole", "8-pole"]
[[panels]]
id = "breakout"
connector = "8-pole"
sockets = { A = { 1 = "1" }, B = { 2 = "1" } }
[[zones]]
id = "mains"
priority = 1
signals = { left = "L", right = "R" }
[[zones]]
id = "subs"
priority = 2
signals = { left = "Sub", right = "Sub" }
[[zones]]
id = "fill"
priority = 3
signals = { left = "L", right = "R" }
[[zones]]
id = "mon"
use = "wedge"
signals = { left = "Mix" }
"""


def unit(name, model="four", inputs='{ 1 = "L", 2 = "L", 3 = "L", 4 = "L" }', more=""):
    return f'[[rack_units]]\nid = "{name}"\nmodel = "{model}"\ninputs = {inputs}\n{more}\n'


def losing_show(text):
    return show_of(text, MODELS)


def due(rig, name):
    """Say what the zone of a box is to hear on its side; nothing where nobody said."""
    box = rig.show_index.boxes[name]
    return next(zone.signals.get(box.side) for zone in rig.show.zones if zone.id == box.zone)


def unmuted_faults(rig, known, held, muted, dead, well_fed=frozenset()):
    """Say what is wrong with the outputs that are live in a rig as it stands, by the rig's own evaluation."""
    choices = choices_of(rig)
    losses = losses_of(rig.show, rig.show_index.units, dead)
    paths = {path.to: path for path in signal_paths(rig)}
    for output in rig.outputs:
        name = output.output.id
        channels = {f"{output.output.unit.id}.{channel}" for channel in output.output.channels}
        if not output.loads or losses.of_output(output.output) or channels & muted:
            continue
        if losses.of_source(output.source, rig.show_index.units):
            continue
        where = output.host.id if output.host else None
        wanted = {f"{load.speaker.id}/{load.choice.id or '-'}" for load in output.loads}
        if where is not None:
            preset, thermal_v, input_dbu = held.get(where, ("", None, None))
            if set(preset.split("+")) != wanted:
                yield f"{name} is live into {sorted(wanted)} while {where} holds {preset!r}"
            if (
                output.host.kind == "amplifier"
                and thermal_v is not None
                and thermal_v > output.limiter.thermal_v * 1.001
            ):
                yield f"{name} is live with a limiter of {thermal_v}, for {output.limiter.thermal_v}"
            limit = output.limiter.input_dbu if output.limiter and output.host.kind == "processor" else None
            if limit is not None and (input_dbu is None or input_dbu > limit + 0.11):
                yield f"{name} is live with {where} at {input_dbu} dBu, for {limit}"
        bad = {item.rule for rule in output_rules for item in rule(output, choices) if item.severity == "error"}
        if bad - known:
            yield f"{name}: {sorted(bad - known)}"
        heard = paths[name].signals
        sections = {(load.box.id, load.section.section) for load in output.loads}
        for one, _ in sections & well_fed if heard else ():
            if due(rig, one) not in heard:
                yield f"{name} is live and hears {heard}, and {one} had {due(rig, one)}"
        bands = {load.section.section for load in output.loads}
        if len(bands) > 1 and "bands-on-one-output" not in known and "high-on-wrong-band" not in known:
            yield f"{name} feeds {sorted(bands)}"


class Replay:
    """Makes the steps of a plan one by one on the physical rig: plugs in sockets, settings as they stand.

    What a socket carries is read from its pins, never from what a plan says that a run is fed by.
    """

    def __init__(self, before, found):
        self.show = msgspec.structs.replace(before, lost=found.show.lost)
        self.found = found
        rig = evaluate(before)
        # A plan that was ill before the loss is as ill after putting back: only what is new is a fault.
        self.known = {
            item.rule
            for one in (rig, evaluate(found.show))
            for out in one.outputs
            for rule in output_rules
            for item in rule(out, choices_of(one))
            if item.severity == "error" and (one is rig or not found.lost)
        }
        self.dead = [
            name
            for name in (*lost_now(found.show), *found.lost)
            if name not in {item.id for item in found.show.lost if item.swapped}
        ]
        self.held = {}
        for out in rig.outputs:
            if out.host is not None and out.loads:
                preset = "+".join(dict.fromkeys(f"{load.speaker.id}/{load.choice.id or '-'}" for load in out.loads))
                level = out.limiter.input_dbu if out.limiter and out.host.kind == "processor" else None
                old = self.held.get(out.host.id, (preset, None, level))
                levels = [item for item in (old[2], level) if item is not None]
                self.held[out.host.id] = (
                    preset,
                    out.limiter.thermal_v if out.limiter else None,
                    min(levels, default=None),
                )
        self.muted = set()
        self.plugged = []
        # Sections that heard what their zone wants before the loss go on hearing that.
        paths = {path.to: path.signals for path in signal_paths(rig)}
        fed = [(load, paths[out.output.id]) for out in rig.outputs for load in out.loads]
        self.well_fed = {
            (load.box.id, load.section.section) for load, signals in fed if due(rig, load.box.id) in signals
        }

    def physical(self):
        runs = tuple(msgspec.structs.replace(run, feeds={}) for run in self.show.runs)
        return evaluate(msgspec.structs.replace(self.show, runs=runs))

    def faults(self):
        return list(unmuted_faults(self.physical(), self.known, self.held, self.muted, self.dead, self.well_fed))

    def run_all(self):
        """Make every step, and look after each."""
        for move in self.found.moves:
            for step in move.steps:
                getattr(self, f"do_{step.do}")(step)
                assert self.faults() == [], (move.says, step, self.faults())
        return self

    def do_off(self, step):
        pass

    def do_mute(self, step):
        self.muted |= set(self.channels(step.at))

    def channels(self, output):
        unit_id, _, channels = output.partition(".")
        return [f"{unit_id}.{channel}" for channel in channels.split("+")]

    def do_unmute(self, step):
        self.muted -= set(self.channels(step.at))

    def do_bring(self, step):
        if step.at in {item.id for item in self.show.lost}:
            return  # a swap: the spare takes the place, with everything muted
        model = next(item for item in self.show.amplifiers + self.show.processors if item.id == step.value)
        new = RackUnit(id=step.at, model=step.value)
        self.show = msgspec.structs.replace(self.show, rack_units=(*self.show.rack_units, new))
        if isinstance(model, Amplifier):
            self.muted |= {f"{step.at}.{channel}" for channel in range(1, model.channels + 1)}

    def change_unit(self, name, **values):
        units = tuple(
            msgspec.structs.replace(item, **{key: value(item) for key, value in values.items()})
            if item.id == name
            else item
            for item in self.show.rack_units
        )
        assert units != self.show.rack_units, name
        self.show = msgspec.structs.replace(self.show, rack_units=units)

    def do_set(self, step):
        name, _, pair = step.at.partition(".")
        on_it = [
            line.id
            for line in self.physical().lines
            if line.output and line.loads and set(self.channels(line.output.id)) & set(self.channels(step.at))
        ]
        assert on_it == [], f"{step.at} is set otherwise with {on_it} plugged into it"
        if step.value == "bridged":
            self.change_unit(name, bridged=lambda item: (*item.bridged, pair))
        else:
            self.change_unit(name, bridged=lambda item: tuple(one for one in item.bridged if one != pair))

    def do_load(self, step):
        self.held[step.at] = (step.value, step.thermal_v, step.input_dbu)

    def do_patch(self, step):
        name, _, channel = step.at.partition(".")
        if channel:
            self.change_unit(name, inputs=lambda item: {**item.inputs, channel: step.value})

    def do_route(self, step):
        name, _, number = step.at.partition(".")
        on_it = [out.output.id for out in self.physical().outputs if out.source == step.at and out.loads]
        live = [one for one in on_it if not set(self.channels(one)) <= self.muted]
        assert live == [], f"{step.at} is led otherwise while {live} plays from it"
        self.change_unit(name, routes=lambda item: {**item.routes, number: step.value})

    def do_verify(self, step):
        pass

    def place(self, names, start):
        runs = tuple(msgspec.structs.replace(run, start=start) if run.id in names else run for run in self.show.runs)
        self.show = msgspec.structs.replace(self.show, runs=runs)

    def do_pull(self, step):
        self.place(step.value.split("+"), "")

    def do_plug(self, step):
        names = step.value.split("+")
        if any(step.at == item.id for item in self.show.boxes):
            return
        others = [run.id for run in self.show.runs if run.start == step.at and run.id not in names]
        assert others == [], f"{step.at} is taken by {others}"
        after = {run.id: run for run in self.found.show.runs}
        runs = tuple(
            msgspec.structs.replace(run, start=step.at, path=after[run.id].path) if run.id in names else run
            for run in self.show.runs
        )
        self.show = msgspec.structs.replace(self.show, runs=runs)
        live = [
            line.id
            for line in self.physical().lines
            if line.run.id in names
            and line.loads
            and line.output
            and not set(self.channels(line.output.id)) <= self.muted
        ]
        assert live == [], f"{live} is plugged while live"
        self.plugged.append(step.at)
