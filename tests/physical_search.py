"""Faults of the physical world, and a person who does what the command says and answers honestly."""

from __future__ import annotations

import contextlib
import io
import json
import random

from physical_world import Senses, World
from rigs import AMP, MODELS, box, run, step

from fieldkit.commands.cli import run as command

SHOWN = MODELS.replace(
    'impedance = "16 ohm", rated_at', 'impedance = "16 ohm", dc_resistance = "11 ohm", inductance = "0.1 mH", rated_at'
).replace('section = "full", impedance = "8 ohm",', 'section = "full", impedance = "8 ohm", dc_resistance = "6 ohm",')
MOST_TESTS = 14


def show_text(world, ladders=()):
    """Write the show of a healthy world."""
    text = SHOWN + AMP
    drive = f'drive = "{world.drive}"'
    for name, (socket, boxes) in world.runs.items():
        text += "".join(box(each, more=drive + ('\nreach = "ladder"' if each in ladders else "")) for each in boxes)
        steps = [step("four", "15 m" if place == 0 else "3 m", each) for place, each in enumerate(boxes)]
        text += run(name, socket, *steps)
    return text


class Broken:
    """A fault made in a world: what fixes it, and how it comes to be noticed."""

    def __init__(self, name, world, right, complaint=None):
        self.name, self.world, self.right, self.complaint = name, world, right, complaint


def faults(healthy):
    """Make every fault of a world, each in a copy of its own."""
    found = []

    def add(name, right, change, *seen_at, complaint=None):
        world = healthy.copy()
        change(world)
        world.seen_at = set(seen_at)
        found.append(Broken(name, world, right, complaint))

    for runs, (_, boxes) in healthy.runs.items():
        outputs = healthy.outputs(runs)
        for place, name in enumerate(boxes):
            _of_lead(add, healthy, name, boxes, place)
            _of_box(add, healthy, name)
        for output in outputs.values():
            _of_output(add, healthy, output)
    return found


def _of_lead(add, healthy, name, boxes, place):
    lead = {("lead", name), ("link", name)}
    plugged = lead | {("plug", f"{name}.in"), ("plug", "amp" if place == 0 else f"{boxes[place - 1]}.out")}

    def edit(change):
        return lambda world: change(world.leads[name])

    for pin in healthy.leads[name].to:
        add(f"conductor {pin} open", lead, edit(lambda it, pin=pin: it.to.pop(pin)))
    for pair in healthy.pairs:
        plus, minus = f"{pair}+", f"{pair}-"
        add(f"pair {pair} shorted", lead, edit(lambda it, p=plus, m=minus: it.touching.append(("far", p, m))))
        add(f"pair {pair} reversed", lead, edit(lambda it, p=plus, m=minus: it.to.update({p: m, m: p})))
        add(f"contact {pair} bad", lead, _bad_contact(name, plus))
    add("plug out at the box", plugged, edit(lambda it: setattr(it, "far_home", False)), name)
    near = ("amp", name) if place == 0 else (boxes[place - 1], name)
    add("plug out before", plugged, edit(lambda it: setattr(it, "near_home", False)), *near)
    add("lead failed", lead, edit(lambda it: it.to.clear()))
    add("contact comes and goes", lead, lambda world: world.ears_of_lead.update({name: "crackle"}))
    if len(healthy.pairs) > 1:
        crossed = {"1+": "2+", "1-": "2-", "2+": "1+", "2-": "1-"}
        add("pairs crossed", lead, edit(lambda it: it.to.update(crossed)))
        add("plus wires crossed", lead, edit(lambda it: it.to.update({"1+": "2+", "2+": "1+"})))
        add("two cores", lead, edit(lambda it: [it.to.pop(pin) for pin in ("2+", "2-")]), name)


def _bad_contact(name, pin):
    def change(world):
        world.leads[name].more[pin] = 5.0
        world.ears_of_lead[name] = "crackle"

    return change


def _of_box(add, healthy, name):
    spare = {("box", name)}

    def edit(change):
        return lambda world: change(world.cabinets[name])

    for number, driver in enumerate(healthy.cabinets[name].drivers):
        if number and driver.band == healthy.cabinets[name].drivers[number - 1].band:
            continue
        add(f"{driver.band} driver open", spare, edit(lambda it, n=number: setattr(it.drivers[n], "is_open", True)))
        burnt = edit(lambda it, n=number: setattr(it.drivers[n], "coil_ohm", it.drivers[n].coil_ohm * 0.4))
        add(f"{driver.band} coil burnt", spare, burnt)
        add(f"{driver.band} driver reversed", spare, edit(lambda it, n=number: setattr(it.drivers[n], "sign", -1)))
    if healthy.drive == "bi-amp":
        both = edit(lambda it: [setattr(each, "is_open", True) for each in it.drivers[:2]])
        add("low section open", spare, both)
        add("low section reversed", spare, edit(lambda it: [setattr(each, "sign", -1) for each in it.drivers[:2]]))
    else:
        add("high leg of the crossover failed", spare, edit(lambda it: setattr(it.drivers[1], "leg_open", True)))
        add("low leg of the crossover failed", spare, edit(lambda it: setattr(it.drivers[0], "leg_open", True)))
    add("driver rubs", spare, edit(lambda it: setattr(it, "ears", "distorted")))
    add("driver rattles", spare, edit(lambda it: setattr(it, "ears", "rattle")))
    here = spare | {("plug", name), ("plug", f"{name}.in")}
    add("box not connected", here, edit(lambda it: setattr(it, "is_here", False)), name)
    other = "passive" if healthy.drive == "bi-amp" else "bi-amp"
    switched = World({"W": ("A.A", ["X"])}, other).cabinets["X"]

    def switch(it):
        it.drivers = switched.drivers

    add("switch wrong", spare | {("switch", name)}, edit(switch), name)


def _of_output(add, healthy, output):
    setting = {("setting", output), ("preset", output), ("patch", output)}
    for state in ("mute", "no input", "limit", "quiet"):
        add(f"{state} at {output}", setting, lambda world, s=state: world.state.update({output: s}), "amp")
    if healthy.drive == "bi-amp":
        add(f"preset wrong at {output}", setting, lambda world: world.state.update({output: "preset"}), "amp")
    for state in ("protect", "failed", "noise"):
        add(f"{state} at {output}", {("output", output)}, lambda world, s=state: world.state.update({output: s}))


def exchanged(healthy, one, other):
    """Exchange the plugs of two runs with the same presets; noise on one output alone shows it."""
    world = healthy.copy()
    world.fed_by |= {one: other, other: one}
    world.seen_at = {"amp"}
    output, boxes = healthy.outputs(one)["1"], healthy.runs[other][1]
    right = {("patch", f"{one} and {other}"), ("patch", f"{other} and {one}")}
    return Broken("runs exchanged", world, right, [f"--played={output}={'+'.join(boxes)}"])


class Result:
    def __init__(self, name, tests, right, share, first, harmful, asked):
        self.name, self.tests, self.right, self.share = name, tests, right, share
        self.first, self.harmful, self.asked = first, harmful, asked


def asked(path, words):
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        status = command(["triage", str(path), *words, "--json"])
    assert status in {0, 1}, out.getvalue()
    return json.loads(out.getvalue())


def complaint_of(broken, senses, rng):
    """What is noticed first: a box that sounds wrong, or what the tester or the meter said in the rig check."""
    if broken.complaint:
        return list(broken.complaint)
    odd = [name for name in broken.world.cabinets if senses.word(name) != "normal"]
    if odd:
        name = rng.choice(odd)
        return [f"--heard={name}={senses.word(name)}"]
    odd = [name for name in broken.world.cabinets if senses.polarity(name) == "reversed"]
    if odd:
        return [f"--polarity={odd[0]}=reversed"]
    for name in broken.world.runs:
        for pair in broken.world.pairs:
            now = broken.world.meter(name, "amp", pair, 0.0)
            well = senses.planned.meter(name, "amp", pair, 0.0)
            if abs(now - well) > 0.12 * well:
                where = name if len(broken.world.runs) == 1 else f"{name}."
                point = "amp" if len(broken.world.runs) == 1 else f"{where}amp"
                return [f"--reading={point}:{pair}={senses.reading(name, 'amp', pair, dc=True)}", name]
    return None


def search(path, broken, healthy, seed, *, wrong_ears=0.10, more=()):
    """Do what the command says until it stops; None for a fault that nobody notices."""
    rng = random.Random(seed)
    senses = Senses(broken.world, healthy, rng, wrong_ears=wrong_ears)
    said = complaint_of(broken, senses, rng)
    if said is None:
        return None
    harmful, steps = 0, []
    while True:
        found = asked(path, [*said, *more])
        following = found["next"]
        if following is None or len(steps) >= MOST_TESTS:
            break
        muted = {step.split()[1] for step in found["first"] if step.startswith("mute ")}
        if following["kind"] in {"listen", "polarity", "swap"} and broken.world.harms(muted):
            harmful += 1
        answer = _answer(senses, following, said)
        assert answer not in said, (broken.name, answer, said)
        said.append(answer)
        steps.append(answer)
    fixes = [fix for fix in found["fixes"] if fix["kind"] != "bypass"]
    first = fixes[0] if fixes else {"kind": "nothing", "at": None, "odds": 0.0, "fix": "nothing"}
    right = (first["kind"], first["at"]) in broken.right
    return Result(broken.name, len(steps), right, first["odds"], first, harmful, said)


def _answer(senses, following, said):
    kind, at, what = following["kind"], following["at"], following["what"]
    option, _, rest = following["say"].partition(" ")
    if kind == "meter":
        world = senses.world
        box = at.rpartition(".")[0].rpartition(".")[2]
        name = at.partition(".")[0] if at.partition(".")[0] in world.runs else None
        name = name or (world.run_of(box) if box in world.cabinets else next(iter(world.runs)))
        point = at.removeprefix(f"{name}.")
        value = senses.reading(name, point, following["pair"], dc=following["meter"] == "dc")
        return f"{option}={rest.replace('OHM', value)}"
    if kind == "listen":
        answer = senses.heard(at, ["normal", "silent", "quiet", "no-low", "no-high", "distorted", "crackle", "hum"])
    elif kind == "lights":
        answer = senses.lights(at)
    elif kind == "look":
        return f"{option}={senses.looked(at)}"
    elif kind == "polarity":
        answer = senses.polarity(at)
    else:
        focus = next((word.split("=")[1] for word in said if word.startswith(("--heard=", "--polarity="))), at)
        focus = at if at in senses.world.cabinets else focus
        partner = next((one for one in senses.world.runs if one != at), None) if what == "output" else None
        answer = senses.swapped(what, focus, partner)
    return f"{option}={rest.replace('WORD', answer)}"
