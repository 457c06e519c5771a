"""Resistance and size of one copper conductor, from the standards' tables.

Between printed sizes the product of resistance and area, which hardly changes, is interpolated; at a printed
size the printed figure comes back.
"""

from __future__ import annotations

from bisect import bisect_left
from functools import cache
from math import log, pi, sqrt
from pathlib import Path
from typing import Any, NamedTuple

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import (
    Celsius,
    CopperArea,
    Gauge,
    GaugeNumber,
    Millimetre,
    Ohm,
    OhmPerMetre,
    SolidGauge,
    SquareMillimetre,
    StrandedGauge,
    not_above_zero,
)

COPPER_PER_KELVIN = 0.00393
"""Temperature coefficient of the resistance of annealed copper at 20 °C (IEC 60028)."""
METRES_PER_KFT = 304.8


class ConductorTable(NamedTuple):
    """A printed table, sorted by area."""

    areas_mm2: tuple[float, ...]
    ohms_per_m: tuple[float, ...]
    """Of one conductor at 20 °C."""


@cache
def read_table(name: str) -> dict[str, Any]:
    """Read a published table by the name of its file in ``tables``."""
    import tomllib

    return tomllib.loads((Path(__file__).parent / "tables" / f"{name}.toml").read_text(encoding="utf-8"))


@cache
def metric_table(conductor: str) -> ConductorTable:
    """Load the printed table of IEC 60228 for ``class_2`` or ``class_5`` copper."""
    printed = read_table("iec_60228_2004")[conductor]
    areas_mm2 = tuple(float(area) for area in printed["area_mm2"])
    return ConductorTable(areas_mm2, tuple(figure / 1000.0 for figure in printed["ohm_per_km"]))


@cache
def gauge_table(conductor: str) -> ConductorTable:
    """Load the table of NFPA 70 for ``solid`` or ``stranded`` copper, carried from 75 °C to 20 °C."""
    printed = read_table("nfpa_70_ch9_table8")[conductor]
    at_20 = METRES_PER_KFT * (1.0 + COPPER_PER_KELVIN * (75.0 - 20.0))
    areas_mm2 = tuple(awg_area(gauge) for gauge in printed["gauge"])
    return ConductorTable(areas_mm2, tuple(figure / at_20 for figure in printed["ohm_per_kft"]))


def resistance_from_table(table: ConductorTable, area_mm2: float) -> float:
    """Look up ohm/m for an area; interpolate resistance times area between printed sizes."""
    if not area_mm2 > 0.0:
        raise not_above_zero("an area", area_mm2, "mm²")
    areas_mm2, ohms_per_m = table
    right = bisect_left(areas_mm2, area_mm2)
    if right < len(areas_mm2) and areas_mm2[right] == area_mm2:
        return ohms_per_m[right]
    if right == 0 or right == len(areas_mm2):
        nearest = min(right, len(areas_mm2) - 1)
        return ohms_per_m[nearest] * areas_mm2[nearest] / area_mm2
    left = right - 1
    share = (area_mm2 - areas_mm2[left]) / (areas_mm2[right] - areas_mm2[left])
    product_left = ohms_per_m[left] * areas_mm2[left]
    product_right = ohms_per_m[right] * areas_mm2[right]
    return (product_left + share * (product_right - product_left)) / area_mm2


@formula
def class_5_resistance(area_mm2: CopperArea) -> OhmPerMetre:
    """Look up the maximum resistance of a flexible copper conductor: touring cable.

    area_mm2: nominal cross-section of one conductor [mm²]
    Result: ohms a metre of one conductor at 20 °C [ohm/m]
    Formula: table; between printed sizes R · A is interpolated, outside them it is that of the nearest size
    Valid: plain annealed copper, direct current and audio frequencies; printed from 0.5 to 120 mm²
    Raises: ValueError when the area is not above zero
    Source: IEC 60228:2004 table 3
    Example: class_5_resistance(2.5) = 0.00798
    """
    return resistance_from_table(metric_table("class_5"), area_mm2)


@formula
def class_2_resistance(area_mm2: CopperArea) -> OhmPerMetre:
    """Look up the maximum resistance of a stranded copper conductor: fixed wiring.

    area_mm2: nominal cross-section of one conductor [mm²]
    Result: ohms a metre of one conductor at 20 °C [ohm/m]
    Formula: table; between printed sizes R · A is interpolated, outside them it is that of the nearest size
    Valid: plain annealed copper, direct current and audio frequencies; printed from 0.5 to 120 mm²
    Raises: ValueError when the area is not above zero
    Source: IEC 60228:2004 table 2
    Example: class_2_resistance(2.5) = 0.00741
    """
    return resistance_from_table(metric_table("class_2"), area_mm2)


@formula
def stranded_awg_resistance(gauge: StrandedGauge) -> OhmPerMetre:
    """Look up the resistance of a stranded copper conductor by its gauge.

    gauge: American wire gauge; 1/0 is 0, 2/0 is −1
    Result: ohms a metre of one conductor at 20 °C [ohm/m]
    Formula: table at 75 °C / (1 + 0.00393 · 55); between printed gauges R · A is interpolated, outside them
        it is that of the nearest gauge
    Valid: uncoated copper, direct current and audio frequencies; printed from 18 AWG to 4/0
    Raises: nothing within the ranges
    Source: NFPA 70 chapter 9 table 8, stranded, uncoated copper; IEC 60028 for the temperature
    Example: stranded_awg_resistance(12) = 0.00534
    """
    return resistance_from_table(gauge_table("stranded"), awg_area(gauge))


@formula
def solid_awg_resistance(gauge: SolidGauge) -> OhmPerMetre:
    """Look up the resistance of a solid copper conductor by its gauge.

    gauge: American wire gauge; 1/0 is 0, 2/0 is −1
    Result: ohms a metre of one conductor at 20 °C [ohm/m]
    Formula: table at 75 °C / (1 + 0.00393 · 55); between printed gauges R · A is interpolated, outside them
        it is that of the nearest gauge
    Valid: uncoated copper, direct current and audio frequencies; printed from 18 to 8 AWG
    Raises: nothing within the ranges
    Source: NFPA 70 chapter 9 table 8, solid, uncoated copper; IEC 60028 for the temperature
    Example: solid_awg_resistance(12) = 0.005207
    """
    return resistance_from_table(gauge_table("solid"), awg_area(gauge))


@formula
def resistance_at_temperature(resistance_ohm: Ohm, temperature_c: Celsius) -> Ohm:
    """Carry the resistance of copper from 20 °C to another temperature.

    resistance_ohm: at 20 °C; ohms a metre serve as well [ohm]
    temperature_c: of the copper [°C]
    Result: the resistance at that temperature [ohm]
    Formula: R = R₂₀ · (1 + 0.00393 · (T − 20 °C))
    Valid: annealed copper from −50 to 200 °C: cables and voice coils of copper
    Raises: nothing within the ranges
    Source: IEC 60028 (International Annealed Copper Standard; NBS Handbook 100)
    Example: resistance_at_temperature(1, 60) = 1.1572
    """
    return resistance_ohm * (1.0 + COPPER_PER_KELVIN * (temperature_c - 20.0))


@formula
def copper_temperature(resistance_ohm: Ohm, cold_ohm: Ohm) -> Celsius:
    """Find the temperature of copper from its resistance now and at 20 °C: how hot a voice coil is.

    resistance_ohm: now [ohm]
    cold_ohm: at 20 °C, above zero [ohm]
    Result: the temperature of the copper [°C]
    Formula: T = 20 °C + (R / R₂₀ − 1) / 0.00393
    Valid: annealed copper from −50 to 200 °C
    Raises: ValueError when the cold resistance is not above zero
    Source: IEC 60028 (International Annealed Copper Standard; NBS Handbook 100)
    Example: copper_temperature(1.1572, 1) = 60.0
    """
    if not cold_ohm > 0.0:
        raise not_above_zero("a cold resistance", cold_ohm, "ohm")
    return 20.0 + (resistance_ohm / cold_ohm - 1.0) / COPPER_PER_KELVIN


@formula
def awg_diameter(gauge: Gauge) -> Millimetre:
    """Convert a gauge to the diameter of a solid wire.

    gauge: American wire gauge; 1/0 is 0, 2/0 is −1
    Result: the diameter of the bare wire [mm]
    Formula: d = 0.127 mm · 92^((36 − n) / 39)
    Valid: 4/0 to 40 AWG
    Raises: nothing within the ranges
    Source: ASTM B258
    Example: awg_diameter(10) = 2.588
    """
    return float(0.127 * 92.0 ** ((36.0 - gauge) / 39.0))


@formula
def awg_area(gauge: Gauge) -> SquareMillimetre:
    """Convert a gauge to the cross-section of a wire.

    gauge: American wire gauge; 1/0 is 0, 2/0 is −1
    Result: the area of copper [mm²]
    Formula: A = π/4 · (0.127 mm)² · 92^((36 − n) / 19.5)
    Valid: 4/0 to 40 AWG
    Raises: nothing within the ranges
    Source: ASTM B258
    Example: awg_area(10) = 5.261
    """
    return float(pi / 4.0 * 0.127**2 * 92.0 ** ((36.0 - gauge) / 19.5))


@formula
def gauge_from_area(area_mm2: SquareMillimetre) -> GaugeNumber:
    """Convert a cross-section to a gauge, between whole gauges too: which AWG is nearest to a mm² size.

    area_mm2: area of copper, above zero [mm²]
    Result: the gauge number; 0 is 1/0, −1 is 2/0
    Formula: n = 36 − 39 · log₉₂(√(4·A/π) / 0.127 mm)
    Valid: 0.005 to 125 mm²
    Raises: ValueError when the area is not above zero
    Source: ASTM B258, solved for the gauge
    Example: gauge_from_area(2.5) = 13.2
    """
    if not area_mm2 > 0.0:
        raise not_above_zero("an area", area_mm2, "mm²")
    return 36.0 - 39.0 * log(sqrt(4.0 * area_mm2 / pi) / 0.127) / log(92.0)
