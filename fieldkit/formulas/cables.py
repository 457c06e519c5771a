"""What a loudspeaker cable takes: its loop resistance, and loss in each of the senses that the trade uses.

"Ten per cent cable loss" may mean that the cable has a tenth of the load's ohms (0.828 dB), that the load
lacks a tenth of the volts (0.915 dB), or a tenth of the power it would have had (0.458 dB). Each sense has a
formula of its own, from resistance to share and from share to decibels.
"""

from __future__ import annotations

from math import log10

from fieldkit.formulas.conductors import (
    class_5_resistance,
    metric_table,
    resistance_from_table,
    stranded_awg_resistance,
)
from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import (
    CopperArea,
    Loss,
    Metre,
    Ohm,
    OhmPerMetre,
    Ratio,
    Share,
    SquareMillimetre,
    StrandedGauge,
    Volt,
    below_zero,
    not_above_zero,
)


@formula
def loop_resistance(length_m: Metre, resistance_ohm_per_m: OhmPerMetre) -> Ohm:
    """Compute the loop resistance of a two-core cable, out and back.

    length_m: one way along the cable [m]
    resistance_ohm_per_m: of one conductor [ohm/m]
    Result: the loop resistance [ohm]
    Formula: R = 2 · L · r
    Valid: direct current and audio frequencies, where skin effect is negligible
    Raises: nothing within the ranges
    Source: two conductors in series, by definition
    Example: loop_resistance(30, 0.00798) = 0.4788
    """
    return 2.0 * length_m * resistance_ohm_per_m


@formula
def insertion_loss(resistance_ohm: Ohm, load_ohm: Ohm) -> Loss:
    """Compute the level that a cable takes from a load, against no cable at all.

    resistance_ohm: of the cable, out and back [ohm]
    load_ohm: at its far end, above zero [ohm]
    Result: the insertion loss [dB]
    Formula: a = 20 · log₁₀(1 + R / Z)
    Valid: resistive load on a source of constant volts
    Raises: ValueError when the load is not above zero
    Source: Ohm's law, by definition
    Example: insertion_loss(0.4788, 8) = 0.505
    """
    if not load_ohm > 0.0:
        raise not_above_zero("a load", load_ohm, "ohm")
    return 20.0 * log10(1.0 + resistance_ohm / load_ohm)


@formula
def resistance_share(resistance_ohm: Ohm, load_ohm: Ohm) -> Ratio:
    """Compare a cable's resistance with the load's, as a share.

    resistance_ohm: of the cable, out and back [ohm]
    load_ohm: at its far end, above zero [ohm]
    Result: ohms of cable for each ohm of load
    Formula: s = R / Z
    Valid: any load
    Raises: ValueError when the load is not above zero
    Source: by definition
    Example: resistance_share(0.8, 8) = 0.100
    """
    if not load_ohm > 0.0:
        raise not_above_zero("a load", load_ohm, "ohm")
    return resistance_ohm / load_ohm


@formula
def voltage_lost(resistance_ohm: Ohm, load_ohm: Ohm) -> Share:
    """Compute the share of the amplifier's volts that a cable drops.

    resistance_ohm: of the cable, out and back [ohm]
    load_ohm: at its far end, above zero [ohm]
    Result: the share of the volts lost
    Formula: s = R / (R + Z)
    Valid: resistive load
    Raises: ValueError when the load is not above zero
    Source: Ohm's law, by definition
    Example: voltage_lost(0.8, 7.2) = 0.100
    """
    if not load_ohm > 0.0:
        raise not_above_zero("a load", load_ohm, "ohm")
    return resistance_ohm / (resistance_ohm + load_ohm)


@formula
def power_lost(resistance_ohm: Ohm, load_ohm: Ohm) -> Share:
    """Compute the share of the amplifier's power that heats the cable.

    resistance_ohm: of the cable, out and back [ohm]
    load_ohm: at its far end, above zero [ohm]
    Result: the share of the amplifier's power that is lost
    Formula: s = R / (R + Z)
    Valid: resistive load; the share that the load lacks is larger, see power_missing_at_load
    Raises: ValueError when the load is not above zero
    Source: one current through both, by definition
    Example: power_lost(0.4788, 8) = 0.05647
    """
    if not load_ohm > 0.0:
        raise not_above_zero("a load", load_ohm, "ohm")
    return resistance_ohm / (resistance_ohm + load_ohm)


@formula
def power_missing_at_load(resistance_ohm: Ohm, load_ohm: Ohm) -> Share:
    """Compute the share of power that a load misses, against no cable at all.

    resistance_ohm: of the cable, out and back [ohm]
    load_ohm: at its far end, above zero [ohm]
    Result: the share of the load's power that is missing
    Formula: s = 1 − (Z / (R + Z))²
    Valid: resistive load on a source of constant volts
    Raises: ValueError when the load is not above zero
    Source: Ohm's law, by definition
    Example: power_missing_at_load(0.4788, 8) = 0.1098
    """
    if not load_ohm > 0.0:
        raise not_above_zero("a load", load_ohm, "ohm")
    kept = load_ohm / (resistance_ohm + load_ohm)
    return 1.0 - kept * kept


@formula
def voltage_drop_db(start_v: Volt, end_v: Volt) -> Loss:
    """Find the loss along a line from the volts at its two ends.

    start_v: at the amplifier's terminals [V]
    end_v: at the box, above zero [V]
    Result: the volts lost on the way, as a ratio in decibels [dB]
    Formula: a = 20 · log₁₀(V₁ / V₂)
    Valid: one frequency; equal to the insertion loss of a cable with one box
    Raises: ValueError when a voltage is not above zero
    Source: definition of the decibel for field quantities (ISO 80000-3)
    Example: voltage_drop_db(40, 38) = 0.446
    """
    if not (start_v > 0.0 and end_v > 0.0):
        raise not_above_zero("a voltage", min(start_v, end_v), "V")
    return 20.0 * log10(start_v / end_v)


@formula
def loss_from_resistance_share(share: Ratio) -> Loss:
    """Convert a cable's resistance, as a share of the load's, to its insertion loss.

    share: R / Z, 0.1 for a tenth
    Result: the insertion loss [dB]
    Formula: a = 20 · log₁₀(1 + s)
    Valid: resistive load on a source of constant volts
    Raises: ValueError when the share is below zero
    Source: Ohm's law, by definition
    Example: loss_from_resistance_share(0.1) = 0.828
    """
    if not share >= 0.0:
        raise below_zero("a share", share)
    return 20.0 * log10(1.0 + share)


@formula
def loss_from_voltage_share(share: Share) -> Loss:
    """Convert the share of volts that a cable drops to its insertion loss.

    share: of the volts, 0.1 for a tenth; below 1
    Result: the insertion loss [dB]
    Formula: a = −20 · log₁₀(1 − s)
    Valid: resistive load on a source of constant volts
    Raises: ValueError when the share is not between 0 and 1
    Source: Ohm's law, by definition
    Example: loss_from_voltage_share(0.1) = 0.915
    """
    return -20.0 * log10(_kept(share))


@formula
def loss_from_power_missing(share: Share) -> Loss:
    """Convert the share of power that a load misses to the cable's insertion loss.

    share: of the load's power, 0.1 for a tenth; below 1
    Result: the insertion loss [dB]
    Formula: a = −10 · log₁₀(1 − s)
    Valid: resistive load on a source of constant volts
    Raises: ValueError when the share is not between 0 and 1
    Source: Ohm's law, by definition
    Example: loss_from_power_missing(0.1) = 0.458
    """
    return -10.0 * log10(_kept(share))


@formula
def loss_from_power_lost(share: Share) -> Loss:
    """Convert the share of power that heats the cable to its insertion loss.

    share: of the amplifier's power, 0.1 for a tenth; below 1
    Result: the insertion loss [dB]
    Formula: a = −20 · log₁₀(1 − s)
    Valid: resistive load on a source of constant volts
    Raises: ValueError when the share is not between 0 and 1
    Source: one current through cable and load, by definition
    Example: loss_from_power_lost(0.1) = 0.915
    """
    return -20.0 * log10(_kept(share))


@formula
def resistance_for_loss(loss_db: Loss, load_ohm: Ohm) -> Ohm:
    """Find the loop resistance that takes a level from a load.

    loss_db: the insertion loss [dB]
    load_ohm: at the far end [ohm]
    Result: the resistance out and back [ohm]
    Formula: R = Z · (10^(a/20) − 1)
    Valid: resistive load on a source of constant volts
    Raises: ValueError when the loss is below zero
    Source: Ohm's law, by definition
    Example: resistance_for_loss(0.5, 8) = 0.474
    """
    if not loss_db >= 0.0:
        raise below_zero("a loss", loss_db, "dB")
    return float(load_ohm * (10.0 ** (loss_db / 20.0) - 1.0))


@formula
def cable_loss(length_m: Metre, area_mm2: CopperArea, load_ohm: Ohm) -> Loss:
    """Compute the insertion loss of a flexible copper cable.

    length_m: one way along the cable [m]
    area_mm2: nominal cross-section of one conductor [mm²]
    load_ohm: at its far end, above zero [ohm]
    Result: the insertion loss [dB]
    Formula: a = 20 · log₁₀(1 + 2 · L · r(A) / Z)
    Valid: class 5 copper at 20 °C, out and back; resistive load on a source of constant volts
    Raises: ValueError when area or load is not above zero
    Source: IEC 60228:2004 table 3 with Ohm's law
    Example: cable_loss(30, 2.5, 8) = 0.505
    """
    return insertion_loss(loop_resistance(length_m, class_5_resistance(area_mm2)), load_ohm)


@formula
def cable_loss_awg(length_m: Metre, gauge: StrandedGauge, load_ohm: Ohm) -> Loss:
    """Compute the insertion loss of a stranded copper cable by its gauge.

    length_m: one way along the cable [m]
    gauge: American wire gauge of one conductor
    load_ohm: at its far end, above zero [ohm]
    Result: the insertion loss [dB]
    Formula: a = 20 · log₁₀(1 + 2 · L · r(n) / Z)
    Valid: stranded copper at 20 °C, out and back; resistive load on a source of constant volts
    Raises: ValueError when the load is not above zero
    Source: NFPA 70 chapter 9 table 8, stranded, with Ohm's law
    Example: cable_loss_awg(30, 12, 8) = 0.341
    """
    return insertion_loss(loop_resistance(length_m, stranded_awg_resistance(gauge)), load_ohm)


@formula
def longest_cable(loss_db: Loss, area_mm2: CopperArea, load_ohm: Ohm) -> Metre:
    """Find the longest flexible copper cable that stays within a loss.

    loss_db: insertion loss allowed [dB]
    area_mm2: nominal cross-section of one conductor [mm²]
    load_ohm: at its far end [ohm]
    Result: the length, one way [m]
    Formula: L = Z · (10^(a/20) − 1) / (2 · r(A))
    Valid: class 5 copper at 20 °C, out and back; resistive load on a source of constant volts
    Raises: ValueError when the area is not above zero or the loss below zero
    Source: IEC 60228:2004 table 3 with Ohm's law
    Example: longest_cable(0.5, 2.5, 8) = 29.70
    """
    return resistance_for_loss(loss_db, load_ohm) / (2.0 * class_5_resistance(area_mm2))


@formula
def smallest_cable(loss_db: Loss, length_m: Metre, load_ohm: Ohm) -> SquareMillimetre:
    """Choose the smallest size of flexible copper cable that stays within a loss.

    loss_db: insertion loss allowed, above zero [dB]
    length_m: one way along the cable [m]
    load_ohm: at its far end, above zero [ohm]
    Result: the nominal cross-section of one conductor, a printed size [mm²]
    Formula: the smallest printed A with 2 · L · r(A) ≤ Z · (10^(a/20) − 1)
    Valid: class 5 copper at 20 °C, out and back; printed sizes from 0.5 to 120 mm²
    Raises: ValueError when no printed size stays within the loss
    Source: IEC 60228:2004 table 3 with Ohm's law
    Example: smallest_cable(0.5, 40, 8) = 4
    """
    allowed_ohm = resistance_for_loss(loss_db, load_ohm)
    table = metric_table("class_5")
    for area_mm2 in table.areas_mm2:
        if loop_resistance(length_m, resistance_from_table(table, area_mm2)) <= allowed_ohm:
            return area_mm2
    raise ValueError(
        f"expected a loss that {table.areas_mm2[-1]:g} mm² can keep, "
        f"got {loss_db:g} dB over {length_m:g} m into {load_ohm:g} ohm"
    )


def _kept(share: float) -> float:
    if not 0.0 <= share < 1.0:
        raise ValueError(f"expected a share from 0 to below 1, got {share:g}")
    return 1.0 - share
