"""Volts behind a resistance, and the resistors that divide volts on purpose.

``volts_after_resistance`` takes complex values too: it is one step of a line.
"""

from __future__ import annotations

from typing import overload

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import Loss, Ohm, Volt, not_above_zero


@overload
def volts_after_resistance(voltage_v: float, resistance_ohm: float, load_ohm: float) -> float: ...
@overload
def volts_after_resistance(voltage_v: complex, resistance_ohm: complex, load_ohm: complex) -> complex: ...
@formula
def volts_after_resistance(
    voltage_v: Volt | complex, resistance_ohm: Ohm | complex, load_ohm: Ohm | complex
) -> Volt | complex:
    """Compute the volts left behind a resistance, across all that follows it.

    voltage_v: before the resistance [V]
    resistance_ohm: in series, such as a cable out and back [ohm]
    load_ohm: everything behind it, as one load [ohm]
    Result: the voltage across the load [V]
    Formula: V₂ = V · Z / (Z + R)
    Valid: any impedances at one frequency; an infinite load leaves all the volts
    Raises: ValueError when resistance and load add up to zero
    Source: Kirchhoff's voltage law, by definition
    Example: volts_after_resistance(40, 0.5, 7.5) = 37.5
    """
    total_ohm = resistance_ohm + load_ohm
    if total_ohm == 0.0:
        raise ValueError("expected a resistance and a load above 0 ohm together, got 0 ohm")
    # Written as a share lost, so that an open end (an infinite load) keeps its volts instead of inf / inf.
    return voltage_v * (1.0 - resistance_ohm / total_ohm)


@formula
def pad_series_resistor(load_ohm: Ohm, loss_db: Loss) -> Ohm:
    """Choose the series resistor of an L-pad that keeps the load as it was.

    load_ohm: of the driver, and of pad and driver together [ohm]
    loss_db: that the pad takes [dB]
    Result: the resistor in series [ohm]
    Formula: R = Z · (1 − 10^(−a/20))
    Valid: resistive load
    Raises: nothing within the ranges
    Source: Ohm's law, by definition
    Example: pad_series_resistor(8, 6) = 3.991
    """
    return float(load_ohm * (1.0 - 10.0 ** (-loss_db / 20.0)))


@formula
def pad_parallel_resistor(load_ohm: Ohm, loss_db: Loss) -> Ohm:
    """Choose the parallel resistor of an L-pad that keeps the load as it was.

    load_ohm: of the driver, and of pad and driver together [ohm]
    loss_db: that the pad takes; above zero [dB]
    Result: the resistor across the driver [ohm]
    Formula: R = Z / (10^(a/20) − 1)
    Valid: resistive load
    Raises: ValueError when the loss is not above zero, which needs no resistor
    Source: Ohm's law, by definition
    Example: pad_parallel_resistor(8, 6) = 8.038
    """
    if not loss_db > 0.0:
        raise not_above_zero("a loss", loss_db, "dB")
    return float(load_ohm / (10.0 ** (loss_db / 20.0) - 1.0))
