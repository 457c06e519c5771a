"""The units of the trade: read as typed, computed as floats, shown for people.

Everything here is light. The calculator's pint registry is in ``fieldkit.units.registry``, which nothing on
the way to the first screen imports.
"""

from .conversion import convert, to_display
from .display import format_number, format_value, unit_text
from .errors import UnitError, shown
from .lookup import find_unit, known_unit, spellings, units_of
from .measures import (
    Angle,
    ApparentPower,
    Area,
    Capacitance,
    Current,
    Duration,
    Frequency,
    Gain,
    Impedance,
    Inductance,
    Length,
    Level,
    Mass,
    Measure,
    Power,
    Pressure,
    Ratio,
    Resistance,
    SoundLevel,
    Temperature,
    Voltage,
    measure_class,
)
from .parsing import Quantity, parse_quantity
from .table import DIMENSIONS, UNITS, Dimension, Unit

__all__ = [
    "DIMENSIONS",
    "UNITS",
    "Angle",
    "ApparentPower",
    "Area",
    "Capacitance",
    "Current",
    "Dimension",
    "Duration",
    "Frequency",
    "Gain",
    "Impedance",
    "Inductance",
    "Length",
    "Level",
    "Mass",
    "Measure",
    "Power",
    "Pressure",
    "Quantity",
    "Ratio",
    "Resistance",
    "SoundLevel",
    "Temperature",
    "Unit",
    "UnitError",
    "Voltage",
    "convert",
    "find_unit",
    "format_number",
    "format_value",
    "known_unit",
    "measure_class",
    "parse_quantity",
    "shown",
    "spellings",
    "to_display",
    "unit_text",
    "units_of",
]
