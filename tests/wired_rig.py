"""A rig as things with contacts: sockets, plugs, cores, coils, capacitors, amplifier posts. Its own nodal solver.

It shares nothing with the package, and nothing with ``physical_world``: a show is described once (``Plan``), and from it
come the file that the command reads and the parts that are solved. Coils differ from box to box, and may be warm.
"""

from __future__ import annotations

import copy
import math
import random

import numpy as np

LOW, HIGH = 60.0, 6000.0
CORE = 0.00741  # ohm a metre of a core of 2.5 mm²
CONTACT = 0.006
COPPER = 0.0039

SPEAKERS = {
    # section: pin pair, then each driver as coil ohm, coil mH, series uF, series mH, bands
    "hall-top": {
        "passive": {"full": ("1", [(5.7, 0.6, 0, 1.1, "L"), (6.9, 0.05, 5.6, 0, "H")])},
        "bi-amp": {"low": ("1", [(5.7, 0.6, 0, 0, "L")]), "high": ("2", [(10.7, 0.11, 40, 0, "H")])},
    },
    "tall-top": {"bi-amp": {"low": ("1", [(11.4, 0.8, 0, 0, "L"), (11.4, 0.8, 0, 0, "L")]), "high": ("2", [(7.1, 0.1, 0, 0, "H")])}},
    "pair-sub": {"passive": {"sub": ("1", [(11.0, 1.9, 0, 0, "L"), (11.0, 1.9, 0, 0, "L")])}},
    "floor": {"passive": {"full": ("1", [(5.5, 0.5, 0, 0.9, "L"), (7.4, 0.05, 6.8, 0, "H")])}},
    "strip": {"passive": {"full": ("1", [(12.1, 0.2, 0, 0, "LH")])}},
}  # fmt: skip
NOMINAL = {("hall-top", "high"): 16, ("strip", "full"): 16}
WATTS = {"high": 60, "full": 250, "low": 350, "sub": 900}
PRESET_OF = {"full": "wide", "low": "lows", "high": "highs", "sub": "subs"}
CARRIES = {"wide": "LH", "lows": "L", "highs": "H", "subs": "L", "": ""}


class Step:
    def __init__(self, length=None, *, box=None, adaptor=None, panel=None, socket="", shared="", cores=4):
        self.length, self.box, self.adaptor, self.panel = length, box, adaptor, panel
        self.socket, self.shared, self.cores = socket, shared, cores


class Plan:
    """What is written down of a rig. ``boxes``: label -> model, drive, zone, side; ``runs``: label -> socket, steps."""

    def __init__(self, boxes, runs, *, amps, bridged=(), processor=None, signals=None, reach=None):
        self.boxes, self.runs, self.amps, self.bridged = boxes, runs, amps, bridged
        self.processor, self.signals, self.reach = processor, signals or {}, reach or {}

    def channels(self, socket):
        """Pin pair -> channel or bridged pair of a socket."""
        amp, _, letter = socket.partition(".")
        if amp in self.bridged:
            return {"1": {"A": f"{amp}.1+2", "B": f"{amp}.3+4"}[letter]}
        first = 2 * "AB".index(letter) + 1
        return {"1": f"{amp}.{first}", "2": f"{amp}.{first + 1}"}

    def feeds(self, run):
        """Pin pair at the amplifier -> output, for the pairs that boxes of the run listen to."""
        socket, steps = self.runs[run]
        wanted, names = {}, {pair: pair for pair in self.channels(socket)}
        for step in steps:
            if step.adaptor:
                names = {far: names[near] for near, far in ADAPTORS[step.adaptor].items() if near in names}
            if step.box:
                model, drive = self.boxes[step.box][:2]
                for pair, _ in SPEAKERS[model][drive].values():
                    if pair in names:
                        wanted[names[pair]] = None
        return {pair: output for pair, output in self.channels(socket).items() if pair in wanted}

    def sections_on(self, output):
        """Box and section of all that an output feeds."""
        found = []
        for run, (socket, steps) in self.runs.items():
            names = {pair: name for pair, name in self.channels(socket).items() if pair in self.feeds(run)}
            for step in steps:
                if step.adaptor:
                    names = {far: names[near] for near, far in ADAPTORS[step.adaptor].items() if near in names}
                if step.box:
                    for section, (pair, _) in SPEAKERS[self.boxes[step.box][0]][self.boxes[step.box][1]].items():
                        if names.get(pair) == output:
                            found.append((step.box, section))
        return found

    def run_of(self, box):
        return next(run for run, (_, steps) in self.runs.items() if any(step.box == box for step in steps))

    def signal_of(self, output):
        if self.processor:
            return self.signals[self.processor[output]]
        box = next(box for box, _ in self.sections_on(output))
        return f"{self.boxes[box][2]} {self.boxes[box][3]}".strip()


ADAPTORS = {"swap": {"1": "2", "2": "1"}, "straight": {"1": "1", "2": "2"}}


def text_of(plan):
    """Write the show: what a data sheet would say, and no more."""
    text = "format = 2\n[show]\nname = 'a rig'\n"
    for name in dict.fromkeys(model for model, *_ in plan.boxes.values()):
        text += f"[[loudspeakers]]\nid = '{name}'\n"
        sections = [(drive, *item) for drive, its in SPEAKERS[name].items() for item in its.items()]
        text += "presets = [" + ", ".join(f"{{ id = '{PRESET_OF[s]}', uses = ['any'], limiter = '{WATTS[s]} W' }}"
                                          for s in dict.fromkeys(s for _, s, _ in sections)) + "]\n"  # fmt: skip
        for drive, section, (pair, drivers) in sections:
            seen = [coil for coil, _, farad, _, _ in drivers if not farad] or [drivers[0][0]]
            ohm = 1 / sum(1 / coil for coil in seen)
            more = f"inductance = '{drivers[0][1] / len(seen):.2f} mH'\n" if section in {"low", "high", "sub"} else ""
            more += f"series_capacitor = '{drivers[0][2]} uF'\n" if drivers[0][2] else ""
            text += (f"[[loudspeakers.sections]]\ndrive = '{drive}'\nsection = '{section}'\npair = {pair}\n"
                     f"impedance = '{NOMINAL.get((name, section), 8)} ohm'\ndc_resistance = '{ohm:.1f} ohm'\n{more}"
                     f"continuous = '{WATTS[section]} W'\npresets = ['{PRESET_OF[section]}']\n")  # fmt: skip
    for kind, topology in dict.fromkeys(plan.amps.values()):
        hosts = "" if plan.processor else "hosts = { presets = ['any'], full_scale = '21 dBu' }\n"
        text += (f"[[amplifiers]]\nid = '{kind}'\nchannels = 4\ngain = '32 dB'\noutputs = '{topology}'\n{hosts}"
                 "output_resistance = '20 mohm'\npowers = [{ load = '8 ohm', power = '500 W' }, "
                 "{ load = '4 ohm', power = '900 W' }, { load = '2 ohm', power = '1300 W', minimum = true }, "
                 "{ load = '4 ohm', power = '2600 W', bridged = true, minimum = true }]\n"
                 "connectors = { A = { 1 = '1', 2 = '2' }, B = { 1 = '3', 2 = '4' } }\n"
                 "connectors_bridged = { A = { 1 = '1+2' }, B = { 1 = '3+4' } }\n")  # fmt: skip
    text += (
        "[[cables]]\nid = 'four'\ncores = 4\narea = '2.5 mm²'\n[[cables]]\nid = 'two'\ncores = 2\narea = '2.5 mm²'\n"
    )
    for name, pins in ADAPTORS.items():
        listed = ", ".join(f"{near} = '{far}'" for near, far in pins.items())
        text += f"[[adaptors]]\nid = '{name}'\npins = {{ {listed} }}\nresistance = '10 mohm'\n"
    text += "[[panels]]\nid = 'BREAK'\nsockets = { A = { 1 = '1' }, B = { 2 = '1' } }\nresistance = '8 mohm'\n"
    for zone in dict.fromkeys(zone for _, _, zone, _ in plan.boxes.values()):
        sides = dict.fromkeys(side for _, _, name, side in plan.boxes.values() if name == zone)
        text += f"[[zones]]\nid = '{zone}'\nlow_end_from = []\n"
        if plan.processor:
            listed = {side: next(plan.signal_of(output) for output in plan.processor if any(
                plan.boxes[box][2:] == (zone, side) for box, _ in plan.sections_on(output))) for side in sides}  # fmt: skip
            text += "signals = { " + ", ".join(f"{side} = '{name}'" for side, name in listed.items()) + " }\n"
    for box, (model, drive, zone, side) in plan.boxes.items():
        text += f"[[boxes]]\nid = '{box}'\nmodel = '{model}'\nzone = '{zone}'\nside = '{side}'\n"
        text += f"drive = '{drive}'\n" if len(SPEAKERS[model]) > 1 else ""
        text += f"reach = '{plan.reach[box]}'\n" if box in plan.reach else ""
    if plan.processor:
        inputs = {signal: str(n) for n, signal in enumerate(dict.fromkeys(plan.signals.values()), start=1)}
        text += "[[processors]]\nid = 'brain'\ninputs = 4\noutputs = 8\nhosts = { presets = ['any'], full_scale = '20 dBu' }\n"
        text += ("[[rack_units]]\nid = 'DP'\nmodel = 'brain'\n"
                 f"inputs = {{ {', '.join(f'{n} = {s!r}' for s, n in inputs.items())} }}\n"
                 f"routes = {{ {', '.join(f'{o.split(chr(46))[1]} = {inputs[s]!r}' for o, s in plan.signals.items())} }}\n")  # fmt: skip
    for amp, (kind, _) in plan.amps.items():
        text += f"[[rack_units]]\nid = '{amp}'\nmodel = '{kind}'\n"
        text += "bridged = ['1+2', '3+4']\n" if amp in plan.bridged else ""
        if plan.processor:
            its = {
                out.split(".")[1].split("+")[0]: src for out, src in plan.processor.items() if out.startswith(f"{amp}.")
            }
            text += f"inputs = {{ {', '.join(f'{n} = {src!r}' for n, src in its.items())} }}\n"
    for run, (socket, steps) in plan.runs.items():
        feeds = ", ".join(f"{pair} = '{output}'" for pair, output in plan.feeds(run).items())
        text += f"[[runs]]\nid = '{run}'\nfrom = '{socket}'\nfeeds = {{ {feeds} }}\npath = ["
        for step in steps:
            part = (f"adaptor = '{step.adaptor}'" if step.adaptor else f"panel = '{step.panel}', socket = '{step.socket}'"
                    if step.panel else f"cable = '{'four' if step.cores == 4 else 'two'}', length = '{step.length} m'")  # fmt: skip
            part += f", shared = '{step.shared}'" if step.shared else ""
            text += f"{{ {part}{f', box = {step.box!r}' if step.box else ''} }}, "
        text += "]\n"
    return text


class Driver:
    def __init__(self, box, section, pair, item, spread):
        self.box, self.section, self.pair = box, section, pair
        self.ohm, self.henry, self.farad, self.before = item[0] * spread, item[1] / 1e3, item[2] / 1e6, item[3] / 1e3
        self.bands, self.turned, self.cut, self.shut, self.buzz = item[4], False, False, False, ""


class Piece:
    """A lead, adaptor or panel: core -> where it ends; what is in series; which plugs are in."""

    def __init__(self, run, place, kind, cores, ohm):
        self.run, self.place, self.kind = run, place, kind
        self.to, self.ohm, self.more, self.touch = dict(cores), ohm, {}, []
        self.near_in = self.far_in = True
        self.box = ""
        self.buzz = ""


class Output:
    def __init__(self, topology, preset):
        self.topology, self.preset = topology, preset
        self.gain = 0.0  # dB beside the plan
        self.silent = ""  # mute, input, off, protect, failed
        self.noise = ""  # hum, hiss, buzz, radio
        self.other = self.late = self.turned = self.limiter_low = self.no_limiter = False


class Wired:
    def __init__(self, plan, seed=0, warm_k=0.0):
        rng = random.Random(seed)
        batch = 1 + rng.gauss(0, 0.02)
        self.plan, self.warm_k = plan, warm_k
        self.boxes = {box: self.box(box, rng, batch) for box in plan.boxes}
        self.here = dict.fromkeys(plan.boxes, True)
        self.pieces, self.station = {}, {}
        for run, (_, steps) in plan.runs.items():
            for place, step in enumerate(steps):
                self._piece(run, place, step)
        outputs = dict.fromkeys(out for run in plan.runs for out in plan.feeds(run).values())
        self.outputs = {}
        for name in outputs:
            sections = {section for _, section in plan.sections_on(name)}
            self.outputs[name] = Output(plan.amps[name.split(".")[0]][1], PRESET_OF[sections.pop()])
        self.socket_of = {run: run for run in plan.runs}
        self.extra = []  # boxes that hang on the last one and are in no plan
        self.eyes = {}  # place -> what an eye finds there, in the words of the command
        self.half_bridged = set()
        self.meant = False  # whether two runs were exchanged on purpose

    def box(self, box, rng=None, batch=1.0, drive=None, model=None):
        name, planned = self.plan.boxes[box][:2]
        its = SPEAKERS[model or name]
        its = its.get(drive or planned) or next(iter(its.values()))
        return [Driver(box, section, pair, item, batch * (1 + (rng.gauss(0, 0.02) if rng else 0)))
                for section, (pair, drivers) in its.items() for item in drivers]  # fmt: skip

    def _piece(self, run, place, step):
        kind = "adaptor" if step.adaptor else "panel" if step.panel else "lead"
        if step.adaptor:
            pairs = ADAPTORS[step.adaptor]
        elif step.panel:
            pairs = {"1": "1"} if step.socket == "A" else {"2": "1"}
        else:
            pairs = {"1": "1", "2": "2"} if step.cores == 4 else {"1": "1"}
        cores = {f"{near}{side}": f"{far}{side}" for near, far in pairs.items() for side in "+-"}
        ohm = {"adaptor": 0.005, "panel": 0.004}.get(kind) or step.length * CORE
        piece = self.pieces[run, place] = Piece(run, place, kind, cores, ohm)
        steps = self.plan.runs[run][1]
        piece.box = next((one.box for one in steps[place:] if one.box), "")

    def copy(self):
        return copy.deepcopy(self)

    def owner(self, run, place):
        """The run whose piece this is: what is shared belongs to the first that goes through it."""
        step = self.plan.runs[run][1][place]
        if not step.shared:
            return run
        return next(one for one, (_, steps) in self.plan.runs.items() if any(s.shared == step.shared for s in steps))

    # ---- parts -----------------------------------------------------------------------------------------------

    def parts(self, run, hz, pulled=""):
        """All two-terminal parts of a run; ``pulled``: ``amp``, ``X.in``, ``X.out``, ``X.alone``, ``BREAK.out``."""
        found, steps = [], self.plan.runs[run][1]
        for place, step in enumerate(steps):
            piece = self.pieces[run, place]
            before = "post" if place == 0 else self.stand(run, place - 1)
            near, far, here = f"near{place}", f"far{place}", self.stand(run, place)
            last = "" if place == 0 else (steps[place - 1].box or steps[place - 1].panel or "")
            out = pulled == ("amp" if place == 0 else f"{last}.out") or (last and pulled == f"{last}.alone")
            near_in = piece.near_in and not out
            far_in = piece.far_in and not (step.box and pulled in {f"{step.box}.in", f"{step.box}.alone"})
            pins = {pin for core in ("1+", "1-", "2+", "2-") for pin in (core,)}
            for pin in sorted(pins):
                if near_in:
                    found.append((f"{before}:{pin}", f"{near}:{pin}", CONTACT))
                if far_in:
                    found.append((f"{far}:{pin}", f"{here}:{pin}", CONTACT))
            for core, end in piece.to.items():
                found.append((f"{near}:{core}", f"{far}:{end}", piece.ohm + piece.more.get(core, 0.0)))
            for end, one, other in piece.touch:
                found.append((f"{end}{place}:{one}", f"{end}{place}:{other}", 0.03))
            if step.box and self.here[step.box]:
                found += self.inside(step.box, here, hz)
                if step.box in self.extra:
                    found += self.inside(step.box, here, hz, more="x")
        return found

    def stand(self, run, place):
        step = self.plan.runs[run][1][place]
        return f"box {step.box}" if step.box else f"join{place}"

    def inside(self, box, here, hz, more=""):
        found, omega = [], 2 * math.pi * hz
        for number, driver in enumerate(self.boxes[box]):
            if driver.cut or (driver.farad and hz == 0):
                continue
            coil = driver.ohm * (1 + COPPER * self.warm_k) + 1j * omega * driver.henry
            ahead = 0.002 + 1j * omega * driver.before + (1 / (1j * omega * driver.farad) if driver.farad else 0)
            middle = f"{box}{more}/{number}"
            found += [(f"{here}:{driver.pair}+", middle, ahead), (middle, f"{here}:{driver.pair}-", coil)]
        return found

    def meter(self, run, point, pair, hz):
        kind = point.rpartition(".")[2]
        parts = self.parts(run, hz, point)
        steps = self.plan.runs[run][1]
        if point == "amp":
            at = "near0"
        elif kind == "out":
            name = point.rpartition(".")[0]
            at = f"near{next(n for n, s in enumerate(steps) if name in {s.box, s.panel}) + 1}"
        else:
            at = f"box {point.rpartition('.')[0]}"
            if kind == "alone":
                parts = self.inside(point.rpartition(".")[0], at, hz)
        return seen(parts, f"{at}:{pair}+", f"{at}:{pair}-")

    # ---- what plays ------------------------------------------------------------------------------------------

    def emf(self, name, band):
        output = self.outputs[name]
        if output.silent or band not in CARRIES[output.preset]:
            return 0.0
        return 10 ** ((output.gain - (8.0 if output.limiter_low else 0.0)) / 20) * (-1 if output.turned else 1)

    def sources(self, run, band):
        """Volts of every post of the socket that the plug of a run really sits in."""
        found = []
        for pair, name in self.plan.feeds(self.socket_of[run]).items():
            output, volts, plus, minus = self.outputs[name], self.emf(name, band), f"post:{pair}+", f"post:{pair}-"
            if "+" in name and name in self.half_bridged:
                found += [(plus, volts / 2), (minus, 0.0)]
            elif "+" in name or output.topology == "bridge-tied":
                found += [(plus, volts / 2), (minus, -volts / 2)]
            elif output.topology == "alternate" and pair == "2":
                found += [(plus, 0.0), (minus, -volts)]
            else:
                found += [(plus, volts), (minus, 0.0)]
        return found

    def protecting(self, run):
        """Pin pairs whose output sees next to a short, and shuts down."""
        parts = self.parts(run, 1000.0)
        return [
            pair for pair in self.plan.feeds(self.socket_of[run]) if seen(parts, f"post:{pair}+", f"post:{pair}-") < 1.1
        ]

    def volts(self, run, band):
        parts = self.parts(run, LOW if band == "L" else HIGH)
        sources = self.sources(run, band)
        for pair in self.protecting(run):
            sources = [(node, 0.0 if node.startswith(f"post:{pair}") else volts) for node, volts in sources]
        nodes = solve(parts, sources)
        found = {}
        for step in self.plan.runs[run][1]:
            if step.box and self.here[step.box]:
                for number, driver in enumerate(self.boxes[step.box]):
                    middle = f"{step.box}/{number}"
                    if middle in nodes:
                        across = 0.0 if driver.shut else nodes[middle] - nodes.get(f"box {step.box}:{driver.pair}-", 0)
                        found[step.box, number] = across * (-1 if driver.turned else 1)
        return found

    def sound(self):
        """Complex level of every box in both bands."""
        found = {}
        for run in self.plan.runs:
            for band in "LH":
                volts = self.volts(run, band)
                for step in self.plan.runs[run][1]:
                    if step.box:
                        found[step.box, band] = sum(
                            (volts.get((step.box, n), 0j) for n, driver in enumerate(self.boxes[step.box])
                             if band in driver.bands), 0j)  # fmt: skip
        return found

    def hurt(self, muted=()):
        """Boxes whose high driver gets lows while all but the muted outputs play."""
        world = self
        if muted:
            world = self.copy()
            for name in muted:
                world.outputs[name].silent = "mute"
        found = set()
        for run in self.plan.runs:
            for (box, number), volts in world.volts(run, "L").items():
                if world.boxes[box][number].section == "high" and abs(volts) > 0.12:
                    found.add(box)
        for name, output in world.outputs.items():
            if output.no_limiter and not output.silent:
                found |= {box for box, section in self.plan.sections_on(name) if section == "high"}
        return found


def solve(parts, sources):
    names = sorted({node for one, other, _ in parts for node in (one, other)} | {node for node, _ in sources})
    index = {name: number for number, name in enumerate(names)}
    count = len(names)
    matrix = np.zeros((count + len(sources), count + len(sources)), complex)
    right = np.zeros(count + len(sources), complex)
    matrix[range(count), range(count)] = 1e-9
    for one, other, ohm in parts:
        a, b, g = index[one], index[other], 1 / ohm
        matrix[a, a] += g
        matrix[b, b] += g
        matrix[a, b] -= g
        matrix[b, a] -= g
    for row, (node, volts) in enumerate(sources, start=count):
        matrix[row, index[node]] = matrix[index[node], row] = 1
        right[row] = volts
    answer = np.linalg.solve(matrix, right)
    return {name: answer[number] for name, number in index.items()}


def seen(parts, one, other):
    nodes = {node for part in parts for node in part[:2]}
    if one not in nodes or other not in nodes:
        return math.inf
    parts = [*parts, (one, "source", 1.0)]
    volts = solve(parts, [("source", 1.0), (other, 0.0)])
    current = (volts["source"] - volts[one]) / 1.0
    return math.inf if abs(current) < 1e-6 else abs((volts[one] - volts[other]) / current)
