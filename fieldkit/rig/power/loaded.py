"""A supply with what hangs on it: what each phase carries and may carry, what is lost on the way, what leaks."""

from __future__ import annotations

import msgspec

from fieldkit.formulas import generators, protection
from fieldkit.rig.power.consumption import Draw
from fieldkit.rig.power.supply_sums import lines_above, phase_volts
from fieldkit.show.document import Supply

Lines = tuple[float, float, float]
NO_LINES: Lines = (0.0, 0.0, 0.0)


class LoadedSupply(msgspec.Struct, frozen=True, gc=False):
    """One supply with all that hangs on it, below it too."""

    supply: Supply
    draws: tuple[Draw, ...]
    """What is plugged into it."""
    feeds: tuple[str, ...]
    """Supplies that are fed from it."""
    line_a: Lines
    """Current of its lines at the duty of the programme; a circuit of one phase has the first alone."""
    spread: bool
    """True where things without a line hang on three phases, and were spread over them."""
    neutral_a: float
    neutral_first_a: float
    """Of that, what is left because the lines are not alike; orders add as squares."""
    neutral_third_a: float
    """Of that, the third harmonics, which add."""
    third_guessed: bool
    """True where the third harmonic of something on it, or below it, was guessed."""
    power_w: float
    apparent_va: float
    heat_w: float
    drop_v: Lines
    """Lost in its own feeder, phase to neutral where it has three phases."""
    drop_share: Lines
    """Lost from the origin on, as a share of the volts, for each line."""
    private: bool
    leakage_a: float
    leakage_unknown: int
    """How many units below it do not say how much they leak."""
    inrush_a: float
    """Of everything below its fullest line at once, where it is known."""
    inrush_unknown: int
    assumed: bool
    """True where something below it does not say what it takes."""

    @property
    def load_a(self) -> float:
        """The most loaded line [A]."""
        return max(self.line_a)

    @property
    def lines(self) -> int:
        """How many lines it has."""
        return self.supply.phases

    @property
    def worst_drop_share(self) -> float:
        """The largest drop from the origin on any line."""
        return max(self.drop_share)


class Device(msgspec.Struct, frozen=True, gc=False):
    """A residual-current device with all the leakage behind it."""

    id: str
    rating_a: float
    supplies: tuple[str, ...]
    leakage_a: float
    unknown: int


class LoadedSupplies(msgspec.Struct, frozen=True):
    """The mains of a show."""

    loaded: tuple[LoadedSupply, ...]
    """In the order of the show."""
    unplanned: tuple[Draw, ...]
    """What is on no supply yet."""
    devices: tuple[Device, ...]
    generators: tuple[tuple[LoadedSupply, float, float], ...]
    """A supply from a generator, the prime VA that its load asks for, and the prime VA it has."""
    by_id: dict[str, LoadedSupply]
    """The same as ``loaded``."""

    def supply(self, name: str) -> LoadedSupply | None:
        """Find a supply by its id."""
        return self.by_id.get(name)

    @property
    def draws(self) -> tuple[Draw, ...]:
        """Everything that takes mains."""
        return (*(draw for item in self.loaded for draw in item.draws), *self.unplanned)

    @property
    def totals(self) -> Lines:
        """Load of the three lines of all that has no supply above it: circuits of one phase by their phase [A]."""
        lines = [0.0, 0.0, 0.0]
        for item in self.loaded:
            if item.supply.fed_from is None:
                for place, amps in enumerate(_upward(item)):
                    lines[place] += amps
        return lines[0], lines[1], lines[2]


def limit_a(supply: Supply, *, nfpa: bool) -> float:
    """Find what each phase of a supply may carry for hours [A].

    Its rating, or 80 % of it where NFPA 70 rules; and never more than a phase of the generator that it comes from.
    """
    most = protection.continuous_limit(supply.rating.value) if nfpa else supply.rating.value
    winding = generator_a(supply)
    return most if winding is None else min(most, winding)


def generator_a(supply: Supply) -> float | None:
    """Find what each phase of a supply's own generator can carry [A]; None without one."""
    if supply.generator is None:
        return None
    return generators.generator_phase_current(supply.generator.prime.value, phase_volts(supply), float(supply.phases))


def load_shares(item: LoadedSupply, *, nfpa: bool) -> tuple[float, ...]:
    """Compute the load of each phase of a supply as a share of what it may carry."""
    most = limit_a(item.supply, nfpa=nfpa)
    return tuple(protection.load_share(amps, most) for amps in item.line_a[: item.supply.phases])


def line_names(supply: Supply) -> tuple[str, ...]:
    """Name the lines of a supply: L1, L2, L3; of a circuit of one phase the line that it is on."""
    if supply.phases == 3:
        return "L1", "L2", "L3"
    if supply.phase is None:
        return ("L",)
    if supply.across == "phases":
        return (f"L{supply.phase}-L{supply.phase % 3 + 1}",)
    return (f"L{supply.phase}",)


def _upward(item: LoadedSupply) -> list[float]:
    return lines_above(item.supply, list(item.line_a))
