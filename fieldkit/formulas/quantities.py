"""The units and ranges that formulas declare, one alias a quantity, and the errors for values outside them.

A range is what the trade meets and what the formula holds for. The calculator checks it; a bare call does
not, and raises ValueError only where the arithmetic would fail or mislead.
"""

from __future__ import annotations

from typing import Annotated

from fieldkit.formulas.declaration import In

Metre = Annotated[float, In("m", 0, 10_000)]
Millimetre = Annotated[float, In("mm", 0.001, 1_000)]
SquareMillimetre = Annotated[float, In("mm²", 0.001, 1_000)]
Volt = Annotated[float, In("V", 0, 10_000)]
Ampere = Annotated[float, In("A", 0, 10_000)]
Watt = Annotated[float, In("W", 0, 1_000_000)]
VoltAmpere = Annotated[float, In("VA", 0, 10_000_000)]
BtuPerHour = Annotated[float, In("BTU/h", 0, 10_000_000)]
Ohm = Annotated[float, In("ohm", 0, 1_000_000)]
OhmPerMetre = Annotated[float, In("ohm/m", 0, 100)]
Henry = Annotated[float, In("H", 0, 100)]
Farad = Annotated[float, In("F", 0, 100)]
Joule = Annotated[float, In("J", 0, 1e12)]
Hertz = Annotated[float, In("Hz", 0, 1_000_000)]
Second = Annotated[float, In("s", 0, 1_000_000)]
Celsius = Annotated[float, In("°C", -50, 200)]
AirCelsius = Annotated[float, In("°C", -50, 60)]
"""Of the air that sound goes through."""
Coordinate = Annotated[float, In("m", -10_000, 10_000)]
"""Along one axis of a room; behind or below the origin it is negative."""
Delay = Annotated[float, In("s", -100, 100)]
"""A delay; negative where the other one of two sources has to wait."""
SampleRate = Annotated[float, In("Hz", 1_000, 1_000_000)]
Samples = Annotated[float, In("", -1e8, 1e8)]
Pascal = Annotated[float, In("Pa", 1_000, 200_000)]
MetrePerSecond = Annotated[float, In("m/s", 100, 1_000)]
DecibelPerMetre = Annotated[float, In("dB/m", 0, 1_000)]
Humidity = Annotated[float, In("", 0, 1)]
"""Relative, as a part of saturation: 50 % is 0.5."""
SoundPressureLevel = Annotated[float, In("dB SPL", -200, 300)]
Degree = Annotated[float, In("deg", 0.1, 179)]
"""An angle of coverage."""

Gain = Annotated[float, In("dB", -200, 200)]
Loss = Annotated[float, In("dB", 0, 120)]
Crest = Annotated[float, In("dB", 0, 40)]
LevelDbu = Annotated[float, In("dBu", -200, 100)]
LevelDbv = Annotated[float, In("dBV", -200, 100)]
LevelDbw = Annotated[float, In("dBW", -200, 100)]
LevelDbm = Annotated[float, In("dBm", -200, 100)]

Ratio = Annotated[float, In("", 0, 1e10)]
PowerFactor = Annotated[float, In("", 0, 1)]
Part = Annotated[float, In("", 0, 1)]
"""A part of a whole, the whole itself included."""
Share = Annotated[float, In("", 0, 0.999_999)]
"""A part of a whole, 0 for none; a whole is 1, which no cable takes."""
Quality = Annotated[float, In("", 0.01, 100)]
"""A Q factor."""
Count = Annotated[float, In("", 1, 1_000, whole=True)]
Order = Annotated[float, In("", 1, 24, whole=True)]
"""Of a filter: 6 dB an octave each."""
Gauge = Annotated[float, In("", -3, 40, whole=True)]
"""An American wire gauge; 1/0 is 0, 2/0 is −1, 3/0 is −2 and 4/0 is −3."""
StrandedGauge = Annotated[float, In("", -3, 18, whole=True)]
SolidGauge = Annotated[float, In("", 8, 18, whole=True)]
CopperArea = Annotated[float, In("mm²", 0.5, 120)]
"""Sizes that the tables of conductors print; beyond them only a bare call goes on, with the nearest size."""
GaugeNumber = Annotated[float, In("", -4, 41)]
"""A gauge as the formula gives it, between whole gauges too."""


def not_above_zero(what: str, value: float, unit: str = "") -> ValueError:
    """Make the error for a value that must be above zero: ``expected a load above 0 ohm, got 0 ohm``."""
    space = " " if unit else ""
    return ValueError(f"expected {what} above 0{space}{unit}, got {value:g}{space}{unit}")


def below_zero(what: str, value: float, unit: str = "") -> ValueError:
    """Make the error for a value that may be zero but never negative."""
    space = " " if unit else ""
    return ValueError(f"expected {what} of 0{space}{unit} or more, got {value:g}{space}{unit}")
