"""What goes wrong on a wired rig, a fault at a time, and the person who is sent round it by the command alone."""

from __future__ import annotations

import contextlib
import io
import itertools
import json
import math
import random

from wired_rig import ADAPTORS, SPEAKERS

from fieldkit.commands.cli import run as command

MOST_STEPS = 14


class Broken:
    def __init__(self, name, rig, right, *, noticed=None, hidden=False):
        self.name, self.rig, self.right, self.noticed, self.hidden = name, rig, set(right), noticed, hidden


def all_faults(healthy, rng):
    """Make every fault of a rig."""
    found = []

    def add(name, right, change, eyes=None, **more):
        rig = healthy.copy()
        change(rig)
        rig.eyes |= eyes or {}
        found.append(Broken(name, rig, right, **more))

    seen_pieces = set()
    for run, place in healthy.pieces:
        if (owner := (healthy.owner(run, place), place)) not in seen_pieces:
            seen_pieces.add(owner)
            of_piece(add, healthy, run, place, rng)
    for box in healthy.boxes:
        of_box(add, healthy, box)
    for output in healthy.outputs:
        of_output(add, healthy, output, rng)
    of_units(add, healthy)
    of_exchanges(add, healthy)
    return found


def shared_with(healthy, run, place):
    """All runs that go through a piece."""
    owner = healthy.owner(run, place)
    return [(one, n) for one, n in healthy.pieces if n == place and healthy.owner(one, n) == owner]


def of_piece(add, healthy, run, place, rng):
    piece = healthy.pieces[run, place]
    used = [pin for pin in piece.to if carries(healthy, run, place, pin)]
    box, kind = piece.box, piece.kind
    word = "lead" if kind == "lead" else "adaptor"
    boxes = {healthy.pieces[at].box for at in shared_with(healthy, run, place)}
    lead = {(k, b) for b in boxes for k in ({"lead", "link"} if kind == "lead" else {"adaptor"})}
    where = f"{word} to {box}"
    everywhere = shared_with(healthy, run, place)

    def edit(change, *, every=False):
        def done(rig):
            for at in everywhere if every else [(run, place)]:
                change(rig.pieces[at])

        return done

    for pin in used:
        add(f"core {pin} of the {where} open", lead, edit(lambda it, pin=pin: it.to.pop(pin)))
    pairs = list(dict.fromkeys(pin[0] for pin in used))
    for pair in pairs:
        plus, minus = f"{pair}+", f"{pair}-"
        far_p, far_m = piece.to[plus], piece.to[minus]
        end = rng.choice([("near", plus, minus), ("far", far_p, far_m)])
        add(f"pair {pair} of the {where} shorted", lead, edit(lambda it, e=end: it.touch.append(e)))
        add(
            f"pair {pair} of the {where} turned",
            lead,
            edit(lambda it, p=plus, m=minus, fp=far_p, fm=far_m: it.to.update({p: fm, m: fp})),
        )
        ohm = rng.uniform(1.5, 8)

        def bad(it, pin=plus, ohm=ohm):
            it.more[pin], it.buzz = ohm, "crackle"

        add(f"contact {plus} of the {where} bad", lead | plugs(healthy, run, place, "both"), edit(bad))
    add(f"{where} failed", lead, edit(lambda it: it.to.clear(), every=True))

    def loose(it):
        it.buzz = "crackle"

    add(f"{where} comes and goes", lead | plugs(healthy, run, place, "both"), edit(loose))
    steps = healthy.plan.runs[run][1]
    before = "amp" if place == 0 else steps[place - 1].box or ""
    add(
        f"near plug of the {where} out",
        lead | plugs(healthy, run, place, "near"),
        edit(lambda it: setattr(it, "near_in", False), every=True),
        {before or box: "plug-half", box: "plug-half"} if before != "amp" else {"amp": "plug-half"},
    )
    add(
        f"far plug of the {where} out",
        lead | plugs(healthy, run, place, "far"),
        edit(lambda it: setattr(it, "far_in", False), every=True),
        {box: "plug-half"},
    )
    if len(pairs) > 1 and kind != "panel":
        far = [piece.to[pin] for pin in ("1+", "1-", "2+", "2-")]
        add(
            f"pairs crossed in the {where}",
            lead,
            edit(
                lambda it: it.to.update(
                    dict(zip(("1+", "1-", "2+", "2-"), [far[2], far[3], far[0], far[1]], strict=True))
                )
            ),
        )
        add(f"minus crossed in the {where}", lead, edit(lambda it: it.to.update({"1-": far[3], "2-": far[1]})))
        add(f"plus crossed in the {where}", lead, edit(lambda it: it.to.update({"1+": far[2], "2+": far[0]})))
        if kind == "lead":
            add(
                f"the {where} has two cores",
                lead,
                edit(lambda it: [it.to.pop(pin) for pin in ("2+", "2-")]),
                {box: "lead"},
            )
    if kind == "adaptor":
        step = steps[place]
        other = next(name for name in ADAPTORS if name != step.adaptor)
        pins = {f"{a}{s}": f"{b}{s}" for a, b in ADAPTORS[other].items() for s in "+-"}
        add(f"wrong adaptor to {box}", lead, edit(lambda it: setattr(it, "to", dict(pins))))


def carries(healthy, run, place, pin):
    """Whether a pin of a piece leads to a section of this run."""
    steps, names = healthy.plan.runs[run][1], {pin[0]}
    for later, step in enumerate(steps[place:], start=place):
        names = {end[0] for core, end in healthy.pieces[run, later].to.items() if core[0] in names}
        if step.box:
            model, drive = healthy.plan.boxes[step.box][:2]
            if names & {pair for pair, _ in SPEAKERS[model][drive].values()}:
                return True
    return False


def plugs(healthy, run, place, end):
    steps = healthy.plan.runs[run][1]
    before = "amp" if place == 0 else steps[place - 1].box or steps[place - 1].panel or ""
    here = steps[place].box or steps[place].panel or ""
    found = set()
    if end in {"near", "both"}:
        found.add(
            (
                "plug",
                "amp" if before == "amp" else f"{before}.out" if before else f"~to {healthy.pieces[run, place].box}",
            )
        )
    if end in {"far", "both"}:
        found.add(("plug", f"{here}.in" if here else f"~to {healthy.pieces[run, place].box}"))
    if not before or not here:  # at a join the two plugs that meet are one
        found.add(("plug", f"~to {healthy.pieces[run, place].box}"))
    return found


def of_box(add, healthy, box):
    model, drive = healthy.plan.boxes[box][:2]
    spare = {("box", box)}
    drivers = healthy.boxes[box]

    def edit(change):
        return lambda rig: change(rig.boxes[box])

    for n, driver in enumerate(drivers):
        many = [m for m, other in enumerate(drivers) if other.section == driver.section and other.bands == driver.bands]
        if n != many[0]:
            continue
        what = f"{driver.section} driver {driver.bands} of {box}"
        add(f"{what} open", spare, edit(lambda its, n=n: setattr(its[n], "cut", True)))
        add(
            f"{what} shorted",
            spare,
            edit(
                lambda its, n=n: (
                    setattr(its[n], "ohm", 0.4),
                    setattr(its[n], "henry", 2e-5),
                    setattr(its[n], "shut", True),
                )
            ),
        )
        add(
            f"{what} burnt to half",
            spare,
            edit(
                lambda its, n=n: (
                    setattr(its[n], "ohm", its[n].ohm * 0.5),
                    setattr(its[n], "henry", its[n].henry * 0.3),
                    setattr(its[n], "buzz", "distorted"),
                )
            ),
        )
        add(f"{what} reversed", spare, edit(lambda its, n=n: setattr(its[n], "turned", True)))
        add(f"{what} rubs", spare, edit(lambda its, n=n: setattr(its[n], "buzz", "distorted")))
        add(f"{what} rattles", spare, edit(lambda its, n=n: setattr(its[n], "buzz", "rattle")))
        if len(many) > 1:
            add(f"both {what} open", spare, edit(lambda its, many=many: [setattr(its[m], "cut", True) for m in many]))
            add(
                f"both {what} reversed",
                spare,
                edit(lambda its, many=many: [setattr(its[m], "turned", True) for m in many]),
            )
    here = {("plug", box), ("plug", f"{box}.in"), ("plug", f"{box}.out"), *spare}
    add(f"{box} not connected", here, lambda rig: rig.here.update({box: False}), {box: "empty"})
    for other in SPEAKERS[model]:
        if other != drive:
            add(
                f"switch of {box} at {other}",
                spare | {("switch", box)},
                lambda rig, other=other: rig.boxes.update({box: rig.box(box, drive=other)}),
                {box: "switch"},
            )
    others = {name for name, *_ in healthy.plan.boxes.values()} - {model}
    for other in others:
        if SPEAKERS[other].get(drive, {}).keys() == SPEAKERS[model][drive].keys():
            add(
                f"{box} is another model",
                spare,
                lambda rig, other=other: rig.boxes.update({box: rig.box(box, model=other)}),
                {box: "model"},
            )
    run = healthy.plan.run_of(box)
    if box == [step.box for step in healthy.plan.runs[run][1] if step.box][-1]:
        add(f"one box too many behind {box}", spare | {("box", box)}, lambda rig: rig.extra.append(box), {box: "extra"})


def of_output(add, healthy, output, rng):
    right = {("setting", output), ("preset", output), ("patch", output)}

    def edit(**change):
        def done(rig):
            for key, value in change.items():
                setattr(rig.outputs[output], key, value)

        return done

    add(f"{output} muted", right, edit(silent="mute"), {output: "mute"})
    add(f"{output} has no input", right, edit(silent="input"), {output: "input"})
    add(f"{output} has another input", right, edit(other=True), {output: "input"})
    add(f"gain of {output} low", right, edit(gain=-8.0), {output: "level"})
    add(f"gain of {output} high", right, edit(gain=7.0), {output: "level"})
    add(f"limiter of {output} low", right, edit(limiter_low=True), {output: "level"})
    add(f"delay of {output} wrong", right, edit(late=True), {output: "level"})
    add(f"polarity of {output} wrong", right, edit(turned=True), {output: "polarity"})
    preset = healthy.outputs[output].preset
    for other in {"lows": ("highs",), "highs": ("lows",), "subs": ("highs",), "wide": ("highs", "lows")}[preset]:
        add(f"preset of {output} is {other}", right, edit(preset=other), {output: "preset"})
    gone = {("output", output)}
    add(f"{output} protects itself", gone, edit(silent="protect"))
    add(f"{output} failed", gone, edit(silent="failed"))
    add(
        f"{output} hums",
        gone | {("signal", output)},
        edit(
            noise=rng.choice(
                {"highs": ["buzz", "hiss"], "lows": ["hum", "buzz"], "subs": ["hum"]}.get(
                    preset, ["hum", "buzz", "hiss"]
                )
            )
        ),
    )
    if "+" in output:
        add(
            f"{output} wired as a single",
            {("patch", output)},
            lambda rig: rig.half_bridged.add(output),
            {"amp": "label"},
        )


def of_units(add, healthy):
    outputs = list(healthy.outputs)

    def quiet(names, word):
        return lambda rig: [setattr(rig.outputs[name], "silent", word) for name in names]

    for amp in healthy.plan.amps:
        its = [name for name in outputs if name.startswith(f"{amp}.")]
        add(f"{amp} is off", {("amplifier", amp)}, quiet(its, "off"), {"amp": "off"} | dict.fromkeys(its, "off"))
    if len(outputs) > 1:
        add("mute group", {("setting", "all outputs")}, quiet(outputs, "mute"), dict.fromkeys(outputs, "mute"))
    by_signal, by_source = {}, {}
    for name in outputs:
        by_signal.setdefault(healthy.plan.signal_of(name), []).append(name)
        if healthy.plan.processor:
            by_source.setdefault(healthy.plan.processor[name], []).append(name)
    for signal, its in by_signal.items():
        upstream = {("signal", signal)} | ({("signal", "desk")} if len(its) == len(outputs) else set())
        one = {("setting", its[0]), ("patch", its[0])} if len(its) == 1 else set()
        add(f"signal {signal} missing", upstream | one, quiet(its, "input"), dict.fromkeys(its, "input"))
    for source, its in by_source.items():
        add(f"{source} muted", {("setting", source), ("signal", source)}, quiet(its, "input"), {source: "mute"})


def of_exchanges(add, healthy):
    runs = list(healthy.plan.runs)
    for one, two in itertools.pairwise(runs):
        if healthy.plan.feeds(one).keys() == healthy.plan.feeds(two).keys():
            right = {("patch", f"{one} and {two}"), ("patch", f"{two} and {one}")}
            add(
                f"{one} and {two} exchanged",
                right,
                lambda rig, one=one, two=two: rig.socket_of.update({one: two, two: one}),
                {"amp": "label"},
            )


# ---- the person ------------------------------------------------------------------------------------------------------


class Person:
    """Hears, sees and meters a rig; wrong by ear in one of ten."""

    def __init__(self, rig, healthy, rng, wrong=0.1):
        self.rig, self.healthy, self.rng, self.wrong = rig, healthy, rng, wrong
        self.planned = healthy.sound()

    def word(self, box, rig=None):
        rig = rig or self.rig
        if not rig.here[box]:
            return "silent"
        now, plan = rig.sound(), rig.plan
        run = plan.run_of(box)
        feeding = {plan.feeds(rig.socket_of[run]).get(pair) for pair in ("1", "2")} - {None}
        own = {name for name in feeding if any(it == box for it, _ in plan.sections_on(name))} or feeding
        if rig.socket_of[run] != run:
            own = feeding
        bands = [band for band in "LH" if abs(self.planned[box, band]) > 0.02]
        levels = {
            band: 20 * math.log10(max(abs(now[box, band]), 1e-6) / abs(self.planned[box, band])) for band in bands
        }
        outputs = [rig.outputs[name] for name in own]
        if all(level < -18 for level in levels.values()):
            noisy = [out.noise for out in outputs if out.noise]
            return noisy[0] if noisy and not all(out.silent for out in outputs) else "silent"
        if box in rig.hurt():
            return "distorted"
        buzzes = [driver.buzz for driver in rig.boxes[box] if driver.buzz]
        buzzes += [
            piece.buzz
            for (name, place), piece in rig.pieces.items()
            if name == run and piece.buzz and place <= self._place(run, box)
        ]
        if buzzes:
            return buzzes[0]
        for out in outputs:
            if out.noise or out.limiter_low:
                return out.noise or "quiet"
        if any(out.other for out in outputs) or (
            not rig.meant and rig.socket_of[run] != run and self._other_signal(run, rig)
        ):
            return "other-signal"
        if any(out.late for out in outputs):
            return "late"
        if len(levels) == 2:
            if levels["L"] < -11:
                return "no-low"
            if levels["H"] < -11:
                return "no-high"
        if min(levels.values()) < -3:
            return "quiet"
        return "loud" if max(levels.values()) > 4 else "normal"

    def _other_signal(self, run, rig):
        plan = rig.plan
        return {plan.signal_of(o) for o in plan.feeds(run).values()} != {
            plan.signal_of(o) for o in plan.feeds(rig.socket_of[run]).values()
        }

    def _place(self, run, box):
        return next(n for n, step in enumerate(self.rig.plan.runs[run][1]) if step.box == box)

    def reversed(self, box, rig=None):
        now = (rig or self.rig).sound()
        signs = [
            (now[box, band] / self.planned[box, band]).real
            for band in "LH"
            if abs(self.planned[box, band]) > 0.02 and abs(now[box, band]) > 0.15 * abs(self.planned[box, band])
        ]
        return "nothing" if not signs else "reversed" if min(signs) < 0 else "planned"

    def fights(self, box):
        """Whether a neighbour of its zone that plays is in the other phase: louder when it is muted."""
        zone = self.rig.plan.boxes[box][2]
        others = [
            b
            for b, its in self.rig.plan.boxes.items()
            if its[2] == zone and b != box and self.word(b) in {"normal", "quiet"}
        ]
        return bool(others) and (self.reversed(box) == "reversed") != (self.reversed(others[0]) == "reversed")

    def reading(self, run, point, pair, *, dc):
        ohm = self.rig.meter(run, point, pair, 0 if dc else 1000)
        if ohm > 5e4:
            return "open"
        return f"{max(0.0, ohm * self.rng.gauss(1, 0.03) + self.rng.gauss(0, 0.04)):.2f}ohm"

    def lights(self, name):
        output = self.rig.outputs[name]
        if output.silent:
            return {"mute": "mute", "input": "on", "off": "off", "protect": "protect", "failed": "signal"}[
                output.silent
            ]
        run = next(r for r in self.rig.plan.runs if name in self.rig.plan.feeds(self.rig.socket_of[r]).values())
        feeds = self.rig.plan.feeds(self.rig.socket_of[run])
        pair = next(p for p, o in feeds.items() if o == name)
        if pair in self.rig.protecting(run):
            return "protect"
        return "limit" if output.limiter_low else "signal"

    def look(self, place, offered):
        """Answer of an eye: ``place`` or an output, and the word."""
        eyes = self.rig.eyes
        if place == "amp":
            sources = set((self.rig.plan.processor or {}).values())
            named = [(name, word) for name, word in eyes.items() if name in self.rig.outputs or name in sources]
            if named and f"{named[0][1]} of {named[0][0]}" in offered:
                return "=".join(named[0])
            if named or "amp" in eyes:
                word = eyes.get("amp") or named[0][1]
                return f"amp={word}"
            return "amp=right"
        return f"{place}={eyes.get(place, 'right')}"

    def swapped(self, what, box, other, partner=None):
        before = self.word(box), self.reversed(box)
        rig = self.rig.copy()
        run = rig.plan.run_of(box)
        place = self._place(run, box)
        if what == "cable":
            for n in range(place + 1):
                if rig.pieces[run, n].kind == "lead" and rig.pieces[run, n].box == other:
                    rig.pieces[run, n] = self.healthy.copy().pieces[run, n]
        elif what == "adaptor":
            for n in range(place + 1):
                if rig.pieces[run, n].kind == "adaptor" and rig.pieces[run, n].box == other:
                    rig.pieces[run, n] = self.healthy.copy().pieces[run, n]
        elif what == "box":
            rig.boxes[box], rig.here[box] = self.healthy.boxes[box], True
        elif what == "output":
            rig.socket_of[run], rig.socket_of[partner] = rig.socket_of[partner], rig.socket_of[run]
            rig.meant = True
        return "stayed" if (self.word(box, rig), self.reversed(box, rig)) == before else "moved"


def told(path, words):
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = command(["triage", str(path), *words, "--json"])
    assert status in {0, 1}, (words, err.getvalue())
    return json.loads(out.getvalue())


def complaint(broken, person, rng):
    """What is noticed first; None for a fault that nobody notices."""
    rig = broken.rig
    odd = {box: word for box in rig.boxes if (word := person.word(box)) != "normal"}
    if odd:
        zones = {}
        for box in odd:
            zones.setdefault(rig.plan.boxes[box][2], []).append(box)
        zone, its = rng.choice(sorted(zones.items()))
        whole = [box for box, item in rig.plan.boxes.items() if item[2] == zone]
        if len(its) == len(whole) > 1 and len({odd[box] for box in its}) == 1 and rng.random() < 0.5:
            return [f"--heard={zone}={odd[its[0]]}"]
        box = rng.choice(its)
        return [f"--heard={box}={odd[box]}"]
    turned = [box for box in rig.boxes if person.reversed(box) == "reversed"]
    if turned:
        box = rng.choice(turned)
        if person.fights(box) and rng.random() < 0.5:
            return [f"--heard={box}=louder-alone"]
        return [f"--polarity={box}=reversed"]
    for run in rig.plan.runs:
        for pair in rig.plan.feeds(run):
            now, well = rig.meter(run, "amp", pair, 0), person.healthy.meter(run, "amp", pair, 0)
            if abs(now - well) > 0.15 * well and not (now == well == math.inf):
                return [run, f"--reading={run}.amp:{pair}={person.reading(run, 'amp', pair, dc=True)}"]
    runs = [run for run, other in rig.socket_of.items() if run != other]
    if runs:
        output = next(iter(rig.plan.feeds(runs[0]).values()))
        played = "+".join(dict.fromkeys(step.box for step in rig.plan.runs[rig.socket_of[runs[0]]][1] if step.box))
        return [f"--played={output}={played}"]
    return None


class Outcome:
    def __init__(self, broken, said, found, steps, harmful, missing):
        self.name, self.said, self.steps, self.harmful, self.missing = broken.name, said, steps, harmful, missing
        fixes = [fix for fix in found["fixes"] if fix["kind"] != "bypass"]
        self.first = fixes[0] if fixes else {"kind": "nothing", "at": None, "odds": 0.0, "fix": "nothing"}
        best = max(fixes, key=lambda fix: fix["odds"]) if fixes else self.first
        self.right, self.best_right, self.share = fits(self.first, broken.right), fits(best, broken.right), best["odds"]
        self.minutes = 0.0


def fits(fix, right):
    return (fix["kind"], fix["at"]) in right or any(
        kind == fix["kind"] and at and at[0] == "~" and fix["fix"].find(at[1:]) >= 0 for kind, at in right
    )


def search(path, broken, healthy, seed, *, wrong=0.1, more=()):
    rng = random.Random(seed)
    person = Person(broken.rig, healthy, rng, wrong)
    said = complaint(broken, person, rng)
    if said is None:
        return None
    harmful = steps = missing = 0
    minutes = 0.0
    while True:
        found = told(path, [*said, *more])
        following = found["next"]
        if following is None or steps >= MOST_STEPS:
            break
        muted = {step.split()[1] for step in found["first"] if step.startswith("mute ")}
        if following["kind"] not in {"meter", "look", "lights"} and broken.rig.hurt(muted & broken.rig.outputs.keys()):
            harmful += 1
        answer, offered = answer_of(person, following, said)
        assert answer not in said, (broken.name, answer, said)
        missing += not offered
        said.append(answer)
        minutes += following["minutes"]
        steps += 1
    result = Outcome(broken, said, found, steps, harmful, missing)
    result.minutes = minutes
    return result


def answer_of(person, following, said):
    """The option that answers a question, and whether its answer was among those offered."""
    kind, at, what, rig = following["kind"], following["at"], following["what"], person.rig
    option, _, rest = following["say"].partition(" ")
    offered = [item["answer"] for item in following["outcomes"]]
    if kind == "meter":
        run, point = None, at
        if at.partition(".")[0] in rig.plan.runs:
            run, _, point = at.partition(".")
        box = point.rpartition(".")[0]
        run = run or (rig.plan.run_of(box) if box in rig.plan.boxes else case_run(person, said))
        value = person.reading(run, point, following["pair"], dc=following["meter"] == "dc")
        return f"{option}={rest.replace('OHM', value)}", True
    if kind == "lights":
        word = person.lights(at)
    elif kind == "look":
        text = person.look(at, offered)
        return f"{option}={text}", True
    elif kind == "polarity" and what:
        one, other = person.reversed(at), person.reversed(what)
        word = "same" if "nothing" in {one, other} else "fuller" if one != other else "thinner"
    elif kind == "polarity":
        word = person.reversed(at)
    elif kind == "listen":
        word = person.word(at) if at in rig.boxes else zone_word(person, at)
        if word == "normal" and "louder-alone" in offered and at in rig.boxes and person.fights(at):
            word = "louder-alone"
        if person.rng.random() < person.wrong:
            word = person.rng.choice(
                [w for w in ("normal", "silent", "quiet", "no-low", "no-high", "distorted", "crackle") if w != word]
            )
    elif kind == "swap":
        focus = next(
            (
                w.split("=")[1]
                for w in said
                if w.startswith(("--heard=", "--polarity=")) and w.split("=")[1] in rig.boxes
            ),
            at,
        )
        partner = following["test"].split(" and ")[1].split(" ")[0] if what == "output" else None
        word = person.swapped(what, focus, at, partner)
    else:
        raise AssertionError(f"no person can answer {following}")
    return f"{option}={rest.replace('WORD', word)}", word in offered


def zone_word(person, zone):
    words = {person.word(box) for box, its in person.rig.plan.boxes.items() if its[2] == zone}
    return words.pop() if len(words) == 1 else "normal"


def case_run(person, said):
    plan = person.rig.plan
    for word in said:
        name = word.split("=")[1] if "=" in word else word
        if name in plan.runs:
            return name
        if name in plan.boxes:
            return plan.run_of(name)
        for run in plan.runs:
            if name in plan.feeds(run).values():
                return run
    return next(iter(plan.runs))
