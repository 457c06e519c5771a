"""An integer programme of its own for small shows, written from what is wanted of a plan; no code of the planner.

Each amplifier of the stock is itself here, not one of a number that are alike: for each of its connectors one use is
chosen, and for each place of that use so many boxes of one zone, side and model. Solved goal by goal with scipy.

What a connector offers: a box goes onto its pairs; where an adaptor that exchanges the pairs is left, boxes may hang on
the second pair at the plug, or a second lot hangs behind a first one that links on. A panel at the end of a multicore
takes each of four pairs to a socket. An output carries boxes of one model, zone and side, not under its minimum load
(2 % of tolerance). Its volts lie on straight lines over current between its ratings; 0.5 dB is left in the cable.
"""

import random
from collections import Counter, defaultdict
from math import sqrt
from typing import NamedTuple

import numpy as np

LAYOUTS = {
    "pairs": {"A": {"1": "1", "2": "2"}},
    "pair-and-plug": {"A": {"1": "1", "2": "2"}, "B": {"1": "2"}},
    "two-pairs": {"A": {"1": "1", "2": "2"}, "B": {"1": "3", "2": "4"}},
    "plugs": {"A": {"1": "1"}, "B": {"1": "2"}, "C": {"1": "3"}, "D": {"1": "4"}},
    "bridge": {"A": {"1": "1"}, "B": {"1": "2"}, "C": {"1": "1+2"}},
    "bridges": {"A": {"1": "1", "2": "2"}, "B": {"1": "3", "2": "4"}, "C": {"1": "1+2"}, "D": {"1": "3+4"}},
    "multicore": {"M": {"1": "1", "2": "2", "3": "3", "4": "4"}},
}
SPEAKERS = {
    "top": {"passive": [("full", 1, 8.0, 300.0)]},
    "light": {"passive": [("full", 1, 16.0, 120.0)]},
    "sub": {"passive": [("sub", 1, 8.0, 700.0)]},
    "heavy": {"passive": [("sub", 1, 4.0, 900.0)]},
    "two-way": {"bi-amp": [("low", 1, 8.0, 300.0), ("high", 2, 16.0, 60.0)]},
}


class Amp(NamedTuple):
    """A model of amplifier."""

    name: str
    layout: str
    units: int
    watts: float
    """Into 8 ohm."""
    minimum_ohm: float

    def ratings(self, *, bridged):
        """Loads and powers, the highest load first."""
        if bridged:
            return (
                [(8.0, 3.4 * self.watts)]
                if self.minimum_ohm > 2.5
                else [(8.0, 3.4 * self.watts), (4.0, 5.0 * self.watts)]
            )
        loads = [(8.0, self.watts), (4.0, 1.8 * self.watts), (2.0, 2.9 * self.watts)]
        return [rating for rating in loads if rating[0] >= self.minimum_ohm - 0.1]

    @property
    def pins(self):
        return LAYOUTS[self.layout]

    @property
    def channels(self):
        return max(int(c) for pins in self.pins.values() for names in pins.values() for c in names.split("+"))

    def volts(self, ohm, *, bridged):
        points = [(sqrt(p / z), sqrt(p * z)) for z, p in self.ratings(bridged=bridged)]
        loads = [z for z, _ in self.ratings(bridged=bridged)]
        if ohm >= loads[0]:
            return points[0][1]
        for place in range(1, len(loads)):
            if ohm >= loads[place]:
                (i1, v1), (i2, v2) = points[place - 1], points[place]
                slope = (v2 - v1) / (i2 - i1) if i2 != i1 else 0.0
                return (v1 - slope * i1) / (1.0 - slope / ohm)
        return points[-1][0] * ohm


def is_weak(volts, ohm, watts):
    """Tell whether a section gets less than half of its watts, with 0.5 dB left in the cable."""
    return volts**2 / ohm / 10**0.05 < 0.5 * watts


class Lot(NamedTuple):
    """Boxes alike: one zone, side, model."""

    zone: str
    side: str
    model: str
    boxes: int
    priority: int


class Task(NamedTuple):
    lots: list[Lot]
    stock: dict[Amp, int]
    crossings: int
    panels: int


def task_of(seed):
    """Make a task at random: unlike sides, mono zones, several models a side, few plugs, few crossings."""
    dice = random.Random(seed)
    lots = []
    for number in range(dice.randint(1, 4)):
        zone = f"zone-{number}"
        priority = dice.randint(1, 3)
        sides = dice.choice((["left", "right"], ["left", "right"], ["all"]))
        models = dice.sample(sorted(SPEAKERS), dice.choice((1, 1, 2)))
        like = dice.random() < 0.6
        counts = {model: dice.randint(1, 3) for model in models}
        for side in sides:
            for model in models:
                boxes = counts[model] if like else dice.randint(0, 3)
                if boxes:
                    lots.append(Lot(zone, side, model, boxes, priority))
    stock = {}
    for number in range(dice.randint(1, 3)):
        layout = dice.choice(sorted(LAYOUTS))
        minimum = dice.choice((2.0, 4.0, 8.0)) if "bridge" not in layout else dice.choice((2.0, 4.0))
        amp = Amp(f"amp-{number}", layout, dice.randint(1, 3), dice.choice((150.0, 400.0, 900.0)), minimum)
        stock[amp] = dice.randint(1, 3)
    return Task(lots or [Lot("zone-0", "all", "top", 1, 1)], stock, dice.choice((0, 0, 1, 2)), dice.choice((0, 1, 2)))


def show_of(task):
    """Write a task as a show, as plain tables."""
    zones, boxes = {}, []
    for lot in task.lots:
        zone = zones.setdefault(lot.zone, {"id": lot.zone, "priority": lot.priority, "low_end_from": [], "signals": {}})
        zone["signals"][lot.side] = f"{lot.zone} {lot.side}"
        for _ in range(lot.boxes):
            boxes.append({"id": f"B{len(boxes) + 1}", "model": lot.model, "zone": lot.zone, "side": lot.side})
    near = sorted(zones)
    for zone in zones.values():
        zone["near"] = [name for name in near if name != zone["id"]]
        if len(zone["signals"]) == 1 and boxes:
            zone["signals"] = dict(zone["signals"])
    speakers = [
        {
            "id": name,
            "connector": "4-pole",
            "sections": [
                {
                    "drive": drive, "section": section, "pair": pair, "impedance": f"{ohm} ohm",
                    "continuous": f"{watts} W", "presets": [f"{section}-any"],
                }
                for section, pair, ohm, watts in sections
            ],
            "presets": [
                {"id": f"{section}-any", "uses": ["any"], "high_pass": "50 Hz", "limiter": f"{watts} W"}
                for section, _, _, watts in sections
            ],
        }
        for name, drives in SPEAKERS.items()
        for drive, sections in drives.items()
    ]  # fmt: skip
    amplifiers = []
    for amp in task.stock:
        kinds = (False, True) if "bridge" in amp.layout else (False,)
        powers = [
            {"load": f"{z} ohm", "power": f"{p} W"}
            | ({"bridged": True} if bridged else {})
            | ({"minimum": True} if last else {})
            for bridged in kinds
            for z, p, last in [
                (z, p, (z, p) == amp.ratings(bridged=bridged)[-1]) for z, p in amp.ratings(bridged=bridged)
            ]
        ]
        amplifiers.append(
            {
                "id": amp.name, "channels": amp.channels, "units": amp.units, "powers": powers, "gain": "32 dB",
                "connectors": amp.pins, "hosts": {"presets": ["any"]},
            }
        )  # fmt: skip
    panel = {
        "id": "breakout", "connector": "8-pole", "socket_connector": "4-pole",
        "sockets": {"A": {"1": "1"}, "B": {"2": "1"}, "C": {"3": "1"}, "D": {"4": "1"}},
    }  # fmt: skip
    cables = [
        {"id": "four-core", "cores": 4, "area": "2.5 mm²", "connectors": ["4-pole", "4-pole"]},
        {"id": "eight-core", "cores": 8, "area": "2.5 mm²", "connectors": ["8-pole", "8-pole"]},
    ]
    crossing = {"id": "crossing", "connectors": ["4-pole", "4-pole"], "pins": {"1": "2", "2": "1"}}
    stock = [{"model": amp.name, "owned": number} for amp, number in task.stock.items()]
    stock += [{"model": "crossing", "owned": task.crossings}, {"model": "breakout", "owned": task.panels}]
    stock += [{"model": cable["id"], "length": "30 m", "owned": 40} for cable in cables]
    return {
        "format": 2, "loudspeakers": speakers, "amplifiers": amplifiers, "panels": [panel], "cables": cables,
        "adaptors": [crossing], "stock": stock, "zones": list(zones.values()), "boxes": boxes,
    }  # fmt: skip


class Use(NamedTuple):
    """One way to use a connector."""

    places: tuple[dict[str, str], ...]
    """For each place: pair at the box -> output."""
    crossings: int
    panels: int


def uses_of(pins):
    """List the uses of one connector."""
    if len(pins) == 4:
        return [Use(tuple({"1": out} for out in pins.values()), 0, 1)]
    found = [Use(({"1": pins["1"]},), 0, 0)]
    if "2" in pins:
        found += [
            Use(({"1": pins["1"], "2": pins["2"]},), 0, 0),
            Use(({"1": pins["2"]},), 1, 0),
            Use(({"1": pins["1"]}, {"1": pins["2"]}), 1, 0),
        ]
    return found


class Optimum(NamedTuple):
    silent: tuple[int, ...]
    weak: tuple[int, ...]
    kinds: int
    unlike: tuple[int, ...]
    """Models of amplifier that serve one side of a zone and not the other, by priority."""
    shared: int
    """Amplifiers that carry both sides."""
    units: int


class Programme:
    """The integer programme of one task."""

    def __init__(self, task):
        self.task = task
        self.rows, self.low, self.high = [], [], []
        self.number = 0
        amps = [(amp, n) for amp, count in task.stock.items() for n in range(count)]
        self.used = [self._new() for _ in amps]
        crossings, panels = {}, {}
        driven = [{} for _ in task.lots]
        self.weak = [{} for _ in task.lots]
        kinds = defaultdict(dict)
        on = defaultdict(dict)
        by_model = defaultdict(lambda: defaultdict(dict))
        for at, (amp, _) in enumerate(amps):
            channels = defaultdict(dict)
            for pins in amp.pins.values():
                chosen = {}
                for use in uses_of(pins):
                    use_column = self._new()
                    chosen[use_column] = 1
                    crossings[use_column], panels[use_column] = use.crossings, use.panels
                    for feeds in use.places:
                        filled = {}
                        for index, lot in enumerate(task.lots):
                            for boxes in range(1, lot.boxes + 1):
                                fits = self._fits(amp, lot, feeds, boxes)
                                if fits is None:
                                    continue
                                column = self._new()
                                filled[column] = 1
                                driven[index][column] = boxes
                                if fits:
                                    self.weak[index][column] = boxes
                                modes = tuple("+" in out for out in feeds.values())
                                kinds[lot.zone, lot.model, modes][column] = 1
                                on[lot.zone, lot.side, at][column] = 1
                                by_model[lot.zone, lot.model, amp.name][lot.side][column] = 1
                                for out in feeds.values():
                                    for channel in out.split("+"):
                                        channels[channel][column] = 1
                        self._row(filled | {use_column: -1}, -np.inf, 0)
                self._row(chosen | {self.used[at]: -1}, -np.inf, 0)
            for own in channels.values():
                self._row(own, -np.inf, 1)
        self._row(crossings, -np.inf, task.crossings)
        self._row(panels, -np.inf, task.panels)
        self.driven = driven
        for index, lot in enumerate(task.lots):
            self._row(driven[index], 0, lot.boxes)
        # Where there is one way only to drive boxes alike, nothing is counted.
        ways = Counter((zone, model) for zone, model, _ in kinds)
        self.choosable = {key for key, number in ways.items() if number > 1}
        self.kinds = [self._any(own) for (zone, model, _), own in kinds.items() if (zone, model) in self.choosable]
        # An amplifier stands on one side: it carries left or right, of whichever zones that have both.
        hands = Counter(zone for zone, _ in {(lot.zone, lot.side) for lot in task.lots})
        self.shared = []
        for at in range(len(amps)):
            sides = [
                [
                    c
                    for (zone, hand, amp), own in on.items()
                    if (hand, amp) == (side, at) and hands[zone] > 1
                    for c in own
                ]
                for side in ("left", "right")
            ]
            if all(sides):
                both = self._new()
                left, right = map(self._any, sides)
                self._row({left: 1, right: 1, both: -1}, -np.inf, 1)
                self.shared.append(both)
        self.unlike = self._unlike(by_model)
        self.units = {column: amp.units for column, (amp, _) in zip(self.used, amps, strict=True)}

    def _unlike(self, by_model):
        """Say of each model of amplifier, by priority, whether it serves one side of a zone and not the other."""
        found = defaultdict(list)
        for (zone, model, _), of_sides in by_model.items():
            mine = {lot.side: lot.priority for lot in self.task.lots if (lot.zone, lot.model) == (zone, model)}
            if len(mine) > 1:
                left, right = ([self._any(of_sides[side])] if of_sides[side] else [] for side in ("left", "right"))
                for one, other in ((left, right), (right, left)):
                    only = self._new()
                    self._row(dict.fromkeys(one, 1) | dict.fromkeys((*other, only), -1), -np.inf, 0)
                    found[mine["left"]].append(only)
        return found

    def _new(self):
        self.number += 1
        return self.number - 1

    def _row(self, terms, low, high):
        if terms:
            self.rows.append(terms)
            self.low.append(low)
            self.high.append(high)

    def _any(self, columns):
        marker = self._new()
        for column in columns:
            self._row({column: 1, marker: -1}, -np.inf, 0)
        self._row({marker: 1} | dict.fromkeys(columns, -1), -np.inf, 0)
        return marker

    @staticmethod
    def _fits(amp, lot, feeds, boxes):
        """Tell whether so many boxes are weak there; None where they cannot hang there."""
        (sections,) = SPEAKERS[lot.model].values()
        if {str(pair) for _, pair, _, _ in sections} != set(feeds):
            return None
        weak = False
        for _, pair, ohm, watts in sections:
            bridged = "+" in feeds[str(pair)]
            load = ohm / boxes
            if load < 0.98 * amp.ratings(bridged=bridged)[-1][0]:
                return None
            weak = weak or is_weak(amp.volts(load, bridged=bridged), ohm, watts)
        return weak

    def least(self, terms):
        """Bring a sum to its least, and keep it there."""
        goal = np.zeros(self.number)
        for column, factor in terms.items():
            goal[column] += factor
        matrix = np.zeros((len(self.rows), self.number))
        for number, row in enumerate(self.rows):
            for column, factor in row.items():
                matrix[number, column] = factor
        from scipy.optimize import Bounds, LinearConstraint, milp  # a second to import

        answer = milp(
            goal, constraints=LinearConstraint(matrix, self.low, self.high),
            integrality=np.ones(self.number), bounds=Bounds(0, 1),
        )  # fmt: skip
        assert answer.success
        value = round(answer.fun)
        self._row(terms, value, value)
        return value

    def priorities(self):
        return sorted({lot.priority for lot in self.task.lots})

    def least_silent(self):
        silent = []
        for priority in self.priorities():
            mine = [n for n, lot in enumerate(self.task.lots) if lot.priority == priority]
            most = sum(self.task.lots[n].boxes for n in mine)
            terms = {column: -boxes for n in mine for column, boxes in self.driven[n].items()}
            silent.append(most + self.least(terms) if terms else most)
        return tuple(silent)

    def least_weak(self):
        found = []
        for priority in self.priorities():
            mine = [n for n, lot in enumerate(self.task.lots) if lot.priority == priority]
            terms = {column: boxes for n in mine for column, boxes in self.weak[n].items()}
            found.append(self.least(terms) if terms else 0)
        return tuple(found)


def least_unlike(programme):
    return tuple(
        programme.least(dict.fromkeys(own, 1)) if (own := programme.unlike[priority]) else 0
        for priority in programme.priorities()
    )


def optimum(task, *, sides=True):
    """Solve a task, goal by goal."""
    programme = Programme(task)
    silent, weak = programme.least_silent(), programme.least_weak()
    kinds = programme.least(dict.fromkeys(programme.kinds, 1)) if programme.kinds else 0
    unlike = least_unlike(programme)
    shared = programme.least(dict.fromkeys(programme.shared, 1)) if sides and programme.shared else 0
    return Optimum(silent, weak, kinds, unlike, shared, programme.least(programme.units))


def fewest_units(task):
    """Say how few rack units drive as much, whatever else is given up."""
    programme = Programme(task)
    programme.least_silent()
    return programme.least(programme.units)
