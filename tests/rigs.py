"""Small rigs for tests, as text: invented models, and builders for boxes, runs and steps."""

import tomllib

from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.decoding import decode
from fieldkit.show.references import problems

MODELS = """
format = 2
[[loudspeakers]]
id = "top"
sections = [
    { drive = "passive", section = "full", impedance = "8 ohm", continuous = "350 W", peak = "1400 W", presets = ["p-full-range", "p-sub", "p-wedge"] },
    { drive = "bi-amp", section = "low", impedance = "8 ohm", dc_resistance = "5.9 ohm", inductance = "0.5 mH", continuous = "350 W", peak_volts = "90 V", presets = ["low"] },
    { drive = "bi-amp", section = "high", pair = 2, impedance = "16 ohm", rated_at = "12 ohm", series_capacitor = "47 uF", continuous = "60 W", presets = ["high"] },
]
presets = [
    { id = "p-full-range", uses = ["full range"], limiter = "350 W" },
    { id = "p-sub", uses = ["with sub"], limiter = "350 W" },
    { id = "p-wedge", uses = ["wedge", "wedge with sub"] },
    { id = "low", uses = ["any"], low_pass = "1200 Hz" },
    { id = "high", uses = ["full range", "with sub"], high_pass = "1200 Hz" },
]
[[loudspeakers]]
id = "sub"
sections = [{ drive = "passive", section = "sub", impedance = "4 ohm", continuous = "500 W", presets = ["sub-any"] }]
presets = [{ id = "sub-any", uses = ["any"], high_pass = "30 Hz" }]
[[amplifiers]]
id = "quad"
channels = 4
gain = "32 dB"
output_resistance = "10 mohm"
parallelable = true
powers = [
    { load = "4 ohm", power = "900 W" },
    { load = "8 ohm", power = "500 W" },
    { load = "2.7 ohm", power = "1100 W", minimum = true },
    { load = "8 ohm", power = "1800 W", bridged = true },
]
connectors = { A = { 1 = "1", 2 = "2" }, B = { 1 = "3", 2 = "4" }, C = { 1 = "3+4" } }
connectors_bridged = { B = { 1 = "3+4" } }
hosts = { presets = ["top"], full_scale = "21 dBu" }
[[amplifiers]]
id = "plain"
channels = 2
sensitivity = "1.5 V"
supply_limit = "800 W"
powers = [{ load = "8 ohm", power = "500 W" }, { load = "4 ohm", power = "800 W" }]
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
id = "four"
cores = 4
area = "2.5 mm²"
[[cables]]
id = "gauge-twelve"
cores = 2
area = "12 AWG"
[[zones]]
id = "mains"
[[zones]]
id = "subs"
[[zones]]
id = "mon"
use = "wedge"
"""


def show_of(text, models=MODELS):
    show = decode(tomllib.loads(models + text))
    assert list(problems(show)) == []
    return show


def rig_of(text, models=MODELS):
    return evaluate(show_of(text, models))


def box(name, zone="mains", model="top", more=""):
    return f'[[boxes]]\nid = "{name}"\nmodel = "{model}"\nzone = "{zone}"\n{more}\n'


def run(name, start, *steps, more=""):
    path = ", ".join(steps)
    return f'[[runs]]\nid = "{name}"\nfrom = "{start}"\npath = [{path}]\n{more}\n'


def step(cable, length, at=None):
    return f'{{ cable = "{cable}", length = "{length}"{f", box = {at!r}" if at else ""} }}'


AMP = '[[rack_units]]\nid = "A"\nmodel = "quad"\n'
PLAIN = '[[rack_units]]\nid = "P"\nmodel = "plain"\n'

RACK = """
[[built_racks]]
id = "tour"
units = 8
contents = [{ model = "quad", unit = 1, bridged = ["3+4"], inputs = { 1 = "L" } }, { model = "plain", unit = 4 }]
panel = { P1 = { 1 = "1.1", 2 = "1.2" }, P2 = { 1 = "1.3+4" }, P3 = { 1 = "2.1" } }
wiring = { length = "2 m", area = "2.5 mm²" }
[[racks]]
id = "SR"
as_built = "tour"
"""
