"""Shows to be planned, generated from a seed: boxes, zones, stock, and no run yet. All models are invented."""

from __future__ import annotations

import random
import tomllib
from collections import Counter

from fieldkit.gear.library import every, find
from fieldkit.show.borrowing import borrowed
from fieldkit.show.decoding import decode
from fieldkit.show.document import Show
from fieldkit.show.references import problems

SPEAKERS = """
[[loudspeakers]]
id = "top"
sections = [
    { drive = "passive", section = "full", impedance = "8 ohm", continuous = "300 W", presets = ["full"] },
    { drive = "bi-amp", section = "low", impedance = "8 ohm", continuous = "300 W", presets = ["low"] },
    { drive = "bi-amp", section = "high", pair = 2, impedance = "16 ohm", continuous = "60 W", presets = ["high"] },
]
presets = [
    { id = "full", uses = ["any"], high_pass = "70 Hz", limiter = "300 W" },
    { id = "low", uses = ["any"], high_pass = "70 Hz", low_pass = "1.2 kHz", limiter = "300 W" },
    { id = "high", uses = ["any"], high_pass = "1.2 kHz", limiter = "55 W" },
]
[[loudspeakers]]
id = "small"
sections = [{ drive = "passive", section = "full", impedance = "16 ohm", continuous = "120 W", presets = ["small"] }]
presets = [{ id = "small", uses = ["any"], high_pass = "90 Hz", limiter = "120 W" }]
[[loudspeakers]]
id = "sub"
sections = [{ drive = "passive", section = "sub", impedance = "8 ohm", continuous = "700 W", vented = true, presets = ["sub"] }]
presets = [{ id = "sub", uses = ["any"], high_pass = "30 Hz", low_pass = "100 Hz", limiter = "700 W" }]
"""

AMPLIFIERS = {
    "two": (2, 2, 900, True),
    "four": (4, 2, 700, True),
    "four-small": (4, 1, 400, False),
    "eight": (8, 2, 500, True),
    "two-big": (2, 1, 1200, True),
}
"""Channels, rack units, watts into 8 ohm, and whether it can be bridged."""

CABLES = """
[[cables]]
id = "two-core"
cores = 2
area = "4 mm²"
connectors = ["4-pole", "4-pole"]
[[cables]]
id = "four-core"
cores = 4
area = "4 mm²"
connectors = ["4-pole", "4-pole"]
[[adaptors]]
id = "crossing"
connectors = ["4-pole", "4-pole"]
pins = { 1 = "2", 2 = "1" }
"""


def amplifier(name: str, *, hosts: bool = True) -> str:
    """Write an amplifier: a connector for each two channels, and one for each second channel alone."""
    channels, units, watts, bridged = AMPLIFIERS[name]
    powers = [f'{{ load = "8 ohm", power = "{watts} W" }}', f'{{ load = "4 ohm", power = "{int(watts * 1.8)} W" }}']
    powers.append(f'{{ load = "2.7 ohm", power = "{int(watts * 2.3)} W", minimum = true }}')
    if bridged:
        powers.append(f'{{ load = "8 ohm", power = "{int(watts * 3.4)} W", bridged = true, minimum = true }}')
    letters = "ABCDEFGH"
    connectors = []
    for first in range(1, channels, 2):
        connectors.append(f'{letters[first - 1]} = {{ 1 = "{first}", 2 = "{first + 1}" }}')
        connectors.append(f'{letters[first]} = {{ 1 = "{first + 1}" }}')
    both = [f'{letters[first - 1]} = {{ 1 = "{first}+{first + 1}" }}' for first in range(1, channels, 2)]
    text = f'[[amplifiers]]\nid = "{name}"\nchannels = {channels}\nunits = {units}\ngain = "32 dB"\n'
    text += f"powers = [{', '.join(powers)}]\nconnectors = {{ {', '.join(connectors)} }}\n"
    text += f"connectors_bridged = {{ {', '.join(both)} }}\n" if bridged else ""
    return text + ('hosts = { presets = ["any"] }\n' if hosts else "")


def box(name: str, model: str, zone: str, side: str = "", drive: str = "") -> str:
    """Write a box."""
    more = (f'side = "{side}"\n' if side else "") + (f'drive = "{drive}"\n' if drive else "")
    return f'[[boxes]]\nid = "{name}"\nmodel = "{model}"\nzone = "{zone}"\n{more}'


def stock(model: str, owned: int, length: str = "") -> str:
    """Write a line of the stock."""
    return f'[[stock]]\nmodel = "{model}"\nowned = {owned}\n' + (f'length = "{length}"\n' if length else "")


def read(text: str) -> Show:
    """Read a show, which must be sound."""
    show = decode(tomllib.loads("format = 2\n" + text))
    assert list(problems(show)) == []
    return show


def scarce_show(boxes: int, models: int, seed: int) -> Show:
    """Give a large rig: mirrored mains and subs, fills in the middle, wedges; little more in stock than it needs."""
    rng = random.Random(seed)
    parts = [SPEAKERS, CABLES, *(amplifier(name) for name in list(AMPLIFIERS)[:models])]
    zones = max(3, boxes // 25)
    left, number = boxes, 0
    for index in range(zones):
        share = left if index == zones - 1 else min(left, max(1, round(boxes / zones * rng.uniform(0.7, 1.3))))
        left -= share
        kind = rng.choice(["mains", "mains", "subs", "fill", "wedge"])
        sided = kind in ("mains", "subs", "fill") and share >= 2
        signals = 'signals = { left = "L", right = "R" }' if sided else ""
        use = 'use = "wedge"\n' if kind == "wedge" else ""
        parts.append(f'[[zones]]\nid = "Z{index}"\n{use}distance = "{rng.randrange(8, 30)} m"\n{signals}\n')
        model = {"mains": "top", "subs": "sub", "fill": "small", "wedge": "top"}[kind]
        drive = rng.choice(["passive", "bi-amp"]) if model == "top" else ""
        for place in range(share):
            number += 1
            side = ("left", "right")[place % 2] if sided else ""
            parts.append(box(f"B{number}", model, f"Z{index}", side, drive))
    names = list(AMPLIFIERS)[:models]
    parts += [stock(name, 2 + boxes // (5 * models) + rng.randrange(3)) for name in names]
    return read("".join(parts))


def random_show(rng: random.Random) -> Show:
    """Give any small show: it may be impossible, and then the plan must say why."""
    names = rng.sample(list(AMPLIFIERS), rng.randint(1, 3))
    parts = [SPEAKERS, CABLES, *(amplifier(name, hosts=rng.random() < 0.8) for name in names)]
    parts.append(
        '[[processors]]\nid = "dsp"\ninputs = 4\noutputs = 6\nhosts = { presets = ["any"], full_scale = "20 dBu" }\n'
    )
    number = 0
    for index in range(rng.randint(1, 5)):
        sides = rng.choice([[], ["left", "right"], ["left", "right"], ["a", "b", "c"]])
        signals = ", ".join(f'{side} = "S{place}"' for place, side in enumerate(sides))
        use = rng.choice(["front", "front", "wedge"])
        distance = f'distance = "{rng.randrange(3, 30)} m"\n' if rng.random() < 0.6 else ""
        parts.append(f'[[zones]]\nid = "Z{index}"\nuse = "{use}"\npriority = {index + 1}\n{distance}')
        parts.append(f"signals = {{ {signals} }}\n" if sides else "")
        model = rng.choice(["top", "small", "sub", "top"])
        drive = rng.choice(["", "passive", "bi-amp"]) if model == "top" else ""
        for side in sides or [""]:
            for _ in range(rng.randint(1, 5)):
                number += 1
                parts.append(box(f"B{number}", model, f"Z{index}", side, drive))
    parts += [stock(name, rng.randint(0, 6)) for name in names]
    if rng.random() < 0.3:
        parts.append(stock("dsp", rng.randint(0, 2)))
    if rng.random() < 0.4:
        parts.append(stock("crossing", rng.randint(0, 4)))
    if rng.random() < 0.5:
        for cable in ("two-core", "four-core"):
            parts += [stock(cable, rng.randint(2, 14), length) for length in ("3 m", "10 m", "20 m", "30 m")]
    return read("".join(parts))


def library_show(rng: random.Random) -> Show:
    """Give any show of the demonstration models: every plug, drive, topology and rack that there is, in any mixture."""
    models: dict[str, list[str]] = {}
    for entry in every():
        models.setdefault(entry.kind, []).append(entry.model.id)
    parts = [f'[show]\npreferred_load = "{rng.choice([2, 4, 4, 8])} ohm"\n']
    boxes, number = [], 0
    for zone in range(rng.randint(1, 6)):
        sides = rng.choice([[], ["left", "right"], ["left", "right"], ["a", "b", "c"], ["m"]])
        parts.append(f'[[zones]]\nid = "Z{zone}"\nuse = "{rng.choice(["front", "front", "wedge"])}"\n')
        if sides:
            parts.append("signals = { " + ", ".join(f'{side} = "S{rng.randint(1, 6)}"' for side in sides) + " }\n")
        parts.append(f'distance = "{rng.randint(1, 45)} m"\n' if rng.random() < 0.5 else "")
        for model in rng.sample(models["loudspeaker"], rng.choice([1, 1, 2])):
            drive = rng.choice(["", *find(model).drives()])
            for side in sides or [""]:
                for _ in range(rng.randint(1, 4)):
                    number += 1
                    if rng.random() < 0.05:
                        label = f'{{ impedance = "{rng.choice([4, 8, 16])} ohm", continuous = "200 W" }}'
                        unknown = f'[[boxes]]\nid = "B{number}"\nzone = "Z{zone}"\nunknown = {label}\n'
                        boxes.append(unknown + (f'side = "{side}"\n' if side else ""))
                    else:
                        boxes.append(box(f"B{number}", model, f"Z{zone}", side, drive))
    there = Counter(rng.choices(models["amplifier"], k=rng.choice([0, 0, 1, 3])))
    built = Counter(rng.choices(models["built_rack"], k=rng.choice([0, 0, 1, 2])))
    for name in sorted({*rng.sample(models["amplifier"], rng.randint(1, 4)), *there}):
        parts += [stock(name, there[name] + rng.randint(0, 6))]
    for name in sorted({*rng.sample(models["built_rack"], rng.choice([0, 1])), *built}):
        parts += [stock(name, built[name] + rng.randint(0, 2))]
    if rng.random() < 0.5:
        parts.append(stock(rng.choice(models["processor"]), rng.randint(1, 3)))
    for kind, chance in (("cable", rng.choice([0.0, 0.6])), ("adaptor", rng.choice([0.0, 0.6])), ("panel", 0.3)):
        for name in models[kind]:
            for length in ("2 m", "5 m", "10 m", "20 m", "30 m") if kind == "cable" else ("",):
                parts += [stock(name, rng.randint(1, 8), length)] if rng.random() < chance else []
    units = [f'[[rack_units]]\nid = "U{n}"\nmodel = "{name}"\n' for n, name in enumerate(there.elements())]
    units += [f'[[racks]]\nid = "K{n}"\nas_built = "{name}"\n' for n, name in enumerate(built.elements())]
    show, _ = borrowed(decode(tomllib.loads("format = 2\n" + "".join(parts + boxes + sorted(units)))), find)
    assert list(problems(show)) == []
    return show
