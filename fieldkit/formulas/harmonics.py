"""Third harmonics: what rectifiers without power-factor correction put on the neutral.

Phases are 120° apart; in a harmonic of order n they are n times as far. Orders that three divides (the third, the
ninth) are in step, so on the neutral they add; all others cancel there as the fundamentals do. Each unit has a
third harmonic of its own, and orders do not add to one another but as squares.
"""

from __future__ import annotations

from bisect import bisect_left
from math import sqrt

from fieldkit.formulas.conductors import read_table
from fieldkit.formulas.declaration import formula
from fieldkit.formulas.mains import neutral_current
from fieldkit.formulas.quantities import Ampere, Part


@formula
def third_harmonic_neutral(line_a: Ampere, third_share: Part) -> Ampere:
    """Compute the neutral current of three equal phases that have a third harmonic.

    line_a: in each phase conductor [A]
    third_share: third harmonic as a share of the mains current
    Result: the current of the neutral [A]
    Formula: I_N = 3 · h₃ · I
    Valid: balanced, so that only harmonics are left on the neutral
    Raises: nothing within the ranges
    Source: IEC 60364-5-52:2009 annex E
    Example: third_harmonic_neutral(39, 0.4) = 46.8
    """
    return 3.0 * third_share * line_a


@formula
def rectifier_neutral(line_a: Ampere) -> Ampere:
    """Estimate the neutral current of three equal phases that charge capacitors in short pulses.

    line_a: rms current of each line [A]
    Result: the rms current of the neutral [A]
    Formula: I_N = √3 · I
    Valid: balanced; each pulse takes 60° or less of its half wave, so that no two of the three meet
    Raises: nothing within the ranges
    Source: squares of pulses that do not overlap add: rms, by definition
    Example: rectifier_neutral(10) = 17.32
    """
    return sqrt(3.0) * line_a


@formula
def neutral_current_with_third(line_1_a: Ampere, line_2_a: Ampere, line_3_a: Ampere, third_share: Part = 0.0) -> Ampere:
    """Compute the neutral current of three unequal phases, third harmonic included.

    line_1_a: in the first phase conductor, rms [A]
    line_2_a: in the second line, rms [A]
    line_3_a: in the third line, rms [A]
    third_share: third harmonic as a share of the mains current, the same in all
    Result: the rms current of the neutral [A]
    Formula: I_N = √((1 − h²) · (a² + b² + c² − a·b − b·c − c·a) + h² · (a + b + c)²)
    Valid: one power factor, nothing but a fundamental and a third harmonic, loads from phase to neutral
    Raises: nothing within the ranges
    Source: sum of phasors 120° apart, and of currents in step, by definition; with equal loads IEC 60364-5-52 annex E
    Example: neutral_current_with_third(39, 39, 39, 0.4) = 46.8
    """
    lines = (line_1_a, line_2_a, line_3_a)
    first = [current_without_third(amps, third_share) for amps in lines]
    return neutral_by_order(*first, *(current_of_third(amps, third_share) for amps in lines))


@formula
def current_of_third(line_a: Ampere, third_share: Part) -> Ampere:
    """Find the third harmonic in a unit's mains current.

    line_a: mains current of the unit, rms [A]
    third_share: third harmonic as a share of that current
    Result: the rms current of the third harmonic [A]
    Formula: I₃ = h₃ · I
    Valid: rms values; a sheet that gives it as a share of the fundamental means another number
    Raises: nothing within the ranges
    Source: by definition
    Example: current_of_third(10, 0.6) = 6.0
    """
    return third_share * line_a


@formula
def current_without_third(line_a: Ampere, third_share: Part) -> Ampere:
    """Remove the third harmonic from a unit's mains current.

    line_a: mains current of the unit, rms [A]
    third_share: third harmonic as a share of that current
    Result: the rms current of all other orders, taken as the fundamental [A]
    Formula: I₁ = √(1 − h₃²) · I
    Valid: rms values
    Raises: nothing within the ranges
    Source: squares of different frequencies add: rms, by definition
    Example: current_without_third(10, 0.6) = 8.0
    """
    return sqrt(max(1.0 - third_share * third_share, 0.0)) * line_a


@formula
def neutral_by_order(
    first_1_a: Ampere,
    first_2_a: Ampere,
    first_3_a: Ampere,
    third_1_a: Ampere,
    third_2_a: Ampere,
    third_3_a: Ampere,
) -> Ampere:
    """Combine the harmonic orders of three phases to their neutral current.

    first_1_a: fundamental of the first phase conductor, rms, and what else three does not divide [A]
    first_2_a: of the second phase conductor [A]
    first_3_a: of the third phase conductor [A]
    third_1_a: third harmonic of the first phase conductor, rms, and what else three divides [A]
    third_2_a: of the second phase conductor [A]
    third_3_a: of the third phase conductor [A]
    Result: the rms current of the neutral [A]
    Formula: I_N = √(a² + b² + c² − a·b − b·c − c·a + (a₃ + b₃ + c₃)²)
    Valid: loads from phase to neutral whose currents cross zero at one angle; fifths and sevenths, which cancel as
        the fundamental does, are counted with it
    Raises: nothing within the ranges
    Source: sum of phasors 120° apart in the fundamental, of currents in step in the third; by definition
    Example: neutral_by_order(8, 9.9875, 9.9875, 6, 0.5, 0.5) = 7.28
    """
    first_a = neutral_current(first_1_a, first_2_a, first_3_a)
    return sqrt(first_a**2 + (third_1_a + third_2_a + third_3_a) ** 2)


@formula
def harmonic_design_current(line_a: Ampere, third_share: Part) -> Ampere:
    """Find the current by which a cable with four or five cores is chosen where there is a third harmonic.

    line_a: in each phase conductor [A]
    third_share: third harmonic as a share of the mains current
    Result: the design current [A]
    Formula: table: up to 15 % I; up to 33 % I / 0.86; up to 45 % 3 · h₃ · I / 0.86; above 3 · h₃ · I
    Valid: balanced; the neutral as thick as the phase conductors
    Raises: nothing within the ranges
    Source: IEC 60364-5-52:2009 annex E, table E.52.1
    Example: harmonic_design_current(39, 0.2) = 45.3
    """
    table = read_table("iec_60364_5_52_annex_e")
    row = bisect_left(table["up_to"], third_share)
    by_neutral = table["neutral"][row]
    current_a = third_harmonic_neutral(line_a, third_share) if by_neutral else line_a
    return float(current_a / table["factor"][row])
