"""A show for tests, as a person would have written it: invented, small, with one of everything that a file holds."""

FERRY = """\
# fieldkit show, format 2. Invented data. A comment stays with its table until that table is edited here; lasting remarks go in `note`.
format = 2

[show]
name = "Ferry landing, Sunday"
temperature = "18 °C"
loss_limit = "0.5 dB"
electrical_rules = "iec"

[[loudspeakers]]
id = "two-way-12"
weight = "27 kg"
connector = "4-pole"
sections = [
    { drive = "passive", section = "full", pair = 1, impedance = "8 ohm", continuous = "350 W", peak = "1400 W", rating = "iec-60268-5", presets = ["passive-full-range", "passive-with-sub"] },
    { drive = "bi-amp", section = "low", pair = 1, impedance = "8 ohm", dc_resistance = "5.9 ohm", continuous = "350 W", peak = "1400 W", presets = ["low-any"] },
    { drive = "bi-amp", section = "high", pair = 2, impedance = "16 ohm", series_capacitor = "47 uF", continuous = "60 W", peak = "480 W", presets = ["high-front"] },
]
presets = [
    { id = "passive-full-range", uses = ["full range"], high_pass = "60 Hz", limiter = "350 W" },
    { id = "passive-with-sub", uses = ["with sub"], high_pass = "100 Hz", limiter = "350 W" },
    { id = "low-any", uses = ["any"], low_pass = "1200 Hz" },
    { id = "high-front", uses = ["full range", "with sub"], high_pass = "1200 Hz", gain = "-6 dB" },
]

[[amplifiers]]
id = "quad-900"
channels = 4
units = 2
outputs = "common"                                   # common | bridge-tied | alternate
powers = [
    { load = "8 ohm", power = "500 W" },
    { load = "4 ohm", power = "900 W" },
    { load = "2.7 ohm", power = "1100 W", minimum = true },
    { load = "8 ohm", power = "1800 W", bridged = true },
    { load = "5.4 ohm", power = "2200 W", bridged = true, minimum = true },
]
gain = "32 dB"
hosts = { presets = ["two-way-12"], full_scale = "21 dBu", longest_delay = "200 ms" }
# connector -> pin pair -> the channel whose posts it carries; a bridged pair is "1+2"
connectors = { A = { 1 = "1", 2 = "2" }, B = { 1 = "3", 2 = "4" }, C = { 1 = "3+4" } }

[[cables]]
id = "four-core-2.5"
cores = 4
area = "2.5 mm²"
connectors = ["4-pole", "4-pole"]

[[processors]]
id = "three-by-six"
inputs = 3
outputs = 6
units = 1
hosts = { presets = ["two-way-12"], full_scale = "20 dBu", longest_delay = "500 ms" }

[[stock]]
model = "two-way-12"
owned = 6
out = 1

[[stock]]
model = "four-core-2.5"
length = "20 m"
owned = 4

[[zones]]
id = "mains"
use = "front"                                        # front | wedge; with the low end it decides: alone, with sub, wedge, wedge with sub
low_end_from = ["subs"]                              # answers "is there a sub?", which the zone's boxes alone cannot
signals = { left = "L", right = "R" }
priority = 1

[[zones]]
id = "subs"
use = "front"
signals = { left = "Sub", right = "Sub" }

[[boxes]]
id = "ML1"
model = "two-way-12"
zone = "mains"
side = "left"
drive = "bi-amp"

[[boxes]]
id = "ML2"
model = "two-way-12"
zone = "mains"
side = "left"
drive = "bi-amp"
note = "grille dented [see tag]"

[[racks]]
id = "SR"
units = 12

[[supplies]]
id = "X1"
volts = "230 V"
rating = "16 A"
phase = 1
feeder = { length = "25 m", area = "2.5 mm²" }

[[rack_units]]
id = "SR-1"
model = "quad-900"
rack = "SR"
unit = 3
supply = "X1"
bridged = ["3+4"]
inputs = { 1 = "L", 2 = "L", 3 = "DP.6" }            # a signal, a processor output, or another input of this amplifier ("=1")

[[rack_units]]
id = "DP"
model = "three-by-six"
rack = "SR"
unit = 1
supply = "X1"
inputs = { 1 = "L", 2 = "R", 3 = "Sub" }

[[runs]]
id = "W1"
from = "SR-1.A"
feeds = { 1 = "SR-1.1", 2 = "SR-1.2" }               # pin pair -> output; several runs may name one output
path = [
    { cable = "four-core-2.5", length = "20 m", box = "ML1" },
    { cable = "four-core-2.5", length = "66 in", box = "ML2" },
]

[[readings]]
line = "W1/1"
at = "amp"
value = "3.3 ohm"
kind = "dc"
time = 2026-06-07T11:42:00Z
by = "crew"
"""


def with_change(old, new, text=FERRY):
    """Give the show with one piece of its text replaced, which must be there."""
    assert old in text, old
    return text.replace(old, new, 1)


def line_number(text, needle):
    """Give the line, from 1, on which a piece of text first stands."""
    return text[: text.index(needle)].count("\n") + 1
