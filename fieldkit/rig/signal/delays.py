"""Delays of zones: from distances or positions and the air, chained from zone to zone, and how weather moves them.

A zone is timed to another one: it waits for as long as that one's sound needs more to the listeners who hear
both. Where a zone would have to play before its reference, all that hangs together waits so that nobody does.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from fieldkit.formulas import delays
from fieldkit.formulas.figures import Apply, direct, given, traced
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Box, Zone

DEFAULT_SAMPLE_RATE_HZ = 48_000.0


class ZoneDelay(msgspec.Struct, frozen=True, gc=False):
    """The delay of one side of a zone."""

    zone: str
    side: str
    reference: str | None
    reference_m: float | None
    """From the reference to the listeners [m]; None where nothing is known of distances."""
    own_m: float | None
    precedence_s: float
    behind_s: float
    """Behind its reference [s], precedence included; below zero where the reference has to wait."""
    delay_s: float
    """To set [s], from 0 up, without what box and preset add."""
    by_hand: bool
    why: str
    guess_s: float | None = None
    """What would be set if its own boxes stood at the listeners [s]: a guess, so ``delay_s`` leaves it out."""


class DelayChange(msgspec.Struct, frozen=True, gc=False):
    """What another temperature does to the delay of one side of a zone."""

    zone: str
    side: str
    before_s: float
    after_s: float
    by_hand: bool

    @property
    def change_s(self) -> float:
        """What to add [s]; negative when the air has become warmer."""
        return self.after_s - self.before_s


def zone_delays(rig: Rig, temperature_c: float | None = None, *, trace: bool = False) -> tuple[ZoneDelay, ...]:
    """Work out the delay of every side of every zone, in the order of the show.

    ``temperature_c`` takes the place of the show's own. With ``trace`` each delay remembers where it came from.
    """
    warmth = rig.conditions.temperature_c if temperature_c is None else temperature_c
    work = _Work(rig, warmth, trace=trace)
    found = [work.own(zone, side) for zone in rig.show.zones for side in work.sides[zone.id]]
    return tuple(_shifted(found, rig.show.zones))


def delay_changes(rig: Rig, before_c: float, after_c: float) -> tuple[DelayChange, ...]:
    """Say what each delay is at one temperature and at another. Zones without any delay are left out."""
    before, after = zone_delays(rig, before_c), zone_delays(rig, after_c)
    return tuple(
        DelayChange(old.zone, old.side, old.delay_s, new.delay_s, old.by_hand)
        for old, new in zip(before, after, strict=True)
        if old.delay_s or new.delay_s
    )


def delays_by_side(rig: Rig) -> dict[tuple[str, str], ZoneDelay]:
    """Index the delays by zone and side, in the order of the show."""
    parts = (rig.conditions, rig.show.zones, standing(rig))
    found = rig.memory.once(("delays",), parts, lambda: {(item.zone, item.side): item for item in zone_delays(rig)})
    return rig.memory.same("delays by side", found)


def standing(rig: Rig) -> tuple[tuple[object, ...], ...]:
    """List where each box stands: its label, zone, side and position, and nothing else of it, to tell what moved."""
    return rig.memory.each("standing", rig.show.boxes, lambda box: (box.id, box.zone, box.side, box.position))


class _Work:
    """One pass over the zones: each side is worked out once, its reference first."""

    def __init__(self, rig: Rig, temperature_c: float, *, trace: bool) -> None:
        self._apply: Apply = traced if trace else direct
        self._trace = trace
        typed = rig.show.about.temperature
        where = f"[show], temperature '{typed}'" if typed else "not set in the show; 20 °C is taken"
        self._temperature_c = self._noted(temperature_c, "air temperature", "°C", where)
        self._zones = rig.show_index.zones
        self._references = {zone.timed_to for zone in rig.show.zones}
        self._boxes = rig.show_index.in_zone
        self.sides = {zone.id: _sides(zone, self._boxes[zone.id]) for zone in rig.show.zones}
        self._done: dict[tuple[str, str], ZoneDelay] = {}

    def _noted(self, value: float, label: str, unit: str, where: str) -> float:
        """Take a value of the show, with where it stands if anybody wants to know."""
        return given(value, label, unit, where) if self._trace else value

    def own(self, zone: Zone, side: str) -> ZoneDelay:
        """Compute the delay of one side against the start of its chain, which may still be below zero."""
        chain = [(zone, side)]  # the references of a zone, which never go in a circle; no recursion, however long
        while (chain[-1][0].id, chain[-1][1]) not in self._done and (name := chain[-1][0].timed_to) is not None:
            reference = self._zones[name]
            chain.append((reference, self._like(reference, chain[-1][1])))
        for item, its_side in reversed(chain):
            if (item.id, its_side) not in self._done:
                self._done[item.id, its_side] = self._one(item, its_side)
        return self._done[zone.id, side]

    def _like(self, zone: Zone, side: str) -> str:
        """Name the side of a reference that goes with a side: the one of that name, else its first."""
        return side if side in self.sides[zone.id] else self.sides[zone.id][0]

    def _one(self, zone: Zone, side: str) -> ZoneDelay:
        reference = self._zones[zone.timed_to] if zone.timed_to is not None else None
        distances = self._distances(zone, side, reference)
        chosen = zone.precedence.value if zone.precedence else 0.0
        offset = self._noted(chosen, "later by choice", "s", f"{zone.id}, precedence")
        if zone.delay is not None:
            return _by_hand(zone, side, distances, offset)
        if reference is None:
            why = "the reference of others" if zone.id in self._references else "timed to nothing"
            start = self._noted(offset, f"delay of {zone.id}", "s", why)
            return ZoneDelay(zone.id, side, None, None, None, offset, offset, start, by_hand=False, why=why)
        start = self._done[reference.id, self._like(reference, side)].delay_s
        if distances is None:
            why = f"timed to '{reference.id}', and the distances are not known"
            far_m = guess_s = None
            if zone.reference_distance is not None:
                far_m = zone.reference_distance.value
                guess_s = start + delays.alignment_delay(far_m, 0.0, self._temperature_c, offset)
                why = (
                    f"timed to '{reference.id}', {far_m:.2f} m away, and its own distance is not known: "
                    f"{1e3 * guess_s:.2f} ms guessed, as if its boxes stood at the listeners; not to be set"
                )
            return ZoneDelay(
                zone.id, side, reference.id, far_m, None, offset, offset, start + offset, False, why, guess_s
            )
        behind = self._apply(delays.alignment_delay, *distances, self._temperature_c, offset)
        return ZoneDelay(
            zone=zone.id,
            side=side,
            reference=reference.id,
            reference_m=distances[0],
            own_m=distances[1],
            precedence_s=offset,
            behind_s=behind,
            delay_s=start + behind,
            by_hand=False,
            why=f"timed to '{reference.id}', {distances[0]:.2f} m against {distances[1]:.2f} m",
        )

    def _distances(self, zone: Zone, side: str, reference: Zone | None) -> tuple[float, float] | None:
        """Find the ways of both sounds to the listeners [m]: as measured, else from positions."""
        if reference is None:
            return None
        if zone.reference_distance is not None and zone.own_distance is not None:
            return (
                self._noted(zone.reference_distance.value, "from the reference", "m", f"{zone.id}, reference_distance"),
                self._noted(zone.own_distance.value, "from the zone itself", "m", f"{zone.id}, own_distance"),
            )
        if zone.listeners is None:
            return None
        place = tuple(self._place(f"listeners of {zone.id}", zone.listeners.metres))
        far = self._nearest(reference, self._like(reference, side), place)
        if zone.reference_distance is not None:  # measured, with only the way from its own boxes left to positions
            far = self._noted(
                zone.reference_distance.value, "from the reference", "m", f"{zone.id}, reference_distance"
            )
        near = self._nearest(zone, side, place)
        return None if far is None or near is None else (far, near)

    def _nearest(self, zone: Zone, side: str, place: tuple[float, ...]) -> float | None:
        """Find the way from the nearest box of a side, which is heard first [m]."""
        ways = [
            self._apply(delays.distance_between, *self._place(box.id, box.position.metres), *place)
            for box in self._boxes[zone.id]
            if box.side == side and box.position is not None
        ]
        return min(ways, default=None)

    def _place(self, name: str, metres: tuple[float, float, float]) -> Iterator[float]:
        for axis, value in zip(("along", "across", "up"), metres, strict=True):
            yield self._noted(value, f"{name} {axis}", "m", f"{name}, position")


def _by_hand(zone: Zone, side: str, distances: tuple[float, float] | None, offset: float) -> ZoneDelay:
    value = zone.delay.value if zone.delay is not None else 0.0
    far, near = distances or (None, None)
    why = "set by hand, whatever the weather"
    return ZoneDelay(zone.id, side, zone.timed_to, far, near, offset, value, value, by_hand=True, why=why)


def _sides(zone: Zone, boxes: Sequence[Box]) -> tuple[str, ...]:
    """List the sides of a zone: those that have boxes and those that have a signal; one without a name at least."""
    return tuple(dict.fromkeys([*zone.signals, *(box.side for box in boxes)])) or ("",)


def _shifted(found: Sequence[ZoneDelay], zones: Sequence[Zone]) -> list[ZoneDelay]:
    """Let all that hangs together wait for as long as its most forward one would have to play ahead."""
    root = _roots(zones)
    earliest: dict[str, float] = {}
    for item in found:
        if not item.by_hand:
            earliest[root[item.zone]] = min(earliest.get(root[item.zone], 0.0), item.delay_s)
    result = []
    for item in found:
        wait = -earliest.get(root[item.zone], 0.0)
        if wait > 0.0 and not item.by_hand:
            why = f"{item.why}; {1e3 * wait:.2f} ms more, so that nobody has to play ahead"
            item = msgspec.structs.replace(item, delay_s=item.delay_s + wait, why=why)  # noqa: PLW2901
        result.append(item)
    return result


def _roots(zones: Sequence[Zone]) -> dict[str, str]:
    """Find for each zone the one that its chain of references starts at."""
    timed = {zone.id: zone.timed_to for zone in zones}
    roots: dict[str, str] = {}
    for zone in zones:
        way = [zone.id]
        while way[-1] not in roots and (other := timed[way[-1]]) is not None:
            way.append(other)
        roots.update(dict.fromkeys(way, roots.get(way[-1], way[-1])))
    return roots
