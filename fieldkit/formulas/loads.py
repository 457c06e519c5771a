"""Loads combined: boxes in parallel and in series, and what is left when some are missing.

``parallel`` and ``series`` take complex impedances too, for the solver.
"""

from __future__ import annotations

from math import inf
from typing import overload

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import Count, Ohm, not_above_zero


@overload
def parallel(*loads_ohm: float) -> float: ...
@overload
def parallel(*loads_ohm: complex) -> complex: ...
@formula
def parallel(*loads_ohm: Ohm | complex) -> Ohm | complex:
    """Combine loads in parallel.

    loads_ohm: each load, real or complex; an open one may be infinite [ohm]
    Result: the load of all [ohm]
    Formula: Z = 1 / (1/Z₁ + 1/Z₂ + …)
    Valid: any impedances at one frequency; rated impedances give the rated load; 0 when one is shorted
    Raises: ValueError without any load
    Source: Kirchhoff's current law, by definition
    Example: parallel(8, 8, 4) = 2.00
    """
    if not loads_ohm:
        raise ValueError("expected at least one load, got none")
    if 0.0 in loads_ohm:
        return 0.0
    admittance: complex = 0.0
    for load_ohm in loads_ohm:
        admittance += 1.0 / load_ohm
    return 1.0 / admittance if admittance else inf


@overload
def series(*loads_ohm: float) -> float: ...
@overload
def series(*loads_ohm: complex) -> complex: ...
@formula
def series(*loads_ohm: Ohm | complex) -> Ohm | complex:
    """Add loads in series.

    loads_ohm: each load, real or complex [ohm]
    Result: the load of all [ohm]
    Formula: Z = Z₁ + Z₂ + …
    Valid: any impedances at one frequency
    Raises: ValueError without any load
    Source: Kirchhoff's voltage law, by definition
    Example: series(8, 8, 4) = 20.0
    """
    if not loads_ohm:
        raise ValueError("expected at least one load, got none")
    return sum(loads_ohm)


@formula
def equal_parallel(load_ohm: Ohm, count: Count) -> Ohm:
    """Compute the load of several equal boxes in parallel.

    load_ohm: of one box [ohm]
    count: how many boxes
    Result: the load of all [ohm]
    Formula: Z = Z₁ / n
    Valid: equal loads
    Raises: ValueError when the count is not above zero
    Source: Kirchhoff's current law, by definition
    Example: equal_parallel(8, 3) = 2.667
    """
    if not count > 0.0:
        raise not_above_zero("a count", count)
    return load_ohm / count


@formula
def equal_series(load_ohm: Ohm, count: Count) -> Ohm:
    """Compute the load of several equal boxes in series.

    load_ohm: of one box [ohm]
    count: how many boxes
    Result: the load of all [ohm]
    Formula: Z = Z₁ · n
    Valid: equal loads
    Raises: nothing within the ranges
    Source: Kirchhoff's voltage law, by definition
    Example: equal_series(8, 3) = 24.0
    """
    return load_ohm * count


@formula
def series_parallel(load_ohm: Ohm, in_series: Count, branches: Count) -> Ohm:
    """Compute the load of equal drivers wired in branches, each branch several in series.

    load_ohm: of one driver [ohm]
    in_series: drivers in series in each branch
    branches: branches in parallel
    Result: the load of all [ohm]
    Formula: Z = Z₁ · s / b
    Valid: equal loads
    Raises: ValueError when the number of branches is not above zero
    Source: Kirchhoff's laws, by definition
    Example: series_parallel(8, 2, 2) = 8.00
    """
    if not branches > 0.0:
        raise not_above_zero("a number of branches", branches)
    return load_ohm * in_series / branches


@formula
def remaining_after_missing(load_ohm: Ohm, count: Count, missing: Count) -> Ohm:
    """Compute the load that is left when some of several equal boxes in parallel are missing.

    load_ohm: with all boxes on the line [ohm]
    count: how many boxes there should be
    missing: how many of them are not there
    Result: the load that is left [ohm]
    Formula: Z' = Z · n / (n − k)
    Valid: equal boxes in parallel, cable resistance left out; fewer missing than there are
    Raises: ValueError when none would be left, since the line is then open
    Source: Kirchhoff's current law, by definition
    Example: remaining_after_missing(2, 4, 1) = 2.667
    """
    if not count > missing:
        raise ValueError(f"expected fewer missing than the {count:g} there are, got {missing:g}")
    return load_ohm * count / (count - missing)


@formula
def parallel_partner(total_ohm: Ohm, known_ohm: Ohm) -> Ohm:
    """Find the load that, in parallel with a known one, makes a total.

    total_ohm: of both together [ohm]
    known_ohm: of the known one [ohm]
    Result: the other load [ohm]
    Formula: Z₂ = 1 / (1/Z − 1/Z₁)
    Valid: total below the known load
    Raises: ValueError when the total is not between zero and the known load
    Source: Kirchhoff's current law, by definition
    Example: parallel_partner(2.667, 4) = 8.00
    """
    if not 0.0 < total_ohm < known_ohm:
        raise ValueError(f"expected a total above 0 and below the {known_ohm:g} ohm known, got {total_ohm:g} ohm")
    return total_ohm * known_ohm / (known_ohm - total_ohm)
