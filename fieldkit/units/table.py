"""The units of the trade, declared once: parser, display and the calculator's registry come from here.

A number in a unit becomes the value in the computing unit of its dimension by the unit's scale:

* ``linear``: value = (number + offset) · factor
* ``level``: value = factor · 10^(number / decade); factor is the reference, decade 20 for volts, 10 for watts
* ``gauge``: American Wire Gauge, ASTM B258

Two units convert into each other when they have one computing unit: V and dBu do; W and VA do not here
(the calculator's registry, where VA is V times A, converts them).
"""

from __future__ import annotations

import math

import msgspec

PREFIXES: dict[str, tuple[str, float]] = {
    "p": ("pico", 1e-12),
    "n": ("nano", 1e-9),
    "µ": ("micro", 1e-6),
    "m": ("milli", 1e-3),
    "c": ("centi", 1e-2),
    "h": ("hecto", 1e2),
    "k": ("kilo", 1e3),
    "M": ("mega", 1e6),
    "G": ("giga", 1e9),
}
"""SI prefixes: symbol to name and factor. A unit takes only those that its row names."""


class Unit(msgspec.Struct, frozen=True):
    """One unit: how it is written, what it measures, and how it becomes the computing unit."""

    symbol: str
    """The canonical spelling, in code and files: ohm, mm², µF."""
    dimension: str
    computes_in: str
    """Symbol of the computing unit that its values are in."""
    name: str
    """A plain word for the calculator's registry: metre, btu_per_hour."""
    spellings: tuple[str, ...] = ()
    """Other spellings that take a prefix symbol: 'Ω' as in 'kΩ'."""
    words: tuple[str, ...] = ()
    """Spelled-out names, which take a prefix name: 'metres' as in 'millimetres'."""
    prefixes: str = ""
    """The prefixes that it takes, of PREFIXES."""
    factor: float = 1.0
    offset: float = 0.0
    scale: str = "linear"
    decade: float = 0.0
    definition: str = ""
    """How the registry defines it; empty: by its factor from the computing unit. '-': not in the registry."""
    shown: str = ""
    """The symbol on screens and paper where it is not the canonical one: Ω, °."""
    plain: str = ""
    """The symbol in ASCII where that differs: mm2, degC."""
    prefix: str = ""
    """The prefix that it carries itself."""
    stem: str = ""
    """Symbol of the row that a prefixed unit was made from; empty for a row."""


class Dimension(msgspec.Struct, frozen=True):
    """What a quantity can be: its computing unit, its sensible range, and how to speak of it."""

    name: str
    phrase: str
    """With its article: 'a length'."""
    unit: str
    """The computing unit."""
    low: float
    high: float
    typical: tuple[str, ...]
    """Units to name in a message."""
    example: str
    above_low: bool = False
    """True when the lowest value itself is refused."""
    accepts: tuple[str, ...] = ()
    """Dimensions of units that may be typed for it; empty: its own alone."""


_LN = ("length", "m")
_AREA = ("area", "mm²")
_MASS = ("mass", "kg")
_TEMPERATURE = ("temperature", "°C")
_POWER = ("power", "W")
_SECONDS = ("duration", "s")
_PRESSURE = ("pressure", "Pa")

_TABLE = (
    Unit("m", *_LN, "metre", (), ("metre", "metres", "meter", "meters"), "µmck", definition="[length]"),
    Unit("ft", *_LN, "foot", ("'", "′", "’"), ("foot", "feet"), factor=0.3048),
    Unit("in", *_LN, "inch", ('"', "″", "”", "''"), ("inch", "inches"), factor=0.0254),
    Unit("yd", *_LN, "yard", (), ("yard", "yards"), factor=0.9144),
    Unit("mm²", *_AREA, "square_millimetre", ("mm2", "mm^2", "mm**2", "sq mm", "sqmm"),
         ("square millimetre", "square millimetres", "square millimeter", "square millimeters"),
         definition="millimetre ** 2", plain="mm2"),
    Unit("cm²", *_AREA, "square_centimetre", ("cm2", "cm^2", "cm**2", "sq cm"), factor=1e2,
         definition="centimetre ** 2", plain="cm2"),
    Unit("m²", *_AREA, "square_metre", ("m2", "m^2", "m**2", "sq m"), factor=1e6,
         definition="metre ** 2", plain="m2"),
    Unit("AWG", *_AREA, "wire_gauge", scale="gauge", definition="-"),
    Unit("g", *_MASS, "gram", (), ("gram", "grams"), "mk", factor=1e-3, definition="[mass]"),
    Unit("t", *_MASS, "tonne", (), ("tonne", "tonnes"), factor=1e3),
    Unit("lb", *_MASS, "pound", ("lbs",), ("pound", "pounds"), factor=0.45359237),
    Unit("oz", *_MASS, "ounce", (), ("ounce", "ounces"), factor=0.45359237 / 16),
    Unit("K", *_TEMPERATURE, "kelvin", ("\u212a",), ("kelvin", "kelvins"), offset=-273.15,
         definition="[temperature]"),
    Unit("°C", *_TEMPERATURE, "degree_celsius", ("° C", "℃", "degC", "deg C", "C"),
         ("degree celsius", "degrees celsius", "celsius"),
         definition="kelvin; offset: 273.15", plain="degC"),
    Unit("°F", *_TEMPERATURE, "degree_fahrenheit", ("° F", "℉", "degF", "deg F"),
         ("degree fahrenheit", "degrees fahrenheit", "fahrenheit"), factor=5 / 9, offset=-32.0,
         definition="5 / 9 * kelvin; offset: 233.15 + 200 / 9", plain="degF"),
    Unit("A", "current", "A", "ampere", (), ("amp", "amps", "ampere", "amperes"), "µmk",
         definition="[current]"),
    Unit("s", *_SECONDS, "second", ("sec", "secs"), ("second", "seconds"), "nµm", definition="[time]"),
    Unit("min", *_SECONDS, "minute", ("mins",), ("minute", "minutes"), factor=60.0),
    Unit("h", *_SECONDS, "hour", ("hr", "hrs"), ("hour", "hours"), factor=3600.0),
    Unit("Hz", "frequency", "Hz", "hertz", (), ("hertz",), "kM", definition="1 / second"),
    Unit("J", "energy", "J", "joule", (), ("joule", "joules"), "mkM",
         definition="kilogram * metre ** 2 / second ** 2"),
    Unit("W", *_POWER, "watt", (), ("watt", "watts"), "µmkM", definition="joule / second"),
    # International table British thermal unit, 1055.05585262 J (ISO 31-4): 1 W = 3.41214 BTU/h.
    Unit("BTU/h", *_POWER, "btu_per_hour", ("BTU/hr", "BTU/hour", "BTUh", "BTU per hour"),
         factor=1055.05585262 / 3600),
    Unit("V", "voltage", "V", "volt", (), ("volt", "volts"), "µmk", definition="watt / ampere"),
    Unit("VA", "apparent power", "VA", "volt_ampere", (), ("volt-ampere", "volt-amperes"), "kM",
         definition="volt * ampere"),
    Unit("ohm", "resistance", "ohm", "ohm", ("Ω", "\u2126", "ohms"), ("ohm", "ohms"), "µmkMG",
         definition="volt / ampere", shown="Ω"),
    Unit("H", "inductance", "H", "henry", (), ("henry", "henrys", "henries"), "nµm",
         definition="volt * second / ampere"),
    Unit("F", "capacitance", "F", "farad", (), ("farad", "farads"), "pnµm",
         definition="ampere * second / volt"),
    Unit("Pa", *_PRESSURE, "pascal", (), ("pascal", "pascals"), "µmhk", definition="joule / metre ** 3"),
    Unit("bar", *_PRESSURE, "bar", (), (), "m", factor=1e5),
    Unit("%", "ratio", "", "percent", (), ("percent", "per cent"), factor=0.01, definition="0.01"),
    Unit("deg", "angle", "deg", "degree", ("°",), ("degree", "degrees"),
         definition="3.141592653589793 / 180 * radian", shown="°"),
    Unit("dB", "gain", "dB", "decibel", (), ("decibel", "decibels"), definition="[gain]"),
    Unit("dB SPL", "sound level", "dB", "decibel_spl", ("dBSPL", "dB(SPL)"), definition="-"),
    # 0 dBu is the voltage of 1 mW in 600 ohm, √0.6 V; 0 dBV is 1 V. By definition, rms volts.
    Unit("dBu", "level", "V", "dbu", scale="level", factor=math.sqrt(0.6), decade=20.0, definition="-"),
    Unit("dBV", "level", "V", "dbv", scale="level", factor=1.0, decade=20.0, definition="-"),
    Unit("dBW", "power level", "W", "dbw", scale="level", factor=1.0, decade=10.0, definition="-"),
    Unit("dBm", "power level", "W", "dbm", scale="level", factor=1e-3, decade=10.0, definition="-"),
)  # fmt: skip

_DIMENSION_TABLE = (
    Dimension("length", "a length", "m", 0, 10_000, ("m", "mm", "ft", "in"), "20 m"),
    Dimension("area", "an area", "mm²", 0, 1_000, ("mm²", "AWG"), "2.5 mm²", above_low=True),
    Dimension("mass", "a mass", "kg", 0, 100_000, ("kg", "g", "lb"), "27 kg"),
    Dimension("temperature", "a temperature", "°C", -60, 120, ("°C", "°F", "K"), "18 °C"),
    Dimension("voltage", "a voltage", "V", 0, 100_000, ("V", "mV", "kV"), "230 V"),
    Dimension("current", "a current", "A", 0, 10_000, ("A", "mA"), "16 A"),
    Dimension("power", "a power", "W", 0, 1e6, ("W", "kW", "BTU/h"), "350 W"),
    Dimension("apparent power", "an apparent power", "VA", 0, 1e7, ("VA", "kVA"), "500 VA"),
    Dimension("resistance", "a resistance", "ohm", 0, 1e9, ("ohm", "mohm", "kohm"), "5.4 ohm"),
    Dimension("impedance", "an impedance", "ohm", 0, 1e6, ("ohm", "kohm"), "8 ohm", above_low=True,
              accepts=("resistance",)),
    Dimension("inductance", "an inductance", "H", 0, 100, ("H", "mH", "µH"), "0.5 mH"),
    Dimension("capacitance", "a capacitance", "F", 0, 10, ("F", "µF", "nF"), "47 µF"),
    Dimension("frequency", "a frequency", "Hz", 0, 1e6, ("Hz", "kHz"), "100 Hz", above_low=True),
    Dimension("duration", "a duration", "s", 0, 366 * 86_400, ("s", "ms", "min", "h"), "20 ms"),
    Dimension("level", "a level", "V", 0, 10_000, ("dBu", "dBV", "V", "mV"), "4 dBu", above_low=True,
              accepts=("level", "voltage")),
    Dimension("gain", "a gain", "dB", -200, 200, ("dB",), "-6 dB"),
    Dimension("ratio", "a ratio", "", 0, 1, ("%",), "60 %"),
    Dimension("pressure", "a pressure", "Pa", 0, 1e6, ("Pa", "hPa", "kPa"), "1013 hPa"),
    Dimension("sound level", "a sound level", "dB", -20, 200, ("dB",), "96 dB",
              accepts=("sound level", "gain")),
    Dimension("angle", "an angle", "deg", -360, 360, ("deg", "°"), "90 deg"),
    Dimension("energy", "an energy", "J", 0, 1e12, ("J", "kJ"), "100 J"),
    Dimension("power level", "a power level", "W", 0, 1e6, ("dBW", "dBm"), "30 dBW", above_low=True),
)  # fmt: skip


def _prefixed(unit: Unit, prefix: str) -> Unit:
    """Make a row with a prefix; such rows are linear and have no offset."""
    name, factor = PREFIXES[prefix]
    plain = "u" if prefix == "µ" else prefix
    return msgspec.structs.replace(
        unit,
        symbol=prefix + unit.symbol,
        name=name + unit.name,
        # Divided, small factors are the floats nearest to them, so that 47 µF is 4.7e-05 and not a digit off.
        factor=unit.factor * factor if factor > 1 else unit.factor / round(1 / factor),
        definition="",
        shown=prefix + unit.shown if unit.shown else "",
        plain=plain + (unit.plain or unit.symbol) if unit.plain or plain != prefix else "",
        prefixes="",
        prefix=prefix,
        stem=unit.symbol,
    )


ROWS: tuple[Unit, ...] = _TABLE
"""The rows as declared, without prefixes."""

UNITS: dict[str, Unit] = {
    unit.symbol: unit for row in ROWS for unit in (row, *(_prefixed(row, prefix) for prefix in row.prefixes))
}
"""Every unit by its canonical symbol, prefixed ones included: m, mm, kohm, µF."""

DIMENSIONS: dict[str, Dimension] = {dimension.name: dimension for dimension in _DIMENSION_TABLE}
"""All dimensions, by name; ranges are those of typed values, in the computing unit."""
