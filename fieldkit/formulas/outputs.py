"""What an amplifier output can give into any load, from its rated powers.

The rated powers are points of current and volts at the terminals. Between two of them the volts run straight
over the current; above the highest rated load they stay at that rating's; below the lowest the current stays
at that rating's. The output resistance is in the ratings already.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import Annotated, TypeAlias

from fieldkit.formulas.declaration import In, formula
from fieldkit.formulas.quantities import Ohm, Ratio, Volt, Watt, below_zero

Curve: TypeAlias = tuple[tuple[float, float], ...]
"""Rated points (current_a, voltage_v), from the highest rated load to the lowest."""

Rating = Annotated[float, In("ohm, W", 0.01, 1_000_000)]
"""A rated load and the power into it, by turns."""


def rated_curve(ratings: Sequence[float]) -> Curve:
    """Prepare the points of current and volts of rated loads and powers: load, power, load, power.

    Loads either rise or fall along the list. Raises ValueError for a list that is empty or odd, for loads out
    of order or repeated, and for a load or power that is not above zero.
    """
    if not ratings or len(ratings) % 2:
        raise ValueError(f"expected pairs of load and power, got {len(ratings)} values")
    pairs = list(zip(ratings[::2], ratings[1::2], strict=True))
    for load_ohm, power_w in pairs:
        if not (load_ohm > 0.0 and power_w > 0.0):
            raise ValueError(f"expected a rated load and power above 0, got {power_w:g} W at {load_ohm:g} ohm")
    loads_ohm = [load_ohm for load_ohm, _ in pairs]
    if loads_ohm != sorted(set(loads_ohm), reverse=True):
        if loads_ohm != sorted(set(loads_ohm)):
            order = ", ".join(f"{load_ohm:g}" for load_ohm in loads_ohm)
            raise ValueError(f"expected rated loads in order and each once, got {order} ohm")
        pairs.reverse()
    return tuple((sqrt(power_w / load_ohm), sqrt(power_w * load_ohm)) for load_ohm, power_w in pairs)


def voltage_from_curve(load_ohm: float, curve: Curve) -> float:
    """Read the volts at full output into a load from a prepared curve. An infinite load is an open output.

    Raises ValueError when the load is below zero.
    """
    if not load_ohm >= 0.0:
        raise below_zero("a load", load_ohm, "ohm")
    before_a, before_v = curve[0]
    if load_ohm * before_a >= before_v:
        return before_v
    for current_a, voltage_v in curve[1:]:
        under = load_ohm * current_a - voltage_v
        if under >= 0.0:
            # The load's own line V = Z · I passes under the point before and over this one, or through it.
            over = before_v - load_ohm * before_a
            return before_v + over / (over + under) * (voltage_v - before_v)
        before_a, before_v = current_a, voltage_v
    return before_a * load_ohm


@formula
def output_voltage(load_ohm: Ohm, *ratings: Rating) -> Volt:
    """Compute the rms volts of an output at full power into a load, from its rated powers.

    load_ohm: that the output drives [ohm]
    ratings: rated load and power by turns, loads falling or rising, all of one mode [ohm, W]
    Result: the rms voltage at full output [V]
    Formula: V over I straight between the rated points (√(P/Z), √(P·Z)); flat above the highest rated load,
        V = I · Z at the last point's current below the lowest
    Valid: sine at the rated limit; an estimate between ratings and outside them
    Raises: ValueError when ratings are missing, odd in number, unsorted or repeated
    Source: Ohm's law at the ratings; straight lines between them are common practice, no source
    Example: output_voltage(4, 8, 500, 4, 900) = 60.00
    """
    return voltage_from_curve(load_ohm, rated_curve(ratings))


@formula
def bridged_voltage(load_ohm: Ohm, *ratings: Rating) -> Volt:
    """Compute the rms volts of two channels bridged into a load, where no bridged power is rated.

    load_ohm: across the pair [ohm]
    ratings: rated load and power of one channel by turns [ohm, W]
    Result: the rms voltage across the pair at full output [V]
    Formula: V = 2 · V_one(Z / 2)
    Valid: two equal channels; no shared supply limit
    Raises: ValueError when ratings are missing, odd in number, unsorted or repeated
    Source: each channel sees half the load, by definition
    Example: bridged_voltage(4, 4, 50, 2, 100) = 28.28
    """
    return 2.0 * voltage_from_curve(load_ohm / 2.0, rated_curve(ratings))


@formula
def paralleled_voltage(load_ohm: Ohm, *ratings: Rating) -> Volt:
    """Compute the rms volts of two channels paralleled for current into a load.

    load_ohm: that the pair drives [ohm]
    ratings: rated load and power of one channel by turns [ohm, W]
    Result: the rms voltage at full output [V]
    Formula: V = V_one(2 · Z)
    Valid: two equal channels of an amplifier made for it
    Raises: ValueError when ratings are missing, odd in number, unsorted or repeated
    Source: each channel carries half the current, by definition
    Example: paralleled_voltage(2, 8, 500, 4, 900) = 60.0
    """
    return voltage_from_curve(2.0 * load_ohm, rated_curve(ratings))


@formula
def shared_supply_scale(demand_w: Watt, limit_w: Watt) -> Ratio:
    """Compute how far a supply shared by several outputs lowers the volts of each.

    demand_w: power that the outputs would give together [W]
    limit_w: power that the supply allows together [W]
    Result: the factor on each output's volts, 1 when the supply holds
    Formula: k = min(1, √(P_limit / P_demand))
    Valid: resistive loads, every output lowered alike
    Raises: ValueError when a power is below zero
    Source: power goes with the square of the volts, by definition
    Example: shared_supply_scale(2000, 1500) = 0.866
    """
    if not demand_w >= 0.0:
        raise below_zero("a demand", demand_w, "W")
    if not limit_w >= 0.0:
        raise below_zero("a limit", limit_w, "W")
    return 1.0 if demand_w <= limit_w else sqrt(limit_w / demand_w)


@formula
def bridged_minimum_load(minimum_ohm: Ohm) -> Ohm:
    """Double the minimum load of one channel, for two bridged.

    minimum_ohm: minimum load of one channel [ohm]
    Result: the minimum load of the pair [ohm]
    Formula: Z = 2 · Z₁
    Valid: where the maker gives no minimum bridged load
    Raises: nothing within the ranges
    Source: each channel sees half the load, by definition
    Example: bridged_minimum_load(2) = 4.00
    """
    return 2.0 * minimum_ohm


@formula
def bridged_leg_load(load_ohm: Ohm) -> Ohm:
    """Halve the load of a bridged pair, as each of its channels sees it.

    load_ohm: across the pair [ohm]
    Result: the load of each channel [ohm]
    Formula: Z₁ = Z / 2
    Valid: two equal channels driven in opposite polarity
    Raises: nothing within the ranges
    Source: each channel carries the whole current at half the volts, by definition
    Example: bridged_leg_load(4) = 2.00
    """
    return load_ohm / 2.0


@formula
def paralleled_minimum_load(minimum_ohm: Ohm) -> Ohm:
    """Halve the minimum load of one channel, for two paralleled for current.

    minimum_ohm: minimum load of one channel [ohm]
    Result: the minimum load of the pair [ohm]
    Formula: Z = Z₁ / 2
    Valid: where the maker gives no minimum paralleled load
    Raises: nothing within the ranges
    Source: each channel carries half the current, by definition
    Example: paralleled_minimum_load(4) = 2.00
    """
    return minimum_ohm / 2.0
