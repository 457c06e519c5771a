"""How long ears may stand how loud a sound: published limits of work and of shows. Local law rules."""

from __future__ import annotations

from math import log10
from typing import Annotated

from fieldkit.formulas.declaration import In, formula
from fieldkit.formulas.quantities import Ratio, Second, SoundPressureLevel, not_above_zero

WORKDAY_S = 8.0 * 3600.0
LevelAndTime = Annotated[float, In("dB SPL, s", 0, 604_800)]
"""A level and a time up to a week, by turns; they share one range, so that levels are looked at again below."""

LOUDEST_DB = 300.0


@formula
def niosh_time(level_db: SoundPressureLevel) -> Second:
    """Find the time a day that the recommended limit of NIOSH allows at a level.

    level_db: A-weighted, slow [dB SPL]
    Result: the time a day [s]
    Formula: T = 8 h / 2^((L − 85) / 3)
    Valid: 80 to 140 dBA; 3 dB is a rounded exchange rate, equal energy is 3.0103 dB
    Raises: nothing within the ranges
    Source: NIOSH, Criteria for a Recommended Standard, publication 98-126, 1998
    Example: niosh_time(100) = 900
    """
    return float(WORKDAY_S / 2.0 ** ((level_db - 85.0) / 3.0))


@formula
def osha_time(level_db: SoundPressureLevel) -> Second:
    """Find the reference duration of a level in the United States' rule for workers.

    level_db: A-weighted, slow [dB SPL]
    Result: the time a day [s]
    Formula: T = 8 h / 2^((L − 90) / 5)
    Valid: 80 to 130 dBA; above 115 dBA no time is permitted
    Raises: nothing within the ranges
    Source: 29 CFR 1910.95, appendix A, table G-16a
    Example: osha_time(95) = 14400
    """
    return float(WORKDAY_S / 2.0 ** ((level_db - 90.0) / 5.0))


@formula
def osha_dose(*parts: LevelAndTime) -> Ratio:
    """Add up the noise dose of a day by the United States' rule for workers; 1 is 100 %.

    parts: each level, A-weighted, and how long it lasted, by turns [dB SPL, s]
    Result: the dose, as a part of the permitted one
    Formula: D = Σ C_i / T_i, T = 8 h / 2^((L − 90) / 5)
    Valid: levels of 80 dBA and more; lower ones do not count in the rule
    Raises: ValueError without a level and a time
    Source: 29 CFR 1910.95, appendix A
    Example: osha_dose(92, 28800) = 1.320
    """
    return sum(time / osha_time(level) for level, time in _pairs(parts))


@formula
def osha_average(dose: Ratio) -> SoundPressureLevel:
    """Convert a dose of the United States' rule for workers to an eight-hour average.

    dose: as a part of the permitted one, above zero; 132 % is 1.32
    Result: the time-weighted average, A-weighted [dB SPL]
    Formula: TWA = 16.61 · log₁₀ D + 90
    Valid: doses of that rule
    Raises: ValueError when the dose is not above zero
    Source: 29 CFR 1910.95, appendix A
    Example: osha_average(2.58) = 96.84
    """
    if not dose > 0.0:
        raise not_above_zero("a dose", dose)
    return 16.61 * log10(dose) + 90.0


@formula
def niosh_dose(*parts: LevelAndTime) -> Ratio:
    """Add up the noise dose of a day by the recommended limit of NIOSH; 1 is 100 %.

    parts: each level, A-weighted, and how long it lasted, by turns [dB SPL, s]
    Result: the dose, as a part of the recommended one
    Formula: D = Σ C_i / T_i, T = 8 h / 2^((L − 85) / 3)
    Valid: levels of 80 dBA and more
    Raises: ValueError without a level and a time
    Source: NIOSH, Criteria for a Recommended Standard, publication 98-126, 1998
    Example: niosh_dose(100, 1800) = 2.000
    """
    return sum(time / niosh_time(level) for level, time in _pairs(parts))


@formula
def equivalent_level(*parts: LevelAndTime) -> SoundPressureLevel:
    """Average the levels of parts of a time to the equivalent continuous level.

    parts: each level and how long it lasted, by turns [dB SPL, s]
    Result: the equivalent level over all of the time [dB SPL]
    Formula: L_eq = 10 · log₁₀(Σ t_i · 10^(L_i/10) / Σ t_i)
    Valid: levels of one weighting
    Raises: ValueError without a level and a time, or where all times are zero
    Source: IEC 61672-1, time-averaged level, by definition
    Example: equivalent_level(100, 900, 90, 900) = 97.40
    """
    pairs = _pairs(parts)
    total = sum(time for _, time in pairs)
    if not total > 0.0:
        raise not_above_zero("a time", total, "s")
    return 10.0 * log10(sum(time * 10.0 ** (level / 10.0) for level, time in pairs) / total)


@formula
def daily_exposure_level(level_db: SoundPressureLevel, time_s: Second) -> SoundPressureLevel:
    """Compute the daily noise exposure of a level that lasts for a time, for the action values of employers.

    level_db: equivalent level, A-weighted [dB SPL]
    time_s: how long it lasts, above zero [s]
    Result: the level over eight hours [dB SPL]
    Formula: L_EX,8h = L + 10 · log₁₀(t / 8 h)
    Valid: action values 80 and 85 dB(A), limit 87 dB(A), in the European Union
    Raises: ValueError when the time is not above zero
    Source: directive 2003/10/EC, by way of ISO 1999
    Example: daily_exposure_level(97, 7200) = 90.98
    """
    if not time_s > 0.0:
        raise not_above_zero("a time", time_s, "s")
    return level_db + 10.0 * log10(time_s / WORKDAY_S)


@formula
def time_within_average(level_db: SoundPressureLevel, limit_db: SoundPressureLevel, window_s: Second) -> Second:
    """Find how long a level may last within a window of averaging before its average reaches a limit.

    level_db: of the loud part; the rest of the window is taken as silent [dB SPL]
    limit_db: that the average over the window may reach, 100 dB in the WHO standard [dB SPL]
    window_s: of the average, 15 min in the WHO standard, 30 min in DIN 15905-5 [s]
    Result: the time, at most the window [s]
    Formula: t = min(1, 10^((L_max − L) / 10)) · T
    Valid: equal energy
    Raises: nothing within the ranges
    Source: IEC 61672-1, time-averaged level; limits of WHO 2022 and DIN 15905-5 are inputs
    Example: time_within_average(103.01, 100, 900) = 450.0
    """
    return float(min(1.0, 10.0 ** ((limit_db - level_db) / 10.0)) * window_s)


def _pairs(parts: tuple[float, ...]) -> list[tuple[float, float]]:
    if not parts or len(parts) % 2:
        raise ValueError(f"expected levels and times by turns, got {len(parts)} values")
    pairs = list(zip(parts[::2], parts[1::2], strict=True))
    for level, _ in pairs:
        if not level <= LOUDEST_DB:
            raise ValueError(f"expected a level up to {LOUDEST_DB:g} dB, got {level:g} dB")
    return pairs
