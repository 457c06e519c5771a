"""What a finding names as its fix does fix it: one edit, and it is gone, without an error in its place."""

import re

import pytest
from checked_shows import BIAMP, DSP, NO_HOST, changed_in, findings, of_rule
from rigs import AMP, MODELS, PLAIN, box, run, step

ONE = AMP + box("B1") + run("W", "A.A", step("two", "1 m", "B1"))
PAIR = AMP + box("B1", more=BIAMP) + run("W", "A.A", step("four", "5 m", "B1"))
SUB = AMP + box("S", "subs", "sub") + run("W", "A.A", step("two", "5 m", "S"))
BARE = changed_in(ONE, "quad", "plain")
OUTBOARD = changed_in(ONE, 'model = "quad"\n', 'model = "quad"\ninputs = { 1 = "D.1" }\n') + DSP
KNOBS = NO_HOST.replace("channels = 4\n", "channels = 4\nattenuators = true\n")
EIGHT_OHM_SUB = MODELS.replace('"4 ohm", continuous = "500 W"', '"8 ohm", continuous = "500 W"')
HOSTS_SUB = MODELS.replace('hosts = { presets = ["top"]', 'hosts = { presets = ["top", "sub"]')

EIGHT_LEAST = re.sub(r'    \{ load = "(4|2.7) ohm".*\n', "", MODELS)
"""The quad with 8 ohm as its minimum; the low section's coil of 5.9 ohm falls under 80 % of that."""

MANY = AMP + "".join(box(f"B{n}") for n in range(4)) + run("W", "A.A", *(step("two", "1 m", f"B{n}") for n in range(4)))
TWO_RUNS = AMP + box("B1") + run("W1", "A.A", step("two", "5 m", "B1")) + run("W2", "A.B", step("two", "5 m", "B1"))
TOP_AND_SUB = AMP + box("B1") + box("S", "subs", "sub") + run("W1", "A.A", step("two", "5 m", "B1"))
TOP_AND_SUB += run("W2", "A.A", step("two", "5 m", "S"))
TWO_TOPS = AMP + box("B1") + box("B2") + run("W1", "A.A", step("two", "5 m", "B1"))
TWO_TOPS += run("W2", "A.A", step("two", "5 m", "B2"))
SIDES = AMP + PLAIN + box("L", more='side = "left"') + box("R", more='side = "right"')
SIDES += run("W1", "A.A", step("two", "5 m", "L")) + run("W2", "A.B", step("two", "5 m", "R"))
CROSSED = '[[racks]]\nid = "K"\nside = "right"\n' + AMP.rstrip("\n") + '\nrack = "K"\n'
CROSSED += box("L", more='side = "left"') + box("R", more='side = "right"') + run("W1", "A.A", step("two", "5 m", "L"))
MIXED = AMP + 'inputs = { 1 = "D.1", 3 = "D.1" }\n' + DSP + box("B1") + box("M", "mon")
MIXED += run("W1", "A.A", step("two", "5 m", "B1")) + run("W2", "A.B", step("two", "5 m", "M"))
TWO_ZONES = AMP + box("B1") + box("M", "mon") + run("W1", "A.A", step("two", "5 m", "B1"))
TWO_ZONES += run("W2", "A.A", step("two", "5 m", "M"))
LEG = AMP + 'bridged = ["3+4"]\n' + box("S", "subs", "sub") + run("W", "A.B", step("two", "5 m", "S"))
LEG += 'feeds = { 1 = "A.3" }\n'


SUBS = AMP + 'bridged = ["3+4"]\n' + box("S1", "subs", "sub") + box("S2", "subs", "sub")
SUBS += run("W1", "A.A", step("two", "5 m", "S1")) + run("W2", "A.C", step("two", "5 m", "S2"))
SINGLE_SUBS = changed_in(changed_in(SUBS, 'bridged = ["3+4"]\n', ""), "A.C", "A.B")
UNLIKE = changed_in(SIDES, "A.B", "P.A")
UNKNOWN_GAIN = MODELS.replace('sensitivity = "1.5 V"\n', "")


def stock(more):
    return f'[[stock]]\nmodel = "top"\n{more}\n'


def text_edit(text, old, new, models=MODELS):
    return (text, models), (changed_in(text, old, new), models)


def model_edit(text, models, old, new):
    return (text, models), (text, changed_in(models, old, new))


def clipping(gain):
    return NO_HOST.replace('gain = "32 dB"\n', f'gain = "{gain}"\n')


def circuit(name, more, rating="16 A"):
    return f'[[supplies]]\nid = "{name}"\nvolts = "230 V"\nrating = "{rating}"\n{more}\n'


LINES = circuit("T", "phases = 3", "63 A")
LINES += "".join(circuit(f"C{line}", f'phase = {line}\nfed_from = "T"\nother_load = "6 A"') for line in (1, 2, 3))
FAR = circuit("X", 'other_load = "16 A"\nfeeder = { length = "50 m", area = "2.5 mm²" }')
PULSES = circuit("T", "phases = 3", "5 A") + "".join(
    f'[[rack_units]]\nid = "A{line}"\nmodel = "hungry"\nsupply = "T"\nphase = {line}\n' for line in (1, 2, 3)
)
HUNGRY = """
[[amplifiers]]
id = "hungry"
channels = 2
units = 2
weight = "60 kg"
powers = [{ load = "8 ohm", power = "500 W" }]
idle_power = "600 W"
power_factor = "0.65"
leakage = "10 mA"
inrush = "40 A"
"""
RACKED = '[[racks]]\nid = "R"\nunits = 4\n' + "".join(
    f'[[rack_units]]\nid = "A{place}"\nmodel = "hungry"\nrack = "R"\nunit = {place}\n' for place in (1, 3)
)


THREE_OF_A_RACK = (
    circuit("T", "phases = 3", "16 A")
    + '[[racks]]\nid = "R"\n'
    + "".join(
        f'[[rack_units]]\nid = "A{line}"\nmodel = "hungry"\nrack = "R"\nsupply = "T"\nphase = {line}\n'
        for line in (1, 2, 3)
    )
)


def one_hungry(more):
    return circuit("X", more, "32 A") + '[[rack_units]]\nid = "A1"\nmodel = "hungry"\nsupply = "X"\n'


FIXES = {
    "supply-over-rating": text_edit(circuit("X", 'other_load = "17 A"'), '"17 A"', '"16 A"'),
    "supply-voltage-drop": text_edit(FAR, "2.5 mm²", "6 mm²"),
    "phases-unbalanced": text_edit(LINES.replace('"6 A"', '"15.5 A"', 1), '"15.5 A"', '"6 A"'),
    "neutral-over-rating": model_edit(PULSES, MODELS + HUNGRY, '"0.65"', '"0.95"'),
    "supply-inrush": model_edit(one_hungry('breaker = "B"').replace("32 A", "6 A"), MODELS + HUNGRY, '"40 A"', '"18 A"'),
    "supply-fed-from-one-phase": text_edit(circuit("X", "") + circuit("T", 'phases = 3\nfed_from = "X"'), "phases = 3", "phase = 1"),
    "supply-phase-not-said": text_edit(LINES.replace("phase = 1\n", ""), 'id = "C1"\n', 'id = "C1"\nphase = 1\n'),
    "earth-leakage": model_edit(one_hungry('residual_current = "30 mA"'), MODELS + HUNGRY, '"10 mA"', '"9 mA"'),
    "generator-over-rating": text_edit(LINES.replace("phases = 3", 'phases = 3\ngenerator = { prime = "21 kVA" }').replace('"6 A"', '"31 A"', 1), '"31 A"', '"6 A"'),
    "supply-near-rating": model_edit(one_hungry("").replace("32 A", "4.1 A"), MODELS + HUNGRY, 'idle_power = "600 W"', 'idle_power = "600 W"\nefficiency = "80 %"'),
    "generator-too-small": text_edit(circuit("G", 'phases = 3\ngenerator = { prime = "10 kVA" }\nother_load = "12 A"'), "10 kVA", "16 kVA"),
    "rack-on-three-phases": text_edit(THREE_OF_A_RACK, "phase = 2", "phase = 1", MODELS + HUNGRY),
    "rack-overfull": (
        (RACKED.replace("units = 4", "units = 3"), MODELS + HUNGRY),
        (RACKED, MODELS + HUNGRY),
    ),
    "rack-units-overlap": text_edit(RACKED.replace("unit = 3", "unit = 2"), "unit = 2", "unit = 3", MODELS + HUNGRY),
    "rack-on-the-other-side": text_edit(CROSSED, 'side = "right"\n[[rack', 'side = "left"\n[[rack'),
    "rack-heavy": model_edit(RACKED, MODELS + HUNGRY, '"60 kg"', '"50 kg"'),
    "rack-hot": model_edit(RACKED, MODELS + HUNGRY, '"600 W"', '"500 W"'),
    "load-under-minimum": ((MANY, MODELS), (MANY.replace(f", {step('two', '1 m', 'B3')}", ""), MODELS)),
    "load-under-preferred": text_edit(MANY + '[show]\npreferred_load = "5 ohm"\n', '"5 ohm"', '"2 ohm"', MODELS.replace('"2.7 ohm"', '"2 ohm"')),
    "one-leg-of-a-pair": text_edit(LEG, 'feeds = { 1 = "A.3" }', 'feeds = { 1 = "A.3+4" }', EIGHT_OHM_SUB),
    "pair-not-allowed": model_edit(
        changed_in(ONE, 'model = "quad"', 'model = "quad"\nparalleled = ["1+2"]'),
        MODELS.replace("parallelable = true\n", ""),
        "channels = 4\n",
        "channels = 4\nparallelable = true\n",
    ),
    "load-dips-under-minimum": text_edit(PAIR, BIAMP, 'drive = "passive"', EIGHT_LEAST),
    "bridged-pair-idle": text_edit(changed_in(ONE, 'model = "quad"', 'model = "quad"\nbridged = ["3+4"]'), 'bridged = ["3+4"]', ""),
    "strong-output": model_edit(
        ONE, MODELS.replace("350 W", "100 W"), '{ load = "8 ohm", power = "500 W" },\n    { load = "2.7', '{ load = "8 ohm", power = "300 W" },\n    { load = "2.7'
    ),
    "peak-like-programme": model_edit(ONE, MODELS.replace('"1400 W"', '"700 W"'), '"700 W"', '"1400 W"'),
    "limiter-too-high": model_edit(ONE, MODELS.replace('"full range"], limiter = "350 W"', '"full range"], limiter = "450 W"'), '"450 W"', '"350 W"'),
    "limiter-to-set": model_edit(ONE, MODELS.replace(', limiter = "350 W"', ""), 'uses = ["full range"] }', 'uses = ["full range"], limiter = "175 W" }'),
    "no-limiter": text_edit(BARE, 'model = "plain"', 'model = "quad"'),
    "output-too-weak": model_edit(
        changed_in(ONE, '"A.A"', '"A.B"'),
        MODELS.replace('"350 W", peak = "1400 W", presets', '"1100 W", presets').replace("350 W", "1100 W"),
        'load = "8 ohm", power = "500 W" },\n    { load = "2.7',
        'load = "8 ohm", power = "900 W" },\n    { load = "2.7',
    ),
    "figures-assumed": text_edit(
        changed_in(ONE, 'model = "top"', 'unknown = { impedance = "8 ohm", continuous = "450 W" }'),
        'unknown = { impedance = "8 ohm", continuous = "450 W" }',
        'model = "top"',
    ),
    "high-on-wrong-band": text_edit(changed_in(PAIR, BIAMP, f'{BIAMP}\npresets = {{ high = "low" }}'), 'high = "low"', 'high = "high"'),
    "bands-on-one-output": text_edit(TOP_AND_SUB, 'id = "W2"\nfrom = "A.A"', 'id = "W2"\nfrom = "A.B"', HOSTS_SUB),
    "presets-on-one-host": text_edit(MIXED, '3 = "D.1"', '3 = "D.2"', NO_HOST),
    "self-powered-on-a-line": text_edit(
        AMP + box("B1", model="active") + run("W", "A.A", step("two", "1 m", "B1")),
        ", box = 'B1'",
        "",
        MODELS + '[[loudspeakers]]\nid = "active"\nsections = [{ drive = "self-powered", section = "full" }]\n',
    ),
    "box-unfed": text_edit(changed_in(ONE, ", box = 'B1'", ""), '"1 m"', "\"1 m\", box = 'B1'"),
    "section-unfed": text_edit(PAIR + 'feeds = { 1 = "A.1" }\n', '1 = "A.1"', '1 = "A.1", 2 = "A.2"'),
    "fed-twice": ((TWO_RUNS, MODELS), (TWO_RUNS.partition('[[runs]]\nid = "W2"')[0], MODELS)),
    "switch-not-as-planned": text_edit(changed_in(PAIR, BIAMP, f'{BIAMP}\nswitch = "passive"'), 'switch = "passive"', 'switch = "bi-amp"'),
    "pins-do-not-meet": text_edit(changed_in(PAIR, '"four"', '"two"'), 'cable = "two"', 'cable = "four"'),
    "pair-feeds-nothing": text_edit(ONE + 'feeds = { 1 = "A.1", 2 = "A.2" }\n', ', 2 = "A.2"', ""),
    "connector-shared": text_edit(TWO_TOPS, 'id = "W2"\nfrom = "A.A"', 'id = "W2"\nfrom = "A.B"'),
    "plugs-do-not-fit": text_edit(
        ONE,
        "length = \"1 m\", box = 'B1' }",
        "length = \"1 m\" }, { adaptor = \"fit\", box = 'B1' }",
        MODELS.replace('id = "two"\n', 'id = "two"\nconnectors = ["4-pole", "2-pole"]\n')
        + '[[adaptors]]\nid = "fit"\nconnectors = ["2-pole", "4-pole"]\n',
    ),
    "cannot-be-linked": (
        (MANY, MODELS.replace('id = "top"\n', 'id = "top"\nconnectors = 1\n')),
        (ONE, MODELS.replace('id = "top"\n', 'id = "top"\nconnectors = 1\n')),
    ),
    "different-boxes-on-one-output": text_edit(TWO_ZONES, 'id = "W2"\nfrom = "A.A"', 'id = "W2"\nfrom = "A.B"'),
    "preset-has-no-host": text_edit(changed_in(SUB, "quad", "plain"), 'model = "plain"', 'model = "quad"', HOSTS_SUB),
    "preset-missing": text_edit(
        changed_in(PAIR, 'zone = "mains"', 'zone = "mon"'), BIAMP, f'{BIAMP}\npresets = {{ high = "high" }}'
    ),
    "preset-does-not-fit": text_edit(changed_in(ONE, 'zone = "mains"\n', 'zone = "mains"\npresets = { full = "p-sub" }\n'), 'presets = { full = "p-sub" }', ""),
    "sub-without-high-pass": model_edit(
        SUB,
        HOSTS_SUB.replace('section = "sub",', 'section = "sub", vented = true,').replace(', high_pass = "30 Hz"', ""),
        'id = "sub-any", uses = ["any"]',
        'id = "sub-any", uses = ["any"], high_pass = "30 Hz"',
    ),
    "host-is-full": (
        (PAIR, MODELS.replace('full_scale = "21 dBu"', 'full_scale = "21 dBu", slots = 1')),
        (PAIR, MODELS.replace('full_scale = "21 dBu"', 'full_scale = "21 dBu", slots = 2')),
    ),
    "low-end-missing": model_edit(ONE, MODELS.replace('id = "mains"\n', 'id = "mains"\nlow_end_from = ["subs"]\n'), '["subs"]', "[]"),
    "input-clips-first": model_edit(ONE, clipping("20 dB").replace('gain = "20 dB"\n', 'gain = "20 dB"\ninput_clip = "10 dBu"\n'), '"20 dB"', '"32 dB"'),
    "threshold-out-of-range": model_edit(OUTBOARD, clipping("14 dB"), '"14 dB"', '"20 dB"'),
    "bridged-knobs-differ": text_edit(AMP + 'bridged = ["3+4"]\nattenuators = { 3 = "-6 dB" }\n' + box("S", "subs", "sub") + run("W", "A.C", step("two", "1 m", "S")), '3 = "-6 dB"', '3 = "-6 dB", 4 = "-6 dB"'),
    "attenuator-unlocked": text_edit(OUTBOARD, 'inputs = { 1 = "D.1" }', 'inputs = { 1 = "D.1" }\nattenuators_locked = true', KNOBS),
    "gain-unknown": model_edit(OUTBOARD, NO_HOST.replace('gain = "32 dB"\noutput', "output"), "channels = 4\n", 'channels = 4\ngain = "32 dB"\n'),
    "unbalanced-link": text_edit(changed_in(ONE, 'model = "quad"', 'model = "quad"\nunbalanced_inputs = ["1"]'), 'unbalanced_inputs = ["1"]', ""),
    "length-unlikely": text_edit(changed_in(ONE, '"1 m"', '"15 mm"'), '"15 mm"', '"15 m"'),
    "cable-loss": text_edit(changed_in(ONE, '"1 m"', '"40 m"'), '"40 m"', '"20 m"'),
    "use-not-said": model_edit(ONE.replace("mains", "drum-fill"), MODELS.replace("mains", "drum-fill"), 'id = "drum-fill"\n', 'id = "drum-fill"\nuse = "wedge"\n'),
    "damping-low": text_edit(changed_in(SUB, '"5 m"', '"13 m"'), '"13 m"', '"11 m"', HOSTS_SUB),
    "current-too-high": model_edit(ONE, MODELS.replace('id = "two"\n', 'id = "two"\ncurrent = "5 A"\n'), '"5 A"', '"10 A"'),
    "more-than-in-stock": text_edit(ONE + stock("owned = 0"), "owned = 0", "owned = 1"),
    "out-of-service-in-use": text_edit(ONE + stock("owned = 1\nout = 1"), "out = 1", "out = 0"),
    "overdue-in-use": text_edit(ONE + stock("hired = 1\ndue = 2026-06-19"), "06-19", "06-21"),
    "cables-missing": text_edit(
        ONE + '[[stock]]\nmodel = "two"\nlength = "1 m"\nowned = 0\n', "owned = 0", "hired = 1"
    ),
    "failed-and-silent": ((ONE + '[[failed]]\nid = "A"\n', MODELS), (ONE, MODELS)),
    "failed-and-noted": ((ONE + '[[failed]]\nid = "A.4"\n', MODELS), (ONE, MODELS)),
    "siblings-differ": ((SUBS, EIGHT_OHM_SUB), (SINGLE_SUBS, EIGHT_OHM_SUB)),
    "siblings-not-compared": ((UNLIKE, UNKNOWN_GAIN), (UNLIKE, MODELS)),
    "both-sides-on-one-amplifier": text_edit(SIDES, 'id = "W2"\nfrom = "A.B"', 'id = "W2"\nfrom = "P.A"'),
}  # fmt: skip


@pytest.mark.parametrize("rule", FIXES)
def test_one_edit_fixes(rule):
    ill, well = FIXES[rule]
    found = of_rule(rule, *ill)
    assert found
    assert of_rule(rule, *well) == []
    before = {(item.rule, item.where.id) for item in findings(*ill)}
    worse = [item for item in findings(*well) if item.severity == "error" and (item.rule, item.where.id) not in before]
    assert worse == []


OTHERS = [
    (PAIR + 'feeds = { 1 = "A.2", 2 = "A.1" }\n', MODELS),  # a high section on the pins of the low one's output
    (PAIR + 'feeds = { 1 = "A.1", 2 = "A.1" }\n', MODELS),  # both on one output
    (changed_in(ONE, 'id = "B1"\n', 'id = "B1"\nserial = "7"\n') + stock('serial = "7"\nowned = 1\nout = 1'), MODELS),
]


@pytest.mark.parametrize("rule", FIXES)
def test_a_finding_says_why_and_what_to_do_in_a_line_each(rule):
    for item in of_rule(rule, *FIXES[rule][0]):
        for text in (item.says, item.why, item.fix):
            assert text == text.strip()
            assert "\n" not in text
            assert "None" not in text
            assert "  " not in text
            assert len(text) < 300
            assert not text.endswith(".")
