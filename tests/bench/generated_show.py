"""Generated shows of any size, for measurements: a third of the lines passive, the rest bi-amp pairs of lines."""

from __future__ import annotations

from fieldkit.show.document import Show

MODELS = """
format = 2
[show]
name = "Generated for a measurement"
[[loudspeakers]]
id = "top"
sections = [
    { drive = "passive", section = "full", impedance = "8 ohm", continuous = "300 W", peak = "1200 W", presets = ["full"] },
    { drive = "bi-amp", section = "low", impedance = "8 ohm", dc_resistance = "5.8 ohm", inductance = "0.8 mH", continuous = "300 W", presets = ["low"] },
    { drive = "bi-amp", section = "high", pair = 2, impedance = "16 ohm", series_capacitor = "33 µF", continuous = "50 W", presets = ["high"] },
]
presets = [
    { id = "full", uses = ["any"], high_pass = "70 Hz", limiter = "300 W" },
    { id = "low", uses = ["any"], high_pass = "70 Hz", low_pass = "1.2 kHz", limiter = "300 W" },
    { id = "high", uses = ["any"], high_pass = "1.2 kHz", limiter = "50 W" },
]
[[amplifiers]]
id = "four"
channels = 4
gain = "32 dB"
powers = [
    { load = "8 ohm", power = "500 W" },
    { load = "4 ohm", power = "900 W" },
    { load = "2.7 ohm", power = "1100 W", minimum = true },
]
connectors = { A = { 1 = "1", 2 = "2" }, B = { 1 = "3", 2 = "4" } }
hosts = { presets = ["top"], full_scale = "21 dBu" }
[[cables]]
id = "four-core"
cores = 4
area = "4 mm²"
[[stock]]
model = "top"
owned = 100000
"""


def show_text(boxes: int) -> str:
    """Write a show of so many boxes, two and a half a line on average, five boxes to a pair of connectors."""
    parts = [MODELS]
    zones = max(1, boxes // 50)
    parts += [f'[[zones]]\nid = "Z{n}"\nsignals = {{ left = "L", right = "R" }}\n' for n in range(zones)]
    number, connector = 0, 0
    while number < boxes:
        drive = "passive" if connector % 3 == 0 else "bi-amp"
        count = min(2 if connector % 2 == 0 else 3, boxes - number)
        unit, letter = connector // 2, "AB"[connector % 2]
        if letter == "A":
            parts.append(
                f'[[rack_units]]\nid = "A{unit}"\nmodel = "four"\ninputs = {{ 1 = "L", 2 = "=1", 3 = "R", 4 = "=3" }}\n'
            )
        names = [f"B{number + offset}" for offset in range(count)]
        for name in names:
            side = "left" if number % 2 == 0 else "right"
            zone = f"Z{number % zones}"
            parts.append(
                f'[[boxes]]\nid = "{name}"\nmodel = "top"\nzone = "{zone}"\nside = "{side}"\ndrive = "{drive}"\n'
            )
        steps = "".join(
            f'    {{ cable = "four-core", length = "{5 + 10 * (i == 0)} m", box = "{name}" }},\n'
            for i, name in enumerate(names)
        )
        parts.append(f'[[runs]]\nid = "W{connector}"\nfrom = "A{unit}.{letter}"\npath = [\n{steps}]\n')
        number, connector = number + count, connector + 1
    return "\n".join(parts)


def generated(boxes: int) -> Show:
    """Give a show of so many boxes."""
    import tomllib

    from fieldkit.show.decoding import decode

    return decode(tomllib.loads(show_text(boxes)))
