"""What a circuit may carry for long, when its breaker trips, and how much leakage its device bears."""

from __future__ import annotations

from fieldkit.formulas.conductors import read_table
from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import Ampere, Count, Part, Ratio, not_above_zero


@formula
def continuous_limit(rating_a: Ampere) -> Ampere:
    """Compute the continuous load that a circuit may carry by the 80 % rule.

    rating_a: of the breaker or fuse [A]
    Result: the most that may flow for three hours or more [A]
    Formula: I = I_n / 1.25 = 0.8 · I_n
    Valid: where NFPA 70 rules; devices listed for 100 % may carry their rating
    Raises: nothing within the ranges
    Source: NFPA 70 210.19(A)(1), 210.20(A)
    Example: continuous_limit(20) = 16.0
    """
    return 0.8 * rating_a


@formula
def minimum_rating(continuous_a: Ampere, other_a: Ampere = 0.0) -> Ampere:
    """Find the minimum rating of a circuit by the 125 % rule.

    continuous_a: load that flows for three hours or more [A]
    other_a: load that does not [A]
    Result: the minimum rating of breaker and conductor [A]
    Formula: I_n = 1.25 · I_c + I_o
    Valid: where NFPA 70 rules; devices listed for 100 % need 1.0
    Raises: nothing within the ranges
    Source: NFPA 70 210.19(A)(1), 210.20(A)
    Example: minimum_rating(12, 5) = 20.0
    """
    return 1.25 * continuous_a + other_a


@formula
def minimum_breaker(continuous_a: Ampere, other_a: Ampere = 0.0) -> Ampere:
    """Choose the smallest standard breaker that serves a load by the 125 % rule.

    continuous_a: load that flows for three hours or more [A]
    other_a: load that does not [A]
    Result: a standard rating [A]
    Formula: the smallest rating of the table with 1.25 · I_c + I_o ≤ I_n
    Valid: where NFPA 70 rules; ratings from 15 A to 400 A
    Raises: ValueError when the load needs more than 400 A
    Source: NFPA 70 210.20(A), 240.6(A)
    Example: minimum_breaker(13, 5) = 25
    """
    wanted_a = minimum_rating(continuous_a, other_a)
    ratings_a = read_table("nfpa_70_240_6")["rating_a"]
    for rating_a in ratings_a:
        if wanted_a <= rating_a:
            return float(rating_a)
    raise ValueError(f"expected a load that {ratings_a[-1]} A can serve, got one that needs {wanted_a:g} A")


@formula
def load_share(current_a: Ampere, rating_a: Ampere) -> Ratio:
    """Compare the load of a circuit with its rating, as a share.

    current_a: in the conductor [A]
    rating_a: of the circuit, above zero [A]
    Result: the share; above 1 the circuit is overloaded
    Formula: s = I / I_n
    Valid: always
    Raises: ValueError when the rating is not above zero
    Source: by definition
    Example: load_share(12.8, 16) = 0.8
    """
    if not rating_a > 0.0:
        raise not_above_zero("a rating", rating_a, "A")
    return current_a / rating_a


@formula
def type_b_holds(rating_a: Ampere) -> Ampere:
    """Find the current up to which no type B breaker trips at once.

    rating_a: of the breaker [A]
    Result: the current that does not trip it at once [A]
    Formula: I = 3 · I_n
    Valid: a surge of less than 0.1 s; a longer overload trips by heat
    Raises: nothing within the ranges
    Source: IEC 60898-1 (not checked against print)
    Example: type_b_holds(16) = 48.0
    """
    return trip_times("B")[0] * rating_a


@formula
def type_b_trips(rating_a: Ampere) -> Ampere:
    """Find the current from which each type B breaker trips at once.

    rating_a: of the breaker [A]
    Result: the current that trips it at once [A]
    Formula: I = 5 · I_n
    Valid: a fault of this current, cleared within 0.1 s
    Raises: nothing within the ranges
    Source: IEC 60898-1 (not checked against print)
    Example: type_b_trips(16) = 80.0
    """
    return trip_times("B")[1] * rating_a


@formula
def type_c_holds(rating_a: Ampere) -> Ampere:
    """Find the current up to which no type C breaker trips at once.

    rating_a: of the breaker [A]
    Result: the current that does not trip it at once [A]
    Formula: I = 5 · I_n
    Valid: a surge of less than 0.1 s; a longer overload trips by heat
    Raises: nothing within the ranges
    Source: IEC 60898-1 (not checked against print)
    Example: type_c_holds(16) = 80.0
    """
    return trip_times("C")[0] * rating_a


@formula
def type_c_trips(rating_a: Ampere) -> Ampere:
    """Find the current from which each type C breaker trips at once.

    rating_a: of the breaker [A]
    Result: the current that trips it at once [A]
    Formula: I = 10 · I_n
    Valid: a fault of this current, cleared within 0.1 s
    Raises: nothing within the ranges
    Source: IEC 60898-1 (not checked against print)
    Example: type_c_trips(16) = 160.0
    """
    return trip_times("C")[1] * rating_a


@formula
def type_d_holds(rating_a: Ampere) -> Ampere:
    """Find the current up to which no type D breaker trips at once.

    rating_a: of the breaker [A]
    Result: the current that does not trip it at once [A]
    Formula: I = 10 · I_n
    Valid: a surge of less than 0.1 s; a longer overload trips by heat
    Raises: nothing within the ranges
    Source: IEC 60898-1 (not checked against print)
    Example: type_d_holds(16) = 160.0
    """
    return trip_times("D")[0] * rating_a


@formula
def type_d_trips(rating_a: Ampere) -> Ampere:
    """Find the current from which each type D breaker trips at once.

    rating_a: of the breaker [A]
    Result: the current that trips it at once [A]
    Formula: I = 20 · I_n
    Valid: a fault of this current, cleared within 0.1 s
    Raises: nothing within the ranges
    Source: IEC 60898-1 (not checked against print)
    Example: type_d_trips(16) = 320.0
    """
    return trip_times("D")[1] * rating_a


def trip_times(letter: str) -> tuple[float, float]:
    """Look up the two multiples of the rating of a breaker's type: holds, trips. Raises KeyError for another letter."""
    low, high = read_table("iec_60898_trips")["times"][letter]
    return float(low), float(high)


@formula
def leakage_limit(device_a: Ampere, share: Part = 0.3) -> Ampere:
    """Compute the earth leakage in normal service that a residual-current device bears without nuisance.

    device_a: rated residual current of the device, 30 mA [A]
    share: of it that may flow all the time
    Result: the most leakage of all that stands behind the device [A]
    Formula: I = 0.3 · I_Δn
    Valid: alternating leakage of equipment without a fault; a device may trip from half its rating on
    Raises: nothing within the ranges
    Source: BS 7671 531.3.2 (not checked against print)
    Example: leakage_limit(0.03) = 0.009
    """
    return share * device_a


@formula
def leakage_sum(*leakages_a: Ampere) -> Ampere:
    """Add the earth leakage of several units behind one residual-current device.

    leakages_a: of each unit [A]
    Result: the sum [A]
    Formula: I = I₁ + I₂ + …
    Valid: an upper limit: leakage of units on three phases partly cancels
    Raises: ValueError without any value
    Source: Kirchhoff's current law, by definition
    Example: leakage_sum(0.0012, 0.0012, 0.0016) = 0.0040
    """
    if not leakages_a:
        raise ValueError("expected at least one leakage, got none")
    return sum(leakages_a)


@formula
def units_behind_device(device_a: Ampere, leakage_a: Ampere, share: Part = 0.3) -> Count:
    """Count how many equal units may stand behind one residual-current device.

    device_a: rated residual current of the device [A]
    leakage_a: of one unit, above zero [A]
    share: of the device's rating that may flow all the time
    Result: the number of units
    Formula: n = the whole part of 0.3 · I_Δn / I
    Valid: at least one; alternating leakage of equipment without a fault
    Raises: ValueError when the leakage is not above zero, or one unit alone passes the limit
    Source: BS 7671 531.3.2 (not checked against print)
    Example: units_behind_device(0.03, 0.0012) = 7
    """
    if not leakage_a > 0.0:
        raise not_above_zero("a leakage", leakage_a, "A")
    allowed_a = leakage_limit(device_a, share)
    count = allowed_a / leakage_a * (1.0 + 1e-12) // 1.0
    if count < 1.0:
        raise ValueError(f"expected a unit with at most {allowed_a:g} A of leakage, got {leakage_a:g} A")
    return count
