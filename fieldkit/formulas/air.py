"""Sound in air: how fast it goes, and what the air takes of it (ISO 9613-1)."""

from __future__ import annotations

from math import exp, sqrt

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import (
    AirCelsius,
    DecibelPerMetre,
    Hertz,
    Humidity,
    Loss,
    Metre,
    MetrePerSecond,
    Pascal,
    not_above_zero,
)

ZERO_CELSIUS_K = 273.15
REFERENCE_K = 293.15
"""T₀ of ISO 9613-1: 20 °C."""
TRIPLE_POINT_K = 273.16
REFERENCE_PA = 101_325.0
"""p_r of ISO 9613-1: one standard atmosphere."""


@formula
def speed_of_sound(temperature_c: AirCelsius = 20.0) -> MetrePerSecond:
    """Compute the speed of sound in air.

    temperature_c: of the air [°C]
    Result: the speed [m/s]
    Formula: c = 343.2 · √((t + 273.15) / 293.15)
    Valid: audio frequencies; humidity adds at most 0.4 % up to 30 °C, which is left out
    Raises: nothing within the ranges
    Source: ISO 9613-1:1993, annex A
    Example: speed_of_sound(20) = 343.2
    """
    return 343.2 * sqrt((temperature_c + ZERO_CELSIUS_K) / REFERENCE_K)


@formula
def air_absorption(
    frequency_hz: Hertz, temperature_c: AirCelsius, humidity: Humidity, pressure_pa: Pascal = REFERENCE_PA
) -> DecibelPerMetre:
    """Compute how much the air absorbs of a pure tone for each metre.

    frequency_hz: of the tone; the tables of the standard use exact mid-bands, 7943 Hz for 8 kHz [Hz]
    temperature_c: of the air [°C]
    humidity: relative humidity, 0 to 1 or in per cent
    pressure_pa: of the air, one atmosphere unless given [Pa]
    Result: the attenuation coefficient [dB/m]
    Formula: α = 8.686 · f² · (1.84e−11 · (p_a/p_r)⁻¹ · √τ + τ^(−5/2) · (0.01275 · e^(−2239.1/T) / (f_O + f²/f_O)
        + 0.1068 · e^(−3352/T) / (f_N + f²/f_N))), τ = T/T₀
    Valid: 50 Hz to 10 kHz, −20 to 50 °C, 10 to 100 % within 10 % of the truth
    Raises: ValueError when the pressure is not above zero
    Source: ISO 9613-1:1993, equations 3 to 5 and annex B for the vapour
    Example: air_absorption(1000, 20, 0.5) = 0.004665
    """
    if not pressure_pa > 0.0:
        raise not_above_zero("a pressure", pressure_pa, "Pa")
    kelvin = temperature_c + ZERO_CELSIUS_K
    warmth = kelvin / REFERENCE_K
    pressure = pressure_pa / REFERENCE_PA
    oxygen_hz, nitrogen_hz = _relaxation(kelvin, humidity, pressure)
    square = frequency_hz * frequency_hz
    classical = 1.84e-11 / pressure * sqrt(warmth)
    oxygen = 0.01275 * exp(-2239.1 / kelvin) / (oxygen_hz + square / oxygen_hz)
    nitrogen = 0.1068 * exp(-3352.0 / kelvin) / (nitrogen_hz + square / nitrogen_hz)
    return float(8.686 * square * (classical + warmth**-2.5 * (oxygen + nitrogen)))


def _relaxation(kelvin: float, humidity: float, pressure: float) -> tuple[float, float]:
    """Compute the relaxation frequencies of oxygen and nitrogen [Hz] (equations 3 and 4)."""
    saturation = 10.0 ** (-6.8346 * (TRIPLE_POINT_K / kelvin) ** 1.261 + 4.6151)  # annex B, p_sat / p_r
    vapour = 100.0 * humidity * saturation / pressure  # molar concentration in per cent
    warmth = kelvin / REFERENCE_K
    oxygen = pressure * (24.0 + 4.04e4 * vapour * (0.02 + vapour) / (0.391 + vapour))
    nitrogen = pressure * warmth**-0.5 * (9.0 + 280.0 * vapour * exp(-4.170 * (warmth ** (-1.0 / 3.0) - 1.0)))
    return oxygen, nitrogen


@formula
def air_loss(
    distance_m: Metre,
    frequency_hz: Hertz,
    temperature_c: AirCelsius = 20.0,
    humidity: Humidity = 0.5,
    pressure_pa: Pascal = REFERENCE_PA,
) -> Loss:
    """Compute how much the air absorbs of a tone over a distance, on top of the loss by spreading.

    distance_m: that the sound goes [m]
    frequency_hz: of the tone [Hz]
    temperature_c: of the air [°C]
    humidity: relative humidity, 0 to 1 or in per cent
    pressure_pa: of the air, one atmosphere unless given [Pa]
    Result: the loss [dB]
    Formula: A = α · d
    Valid: as air_absorption
    Raises: ValueError when the pressure is not above zero
    Source: ISO 9613-1:1993, equation 2
    Example: air_loss(100, 4000, 20, 0.5) = 2.97
    """
    return air_absorption(frequency_hz, temperature_c, humidity, pressure_pa) * distance_m
