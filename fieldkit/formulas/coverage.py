"""What an angle covers: width, distance, and where the fields of two boxes meet."""

from __future__ import annotations

from math import atan, degrees, radians, tan

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import Degree, Metre, not_above_zero


@formula
def coverage_width(angle_deg: Degree, distance_m: Metre) -> Metre:
    """Compute the width that an angle covers at a distance.

    angle_deg: of coverage, edge to edge [deg]
    distance_m: along the axis [m]
    Result: the width across the axis [m]
    Formula: w = 2 · d · tan(θ/2)
    Valid: geometry; the edge is farther away than the axis, so it is quieter than the −6 dB of the angle
    Raises: nothing within the ranges
    Source: geometry, by definition
    Example: coverage_width(90, 2) = 4.000
    """
    return 2.0 * distance_m * tan(radians(angle_deg) / 2.0)


@formula
def coverage_angle(width_m: Metre, distance_m: Metre) -> Degree:
    """Find the angle that covers a width at a distance.

    width_m: across the axis [m]
    distance_m: along the axis, above zero [m]
    Result: the angle, edge to edge [deg]
    Formula: θ = 2 · arctan(w / (2 · d))
    Valid: geometry
    Raises: ValueError when the distance is not above zero
    Source: geometry, by definition
    Example: coverage_angle(4, 2) = 90.00
    """
    if not distance_m > 0.0:
        raise not_above_zero("a distance", distance_m, "m")
    return degrees(2.0 * atan(width_m / (2.0 * distance_m)))


@formula
def meeting_distance(spacing_m: Metre, angle_deg: Degree) -> Metre:
    """Find the distance in front of a row of fills at which their fields meet; nearer, there are gaps.

    spacing_m: from one fill to the next [m]
    angle_deg: of coverage of each, above zero [deg]
    Result: the distance along the axis [m]
    Formula: d = s / (2 · tan(θ/2))
    Valid: boxes side by side that face the same way
    Raises: nothing within the ranges
    Source: geometry, by definition
    Example: meeting_distance(4, 90) = 2.000
    """
    return spacing_m / (2.0 * tan(radians(angle_deg) / 2.0))
