"""Shows with something to lose, and an independent look at each step of a plan that gets over it.

What is here is written from the requirements and shares no code with the program: pins, leads, presets, limiters,
signals and what the amplifiers give are worked out anew, with plain dictionaries. It takes the show from the typed
document, as its file has it, and of a plan the steps (``do``, ``at``, ``value`` and the
two thresholds), what failed and the show that comes out. Cables have no resistance here: every judgement is as
strict as the shortest lead makes it.
"""

from __future__ import annotations

import itertools
import math
import re
from collections import defaultdict
from typing import Any, NamedTuple

import msgspec
from rigs import show_of

MODELS = """
format = 2
[[loudspeakers]]
id = "top"
sections = [
    { drive = "passive", section = "full", impedance = "8 ohm", continuous = "350 W", peak = "1400 W", presets = ["p-front", "p-wedge"] },
    { drive = "bi-amp", section = "low", impedance = "8 ohm", continuous = "350 W", peak = "1400 W", low = "60 Hz", presets = ["low"] },
    { drive = "bi-amp", section = "high", pair = 2, impedance = "16 ohm", continuous = "60 W", peak = "480 W", low = "1200 Hz", presets = ["high"] },
]
presets = [
    { id = "p-front", uses = ["full range", "with sub"], high_pass = "60 Hz", limiter = "300 W" },
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
    { load = "8 ohm", power = "500 W" }, { load = "4 ohm", power = "900 W", minimum = true },
    { load = "8 ohm", power = "1800 W", bridged = true, minimum = true },
]
connectors = { A = { 1 = "1", 2 = "2" }, B = { 1 = "2" }, C = { 1 = "3", 2 = "4" }, D = { 1 = "4" } }
connectors_bridged = { A = { 1 = "1+2" }, C = { 1 = "3+4" } }
hosts = { presets = ["top", "sub"], full_scale = "21 dBu" }
[[amplifiers]]
id = "plain"
channels = 2
gain = "30 dB"
powers = [{ load = "8 ohm", power = "500 W" }, { load = "4 ohm", power = "900 W", minimum = true }]
connectors = { A = { 1 = "1" }, B = { 1 = "2" } }
[[amplifiers]]
id = "hot"
channels = 2
gain = "38 dB"
powers = [{ load = "8 ohm", power = "500 W" }, { load = "4 ohm", power = "900 W", minimum = true }]
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


def losing_show(text, *, links=True):
    """Make a show; without ``links`` no box has a second socket, so that nothing can join what plays."""
    return show_of(text, MODELS if links else MODELS.replace("sections = [", "connectors = 1\nsections = ["))


# ---- numbers -------------------------------------------------------------------------------------------------------

DBU_V = 0.6**0.5
"""0 dBu: 1 mW in 600 ohm."""
BRIDGED_DB = 20 * math.log10(2)
ROUNDED_OHM = 0.98
"""Data sheets round: 2.7 ohm stands for a third of 8."""
DANGEROUS = 4.0
"""Times the continuous rating, what a peak rating usually is: more, and nothing that holds it, is no plan."""
MARGIN_DB = 3.0
"""A threshold that no preset brings stays so far below the rating, unless the show says otherwise."""


def number(text):
    """Read the number of ``8 ohm``, ``1.4 kW`` or ``−3 dB``; prefixes k and m."""
    digits, _, name = text.replace("−", "-").partition(" ")
    return float(digits) * {"k": 1e3, "m": 1e-3}.get(name[:1] if len(name) > 1 else "", 1.0)


def level_v(text):
    """Read a level as volts: ``1.4 V``, ``4 dBu``, ``0 dBV``."""
    if text.endswith("dBu"):
        return DBU_V * 10 ** (number(text) / 20)
    return 10 ** (number(text) / 20) if text.endswith("dBV") else number(text)


def volts_into(ratings, load_ohm):
    """Give the volts of an output into a load: straight lines of volts over current from one rated power to the next.

    Over the highest rated load the volts stay, under the lowest the current does.
    """
    points = sorted((math.sqrt(watts / ohm), math.sqrt(watts * ohm)) for ohm, watts in ratings)
    if load_ohm >= points[0][1] / points[0][0]:
        return points[0][1]
    for (amps, volts), (more_amps, less_volts) in itertools.pairwise(points):
        slope = (less_volts - volts) / (more_amps - amps)
        found = (volts - slope * amps) * load_ohm / (load_ohm - slope)
        if found / load_ohm <= more_amps:
            return found
    return points[-1][0] * load_ohm


# ---- the rig as it is plugged --------------------------------------------------------------------------------------


class Fed(NamedTuple):
    """A section of a box that hangs on an output."""

    box: str
    speaker: str
    section: dict[str, Any]
    preset: dict[str, Any] | None
    run: str

    @property
    def name(self):
        """What a host holds for it."""
        return f"{self.speaker}/{self.preset['id'] if self.preset else '-'}"

    @property
    def rated_ohm(self):
        """The impedance that its watts were rated through; AES2 rates through the lowest one, where it is given."""
        ohm = number(self.section["impedance"])
        if "rated_at" in self.section:
            return number(self.section["rated_at"])
        lowest = self.section.get("minimum") if self.section.get("rating") == "aes2" else None
        return min(ohm, number(lowest)) if lowest else ohm

    @property
    def watts(self):
        return number(self.section.get("continuous", "0 W"))

    @property
    def limiter_w(self):
        return number(self.preset["limiter"]) if self.preset and "limiter" in self.preset else None


def table(show, name):
    return {thing["id"]: thing for thing in show.get(name, ())}


class Plugged:
    """A rig as it stands: which output every plug, pin and lead brings to which section, and what is heard there."""

    def __init__(self, show):
        self.show = show
        names = ("loudspeakers", "amplifiers", "processors", "cables", "adaptors", "panels", "built_racks")
        self.models = {name: table(show, name) for name in names}
        self.boxes, self.zones, self.racks = (table(show, name) for name in ("boxes", "zones", "racks"))
        self.units = self._units()
        self.outputs = defaultdict(list)
        for run in show.get("runs", ()):
            for output, fed in self._follow(run):
                self.outputs[output].append(fed)

    def _units(self):
        found = {}
        for rack in self.racks.values():
            built = self.models["built_racks"].get(rack.get("as_built"), {})
            found |= {f"{rack['id']}-{n}": dict(inside) for n, inside in enumerate(built.get("contents", ()), 1)}
        for own in self.show.get("rack_units", ()):
            built = found.get(own["id"], {})
            inputs = built.get("inputs", {}) | own.get("inputs", {})
            found[own["id"]] = built | {key: value for key, value in own.items() if value} | {"inputs": inputs}
        return found

    def model(self, name):
        """Give the amplifier that a unit is; None for a processor."""
        return self.models["amplifiers"].get(self.units[name]["model"])

    def is_processor(self, name):
        return name in self.units and self.units[name]["model"] in self.models["processors"]

    def pairs(self, name):
        """Give the channels of a unit that are set to work as one."""
        return {*self.units[name].get("bridged", ()), *self.units[name].get("paralleled", ())}

    def is_set(self, pair):
        name, _, channels = pair.partition(".")
        return channels in self.pairs(name)

    def bridged(self, output):
        name, _, channels = output.partition(".")
        return channels in self.units[name].get("bridged", ())

    def pins(self, start):
        """Give the output that each pair of a connector carries; a pair of channels is one only while it is set so."""
        name, _, connector = start.partition(".")
        if name in self.units:
            model = self.model(name)
            carried = model.get("connectors", {}).get(connector, {})
            changed = model.get("connectors_bridged", {}).get(connector, {})
            if set(changed.values()) & self.pairs(name):
                carried = changed
            posts = {pair: f"{name}.{channels}" for pair, channels in carried.items()}
        else:
            panel = self.models["built_racks"][self.racks[name]["as_built"]]["panel"][connector]
            posts = {pair: "{}-{}.{}".format(name, *place.split(".")) for pair, place in panel.items()}
        return {pair: output for pair, output in posts.items() if "+" not in output or self.is_set(output)}

    def _follow(self, run):
        if not run.get("from"):
            return
        here = self.pins(run["from"])
        for step in run["path"]:
            if "cable" in step:
                cable = self.models["cables"][step["cable"]]
                carries = cable.get("pins") or {str(n): str(n) for n in range(1, cable.get("cores", 2) // 2 + 1)}
            elif "adaptor" in step:
                carries = self.models["adaptors"][step["adaptor"]].get("pins") or {pair: pair for pair in here}
            else:
                carries = self.models["panels"][step["panel"]]["sockets"][step["socket"]]
            here = {carries[pair]: output for pair, output in here.items() if pair in carries}
            for pair, output in here.items() if "box" in step else ():
                for section, preset in self._sections(step["box"], pair):
                    yield (
                        output,
                        Fed(step["box"], self.boxes[step["box"]].get("model", "unknown"), section, preset, run["id"]),
                    )

    def _sections(self, name, pair):
        box = self.boxes[name]
        if "unknown" in box:
            return [(box["unknown"] | {"section": "full", "drive": "passive"}, None)] if pair == "1" else []
        speaker = self.models["loudspeakers"][box["model"]]
        drives = [section["drive"] for section in speaker["sections"]]
        drive = box.get("drive") or ("passive" if "passive" in drives else drives[0])
        return [
            (section, self._preset(box, speaker, section))
            for section in speaker["sections"]
            if section["drive"] == drive and str(section.get("pair", 1)) == pair and "impedance" in section
        ]

    def _preset(self, box, speaker, section):
        """Choose as a person would: by hand, else for the use of the zone, else for any; a sub plays for itself."""
        presets = table(speaker, "presets")
        if section["section"] in box.get("presets", {}):
            return presets.get(box["presets"][section["section"]])
        wedge = self.zones[box["zone"]].get("use") == "wedge"
        use, low = ("wedge", "wedge with sub") if wedge else ("full range", "with sub")
        wanted = [low if self._has_low_end(box["zone"]) else use, "any"]
        if section["section"] == "sub":
            wanted.insert(0, use)
        offered = [presets[name] for name in section.get("presets", ())]
        return next((one for use in wanted for one in offered if use in one.get("uses", ("any",))), None)

    def _has_low_end(self, zone):
        """Say whether subs play with a zone: as it says, else its own, else those that stand out front by themselves."""
        if "low_end_from" in self.zones[zone]:
            return bool(self.zones[zone]["low_end_from"])
        kinds = defaultdict(set)
        for box in self.boxes.values():
            sections = self.models["loudspeakers"].get(box.get("model"), {}).get("sections", [{"section": "full"}])
            kinds[box["zone"]].add(all(section["section"] == "sub" for section in sections))
        front = [name for name, item in self.zones.items() if item.get("use") != "wedge"]
        return False in kinds[zone] and (
            True in kinds[zone] or (zone in front and any(kinds[name] == {True} for name in front))
        )

    def source(self, output):
        """Follow the links of an output's first channel to what is patched there: a signal or a processor's output."""
        name, _, channels = output.partition(".")
        entry = self.units[name]["inputs"].get(channels.split("+")[0], "")
        for _ in range(99):
            if not entry.startswith("="):
                break
            entry = self.units[name]["inputs"].get(entry[1:], "")
        return entry

    def heard(self, source):
        """Give the signals that a source carries: itself, or those that are led to that output of a processor."""
        name, _, number = source.partition(".")
        if not self.is_processor(name):
            return {source} - {""}
        entries = [entry.strip() for entry in self.units[name].get("routes", {}).get(number, "").split("+")]
        inputs = self.units[name]["inputs"]
        return {signal for entry in entries for signal in self.heard(inputs.get(entry, ""))}

    def host(self, output):
        """Say where the presets of an output run, and whether it takes them: the amplifier first, then what feeds it."""
        name = output.partition(".")[0]
        places = [(output, self.model(name).get("hosts"))]
        source = self.source(output)
        if self.is_processor(source.partition(".")[0]):
            hosts = self.models["processors"][self.units[source.partition(".")[0]]["model"]].get("hosts")
            places.append((source, hosts))
        places = [(place, hosts.get("presets", ())) for place, hosts in places if hosts is not None]
        speakers = {fed.speaker for fed in self.outputs[output]}
        for place, takes in places:
            if "any" in takes or speakers <= set(takes):
                return place, True
        return (places[-1][0], False) if places else ("", False)

    def thermal_v(self, output):
        """Give the rms volts that the weakest section on an output bears for long; None where nothing is rated."""
        _, takes = self.host(output)
        margin_db = number(self.show.get("show", {}).get("limiter_margin", f"{MARGIN_DB} dB"))
        found = []
        for fed in self.outputs[output]:
            brought = fed.limiter_w if takes else None
            watts = fed.watts * 10 ** (-margin_db / 10) if brought is None else min(brought, fed.watts)
            if fed.watts:
                found.append(math.sqrt(watts * fed.rated_ohm))
        return min(found, default=None)

    def gain_db(self, output):
        """Give the gain from an input to the posts: the unit's or the model's, knob and bridging with it."""
        name, _, channels = output.partition(".")
        unit, model = self.units[name], self.model(name)
        if "gain" in unit or "gain" in model:
            gain = number(unit.get("gain") or model["gain"])
        elif "sensitivity" in model:
            ohm, watts = max(self._ratings(model, bridged=False))
            gain = 20 * math.log10(math.sqrt(watts * ohm) / level_v(model["sensitivity"]))
        else:
            return None
        knobs = [number(unit.get("attenuators", {}).get(one, "0 dB")) for one in channels.split("+")]
        return gain + (min(knobs) + BRIDGED_DB if self.bridged(output) else knobs[0])

    @staticmethod
    def _ratings(model, *, bridged):
        return [(number(r["load"]), number(r["power"])) for r in model["powers"] if r.get("bridged", False) == bridged]

    def errors(self, output):
        """Name what must never be on an output that is live: each thing that blows something up, or protects itself."""
        name, _, channels = output.partition(".")
        unit, model, feds = self.units[name], self.model(name), self.outputs[output]
        if any(channels in pair.split("+") for pair in self.pairs(name)):
            yield "one leg of a pair"
        bridged, paralleled = self.bridged(output), channels in unit.get("paralleled", ())
        bridgeable = model.get("bridgeable", bool(self._ratings(model, bridged=True)))
        if (bridged and not bridgeable) or (paralleled and not model.get("parallelable")):
            yield "a pair that nobody allows"
        ratings, twice = self._ratings(model, bridged=bridged), 1.0
        if bridged and not ratings:
            ratings, twice = self._ratings(model, bridged=False), 2.0
        marked = [
            number(r["load"])
            for r in model["powers"]
            if r.get("minimum") and r.get("bridged", False) == (bridged and twice == 1.0)
        ]
        lowest = twice * min(marked or [ohm for ohm, _ in ratings]) / (2.0 if paralleled else 1.0)
        load_ohm = 1.0 / sum(1.0 / self._judged_ohm(fed) for fed in feds)
        if load_ohm < ROUNDED_OHM * lowest:
            yield "load under the minimum"
        if len({fed.section["section"] for fed in feds}) > 1:
            yield "several bands"
        _, takes = self.host(output)
        if not takes and any(fed.preset and fed.section["drive"] == "bi-amp" for fed in feds):
            yield "no host for a crossover"
        true_ohm = 1.0 / sum(1.0 / number(fed.section["impedance"]) for fed in feds)
        volts = twice * volts_into(ratings, true_ohm / twice)
        for fed in feds:
            held = [fed.limiter_w] if takes and fed.limiter_w is not None else []
            if fed.watts and min([volts * volts / fed.rated_ohm, *held]) > DANGEROUS * fed.watts:
                yield "nothing holds it"

    @staticmethod
    def _judged_ohm(fed):
        """IEC 60268-5: a section's minimum is at least 80 % of its rating; one that is less stands for another rating."""
        ohm = number(fed.section["impedance"])
        return min(ohm, number(fed.section["minimum"]) / 0.8) if "minimum" in fed.section else ohm


class Gone:
    """What is silent by itself when things of these ids have failed: units, outputs, supplies with all that they feed."""

    def __init__(self, rig, names):
        self.rig = rig
        supplies = table(rig.show, "supplies")
        dark = set(names) & set(supplies)
        for _ in supplies:
            dark |= {name for name, supply in supplies.items() if supply.get("fed_from") in dark}
        self.units = {name for name, unit in rig.units.items() if name in names or unit.get("supply") in dark}
        self.outputs = {channel for name in names for channel in channels_of(name)}

    def output(self, name):
        return name.partition(".")[0] in self.units or bool(self.outputs & set(channels_of(name)))

    def source(self, text):
        """Say whether a source is silent: its unit, that output of it, or everything that is led there."""
        name, _, number = text.partition(".")
        if not self.rig.is_processor(name):
            return False
        if self.output(text):
            return True
        unit = self.rig.units[name]
        led = unit.get("routes", {}).get(number)
        entries = [entry.strip() for entry in led.split("+")] if led else list(unit["inputs"])
        patched = [unit["inputs"].get(entry, "") for entry in entries]
        patched = [text for text in patched if text and not text.startswith("=")]
        return bool(patched) and all(map(self.source, patched))


def channels_of(output):
    """Name the single channels of an output: ``S1.1+2`` is S1.1 and S1.2."""
    name, _, channels = output.partition(".")
    return [f"{name}.{channel}" for channel in channels.split("+")]


# ---- the plan, step by step ----------------------------------------------------------------------------------------


class Replay:
    """Makes the steps of a plan one by one on the physical rig: plugs in sockets, settings as they stand.

    What a socket carries is read from its pins, never from what a plan says that a run is fed by.
    """

    def __init__(self, before, found):
        self.show, self.found = plain(before), found
        self.after = plain(found.show)
        rig, then = Plugged(self.show), Plugged(self.after)
        # A plan that was ill before the loss is as ill after putting back: only what is new is a fault.
        new = getattr(found, "failed", ())  # a way back has none
        ill = [rig] if new else [rig, then]
        self.known = {error for one in ill for output in list(one.outputs) for error in one.errors(output)}
        failed = {item.id: item.swapped for item in found.show.failed}
        self.failed = [name for name in {*failed, *new} if not failed.get(name)]
        self.swapped = set(failed)
        self.muted, self.held, self.plugged = set(), {}, []
        self.sums = {}
        for output, feds in rig.outputs.items():
            host, _ = rig.host(output)
            level = self.level_of(rig, output)
            preset, _, old = self.held.get(host, ("+".join({fed.name: None for fed in feds}), None, level))
            levels = [item for item in (old, level) if item is not None]
            self.held[host] = (preset, rig.thermal_v(output), min(levels, default=None))
        # Sections that heard what their zone wants before the loss go on hearing that.
        self.well_fed = {
            (fed.box, fed.section["section"])
            for output, feds in rig.outputs.items()
            for fed in feds
            if self.due(fed.box) in rig.heard(rig.source(output))
        }

    @staticmethod
    def level_of(rig, output):
        """Give the threshold at the input of an output [dBu], where a processor ahead of it holds the limiter."""
        host, _ = rig.host(output)
        volts, gain_db = rig.thermal_v(output), rig.gain_db(output)
        if not host or host == output or volts is None or gain_db is None:
            return None
        return 20 * math.log10(volts / DBU_V) - gain_db

    def due(self, name):
        """Say what the zone of a box is to hear on its side; nothing where nobody said."""
        box = next(box for box in self.show["boxes"] if box["id"] == name)
        zone = next(zone for zone in self.show["zones"] if zone["id"] == box["zone"])
        return zone.get("signals", {}).get(box.get("side", ""))

    def faults(self):
        """Say what is wrong with the outputs that are live as the rig stands."""
        rig = Plugged(self.show)
        gone = Gone(rig, self.failed)
        found = []
        for output in list(rig.outputs):
            if not (gone.output(output) or gone.source(rig.source(output)) or set(channels_of(output)) & self.muted):
                found += self.faults_of(rig, output)
        return found

    def faults_of(self, rig, output):
        feds = rig.outputs[output]
        host, _ = rig.host(output)
        wanted = {fed.name for fed in feds}
        if host:
            preset, thermal_v, input_dbu = self.held.get(host, ("", None, None))
            if set(preset.split("+")) != wanted:
                yield f"{output} is live into {sorted(wanted)} while {host} holds {preset!r}"
            bears_v, level = rig.thermal_v(output), self.level_of(rig, output)
            if host == output and None not in {thermal_v, bears_v} and thermal_v > bears_v * 1.001:
                yield f"{output} is live with a limiter of {thermal_v}, for {bears_v}"
            if level is not None and (input_dbu is None or input_dbu > level + 0.11):
                yield f"{output} is live with {host} at {input_dbu} dBu, for {level}"
        if new := set(rig.errors(output)) - self.known:
            yield f"{output}: {sorted(new)}"
        heard = {part for signal in rig.heard(rig.source(output)) for part in self.sums.get(signal, {signal})}
        for fed in feds if heard else ():
            if (fed.box, fed.section["section"]) in self.well_fed and self.due(fed.box) not in heard:
                yield f"{output} is live and hears {heard}, and {fed.box} had {self.due(fed.box)}"

    def run_all(self):
        """Make every step, and look after each."""
        for move in self.found.moves:
            for step in move.steps:
                getattr(self, f"do_{step.do}")(step)
                faults = self.faults()
                assert faults == [], (move.says, step, faults)
        return self

    def assert_plugged_as_planned(self):
        """See that the steps leave every plug where the plan has it, and nothing muted that could play."""
        assert self.starts(self.show) == self.starts(self.after)
        now = Plugged(self.show)
        gone = Gone(now, self.failed)
        muted = set(now.outputs) - set(self.live(now.outputs))
        assert [one for one in muted if not gone.output(one) and not gone.source(now.source(one))] == []

    def assert_set_as_planned(self):
        """See that the steps leave patch, routes and pairs of channels as the plan has them."""
        now, then = Plugged(self.show).units, Plugged(self.after).units
        for key in ("inputs", "routes", "bridged"):
            assert {name: unit.get(key) for name, unit in now.items()} == {
                name: unit.get(key) for name, unit in then.items()
            }

    def assert_inputs_as_planned(self):
        """See that what feeds each input and leads to each output is what the plan has; nothing is as good as none."""
        for key in ("inputs", "routes"):
            now, then = (
                {(name, n): what for name, unit in rig.units.items() for n, what in unit.get(key, {}).items() if what}
                for rig in (Plugged(self.show), Plugged(self.after))
            )
            assert now == then

    @staticmethod
    def starts(show):
        return {run["id"]: run.get("from", "") for run in show.get("runs", ())}

    def live(self, outputs):
        return [output for output in outputs if not set(channels_of(output)) <= self.muted]

    def loaded(self, channels):
        """List the runs that bring any of these channels to a section."""
        rig = Plugged(self.show)
        return [fed.run for output, feds in rig.outputs.items() if set(channels_of(output)) & channels for fed in feds]

    def own(self, name):
        """Give what the file says of a unit, with a table of its own where a rack as built brings it."""
        units = self.show.setdefault("rack_units", [])
        if name not in table(self.show, "rack_units"):
            units.append({"id": name, "model": Plugged(self.show).units[name]["model"]})
        return next(unit for unit in units if unit["id"] == name)

    def do_off(self, step):
        pass

    def do_mute(self, step):
        channels = set(channels_of(step.at))
        assert not channels <= self.muted, f"{step.at} is muted a second time"
        self.muted |= channels

    def do_unmute(self, step):
        self.muted -= set(channels_of(step.at))

    def do_bring(self, step):
        if step.at in self.swapped:
            return  # a swap: the spare takes the place, with everything muted
        self.show.setdefault("rack_units", []).append({"id": step.at, "model": step.value})
        model = table(self.show, "amplifiers").get(step.value)
        if model:
            self.muted |= {f"{step.at}.{channel}" for channel in range(1, model["channels"] + 1)}

    def do_set(self, step):
        name, _, pair = step.at.partition(".")
        channels = set(channels_of(step.at))
        assert self.loaded(channels) == [], f"{step.at} is set otherwise with {self.loaded(channels)} plugged into it"
        unit = self.own(name)
        left = [one for one in unit.get("bridged", ()) if one != pair]
        bridged = [*left, pair] if step.value == "bridged" else left
        assert bridged != list(unit.get("bridged", ())), step.at
        unit["bridged"] = bridged
        assert self.loaded(channels) == [], (
            f"{step.at} is now {step.value}, with {self.loaded(channels)} plugged into it"
        )

    def do_load(self, step):
        self.held[step.at] = (step.value, step.thermal_v, step.input_dbu)

    def do_patch(self, step):
        name, _, entry = step.at.partition(".")
        if name == "desk":
            self.sums[step.value.partition("+")[0]] = set(step.value.split("+"))
        if entry:
            unit = self.own(name)
            assert unit.get("inputs", {}).get(entry, "") != step.value, step.at
            unit["inputs"] = unit.get("inputs", {}) | {entry: step.value}

    def do_route(self, step):
        name, _, number = step.at.partition(".")
        rig = Plugged(self.show)
        live = self.live(output for output in rig.outputs if rig.source(output) == step.at)
        assert live == [], f"{step.at} is led otherwise while {live} plays from it"
        unit = self.own(name)
        assert unit.get("routes", {}).get(number, "") != step.value, step.at
        unit["routes"] = unit.get("routes", {}) | {number: step.value}

    def do_verify(self, step):
        pass

    def part(self, says):
        """Take off what a step pulls out of a link socket: that box, and all behind it, hang there no more."""
        found = re.search(r"out of the link socket of (\S+)$", says)
        for run in self.show["runs"] if found else ():
            ends = [number for number, piece in enumerate(run["path"], 1) if piece.get("box") == found[1]]
            run["path"] = run["path"][: ends[0]] if ends else run["path"]

    def laid(self, name, says):
        """Give the path of a run once it is plugged: a box that hangs elsewhere comes by a step of its own."""
        now, path = (next(run["path"] for run in show["runs"] if run["id"] == name) for show in (self.show, self.after))
        if not path:
            return now  # another run has it in the end
        elsewhere = [run for run in self.show["runs"] if run["id"] != name and run["from"]]
        there = {piece["box"] for run in elsewhere for piece in run["path"] if "box" in piece}
        cut = [number for number, piece in enumerate(path) if piece.get("box") in there]
        return path[: cut[0]] if cut and "link socket" not in says and "Y-lead" not in says else path

    def do_pull(self, step):
        self.part(step.says)
        for run in self.show["runs"]:
            if run["id"] in step.value.split("+"):
                run["from"] = ""

    def do_plug(self, step):
        if step.at in table(self.show, "boxes"):
            return
        names = step.value.split("+")
        self.part(step.says)
        paths = {name: self.laid(name, step.says) for name in names}
        here = [run for run in self.show["runs"] if run["from"] == step.at and run["id"] not in names]
        now = {run["id"]: run["path"] for run in self.show["runs"]}
        first = [path[name][0] for name in names for path in (paths, now) if path[name]]
        multi = {step.get("shared") for step in first} - {None, ""}  # several runs through one plug
        there = all(start == step.at for name, start in self.starts(self.show).items() if name in names)
        others = [run["id"] for run in here if not there and run["path"][0].get("shared") not in multi]
        assert others == [], f"{step.at} is taken by {others}"
        for run in self.show["runs"]:
            if run["id"] in names:
                run |= {"from": step.at, "path": paths[run["id"]]}
        rig = Plugged(self.show)
        gone = Gone(rig, self.failed)
        works = [output for output in rig.outputs if not gone.output(output)]
        live = self.live(output for output in works if {fed.run for fed in rig.outputs[output]} & set(names))
        assert live == [], f"{names} are plugged into {live} while live"
        for output in works:
            host, _ = rig.host(output)
            mine = {fed.name for fed in rig.outputs[output] if fed.run in names}
            held = set(self.held.get(host, ("", None, None))[0].split("+"))
            assert not host or mine <= held, f"{names} are plugged while {host} holds {held}"
        self.plugged.append(step.at)


def plain(show):
    """Give a show as its file has it."""
    return msgspec.json.decode(msgspec.json.encode(show, enc_hook=str))
