"""A judge of the chart, written from what it promises; no code of the product's but the reading of models.

It takes a pocket calculator's way: ohms and watts of the models, numbers of boxes counted up one by one, and for a whole
amplifier every way to spread them. What is on a limit to a millionth is not under it.
"""

from itertools import combinations_with_replacement, pairwise
from math import log10, sqrt

FREE = 0.98
"""A sheet's 2.7 ohm means three boxes of 8 ohm."""
HALF = 0.5
"""Of the continuous rating: what an output must be able to give a section at its limit."""
NEAR = 1e-6


def si(measure):
    return None if measure is None else float(measure.value)


def under(value, limit):
    return value < limit * (1 - NEAR)


def minimum_ohm(amplifier, mode):
    def table(*, bridged):
        its = [item for item in amplifier.powers if item.bridged == bridged]
        marked = [si(item.load) for item in its if item.minimum]
        return (marked or [min(si(item.load) for item in its)])[0] if its else None

    single = table(bridged=False)
    if mode == "bridged":
        return table(bridged=True) or 2 * single
    return single / 2 if mode == "paralleled" else single


def volts(amplifier, mode, ohm):
    """Volts over amps through the rated points; flat above the highest load, constant current below the lowest."""
    bridged = [item for item in amplifier.powers if item.bridged]
    table, times, load = [item for item in amplifier.powers if not item.bridged], 1, ohm
    if mode == "bridged" and bridged:
        table = bridged
    elif mode == "bridged":
        times, load = 2, ohm / 2  # each side sees half of the load
    elif mode == "paralleled":
        load = 2 * ohm
    points = sorted((sqrt(si(p.power) / si(p.load)), sqrt(si(p.power) * si(p.load)), si(p.load)) for p in table)
    points.sort(key=lambda point: -point[2])
    if load >= points[0][2]:
        return times * points[0][1]
    for (amps0, volts0, ohm0), (amps1, volts1, ohm1) in pairwise(points):
        if ohm0 > load >= ohm1:
            # Where the straight line between both points has this load: V0 + t dV = Z (I0 + t dI).
            part = (load * amps0 - volts0) / ((volts1 - volts0) - load * (amps1 - amps0))
            return times * (volts0 + part * (volts1 - volts0))
    return times * points[-1][0] * load


def counted_ohm(section):
    """A minimum under 80 % of the rating counts as a box of minimum / 0.8 (IEC 60268-5)."""
    rated, lowest = si(section.impedance), si(section.minimum)
    return rated if lowest is None or lowest >= 0.8 * rated else lowest / 0.8


def rating_ohm(section):
    """The impedance that the watts of a rating went through."""
    if section.rated_at is not None:
        return si(section.rated_at)
    if section.rating in ("aes2", "unknown") and section.minimum is not None:
        return min(si(section.minimum), si(section.impedance))
    return si(section.impedance)


def preset_of(speaker, section, use):
    order = [use, "any"]
    if section.section == "sub":
        order.insert(0, "wedge" if use.startswith("wedge") else "full range")
    its = [preset for name in section.presets for preset in speaker.presets if preset.id == name]
    return next((preset for wanted in order for preset in its if wanted in preset.uses), None)


def pairs_of(speaker, drive):
    found = {}
    for section in speaker.sections:
        if section.drive == drive:
            found.setdefault(section.pair, []).append(section)
    return [found[pair] for pair in sorted(found)]


def takes(hosts, speaker):
    return hosts is not None and ("any" in hosts.presets or speaker.id in hosts.presets)


class Judge:
    """One amplifier and mode with one box in one drive and use."""

    def __init__(self, amplifier, mode, speaker, drive, use, processors, loop_ohm=0.0):
        self.amplifier, self.mode, self.speaker, self.drive, self.use = amplifier, mode, speaker, drive, use
        self.pairs = pairs_of(speaker, drive)
        self.loop_ohm = loop_ohm
        self.inside = takes(amplifier.hosts, speaker)
        self.outside = not self.inside and any(takes(item.hosts, speaker) for item in processors)
        self.with_preset = any(preset_of(speaker, section, use) for its in self.pairs for section in its)

    def preset(self):
        if not self.with_preset:
            return "none"
        return "hosted" if self.inside else "processor" if self.outside else "none"

    def load(self, sections, count):
        return 1 / sum(count / si(section.impedance) for section in sections)

    def terminal(self, sections, count):
        """Volts at the terminals into boxes behind the cable."""
        return volts(self.amplifier, self.mode, self.load(sections, count) + self.loop_ohm)

    def at_box(self, sections, count):
        load = self.load(sections, count)
        return self.terminal(sections, count) * load / (load + self.loop_ohm)

    def demand(self, count):
        """Watts that one place asks of a common supply."""
        return sum(self.terminal(its, count) ** 2 / (self.load(its, count) + self.loop_ohm) for its in self.pairs)

    def share(self, count):
        """Of the continuous rating, what the section gets that is worst off."""
        found = [
            self.at_box(its, count) ** 2 / rating_ohm(section) / si(section.continuous)
            for its in self.pairs
            for section in its
            if section.continuous is not None
        ]
        return min(found, default=float("inf"))

    def thermal_v(self, sections):
        found = []
        for section in sections:
            if section.continuous is None:
                continue
            preset = preset_of(self.speaker, section, self.use)
            watts = si(section.continuous) / 10**0.3  # 3 dB less where no preset's limiter stands behind it
            if preset is not None and preset.limiter is not None and (self.inside or self.outside):
                watts = min(si(preset.limiter), si(section.continuous))
            found.append(sqrt(watts * rating_ohm(section)))
        return min(found, default=None)

    def sag(self, demand):
        """How far a common supply lets the volts of all outputs sag."""
        limit = si(self.amplifier.supply_limit)
        return 1.0 if limit is None or demand <= limit else sqrt(limit / demand)

    def amps(self, sections, count, sag):
        """Through the connector: at full output, or at the limiter's threshold where something can hold one."""
        full, ohm = self.terminal(sections, count) * sag, self.load(sections, count) + self.loop_ohm
        thermal = self.thermal_v(sections)
        held = (self.inside or self.outside) and thermal is not None
        return (min(full, thermal) if held else full) / ohm

    def against(self, counts):
        """Reasons against so many boxes on each place, all at the same time."""
        found = set()
        sag = self.sag(sum(self.demand(count) for count in counts))
        rated_a = si(self.amplifier.connector_current)
        for count in counts:
            for its in self.pairs:
                ohm = 1 / sum(count / counted_ohm(section) for section in its)
                if under(ohm, FREE * minimum_ohm(self.amplifier, self.mode)):
                    found.add("minimum-load")
                if rated_a is not None and under(rated_a, self.amps(its, count, sag)):
                    found.add("current")
            if under(self.share(count) * sag**2, HALF):
                found.add("supply" if sag < 1 else "clean-power")
        return found

    def most_on_output(self):
        """Count up as long as nothing is against it; a later number may be allowed again, so go on for a while."""
        if not self.places():
            return 0  # not all its sections are fed
        allowed = [n for n in range(1, 41) if not self.against([n])]
        return max(allowed, default=0)

    def places(self):
        outputs = self.amplifier.channels // (1 if self.mode == "single" else 2)
        hosts = self.amplifier.hosts
        if self.inside and self.with_preset and hosts.slots:
            outputs = min(outputs, hosts.slots)
        return outputs // len(self.pairs)

    def most_on_amplifier(self):
        most, places = self.most_on_output(), self.places()
        if not most or not places:
            return 0
        if not self.against([most] * places):
            return most * places
        spreads = (spread for spread in combinations_with_replacement(range(most + 1), places) if any(spread))
        return max((sum(s) for s in spreads if not self.against([n for n in s if n])), default=0)

    def most_preferred(self, preferred_ohm):
        """Each channel of a pair sees half of a bridged load, and twice a paralleled one."""
        part = {"single": 1.0, "bridged": 0.5, "paralleled": 2.0}[self.mode]
        most = self.most_on_output()
        fine = [
            n
            for n in range(1, most + 1)
            if not any(
                under(part / sum(n / counted_ohm(section) for section in its), FREE * preferred_ohm)
                for its in self.pairs
            )
        ]
        return max(fine, default=0)

    def headroom_db(self, count):
        count = max(1, count)
        return 10 * log10(self.share(count) * self.sag(self.demand(count)) ** 2)

    def clean_w(self, sections, count):
        """Noise whose peaks are twice its rms clips when it averages half of a sine at the same limit."""
        section = sections[0]
        return self.at_box(sections, count) ** 2 / si(section.impedance) / 2

    def limited_w(self, sections, count):
        """Only a limiter of the amplifier's own holds anything, and only where each preset brings one."""
        presets = [preset_of(self.speaker, section, self.use) for section in sections]
        if not self.inside or any(item is None or item.limiter is None for item in presets):
            return None
        holds = min(sqrt(si(p.limiter) * rating_ohm(s)) for p, s in zip(presets, sections, strict=True))
        sag = self.sag(self.demand(count))
        at_box = min(holds, self.terminal(sections, count) * sag) * (
            self.load(sections, count) / (self.load(sections, count) + self.loop_ohm)
        )
        return at_box**2 / si(sections[0].impedance)
