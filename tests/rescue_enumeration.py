"""Every way to get over a loss in a few moves, tried one by one on the physical rig of ``failing_rigs``.

Written from the requirements, and shares no code with the program's search: shows as plain dictionaries, sockets and
plugs by their pins, what may be live by ``Plugged.errors``. A move is: a silent plug into another socket (through an
adaptor of the stock, its input patched), into the link socket of a box of its zone that plays, or fed anew where it
is: from a free processor output, from the desk. What plays gives way only to what comes before it, or is moved on.
Left out: pairs of channels set otherwise, spares, Y-leads; a plan may do better by those.
"""

import copy
import itertools
from collections import defaultdict
from fractions import Fraction
from typing import NamedTuple

from failing_rigs import Gone, Plugged, channels_of, table


class Tried(NamedTuple):
    """The best of all ways that were tried."""

    silent: tuple[Fraction, ...]
    """Boxes by rank of their zone."""
    moves: int
    tried: int


class Enumeration:
    """Tries every way to get over one loss."""

    def __init__(self, show, lost, ranks, most, *, far=()):
        """``ranks`` gives each zone its turn, 0 first; ``far`` names zones that no lead from others reaches."""
        self.show, self.lost, self.ranks, self.most, self.far = show, lost, ranks, most, set(far)
        rig = Plugged(show)
        self.gone = Gone(rig, [lost])
        self.ill = {frozenset(self._on(rig, output)): set(rig.errors(output)) for output in list(rig.outputs)}
        self.torn = self._torn(rig, rig.outputs)
        self.parts = {part_of(fed) for feds in rig.outputs.values() for fed in feds}
        self.counts = defaultdict(int)
        for name, *_ in self.parts:
            self.counts[name] += 1
        self.zones = {item["id"]: item["zone"] for item in show["boxes"]}
        heard = {part: rig.heard(rig.source(output)) for output, part in self._fed(rig)}
        self.well_fed = {
            part for part, signals in heard.items() if not self.due(part[0]) or self.due(part[0]) in signals
        }
        self.at_home = {part: output for output, part in self._fed(rig)}
        self.source = {part: rig.source(output) for output, part in self._fed(rig)}
        self.hosted = {part for output, part in self._fed(rig) if rig.host(output)[1]}
        self.tried = 0

    @staticmethod
    def _fed(rig):
        return [(output, part_of(fed)) for output, feds in rig.outputs.items() for fed in feds]

    def due(self, name):
        box = next(box for box in self.show["boxes"] if box["id"] == name)
        zone = next(zone for zone in self.show["zones"] if zone["id"] == box["zone"])
        return zone.get("signals", {}).get(box.get("side", ""), "")

    # ---- what is heard, and what must not be ---------------------------------------------------------------------

    def live(self, rig):
        return [o for o in list(rig.outputs) if not self.gone.output(o) and not self._cut(rig, o)]

    def _cut(self, rig, output):
        source = rig.source(output)
        name, _, number = source.partition(".")
        if rig.is_processor(name) and name not in self.gone.units and rig.units[name].get("routes", {}).get(number):
            return self.gone.output(source) or Gone(rig, [self.lost]).source(source)
        return self.gone.source(source)

    def silent(self, show):
        """Count the boxes that say nothing, by rank."""
        rig = Plugged(show)
        heard = {part for output in self.live(rig) for part in self._on(rig, output)}
        found = [Fraction(0)] * (max(self.ranks.values()) + 1)
        for part in self.parts - heard:
            found[self.ranks[self.zones[part[0]]]] += Fraction(1, self.counts[part[0]])
        return tuple(found)

    @staticmethod
    def _on(rig, output):
        return [part_of(fed) for fed in rig.outputs[output]]

    def legal(self, show):
        """Tell whether nothing that is live is wrong, but for what hung so on some output before."""
        self.tried += 1
        rig = Plugged(show)
        live = self.live(rig)
        channels = [channel for output in live for channel in channels_of(output)]
        if len(set(channels)) < len(channels) or self._torn(rig, live) - self.torn:
            return False
        return all(self._is_fair(rig, output, self._on(rig, output)) for output in live)

    def _is_fair(self, rig, output, parts):
        known = self.ill.get(frozenset(parts))
        if set(rig.errors(output)) - (known or set()):
            return False
        if len({fed.name for fed in rig.outputs[output]}) > 1 and known is None:
            return False  # what the show has unlike on an output is left as it is, and nothing comes to it
        stays = any(self.at_home.get(part) == output for part in parts)
        if not rig.host(output)[1] and self.hosted & set(parts) and not stays:
            return False  # without its preset only what stays, straight from the desk, and what joins that
        wanted = {self.due(part[0]) for part in parts if part in self.well_fed}
        heard = {text.removesuffix(" for subs") for text in rig.heard(rig.source(output))}
        return not wanted or "" in wanted or bool(wanted & heard)

    def _torn(self, rig, outputs):
        """Name the processor outputs that hold unlike presets."""
        holds = defaultdict(set)
        for output in outputs:
            host = rig.host(output)[0]
            if rig.is_processor(host.partition(".")[0]):
                holds[host].add(frozenset(fed.name for fed in rig.outputs[output]))
        return {host for host, names in holds.items() if len(names) > 1}

    # ---- the moves -----------------------------------------------------------------------------------------------

    def best(self):
        """Try all ways of up to so many moves."""
        self.found = (self.silent(self.show), 0)
        begun = {start for start, parts in self.plugs(self.show).items() if self._is_silent(self.show, parts)}
        self._go(self.show, sorted(begun, key=self._turn), self.most)
        return Tried(*self.found, self.tried)

    def _turn(self, start):
        return self.rank(self.show, start), start

    def plugs(self, show):
        found = defaultdict(list)
        rig = Plugged(show)
        runs = {run["id"]: run["from"] for run in show["runs"]}
        for output, feds in rig.outputs.items():
            for fed in feds:
                found[runs[fed.run]].append((output, fed))
        return found

    def rank(self, show, start):
        return min(self.ranks[self.zones[b]] for run in show["runs"] if run["from"] == start for b in boxes_of(run))

    def _is_silent(self, show, feds):
        rig = Plugged(show)
        live = set(self.live(rig))
        return any(output not in live for output, _ in feds)

    def _go(self, show, waiting, left):
        score = (self.silent(show), self.most - left)
        if not any(run.get("waits") == "must" for run in show["runs"]):
            self.found = min(self.found, score)
        if not left or not waiting:
            return
        start, *rest = waiting
        best_left = self.silent(show)
        if not any(best_left):
            return
        if not any(r.get("waits") == "must" and r.get("was") == start for r in show["runs"]):
            self._go(show, rest, left)
        for after, more in self._placed(show, start):
            if self.legal(after):
                self._go(after, [*rest, *more], left - 1)

    def _runs(self, show, start):
        return [run for run in show["runs"] if run["from"] == start or run.get("was") == start]

    def _placed(self, show, start):
        """Give every show in which a plug has found another place, with the plugs that had to make room."""
        runs = self._runs(show, start)
        if not runs:
            return
        yield from self._fed_anew(show, start)
        for run in runs:
            if len(runs) == 1 or any("panel" in step and step.get("shared") for step in run["path"]):
                # Out of a stage box each lead by itself: the others wait on.
                yield from ((after, [start] if len(runs) > 1 else []) for after, _ in self._joined(show, run))
        rig = Plugged(show)
        wanted = {part for run in runs for part in self._parts_of(run)}
        mine = min(self.ranks[self.zones[box]] for run in runs for box in boxes_of(run))
        for socket, shape, wired in self.sockets(rig):
            if socket == start or not self.reaches(socket, runs, rig):
                continue
            for adaptor in ("", *self.adaptors()):
                if not self.fits(runs[0], shape, adaptor):
                    continue
                after, more = self._pulled_for(show, socket, runs, mine, adaptor, start)
                if after is None:
                    continue
                then = Plugged(after)
                its = {run["id"] for run in runs}
                landed = [(o, part_of(f)) for o, feds in then.outputs.items() for f in feds if f.run in its]
                if {part for _, part in landed} != wanted or any(set(channels_of(o)) & wired for o, _ in landed):
                    continue
                if any(self.gone.output(output) for output, _ in landed):
                    continue
                yield from ((done, more) for done in self._sources(after, landed))
                if not adaptor:
                    break

    def _parts_of(self, run):
        return {part for part in self.parts if part[0] in boxes_of(run)}

    def _pulled_for(self, show, socket, runs, mine, adaptor, start):
        """Plug in, and pull what is there or on its channels; None where something there must not give way."""
        after = copy.deepcopy(show)
        names = {run["id"] for run in runs}
        rig = Plugged(show)
        channels = {c for output in rig.pins(socket).values() for c in channels_of(output)}
        there = {run["from"] for run in show["runs"] if run["from"] == socket and run["id"] not in names}
        for other, feds in self.plugs(show).items():
            used = {c for output, fed in feds for c in channels_of(output) if fed.run not in names}
            if used & channels:
                there.add(other)
        more = []
        for other in sorted(there):
            theirs = self.rank(show, other)
            if theirs < mine or not self.near(start, socket):
                return None, None
            for run in after["runs"]:
                if run["from"] == other and run["id"] not in names:
                    run |= {"from": "", "was": other, "waits": "must" if theirs == mine else "may"}
            more.append(other)
        for run in after["runs"]:
            if run["id"] in names:
                path = [{"adaptor": adaptor}, *run["path"]] if adaptor else run["path"]
                run |= {"from": socket, "path": path, "waits": "", "was": ""}
        return after, more

    def _sources(self, show, landed):
        """Give the show with each way to feed what has landed on these outputs."""
        rig = Plugged(show)
        choices = []
        for output in dict.fromkeys(output for output, _ in landed):
            parts = [part for other, part in landed if other == output]
            old, due = self.source[parts[0]], self.due(parts[0][0])
            own = [] if rig.is_processor(old.partition(".")[0]) and self.gone.source(old) else [old]
            amp = rig.model(output.partition(".")[0]).get("hosts") is not None
            if amp and rig.is_processor(old.partition(".")[0]):
                own = []
            choices.append([(output, text) for text in dict.fromkeys([*own, *([due] if amp and due else [])])])
        for chosen in itertools.product(*choices):
            after = copy.deepcopy(show)
            for output, text in chosen:
                set_input(after, rig, output, text)
            yield after
        free = self._free(rig) if len(choices) == 1 else ()
        yield from self._from_processor(show, rig, landed, free)

    def _from_processor(self, show, rig, landed, free):
        output, part = landed[0]
        due = self.due(part[0])
        for number in free if due else ():
            name, _, way = number.partition(".")
            unit = rig.units[name]
            entries = [entry for entry, text in unit["inputs"].items() if text == due]
            count = next(m for m in self.show["processors"] if m["id"] == unit["model"])["inputs"]
            empty = [str(n) for n in range(1, count + 1) if not unit["inputs"].get(str(n))]
            if not entries and not empty:
                continue
            after = copy.deepcopy(show)
            entry = (entries or empty)[0]
            own = own_unit(after, rig, name)
            own["inputs"] = own.get("inputs", {}) | {entry: due}
            own["routes"] = own.get("routes", {}) | {way: entry}
            set_input(after, rig, output, number)
            yield after

    def _free(self, rig):
        used = {rig.source(output) for output in self.live(rig)}
        used |= {box.get("input", "") for box in self.show["boxes"]}
        for name in rig.units:
            if rig.is_processor(name) and name not in self.gone.units:
                model = next(m for m in self.show["processors"] if m["id"] == rig.units[name]["model"])
                for number in range(1, model["outputs"] + 1):
                    if f"{name}.{number}" not in used and not self.gone.output(f"{name}.{number}"):
                        yield f"{name}.{number}"

    def _fed_anew(self, show, start):
        """Feed a plug that stays where it is: its output works, and what it gets has failed."""
        rig = Plugged(show)
        feds = self.plugs(show).get(start, ())
        outputs = list(dict.fromkeys(output for output, _ in feds))
        if len(outputs) != 1 or self.gone.output(outputs[0]) or not self._cut(rig, outputs[0]):
            return
        landed = [(output, part_of(fed)) for output, fed in feds]
        yield from ((done, []) for done in self._from_processor(show, rig, landed, self._free(rig)))
        sections = {fed.section["section"] for _, fed in feds}
        due = self.due(feds[0][1].box)
        if not due or any(fed.section["drive"] != "passive" for _, fed in feds):
            return
        if sections == {"full"} or (
            sections == {"sub"} and all((fed.preset or {}).get("high_pass") for _, fed in feds)
        ):
            after = copy.deepcopy(show)
            set_input(after, rig, outputs[0], due if sections == {"full"} else f"{due} for subs")
            self.hosted -= {part for _, part in landed}
            yield after, []

    def _joined(self, show, run):
        """Link a run behind the last box of one of its zone that plays."""
        place = max((n for n, step in enumerate(run["path"], 1) if "panel" in step and step.get("shared")), default=0)
        tail = [step for step in run["path"][place:] if "adaptor" not in step]
        zones = {self.zones[box] for box in boxes_of(run)}
        models = {m["id"]: m for m in self.show["loudspeakers"]}
        boxes = {box["id"]: box for box in self.show["boxes"]}
        live = set(self.live(Plugged(show)))
        playing = {fed.run for output, feds in Plugged(show).outputs.items() if output in live for fed in feds}
        for other in show["runs"]:
            last = boxes_of(other)[-1] if boxes_of(other) else ""
            if (
                other["id"] not in playing
                or other["id"] == run["id"]
                or {self.zones[b] for b in boxes_of(other)} != zones
            ):
                continue
            if boxes[last].get("reach") == "flown" or models.get(boxes[last].get("model"), {}).get("connectors", 2) < 2:
                continue
            after = copy.deepcopy(show)
            for item in after["runs"]:
                if item["id"] == other["id"]:
                    item["path"] = [*item["path"], *tail]
                elif item["id"] == run["id"]:
                    item |= {"from": "", "path": [], "waits": "", "was": ""}
            then = Plugged(after)
            fed = {part for output in self.live(then) for part in self._on(then, output)}
            if self._parts_of(run) <= fed:
                yield after, []

    # ---- sockets, plugs, reach -----------------------------------------------------------------------------------

    def sockets(self, rig):
        """List connector, shape and the channels that a rack as built has wired to its panel."""
        wired = defaultdict(set)
        for rack in rig.racks.values():
            built = rig.models["built_racks"].get(rack.get("as_built"), {})
            for name in built.get("panel", {}):
                for output in rig.pins(f"{rack['id']}.{name}").values():
                    wired[output.partition(".")[0]] |= set(channels_of(output))
                yield f"{rack['id']}.{name}", built.get("connector", "4-pole"), set()
        for name in rig.units:
            model = rig.model(name)
            if model and name not in self.gone.units:
                for socket, pairs in model.get("connectors", {}).items():
                    yield f"{name}.{socket}", "8-pole" if any(int(p) > 2 for p in pairs) else "", wired[name]

    def adaptors(self):
        used = [step.get("adaptor") for run in self.show["runs"] for step in run["path"]]
        for item in self.show.get("stock", ()):
            if item["model"] in table(self.show, "adaptors"):
                left = item.get("owned", 0) + item.get("hired", 0) - item.get("out", 0) - used.count(item["model"])
                if left > 0:
                    yield item["model"]

    def fits(self, run, shape, adaptor):
        models = {m["id"]: m for kind in ("cables", "adaptors", "panels") for m in self.show.get(kind, ())}
        first = models[next(iter(run["path"][0][k] for k in ("cable", "adaptor", "panel") if k in run["path"][0]))]
        plug = (first.get("connectors") or [first.get("connector", "")])[0]
        if adaptor:
            one, *_, other = models[adaptor]["connectors"]
            return goes_in(shape, one) and goes_in(other, plug)
        return goes_in(shape, plug)

    def place(self, start):
        name = start.partition(".")[0]
        unit = Plugged(self.show).units.get(name)
        return unit.get("rack", "") if unit else name

    def near(self, one, other):
        """Tell whether a lead surely reaches: in one rack, or between racks that are not on two sides."""
        here, there = self.place(one), self.place(other)
        racks = table(self.show, "racks")
        sides = {racks[name].get("side", "") for name in (here, there) if name in racks} - {""}
        return here == there or (bool(here) and bool(there) and len(sides) < 2)

    def reaches(self, socket, runs, rig):
        mine = {self.zones[box] for run in runs for box in boxes_of(run)} <= self.far
        name = self.place(socket) or socket.partition(".")[0]
        units = [u for u in rig.units if u == socket.partition(".")[0] or (self.place(f"{u}.x") or u) == name]
        home = Plugged(self.show)
        served = {self.zones[f.box] for o, fs in home.outputs.items() if o.partition(".")[0] in units for f in fs}
        return mine == (bool(served) and served <= self.far)


def part_of(fed):
    """Name a section of a box; two of one name are told apart by their pins."""
    return fed.box, fed.section["section"], str(fed.section.get("pair", 1))


def boxes_of(run):
    return [step["box"] for step in run["path"] if "box" in step]


def goes_in(socket, plug):
    """A socket without a name takes any plug of up to four poles; that of small columns has a name of its own."""
    return plug in {"", socket} if socket else plug not in {"8-pole", "2-pole"}


def own_unit(show, rig, name):
    units = show.setdefault("rack_units", [])
    if name not in {unit["id"] for unit in units}:
        units.append({"id": name, "model": rig.units[name]["model"]})
    return next(unit for unit in units if unit["id"] == name)


def set_input(show, rig, output, text):
    name, _, channels = output.partition(".")
    own = own_unit(show, rig, name)
    first = channels.split("+")[0]
    entry, inputs = rig.units[name]["inputs"].get(first, ""), rig.units[name]["inputs"]
    for _ in range(9):
        if not entry.startswith("="):
            break
        entry = inputs.get(entry[1:], "")
    if entry != text:
        own["inputs"] = own.get("inputs", {}) | {first: text}
