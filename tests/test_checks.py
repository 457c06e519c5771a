"""Each rule trips at its limit, and does not on the right side of it; sound rigs are left in peace."""

import datetime as dt
import re

import pytest
from rigs import AMP, MODELS, PLAIN, RACK, box, rig_of, run, show_of, step

from fieldkit.checks.checking import check, counts
from fieldkit.checks.loads import shares
from fieldkit.formulas.crest import rating_gap_db
from fieldkit.rig.solve.evaluation import evaluate

TODAY = dt.date(2026, 6, 20)


def found(text, models=MODELS):
    """Check a rig; whatever is found is said in full, with numbers that a person would write."""
    findings = check(rig_of(text, models), TODAY)
    for item in findings:
        assert item.says
        assert item.why
        assert item.fix
        assert not re.search(r"\d\.\d{5}", item.says + item.fix), "a number as a program writes it"
    return findings


def tripped(rule, text, models=MODELS, *, where, severity, numbers=()):
    """Give the one finding of a rule that this rig has."""
    items = [item for item in found(text, models) if item.rule == rule and (item.where.kind, item.where.id) == where]
    assert len(items) == 1, [(item.rule, item.where) for item in found(text, models)]
    assert items[0].severity == severity
    assert set(numbers) <= set(items[0].numbers)
    return items[0]


def quiet(rule, text, models=MODELS):
    """See that a rig does not trip a rule."""
    assert rule not in {item.rule for item in found(text, models)}


def boxes(count, start="A.A", length="1 m", more=""):
    """Put so many boxes on one output."""
    names = [f"B{number}" for number in range(1, count + 1)]
    return "".join(box(name, more=more) for name in names) + run(
        "W", start, *(step("four", length, name) for name in names)
    )


BIAMP = 'drive = "bi-amp"'

# ---- loads -----------------------------------------------------------------------------------------------------------


def test_load_under_the_least():
    # 8 Ω boxes on an output of at least 2.7 Ω: three are 2.67 Ω, which is meant by 2.7; four are 2 Ω.
    item = tripped(
        "load-under-minimum",
        AMP + boxes(4),
        where=("output", "A.1"),
        severity="error",
        numbers=("load_ohm", "minimum_ohm"),
    )
    assert item.numbers["load_ohm"] == pytest.approx(2.0)
    assert "2 Ω" in item.says
    assert "2.7 Ω" in item.says
    assert "leave 3 of 4" in item.fix
    quiet("load-under-minimum", AMP + boxes(3))


# own, worked by hand, boxes of 8 Ω: three are 2.667 Ω, so that 4 Ω takes two and 2.7 Ω takes three.
@pytest.mark.parametrize(
    ("count", "minimum", "words"),
    [
        (5, "4 ohm", "leave 2 of 5 on it and spread the others over 2 more outputs (2 + 1)"),
        (6, "4 ohm", "leave 2 of 6 on it and spread the others over 2 more outputs (2 + 2)"),
        (5, "2.7 ohm", "leave 3 of 5 on it and feed the rest from another output"),
        (2, "8.5 ohm", "even alone; use another mode or amplifier"),
    ],
)
def test_the_fix_counts_the_outputs_that_are_needed(count, minimum, words):
    models = MODELS.replace('load = "2.7 ohm"', f'load = "{minimum}"').replace(
        '{ load = "4 ohm", power = "900 W" },', ""
    )
    item = tripped("load-under-minimum", AMP + boxes(count), models, where=("output", "A.1"), severity="error")
    assert words in item.fix


def test_boxes_of_different_ohms_are_spread_too():
    # own, worked by hand, least 4 Ω: 4 fills one; 8 and 8 the next; 16 begins a third.
    assert shares([4.0, 8.0, 8.0, 16.0], 4.0) == [1, 2, 1]
    assert shares([16.0, 8.0, 4.0, 16.0], 4.0) == [3, 1]
    assert shares([3.0, 8.0], 4.0) == []


def test_load_under_the_preferred():
    item = tripped(
        "load-under-preferred", AMP + boxes(3), where=("output", "A.1"), severity="warning", numbers=("preferred_ohm",)
    )
    assert "4 Ω" in item.says
    quiet("load-under-preferred", AMP + boxes(2))
    quiet("load-under-preferred", AMP + boxes(3) + '[show]\npreferred_load = "2.6 ohm"\n')
    # A bridged pair shows each channel half its load: 4 Ω of sub is 2 Ω a channel.
    bridged = AMP + 'bridged = ["3+4"]\n' + box("S", "subs", "sub") + run("W", "A.B", step("two", "1 m", "S"))
    models = MODELS.replace(
        'power = "1800 W", bridged = true',
        'power = "1800 W", bridged = true }, { load = "4 ohm", power = "2400 W", bridged = true',
    )
    assert (
        "2 Ω for each channel"
        in tripped("load-under-preferred", bridged, models, where=("output", "A.3+4"), severity="warning").says
    )


def test_one_leg_of_a_pair_and_an_idle_pair():
    leg = AMP + 'bridged = ["1+2"]\n' + boxes(1)
    assert "A.1+2" in tripped("one-leg-of-a-pair", leg, where=("output", "A.1"), severity="error").fix
    tripped("bridged-pair-idle", leg, where=("output", "A.1+2"), severity="note")
    tied = AMP + 'paralleled = ["1+2"]\n' + boxes(1) + run("V", "A.B", step("two", "1 m"), more='feeds = { 1 = "A.2" }')
    assert "paralleled" in tripped("one-leg-of-a-pair", tied, where=("output", "A.2"), severity="error").says
    whole = AMP + 'bridged = ["3+4"]\n' + box("S", "subs", "sub") + run("W", "A.B", step("two", "1 m", "S"))
    quiet("one-leg-of-a-pair", whole)
    quiet("bridged-pair-idle", whole)


# ---- powers ----------------------------------------------------------------------------------------------------------


def rated(power, more=""):
    """Give the models with another continuous rating of the passive section."""
    return MODELS.replace(
        'continuous = "350 W", peak = "1400 W", presets = ["p-full-range"',
        f'continuous = "{power}"{more}, presets = ["p-full-range"',
    )


def without_limiter(models):
    return models.replace(', limiter = "350 W"', "")


# One box of 8 Ω on 0 m of cable gets 500 W. 500/1.26 is 396.8: at 398 W nothing need hold it back, at 395 W it must.
def test_a_limiter_that_is_to_be_set():
    text = AMP + boxes(1, length="0 m")
    item = tripped(
        "limiter-to-set",
        text,
        without_limiter(rated("395 W")),
        where=("output", "A.1"),
        severity="note",
        numbers=("full_w", "thermal_v", "peak_v"),
    )
    assert "39.8 V rms" in item.fix  # √(395·8) less 3 dB
    quiet("limiter-to-set", text, without_limiter(rated("398 W")))
    assert tripped("limiter-to-set", text, without_limiter(rated("124 W")), where=("output", "A.1"), severity="warning")
    quiet("limiter-to-set", text)  # the preset brings one


def test_no_limiter_anywhere():
    text = PLAIN + boxes(1, "P.A", "0 m")
    models = without_limiter(rated("395 W"))
    tripped("no-limiter", text, models, where=("output", "P.1"), severity="note")
    quiet("no-limiter", text, without_limiter(rated("398 W")))
    # Four times the rating, 6 dB, is what a peak rating usually is: common practice, no source.
    tripped("no-limiter", text, without_limiter(rated("124 W")), where=("output", "P.1"), severity="error")
    tripped("no-limiter", text, without_limiter(rated("126 W")), where=("output", "P.1"), severity="warning")
    # Up to twice the rating, "programme" power, is ordinary: common practice, no source.
    tripped("no-limiter", text, without_limiter(rated("249 W")), where=("output", "P.1"), severity="warning")
    tripped("no-limiter", text, without_limiter(rated("251 W")), where=("output", "P.1"), severity="note")


def test_strong_with_a_limiter_is_only_information():
    text = AMP + boxes(1, length="0 m")

    def models(power):
        return rated(power).replace(
            'uses = ["full range"], limiter = "350 W"', f'uses = ["full range"], limiter = "{power}"'
        )

    item = tripped("strong-output", text, models("124 W"), where=("output", "A.1"), severity="note")
    assert "limiter holds it at 124 W" in item.says
    quiet("strong-output", text, models("126 W"))
    quiet("limiter-too-high", text, models("124 W"))


# A preset's limiter of 350 W is 1.26 times 277.8 W, and four times 87.5 W.
def test_a_limiter_that_lets_too_much_pass():
    text = AMP + boxes(1, length="0 m")
    item = tripped("limiter-too-high", text, rated("277 W"), where=("output", "A.1"), severity="warning")
    assert "'p-full-range', written as 350 W, lets 350 W pass" in item.says
    tripped("limiter-too-high", text, rated("278 W"), where=("output", "A.1"), severity="note")
    quiet("limiter-too-high", text, rated("350 W"))
    tripped("limiter-too-high", text, rated("87 W"), where=("output", "A.1"), severity="error")
    tripped("limiter-too-high", text, rated("88 W"), where=("output", "A.1"), severity="warning")
    # A limiter above what the output can give lets pass what there is: 500 W.
    high = rated("300 W").replace('uses = ["full range"], limiter = "350 W"', 'uses = ["full range"], limiter = "5 kW"')
    assert "500 W pass" in tripped("limiter-too-high", text, high, where=("output", "A.1"), severity="warning").says
    # It is a finding at any size of amplifier: one that gives 350 W at most, with a limiter of 5 kW on 350 W.
    small = high.replace("300 W", "350 W").replace(
        '"8 ohm", power = "500 W" },\n    { load = "2.7', '"8 ohm", power = "340 W" },\n    { load = "2.7'
    )
    assert "340 W pass" in tripped("limiter-too-high", text, small, where=("output", "A.1"), severity="note").says


def test_output_too_weak():
    text = AMP + boxes(1, length="0 m")
    tripped(
        "output-too-weak",
        text,
        rated("1010 W"),
        where=("output", "A.1"),
        severity="note",
        numbers=("full_w", "continuous_w"),
    )
    quiet("output-too-weak", text, rated("990 W"))
    tripped("output-too-weak", text, rated("2010 W"), where=("output", "A.1"), severity="warning")
    tripped("output-too-weak", text, rated("1990 W"), where=("output", "A.1"), severity="note")


def test_a_shared_supply_is_named_when_it_makes_an_output_weak():
    text = (
        PLAIN
        + box("B1")
        + box("B2")
        + run("W1", "P.A", step("two", "0 m", "B1"))
        + run("W2", "P.B", step("two", "0 m", "B2"))
    )
    assert (
        "common supply"
        in tripped("output-too-weak", text, rated("900 W"), where=("output", "P.1"), severity="note").says
    )


def test_an_unknown_box_says_that_its_figures_are_assumed():
    unknown = '[[boxes]]\nid = "U"\nzone = "mains"\nunknown = { impedance = "8 ohm", continuous = "250 W" }\n'
    text = AMP + unknown + run("W", "A.A", step("two", "1 m", "U"))
    assert "8 Ω and 250 W" in tripped("figures-assumed", text, where=("box", "U"), severity="note").says
    quiet("figures-assumed", AMP + boxes(1))


# ---- bands -----------------------------------------------------------------------------------------------------------


def crossed(adaptor_pins):
    return MODELS + f'[[adaptors]]\nid = "x"\npins = {adaptor_pins}\n'


def two_biamps(first="", second=""):
    text = AMP + box("B1", more=BIAMP) + box("B2", more=BIAMP)
    last = '{ adaptor = "x", box = "B2" }' if second else step("four", "1 m", "B2")
    return text + run(
        "W", "A.A", step("four", "5 m", "B1"), *([step("four", "1 m")] if second else []), last, more=first
    )


def test_low_and_high_on_one_output():
    both = 'feeds = { 1 = "A.1", 2 = "A.1" }'
    item = tripped("high-on-wrong-band", two_biamps(both), where=("output", "A.1"), severity="error")
    assert "B1" in item.says
    quiet("high-on-wrong-band", two_biamps())


def test_pairs_crossed_between_two_boxes():
    crossing = crossed('{ 1 = "2", 2 = "1" }')
    for output in ("A.1", "A.2"):
        tripped("high-on-wrong-band", two_biamps(second="x"), crossing, where=("output", output), severity="error")
    quiet("high-on-wrong-band", two_biamps(second="x"), crossed('{ 1 = "1", 2 = "2" }'))


@pytest.mark.parametrize("preset", ["low", "p-full-range"])
def test_a_high_section_with_another_sections_preset(preset):
    text = (
        AMP + box("B1", more=f'{BIAMP}\npresets = {{ high = "{preset}" }}') + run("W", "A.A", step("four", "5 m", "B1"))
    )
    assert preset in tripped("high-on-wrong-band", text, where=("box", "B1"), severity="error").says
    quiet("high-on-wrong-band", text.replace(f'high = "{preset}"', 'high = "high"'))


DSP = '[[rack_units]]\nid = "D"\nmodel = "dsp"\n'
NO_HOST = MODELS.replace('hosts = { presets = ["top"], full_scale = "21 dBu" }\n', "")


def test_one_processor_output_for_low_and_high():
    def text(inputs):
        return (
            AMP
            + f"inputs = {{ {inputs} }}\n"
            + DSP
            + box("B1", more=BIAMP)
            + run("W", "A.A", step("four", "5 m", "B1"))
        )

    tripped("high-on-wrong-band", text('1 = "D.1", 2 = "D.1"'), NO_HOST, where=("host", "D.1"), severity="error")
    tripped("high-on-wrong-band", text('1 = "D.1", 2 = "=1"'), NO_HOST, where=("host", "D.1"), severity="error")
    quiet("high-on-wrong-band", text('1 = "D.1", 2 = "D.2"'), NO_HOST)


def test_one_processor_output_for_two_presets_of_one_band():
    def text(second):
        amp = AMP + f'inputs = {{ 1 = "D.1", 3 = "{second}" }}\n' + DSP + box("B1") + box("M", "mon")
        return amp + run("W1", "A.A", step("two", "5 m", "B1")) + run("W2", "A.B", step("two", "5 m", "M"))

    tripped("presets-on-one-host", text("D.1"), NO_HOST, where=("host", "D.1"), severity="warning")
    quiet("presets-on-one-host", text("D.2"), NO_HOST)


def test_sub_and_top_on_one_output():
    text = AMP + box("B1") + box("S", "subs", "sub")
    both = text + run("W1", "A.A", step("two", "5 m", "B1")) + run("W2", "A.A", step("two", "5 m", "S"))
    tripped("bands-on-one-output", both, where=("output", "A.1"), severity="warning")
    quiet("bands-on-one-output", both.replace('id = "W2"\nfrom = "A.A"', 'id = "W2"\nfrom = "A.B"'))


def test_a_section_that_is_fed_by_nothing():
    text = AMP + box("B1", more=BIAMP) + run("W", "A.A", step("four", "5 m", "B1"), more='feeds = { 1 = "A.1" }')
    assert "pin pair 2" in tripped("section-unfed", text, where=("box", "B1"), severity="error").says
    quiet("section-unfed", text.replace('1 = "A.1"', '1 = "A.1", 2 = "A.2"'))


def test_a_box_that_nothing_feeds():
    tripped("box-unfed", box("B1"), where=("box", "B1"), severity="warning")
    quiet("box-unfed", AMP + boxes(1))


def test_a_box_on_two_outputs():
    def text(second):
        return (
            AMP + box("B1") + run("W1", "A.A", step("two", "5 m", "B1")) + run("W2", second, step("two", "5 m", "B1"))
        )

    tripped("fed-twice", text("A.B"), where=("box", "B1"), severity="error")
    tripped("fed-twice", text("A.A"), where=("box", "B1"), severity="warning")
    quiet("fed-twice", AMP + boxes(1))


def test_a_self_powered_box_on_a_line():
    models = MODELS + '[[loudspeakers]]\nid = "active"\nsections = [{ drive = "self-powered", section = "full" }]\n'
    text = AMP + box("B1", model="active")
    tripped(
        "self-powered-on-a-line",
        text + run("W", "A.A", step("two", "5 m", "B1")),
        models,
        where=("box", "B1"),
        severity="error",
    )
    quiet("self-powered-on-a-line", text, models)
    quiet("box-unfed", text, models)


def test_a_switch_that_stands_otherwise():
    text = AMP + boxes(1, more=f'{BIAMP}\nswitch = "passive"')
    tripped("switch-not-as-planned", text, where=("box", "B1"), severity="error")
    quiet("switch-not-as-planned", text.replace('switch = "passive"', 'switch = "bi-amp"'))
    quiet("switch-not-as-planned", AMP + boxes(1, more='switch = "passive"'))


# ---- pins ------------------------------------------------------------------------------------------------------------


def test_two_cores_where_four_are_needed():
    text = (
        AMP + box("B1", more=BIAMP) + run("W", "A.A", step("two", "5 m", "B1"), more='feeds = { 1 = "A.1", 2 = "A.2" }')
    )
    item = tripped("pins-do-not-meet", text, where=("line", "W/2"), severity="error")
    assert "'two' in step 1" in item.says
    assert "B1" in item.says
    quiet("pins-do-not-meet", text.replace('cable = "two"', 'cable = "four"'))
    unsaid = text.replace('feeds = { 1 = "A.1", 2 = "A.2" }', "")  # the connector's own pins are meant
    tripped("pins-do-not-meet", unsaid, where=("line", "W/2"), severity="error")
    quiet("pins-do-not-meet", AMP + box("B1") + run("W", "A.A", step("two", "5 m", "B1")))


def test_feeds_that_the_pins_do_not_carry():
    text = (
        AMP
        + box("B1", more=BIAMP)
        + run("W", "A.A", step("four", "5 m", "B1"), more='feeds = { 1 = "A.2", 2 = "A.1" }')
    )
    item = tripped("pins-do-not-meet", text, where=("line", "W/1"), severity="error")
    assert "carries A.1" in item.says
    quiet("pins-do-not-meet", text.replace('1 = "A.2", 2 = "A.1"', '1 = "A.1", 2 = "A.2"'))


def test_a_pair_that_no_section_uses():
    text = AMP + box("B1") + run("W", "A.A", step("four", "5 m", "B1"), more='feeds = { 1 = "A.1", 2 = "A.2" }')
    tripped("pair-feeds-nothing", text, where=("line", "W/2"), severity="warning")
    quiet("pair-feeds-nothing", AMP + boxes(1))


def test_plugs_that_do_not_go_together():
    models = MODELS.replace('id = "two"\n', 'id = "two"\nconnectors = ["4-pole", "2-pole"]\n')
    adaptors = models + '[[adaptors]]\nid = "fit"\nconnectors = ["2-pole", "4-pole"]\n'
    text = AMP + box("B1")
    assert (
        "2-pole"
        in tripped(
            "plugs-do-not-fit",
            text + run("W", "A.A", step("two", "5 m", "B1")),
            models,
            where=("run", "W"),
            severity="warning",
        ).says
    )
    quiet("plugs-do-not-fit", text + run("W", "A.A", step("two", "5 m"), '{ adaptor = "fit", box = "B1" }'), adaptors)


def test_a_box_that_cannot_be_linked():
    models = MODELS.replace('id = "top"\n', 'id = "top"\nconnectors = 1\n')
    tripped("cannot-be-linked", AMP + boxes(2), models, where=("run", "W"), severity="error")
    quiet("cannot-be-linked", AMP + boxes(1), models)


def test_two_leads_in_one_connector():
    def text(second, first="two", shared=""):
        steps = [f'{{ cable = "{first}", length = "5 m"{shared}, box = "B{number}" }}' for number in (1, 2)]
        return AMP + box("B1") + box("B2") + run("W1", "A.A", steps[0]) + run("W2", second, steps[1])

    item = tripped("connector-shared", text("A.A"), where=("unit", "A"), severity="warning", numbers=("leads",))
    assert "connector A: W1, W2" in item.says
    quiet("connector-shared", text("A.B"))
    quiet("connector-shared", text("A.A", shared=', shared = "SPLIT"'))
    # Another connector that carries the same output is named as long as it is free.
    models = MODELS.replace('C = { 1 = "3+4" }', 'C = { 1 = "1" }')
    item = tripped("connector-shared", text("A.A"), models, where=("unit", "A"), severity="warning")
    assert "plug one into A.C, which is free" in item.fix
    third = box("B3") + run("W3", "A.C", step("two", "5 m", "B3"))
    item = tripped("connector-shared", text("A.A") + third, models, where=("unit", "A"), severity="warning")
    assert "A.C" not in item.fix


def test_two_leads_in_one_socket_of_a_rack_as_built():
    leads = "".join(box(f"B{n}") + run(f"W{n}", "SR.P1", step("two", "5 m", f"B{n}")) for n in (1, 2))
    tripped("connector-shared", RACK + leads, where=("rack", "SR"), severity="warning")


# ---- presets ---------------------------------------------------------------------------------------------------------


def test_different_boxes_and_presets_on_one_output():
    text = AMP + box("B1") + box("M", "mon") + run("W", "A.A", step("two", "5 m", "B1"), step("two", "5 m", "M"))
    assert "presets" in tripped("different-boxes-on-one-output", text, where=("output", "A.1"), severity="warning").says
    other = (
        MODELS
        + '[[loudspeakers]]\nid = "fill"\nsections = [{ drive = "passive", section = "full", impedance = "8 ohm", continuous = "350 W" }]\n'
    )
    mixed = (
        AMP + box("B1") + box("F", model="fill") + run("W", "A.A", step("two", "5 m", "B1"), step("two", "5 m", "F"))
    )
    assert (
        "models"
        in tripped("different-boxes-on-one-output", mixed, other, where=("output", "A.1"), severity="warning").says
    )
    quiet("different-boxes-on-one-output", AMP + boxes(2))


def test_a_preset_without_a_host():
    passive = PLAIN + boxes(1, "P.A")
    tripped("preset-has-no-host", passive, where=("output", "P.1"), severity="note")
    text = AMP + boxes(1, more=BIAMP)
    tripped("preset-has-no-host", text, NO_HOST, where=("output", "A.2"), severity="error")
    others = MODELS.replace('hosts = { presets = ["top"], full', 'hosts = { presets = ["fill"], full')
    tripped("preset-has-no-host", text, others, where=("host", "A.2"), severity="error")
    sub = PLAIN + box("S", "subs", "sub") + run("W", "P.A", step("two", "5 m", "S"))
    tripped("preset-has-no-host", sub, where=("output", "P.1"), severity="warning")
    quiet("preset-has-no-host", text)


def test_no_preset_for_the_use():
    tripped(
        "preset-missing",
        AMP + box("M", "mon", more=BIAMP) + run("W", "A.A", step("four", "5 m", "M")),
        where=("box", "M"),
        severity="error",
    )
    models = MODELS.replace('id = "p-full-range", uses = ["full range"]', 'id = "p-full-range", uses = ["with sub"]')
    tripped("preset-missing", AMP + boxes(1), models, where=("box", "B1"), severity="warning")
    quiet("preset-missing", AMP + boxes(1))


def test_a_preset_chosen_for_another_use():
    text = AMP + boxes(1, more='presets = { full = "p-sub" }')
    assert "with sub" in tripped("preset-does-not-fit", text, where=("box", "B1"), severity="warning").says
    quiet("preset-does-not-fit", text.replace("p-sub", "p-full-range"))


def test_a_vented_sub_without_its_high_pass():
    def models(vented, high_pass):
        return MODELS.replace('section = "sub",', f'section = "sub", vented = {vented},').replace(
            'uses = ["any"], high_pass = "30 Hz"', f'uses = ["any"]{high_pass}'
        )

    text = AMP + box("S", "subs", "sub") + run("W", "A.A", step("two", "5 m", "S"))
    tripped("sub-without-high-pass", text, models("true", ""), where=("box", "S"), severity="warning")
    quiet("sub-without-high-pass", text, models("true", ', high_pass = "30 Hz"'))
    quiet("sub-without-high-pass", text, models("false", ""))


def test_a_host_that_is_full():
    def models(slots):
        return MODELS.replace('full_scale = "21 dBu" }', f'full_scale = "21 dBu", slots = {slots} }}')

    text = AMP + boxes(1, more=BIAMP)
    tripped("host-is-full", text, models(1), where=("unit", "A"), severity="error", numbers=("outputs", "slots"))
    quiet("host-is-full", text, models(2))


def test_low_end_from_a_zone_without_subs():
    models = MODELS.replace('id = "mains"\n', 'id = "mains"\nlow_end_from = ["subs"]\n')
    tripped("low-end-missing", box("B1"), models, where=("zone", "mains"), severity="warning")
    quiet("low-end-missing", box("B1") + box("S", "subs", "sub"), models)


# ---- levels ----------------------------------------------------------------------------------------------------------


# 500 W/8 Ω is 63.246 V, +38.24 dBu; with 32 dB of gain the input needs +6.24 dBu.
def test_an_input_that_clips_first():
    def models(clip):
        return MODELS.replace('gain = "32 dB"\n', f'gain = "32 dB"\ninput_clip = "{clip}"\n')

    text = AMP + boxes(1)
    item = tripped(
        "input-clips-first",
        text,
        models("6.1 dBu"),
        where=("output", "A.1"),
        severity="warning",
        numbers=("needed_dbu", "limit_dbu"),
    )
    assert item.numbers["needed_dbu"] == pytest.approx(6.24, abs=5e-3)
    quiet("input-clips-first", text, models("6.3 dBu"))
    quiet("input-clips-first", text)  # the converter's +21 dBu is far above


# 350 W/8 Ω is +36.69 dBu; at a gain of 15.6 dB the input threshold is +21.09 dBu, over the host's +21 dBu.
def test_a_threshold_that_the_host_cannot_reach():
    def text(gain):
        return AMP + f'gain = "{gain}"\n' + boxes(1)

    tripped(
        "threshold-out-of-range", text("15.6 dB"), where=("output", "A.1"), severity="warning", numbers=("input_dbfs",)
    )
    quiet("threshold-out-of-range", text("15.8 dB"))


KNOBS = NO_HOST.replace('id = "quad"\n', 'id = "quad"\nattenuators = true\n')


def test_an_unlocked_knob_under_an_outboard_limiter():
    text = AMP + 'inputs = { 1 = "D.1" }\n{locked}' + DSP + boxes(1)
    tripped("attenuator-unlocked", text.replace("{locked}", ""), KNOBS, where=("unit", "A"), severity="warning")
    quiet("attenuator-unlocked", text.replace("{locked}", "attenuators_locked = true\n"), KNOBS)
    quiet("attenuator-unlocked", text.replace("{locked}", ""), NO_HOST)  # no knobs


def test_knobs_of_a_bridged_pair():
    text = AMP + 'bridged = ["3+4"]\nattenuators = { 3 = "-6 dB"{} }\n' + box("S", "subs", "sub")
    text += run("W", "A.C", step("two", "1 m", "S"))
    tripped("bridged-knobs-differ", text.replace("{}", ""), where=("output", "A.3+4"), severity="warning")
    quiet("bridged-knobs-differ", text.replace("{}", ', 4 = "-6 dB"'))


def test_a_gain_that_nobody_knows():
    text = AMP + 'inputs = { 1 = "D.1" }\n' + DSP + boxes(1)
    tripped("gain-unknown", text, NO_HOST.replace('gain = "32 dB"\n', ""), where=("output", "A.1"), severity="warning")
    quiet("gain-unknown", text, NO_HOST)


def test_an_unbalanced_link():
    tripped(
        "unbalanced-link", AMP + 'unbalanced_inputs = ["1"]\n' + boxes(1), where=("output", "A.1"), severity="warning"
    )
    quiet("unbalanced-link", AMP + 'unbalanced_inputs = ["2"]\n' + boxes(1))
    tripped(
        "unbalanced-link",
        AMP + boxes(1),
        MODELS.replace('gain = "32 dB"\n', 'gain = "32 dB"\nbalanced = false\n'),
        where=("output", "A.1"),
        severity="warning",
    )


# ---- cables ----------------------------------------------------------------------------------------------------------


# Common practice, no source: leads of 0.1 to 300 m are meant.
def test_a_length_that_is_hardly_meant():
    def text(length):
        return AMP + box("B1") + run("W", "A.A", step("two", length, "B1"))

    tripped("length-unlikely", text("15 mm"), where=("run", "W"), severity="note", numbers=("length_m",))
    quiet("length-unlikely", text("15 m"))


# IEC 60228 table 3 and 20·log10(1 + R/Z): 0.5 dB on 2.5 mm² class 5 with 8 Ω is 29.70 m; 1 dB is 61.2 m (R = 8·(10^(1/20) − 1)).
def test_cable_loss():
    def text(length, more=""):
        return AMP + box("B1") + run("W", "A.A", step("two", length, "B1")) + more

    tripped(
        "cable-loss",
        text("29.8 m"),
        where=("line", "W/1"),
        severity="note",
        numbers=("loss_db", "limit_db", "cable_ohm"),
    )
    quiet("cable-loss", text("29.6 m"))
    assert "6 mm²" in tripped("cable-loss", text("61.3 m"), where=("line", "W/1"), severity="warning").fix
    tripped("cable-loss", text("61.0 m"), where=("line", "W/1"), severity="note")
    quiet("cable-loss", text("61.0 m", '[show]\nloss_limit = "1 dB"\n'))
    by_zone = MODELS.replace('id = "mains"\n', 'id = "mains"\nloss_limit = "0.4 dB"\n')
    tripped(
        "cable-loss", text("29.6 m", '[show]\nloss_limit = "1 dB"\n'), by_zone, where=("line", "W/1"), severity="note"
    )


# Damping at a 4 Ω sub: 4/(0.01 + R) = 20 at R = 0.19 Ω, which is 11.90 m of 2.5 mm².
def test_damping_is_advice_for_subs_only():
    def text(length, more=""):
        return AMP + box("S", "subs", "sub") + run("W", "A.A", step("two", length, "S")) + more

    tripped("damping-low", text("12.0 m"), where=("line", "W/1"), severity="note", numbers=("damping_factor",))
    quiet("damping-low", text("11.8 m"))
    quiet("damping-low", text("12.0 m", "[show]\nminimum_damping = 19\n"))
    quiet("damping-low", AMP + box("B1") + run("W", "A.A", step("two", "60 m", "B1")))


# At the limiter's 52.915 V one 8 Ω box draws 6.61 A, two draw 13.23 A.
def test_current_in_cable_and_connector():
    def models(cable="20 A", connector="40 A"):
        text = MODELS.replace('id = "four"\n', f'id = "four"\ncurrent = "{cable}"\n')
        return text.replace('gain = "32 dB"\n', f'gain = "32 dB"\nconnector_current = "{connector}"\n')

    text = AMP + boxes(2, length="0 m")
    item = tripped(
        "current-too-high",
        text,
        models(cable="13.1 A"),
        where=("line", "W/1"),
        severity="warning",
        numbers=("current_a", "rated_a"),
    )
    assert item.numbers["current_a"] == pytest.approx(13.23, abs=5e-3)
    quiet("current-too-high", text, models(cable="13.3 A"))
    tripped("current-too-high", text, models(connector="13.1 A"), where=("output", "A.1"), severity="warning")
    quiet("current-too-high", text, models(connector="13.3 A"))


# ---- stock -----------------------------------------------------------------------------------------------------------


def stock(model, **values):
    lines = "".join(f"{key} = {value!r}\n".replace("'", '"') for key, value in values.items())
    return f'[[stock]]\nmodel = "{model}"\n{lines}'


def test_more_than_in_stock():
    text = AMP + boxes(3)
    item = tripped(
        "more-than-in-stock",
        text + stock("top", owned=1, hired=1),
        where=("model", "top"),
        severity="error",
        numbers=("used", "stock", "out"),
    )
    assert item.fix.endswith("1")
    quiet("more-than-in-stock", text + stock("top", owned=2, hired=1))
    quiet("more-than-in-stock", text)  # a show without a stock list plans with what it likes
    tripped("more-than-in-stock", AMP + stock("quad", owned=0), where=("model", "quad"), severity="error")


def test_out_of_service_in_use():
    text = AMP + boxes(3)
    tripped("out-of-service-in-use", text + stock("top", owned=3, out=1), where=("model", "top"), severity="error")
    quiet("out-of-service-in-use", text + stock("top", owned=4, out=1))
    item = (
        text.replace('id = "B1"\n', 'id = "B1"\nserial = "0007"\n', 1)
        + stock("top", owned=9)
        + stock("top", serial="0007", owned=1, out=1)
    )
    assert "0007" in tripped("out-of-service-in-use", item, where=("box", "B1"), severity="error").says


def test_overdue_in_use():
    def text(day):
        return AMP + boxes(1) + f'[[stock]]\nmodel = "top"\nhired = 4\nhired_from = "a shop"\ndue = {day}\n'

    assert "a shop" in tripped("overdue-in-use", text("2026-06-19"), where=("model", "top"), severity="warning").says
    quiet("overdue-in-use", text("2026-06-20"))
    quiet("overdue-in-use", text("2026-06-19") + "[show]\ndate = 2026-06-18\n")  # held against the show's own date


def test_cables_that_are_missing():
    text = AMP + box("B1") + box("B2") + run("W", "A.A", step("two", "20 m", "B1"), step("two", "5 m", "B2"))
    item = tripped(
        "cables-missing", text + stock("two", length="20 m", owned=1), where=("model", "two"), severity="error"
    )
    assert "1 × 5 m" in item.says
    quiet("cables-missing", text + stock("two", length="20 m", owned=1) + stock("two", length="10 m", owned=1))
    quiet("cables-missing", text + stock("two", length="20 m", owned=2))
    tripped("cables-missing", text + stock("two", length="10 m", owned=9), where=("model", "two"), severity="error")
    quiet("cables-missing", text)


def test_a_multicore_that_runs_share_is_counted_once():
    def text(owned):
        shared = '{ cable = "four", length = "30 m", shared = "M1" }'
        two = run("W1", "A.A", shared, step("two", "5 m", "B1")) + run("W2", "A.B", shared, step("two", "5 m", "B2"))
        return AMP + box("B1") + box("B2") + two + stock("four", length="30 m", owned=owned)

    quiet("cables-missing", text(1))
    tripped("cables-missing", text(0), where=("model", "four"), severity="error")


# ---- spares ----------------------------------------------------------------------------------------------------------


def test_both_sides_on_one_amplifier():
    def text(second, more=PLAIN):
        sides = box("L", more='side = "left"') + box("R", more='side = "right"')
        return (
            AMP + more + sides + run("W1", "A.A", step("two", "5 m", "L")) + run("W2", second, step("two", "5 m", "R"))
        )

    tripped("both-sides-on-one-amplifier", text("A.B"), where=("zone", "mains"), severity="warning")
    quiet("both-sides-on-one-amplifier", text("P.A"))
    quiet("both-sides-on-one-amplifier", text("A.B", more=""))  # with one amplifier there is no choice


# ---- failures ----------------------------------------------------------------------------------------------------------


def test_what_is_lost():
    one = AMP + box("B1") + run("W1", "A.A", step("two", "5 m", "B1"))

    def failed(name, more=""):
        return one + f'[[failed]]\nid = "{name}"\n{more}\n'

    silent = tripped("failed-and-silent", failed("A"), where=("unit", "A"), severity="warning", numbers=("boxes",))
    assert "B1" in silent.says
    tripped("failed-and-silent", failed("A.1"), where=("output", "A.1"), severity="warning")
    tripped("failed-and-silent", failed("B1"), where=("box", "B1"), severity="warning")
    tripped("failed-and-noted", failed("A.2"), where=("output", "A.2"), severity="note")
    tripped("failed-and-noted", failed("A", "swapped = true"), where=("unit", "A"), severity="note")
    quiet("failed-and-silent", failed("A.2"))
    quiet("failed-and-silent", one)
    quiet("failed-and-noted", one)


# ---- whole rigs ---------------------------------------------------------------------------------------------------


def test_a_show_with_nothing_in_it_is_no_error():
    assert {item.severity for item in found("")} <= {"note"}
    assert counts(()) == {"errors": 0, "warnings": 0, "notes": 0}


SOUND = MODELS.replace('gain = "32 dB"', 'gain = "30 dB"')


def test_two_passive_boxes_and_a_small_amplifier():
    models = MODELS.replace('supply_limit = "800 W"\n', "").replace(
        'load = "8 ohm", power = "500 W" }, { load = "4 ohm", power = "800 W" }', 'load = "8 ohm", power = "300 W" }'
    )
    models = models.replace('presets = ["p-full-range", "p-sub", "p-wedge"]', "presets = []")
    text = (
        PLAIN
        + box("L")
        + box("R")
        + run("W1", "P.A", step("two", "10 m", "L"))
        + run("W2", "P.B", step("two", "10 m", "R"))
    )
    assert [item for item in found(text, models) if item.severity != "note"] == []


def test_a_biamp_pair_with_subs_on_a_bridged_output():
    amp = '[[rack_units]]\nid = "{0}"\nmodel = "quad"\nbridged = ["3+4"]\n'
    models = MODELS.replace('presets = ["top"]', 'presets = ["top", "sub"]').replace(
        'impedance = "4 ohm", continuous = "500 W"', 'impedance = "8 ohm", continuous = "900 W"'
    )
    models = models.replace(
        '"full range", "with sub"], high_pass = "1200 Hz"',
        '"full range", "with sub"], high_pass = "1200 Hz", limiter = "60 W"',
    ).replace('low_pass = "1200 Hz"', 'low_pass = "1200 Hz", limiter = "350 W"')
    text = ""
    for side in ("L", "R"):
        text += amp.format(side) + box(f"T{side}", more=BIAMP) + box(f"S{side}", "subs", "sub")
        text += run(f"W{side}", f"{side}.A", step("four", "10 m", f"T{side}")) + run(
            f"V{side}", f"{side}.B", step("two", "8 m", f"S{side}")
        )
    assert [item for item in found(text, models) if item.severity != "note"] == []


def test_wedges_with_an_outboard_processor():
    text = (
        '[[rack_units]]\nid = "P"\nmodel = "plain"\ninputs = { 1 = "D.1", 2 = "D.2" }\n'
        + DSP
        + box("M1", "mon")
        + box("M2", "mon")
    )
    text += run("W1", "P.A", step("two", "15 m", "M1")) + run("W2", "P.B", step("two", "15 m", "M2"))
    assert [item for item in found(text) if item.severity != "note"] == []


# Facts of the trade, common practice, no source: how far continuous and peak ratings lie apart.
@pytest.mark.parametrize(
    ("continuous", "peak", "gap"), [(150, 2400, 12.0), (300, 2800, 9.7), (45, 720, 12.0), (500, 2800, 7.5)]
)
def test_continuous_against_peak(continuous, peak, gap):
    assert rating_gap_db(continuous, peak) == pytest.approx(gap, abs=0.05)


MIDSIZE = MODELS.replace("bridged = true", 'bridged = true }, { load = "4 ohm", power = "2400 W", bridged = true')


# Common practice, no source: a four-channel amplifier in two bridged pairs drives a pair of mid-size boxes or up to six
# small ones, three of 16 Ω on each pair.
def test_what_a_four_channel_amplifier_drives():
    amp = AMP + 'bridged = ["1+2", "3+4"]\n'
    models = MIDSIZE.replace("connectors_bridged = {", 'connectors_bridged = { A = { 1 = "1+2" },').replace(
        'peak = "1400 W"', 'peak = "2800 W"'
    )
    pair = (
        amp
        + box("L")
        + box("R")
        + run("W1", "A.A", step("two", "10 m", "L"))
        + run("W2", "A.B", step("two", "10 m", "R"))
    )
    assert counts(found(pair, models))["errors"] == 0
    small = models.replace(
        'section = "full", impedance = "8 ohm", continuous = "350 W"',
        'section = "full", impedance = "16 ohm", continuous = "150 W"',
    )
    names = [f"F{number}" for number in range(6)]
    six = amp + "".join(map(box, names))
    six += run("W1", "A.A", *(step("two", "3 m", name) for name in names[:3])) + run(
        "W2", "A.B", *(step("two", "3 m", name) for name in names[3:])
    )
    assert counts(found(six, small))["errors"] == 0


# Common practice, no source: an eight-channel one in four bridged pairs drives a pair of mid-size boxes and their subs,
# or one such box and a sub as a fill with two more boxes beside it.
@pytest.mark.parametrize("plan", [("top", "top", "sub", "sub"), ("top", "sub", "top", "top")])
def test_what_an_eight_channel_amplifier_drives(plan):
    pairs = ["1+2", "3+4", "5+6", "7+8"]
    models = MIDSIZE.replace("channels = 4", "channels = 8").replace('presets = ["top"]', 'presets = ["top", "sub"]')
    pins = ", ".join(f'{letter} = {{ 1 = "{pair}" }}' for letter, pair in zip("ABCD", pairs, strict=True))
    models = models.replace(
        'connectors = { A = { 1 = "1", 2 = "2" }, B = { 1 = "3", 2 = "4" }, C = { 1 = "3+4" } }',
        f"connectors = {{ {pins} }}",
    )
    models = models.replace('connectors_bridged = { B = { 1 = "3+4" } }\n', "")
    text = AMP + 'bridged = ["1+2", "3+4", "5+6", "7+8"]\n'
    for number, (letter, model) in enumerate(zip("ABCD", plan, strict=True)):
        zone = "subs" if model == "sub" else "mains"
        text += box(f"X{number}", zone, model) + run(f"W{number}", f"A.{letter}", step("two", "8 m", f"X{number}"))
    assert counts(found(text, models))["errors"] == 0


# Common practice, no source: passive on 1, bi-amp low on 1 and high on 2, a sub on 1.
def test_which_pair_feeds_what():
    rig = rig_of(
        AMP
        + box("B1", more=BIAMP)
        + box("S", "subs", "sub")
        + run("W1", "A.A", step("four", "5 m", "B1"))
        + run("W2", "A.B", step("two", "5 m", "S"))
    )
    assert {line.id: line.section for line in rig.lines} == {"W1/1": "low", "W1/2": "high", "W2/1": "sub"}


@pytest.mark.parametrize(
    "text",
    [
        AMP + '[[runs]]\nid = "W"\nfrom = "A.A"\npath = []\n',
        AMP + box("B1") + run("W", "A.A", step("two", "0 m", "B1")),
        AMP + box("B1") + run("W", "A.A", step("two", "10 km", "B1")),
        AMP + box("B1") + run("W", "A.A", step("gauge-twelve", "300 ft", "B1")),
        AMP + box("B1") + run("W", "A.A", step("two", "5 m", "B1"), step("two", "5 m", "B1")),
        AMP + "".join(box(f"B{n}") for n in range(40)) + run("W", "A.A", *(step("two", "1 m", f"B{n}") for n in range(40))),
        RACK + box("B1") + run("W", "SR.P3", step("two", "5 m", "B1")),
        AMP + 'bridged = ["1+2", "3+4"]\n' + boxes(2, more=BIAMP),
        AMP + 'paralleled = ["1+2"]\n' + boxes(4),
        AMP + boxes(1) + run("V", "A.A", step("two", "1 m")),
    ],
)  # fmt: skip
def test_odd_rigs_are_checked_without_a_fault(text):
    findings = check(evaluate(show_of(text)), TODAY)
    assert sum(counts(findings).values()) == len(findings)
