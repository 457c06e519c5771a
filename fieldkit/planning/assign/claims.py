"""What is claimed of a plan: how few rack units there can be, on which condition, and what else could be had."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import msgspec

from fieldkit.planning.assign.goals import (
    AIMS,
    ALIKE,
    BOXES_DRIVEN,
    CURRENT,
    HANDS,
    IN_USE,
    LOSS,
    MORE,
    POWER,
    PREFERRED,
    PRESETS,
    RACK_UNITS,
    SIDES,
    SPARE,
)
from fieldkit.planning.assign.inquiry import Answered
from fieldkit.planning.assign.judging import Alternative, Claims, Proof
from fieldkit.planning.assign.problem import Counts, Question
from fieldkit.planning.assign.search import count
from fieldkit.planning.assign.whole_numbers import Reached
from fieldkit.text.words import counted
from fieldkit.units import format_value

ALWAYS = "each output drives boxes of one model, zone and side, on one run"
"""What every plan here keeps; a claim that something is impossible is made within it."""

SHARED = "sides shared"

MOST_COMPARED, MOST_SHARED = 40, 200
"""Boxes to plan, up to which all alternatives are worked out; and up to which sides are let share."""


class Claimer(msgspec.Struct, frozen=True):
    """Works out what may be claimed of one answer."""

    answered: Answered
    by_hand: Question
    """The same question with each side of a zone as a group of its own."""
    units: int
    """Rack units in use, as the plan is laid."""
    silent: int
    weak: int
    staying: bool
    """Runs that were there stay as they are."""
    linked: bool
    """Boxes were linked to such runs before anything was asked."""
    preferred_ohm: float
    cancelled: Callable[[], bool]

    @property
    def question(self) -> Question:
        """The question that was answered."""
        return self.answered.question

    @property
    def counts(self) -> Counts:
        """Its answer."""
        return self.answered.counts

    def claims(self) -> Claims:
        """Return proof and alternatives."""
        head = f"{counted(self.units, 'rack unit')}, {_driven(self.silent, self.weak)}"
        if not self.question.groups:
            nothing = f"nothing to plan: no box waits for an output; {_in_use(self.units)}"
            says = head if self.linked or self.silent else nothing
            return Claims(Proof(proved=True, minimum_rack_units=self.units, condition="", says=says))
        if self.counts.answer.stopped:
            says = f"{head}; stopped before it was proved"
            return Claims(Proof(proved=False, minimum_rack_units=0, condition=ALWAYS, says=says))
        others = tuple(self._others(sum(group.count * group.weight for group in self.question.groups)))
        return Claims(self._proof(head, others), others)

    def _proof(self, head: str, others: tuple[Alternative, ...]) -> Proof:
        bare = self._bare()
        where = "with this stock" if self.question.building else "with what stands here"
        where += ", beside the runs that stay" if self.staying else ""
        if bare is not None and bare >= self.units:
            fewer_units = f"{_units(self.units - 1)} {'is' if self.units == 2 else 'are'}"
            impossible = f"; {fewer_units} impossible {where}" if self.units else ""
            return Proof(proved=True, minimum_rack_units=self.units, condition=ALWAYS, says=head + impossible)
        minimum = max(0, bare or 0)
        if not self.question.building:
            return Proof(
                proved=False,
                minimum_rack_units=minimum,
                condition=ALWAYS,
                says=f"{head}; none of them to be carried in",
            )
        proved = all(stage.proved for stage in self._reached(RACK_UNITS))
        if not proved:
            says = f"{head}: the best found; not proved, {minimum} may be enough"
            return Proof(proved=False, minimum_rack_units=minimum, condition=ALWAYS, says=says)
        condition = f"{ALWAYS}; {self._kept()}"
        fewer = [other for other in others if other.rack_units < self.units]
        says = head
        if fewer:
            says += f"; {_units(fewer[0].rack_units)} if {fewer[0].condition}"
            if minimum < fewer[0].rack_units:
                says += f" ({minimum} with boxes weak, unlike{self._hot()} or without preset)"
        else:
            says += (
                f"; {_units(self.units - 1)} only with boxes weak, unlike{self._hot()}, without preset or sides shared"
            )
        return Proof(proved=True, minimum_rack_units=self.units, condition=condition, says=says)

    def _hot(self) -> str:
        return ", on hot cable" if self.counts.hot else ""

    def _kept(self) -> str:
        """Say what the plan does not give up for fewer rack units."""
        kept = [
            "as many boxes driven, with as many presets, as much power and cable that bears it",
            "boxes of a zone driven alike",
        ]
        if self.question.two_sides:
            kept.append("each amplifier on one side, for as many zones as can be")
        groups = self.question.groups
        if any(group.is_mirrored for group in groups):
            kept.append("both sides of a zone on amplifiers that are alike")
        return "; ".join(kept)

    def _reached(self, name: str) -> tuple[Reached, ...]:
        reached = self.counts.answer.reached
        return reached[: reached.index(self.counts.answer.goal(name)) + 1]

    def _bare(self) -> int | None:
        """Compute the minimum of rack units for any plan that drives as much."""
        if self.answered.bare is None:
            return None
        return self.units - (self.counts.answer.goal(IN_USE).value - self.answered.bare)

    def _others(self, boxes: int) -> Iterator[Alternative]:
        """Work out what else could be had, where it is another plan at all."""
        question = self.question
        if question.building and question.two_sides and boxes <= MOST_SHARED:
            yield from self._fewer(
                SHARED,
                msgspec.structs.replace(question, mirrored=False),
                frozenset({SIDES}),
                "both sides share an amplifier",
                "one amplifier that fails silences both sides",
            )
        if boxes > MOST_COMPARED:
            return
        if question.building:
            yield from self._fewer(
                "unlike amplifiers",
                question,
                frozenset({ALIKE, HANDS}),
                "boxes of a zone are driven unlike",
                "boxes of one zone play unlike until each is trimmed",
            )
        if question.building and self.counts.hot:
            yield from self._fewer(
                "hot cable",
                question,
                frozenset({CURRENT}),
                "cables or plugs carry more than they are rated for",
                "contacts and insulation get hot, worst where cable lies coiled",
            )
        yield from self._apart()
        low = self.counts.answer.goal(PREFERRED).value
        if low and not question.preferred_first and question.building:
            yield from self._easier(low)
        yield from self._one_more()

    def _fewer(
        self, name: str, question: Question, without: frozenset[str], condition: str, risk: str
    ) -> Iterator[Alternative]:
        if self._fewest():
            return
        other = count(question, cancelled=self.cancelled, only=_up_to_units() - without)
        units = self._units(other)
        if not other.answer.stopped and units < self.units and not _lacks_more(other, self.counts):
            yield Alternative(name, units, 0, condition, risk, f"{_units(units)} if {condition}: {risk}")

    def _fewest(self) -> bool:
        """Tell whether it is known already that no plan which drives as much carries fewer rack units in."""
        carried = self.counts.answer.goal(RACK_UNITS).value
        nothing_there = all(source.is_new for source in self.question.sources)
        return carried == 0 or (nothing_there and self.answered.bare is not None and self.answered.bare >= carried)

    def _apart(self) -> Iterator[Alternative]:
        """Say what unlike amplifiers left and right would keep apart of the sides that share one."""
        if not self.counts.answer.goal(SIDES).value:
            return
        other = count(self.by_hand, cancelled=self.cancelled, only=_up_to_units() - {HANDS})
        # A side by itself counts otherwise than both sides as one group: both answers must be of one kind.
        alike = count(self.by_hand, cancelled=self.cancelled, only=_up_to_units())
        left, shared = (own.answer.goal(SIDES).value for own in (other, alike))
        if other.answer.stopped or alike.answer.stopped or left >= shared or _lacks_more(other, self.counts):
            return
        condition = "left and right hang on unlike amplifiers"
        risk = "left and right sound unlike until both are trimmed and set alike"
        of_them = "no amplifier carries both sides of a zone" if not left else "fewer boxes share with the other side"
        units = self._units(other)
        yield Alternative("sides apart", units, 0, condition, risk, f"{of_them} if {condition}: {risk}")

    def _units(self, other: Counts) -> int:
        return self.units + other.answer.goal(RACK_UNITS).value - self.counts.answer.goal(RACK_UNITS).value

    def _easier(self, low: int) -> Iterator[Alternative]:
        question = msgspec.structs.replace(self.question, preferred_first=True)
        other = count(question, cancelled=self.cancelled, until=RACK_UNITS)
        left = other.answer.goal(PREFERRED).value
        if not other.answer.stopped and left < low:
            ohm = format_value(self.preferred_ohm, "ohm")
            condition = f"{counted(left, 'output') if left else 'no output'} may be under {ohm}, in place of {low}"
            risk = "more to carry" if self._units(other) > self.units else "none that is known here"
            says = f"{_units(self._units(other))} if {condition}"
            yield Alternative("easier loads", self._units(other), 0, condition, risk, says)

    def _one_more(self) -> Iterator[Alternative]:
        """Say what one amplifier more would bring."""
        lacking = (SPARE, PREFERRED, LOSS)
        mine = [self.counts.answer.goal(name).value for name in lacking]
        if not self.question.building or not any(mine):
            return
        question = msgspec.structs.replace(self.question, fewest_amplifiers=_amplifiers(self.counts) + 1)
        other = count(question, cancelled=self.cancelled, only={MORE.name, *_up_to_units(), *lacking})
        if other.answer.stopped or self._units(other) <= self.units or _lacks_more(other, self.counts):
            return
        theirs = [other.answer.goal(name).value for name in lacking]
        words = ("an output stays free", "fewer outputs are under the preferred load", "less is lost in cable")
        better = [word for word, one, two in zip(words, theirs, mine, strict=True) if one < two]
        if better:
            says = f"{_units(self._units(other))} with one amplifier more: {' and '.join(better)}"
            yield Alternative(
                "one more amplifier", self._units(other), 0, "one amplifier more", "one more to carry", says
            )


def _up_to_units() -> set[str]:
    """Name the goals down to rack units."""
    names = [aim.name for aim in AIMS]
    return set(names[: names.index(RACK_UNITS) + 1])


def _amplifiers(counts: Counts) -> int:
    return counts.answer.goal("amplifiers in use").value


def _lacks_more(one: Counts, other: Counts) -> bool:
    """Tell whether an answer leaves more silent, without preset, weak or on hot cable, as far as it was asked."""
    names = {BOXES_DRIVEN, PRESETS, POWER, CURRENT} & {reached.name for reached in one.answer.reached}
    mine, theirs = ([stage.parts for stage in counts.answer.reached if stage.name in names] for counts in (one, other))
    return mine > theirs


def _driven(silent: int, weak: int) -> str:
    if silent:
        return f"{counted(silent, 'box')} left silent"
    return "all boxes driven" + (f", {weak} weakly" if weak else "")


def _units(number: int) -> str:
    return counted(number, "rack unit")


def _in_use(number: int) -> str:
    return f"{_units(number)} in use"
