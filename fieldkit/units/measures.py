"""What a person typed, kept as typed, with its value: one class a dimension.

``Length("82 ft")`` is the text "82 ft" and has the value 24.9936 [m]. A decoder that is handed only the class
(msgspec's ``dec_hook``) calls it; a wrong dimension or a value out of range is refused there.
"""

from __future__ import annotations

from functools import lru_cache
from typing import ClassVar, Self

from .conversion import from_computing
from .display import format_number
from .errors import UnitError
from .gauges import gauge_text
from .lookup import find_unit
from .parsing import (
    Quantity,
    expected_example,
    parse_quantity,
    read_number,
    read_quantity,
    wrong_dimension,
)
from .table import DIMENSIONS, Dimension

_classes: dict[str, type[Measure]] = {}


class Measure(str):
    """A typed quantity. Equality, hash and order are the text's; ``value`` is the number to compute with."""

    __slots__ = ("quantity", "value")

    dimension: ClassVar[str]
    unit: ClassVar[str]
    """Computing unit that ``value`` is in."""
    low: ClassVar[float]
    high: ClassVar[float]

    value: float
    quantity: Quantity

    def __init_subclass__(cls, *, dimension: str) -> None:
        super().__init_subclass__()
        declared = DIMENSIONS[dimension]
        cls.dimension, cls.unit = dimension, declared.unit
        cls.low, cls.high = float(declared.low), float(declared.high)
        _classes[dimension] = cls

    def __new__(cls, text: object) -> Self:
        """Read a text; outer spaces go. Raises UnitError: another dimension, out of range, or no text."""
        if not isinstance(text, str):
            raise UnitError(text, expected_example(cls.dimension), "which is not text in quotes")
        quantity = _checked(cls.dimension, str(text))
        self = super().__new__(cls, text.strip())
        self.quantity = quantity
        self.value = quantity.value
        return self

    @classmethod
    def of(cls, value: float, unit: str | None = None) -> Self:
        """Make a measure from a value in the computing unit, written in a unit of choice, with 12 digits.

        Raises UnitError for a unit of another dimension or a value out of range.
        """
        symbol = cls.unit if unit is None else unit
        if not symbol:
            return cls(format_number(value, 12))
        chosen = find_unit(symbol)
        number = from_computing(value, chosen)
        text = gauge_text(number) if chosen.scale == "gauge" else None
        return cls(f"{text or format_number(number, 12)} {chosen.symbol}")


@lru_cache(maxsize=8192)
def _checked(dimension: str, text: str) -> Quantity:
    """Read a text for a dimension and judge it; cached, since a show repeats its texts."""
    quantity = _bare_ratio(text) if dimension == "ratio" else None
    quantity = quantity or _read(dimension, text)
    declared = DIMENSIONS[dimension]
    if quantity.dimension not in (declared.accepts or (dimension,)):
        raise wrong_dimension(quantity, text, dimension)
    above = quantity.value > declared.low or (quantity.value == declared.low and not declared.above_low)
    if not above or quantity.value > declared.high:
        hint = f"write '{text.strip()} %'" if dimension == "ratio" and not quantity.unit else ""
        raise UnitError(text, f"{declared.phrase} {_span(declared)}", hint=hint)
    return quantity


def _read(dimension: str, text: str) -> Quantity:
    try:
        return parse_quantity(text)
    except UnitError:
        return read_quantity(text, dimension)  # again, to say it in the words of this dimension


def _bare_ratio(text: str) -> Quantity | None:
    """Read a ratio without a unit: '0.6'."""
    number = read_number(text, expected_example("ratio"))
    return None if number is None else Quantity(number, "", "ratio", number)


def _span(declared: Dimension) -> str:
    low, high = format_number(declared.low, 12), format_number(declared.high, 12)
    unit = f" {declared.unit}" if declared.unit else ""
    return f"above {low} and up to {high}{unit}" if declared.above_low else f"from {low} to {high}{unit}"


def measure_class(dimension: str) -> type[Measure]:
    """Look up the class of a dimension: 'length' is Length. Raises UnitError for a dimension without one."""
    if dimension not in _classes:
        raise UnitError(dimension, f"a dimension ({', '.join(_classes)})")
    return _classes[dimension]


class Length(Measure, dimension="length"):
    """Metres, from 0 up; also mm, cm, km, ft, in, yd, and feet with inches."""

    __slots__ = ()


class Area(Measure, dimension="area"):
    """Square millimetres of a conductor, above 0; also a wire gauge."""

    __slots__ = ()

    @property
    def awg(self) -> int | None:
        """The gauge where one was typed: 14, 0, and -1 for 2/0."""
        return int(self.quantity.number) if self.quantity.unit == "AWG" else None


class Mass(Measure, dimension="mass"):
    """Kilograms, from 0 up; also g, t, lb, oz."""

    __slots__ = ()


class Temperature(Measure, dimension="temperature"):
    """Degrees Celsius, from -60 to 120; also °F and K."""

    __slots__ = ()


class Voltage(Measure, dimension="voltage"):
    """Volts, from 0 up; a level in dBu is a Level."""

    __slots__ = ()


class Current(Measure, dimension="current"):
    """Amperes, from 0 up."""

    __slots__ = ()


class Power(Measure, dimension="power"):
    """Watts, from 0 up; also kW and BTU/h, and not VA."""

    __slots__ = ()


class ApparentPower(Measure, dimension="apparent power"):
    """Volt-amperes, from 0 up; not W."""

    __slots__ = ()


class Resistance(Measure, dimension="resistance"):
    """Ohms, from 0 up."""

    __slots__ = ()


class Impedance(Measure, dimension="impedance"):
    """Ohms, above 0."""

    __slots__ = ()


class Inductance(Measure, dimension="inductance"):
    """Henrys, from 0 up."""

    __slots__ = ()


class Capacitance(Measure, dimension="capacitance"):
    """Farads, from 0 up."""

    __slots__ = ()


class Frequency(Measure, dimension="frequency"):
    """Hertz, above 0 and up to 1 MHz."""

    __slots__ = ()


class Duration(Measure, dimension="duration"):
    """Seconds, from 0 to a year; also ms, min, h."""

    __slots__ = ()


class Level(Measure, dimension="level"):
    """Volts rms, above 0, typed as dBu, dBV, V or mV."""

    __slots__ = ()


class Gain(Measure, dimension="gain"):
    """Decibels, from -200 to 200."""

    __slots__ = ()


class Ratio(Measure, dimension="ratio"):
    """A fraction from 0 to 1, typed as '60 %' or '0.6'."""

    __slots__ = ()


class Pressure(Measure, dimension="pressure"):
    """Pascals, from 0 up; also hPa, kPa, mbar."""

    __slots__ = ()


class SoundLevel(Measure, dimension="sound level"):
    """Decibels of sound pressure level, from -20 to 200."""

    __slots__ = ()


class Angle(Measure, dimension="angle"):
    """Degrees, from -360 to 360."""

    __slots__ = ()
