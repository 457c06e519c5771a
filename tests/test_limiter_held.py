"""A limiter that a preset holds is told from a threshold that is yet to be set, in text, on cards and in JSON."""

import re

import pytest
from checked_shows import changed_in, of_rule, only
from rigs import AMP, MODELS, PLAIN, box, rig_of, run, step

from fieldkit.reports.cards import card
from fieldkit.reports.objects import lines_object
from fieldkit.reports.text import lines_text, patch_text
from fieldkit.text.style import Style

HELD = AMP + box("B1") + run("W", "A.A", step("two", "0 m", "B1"))
NOWHERE = changed_in(HELD, "quad", "plain")
UNLIMITED = MODELS.replace(', limiter = "350 W"', "")


def said(text, models):
    rig = rig_of(text, models)
    return "\n".join(
        [*patch_text(rig, Style()), *lines_text(rig, Style()), *card(rig, (), "output", "A.1", Style())]
    ), lines_object(rig)["lines"][0]


@pytest.mark.parametrize(
    ("text", "models", "held", "words", "row"),
    [
        (HELD, MODELS, True, "slow limiter held by the preset: 52.9 V rms", "500 / 250 / 350 / 350"),
        (HELD, UNLIMITED, False, "slow limiter to set, in A.1: 37.5 V rms", "500 / 250 / - / 350"),
        (NOWHERE, MODELS, False, "slow limiter to set, nothing here that holds it: 37.5 V rms", "500 / 250 / - / 350"),
    ],
)
def test_held_and_to_set(text, models, held, words, row):
    printed, line = said(text, models)
    assert row in printed
    assert printed.count(words) == 1  # among the lines; the card has it in its account
    on_card = {
        "slow limiter held": "brings: slow limiter 52.9 V rms (the preset's own 350 W through 8 Ω, no margin",
        "slow limiter to set, in A.1": "set slow limiter 37.5 V rms",
        "slow limiter to set, nothing": "slow limiter 37.5 V rms: no place here, hold it somewhere else (the rating, "
        "350 W through 8 Ω, less 3 dB",
    }
    assert [text for start, text in on_card.items() if words.startswith(start) and text in printed]
    assert ("W limited" in printed) == held
    assert ("no limiter (175 W once it is set)" in re.sub(r"\s+", " ", printed)) != held
    assert line["limiter"]["held"] is held
    assert line["boxes"][0]["held"] is held


# own, worked by hand: √(350 W · 8 Ω) = 52.92 V; the preset's own 450 W would be 60 V.
def test_a_preset_limiter_above_the_rating_is_no_threshold_to_go_by():
    models = MODELS.replace('uses = ["full range"], limiter = "350 W"', 'uses = ["full range"], limiter = "450 W"')
    rig = rig_of(HELD, models)
    [output] = [output for output in rig.outputs if output.lines]
    assert output.limiter.thermal_v == pytest.approx(52.915, abs=5e-4)
    assert not output.limiter.held
    item = only("limiter-too-high", HELD, models)
    assert "lets 450 W pass" in item.says
    # What is shown is what holds: 450 W through the 8 ohm of the rating, with no cable between.
    assert lines_object(rig)["lines"][0]["boxes"][0]["limited_w"] == pytest.approx(450.0, rel=1e-6)
    assert "500 / 250 / 450 / 350" in "\n".join(patch_text(rig, Style()))


# own, worked by hand: 500 W of sine on 8 ohm is 89.4 V peak; noise of crest 2 averages 44.7 V, 250 W, before it clips.
@pytest.mark.parametrize(("limiter", "first"), [("251 W", True), ("249 W", False)])
def test_a_threshold_that_clean_noise_does_not_reach_is_said(limiter, first):
    rig = rig_of(
        HELD,
        MODELS.replace('uses = ["full range"], limiter = "350 W"', f'uses = ["full range"], limiter = "{limiter}"'),
    )
    printed, line = said(
        HELD,
        MODELS.replace('uses = ["full range"], limiter = "350 W"', f'uses = ["full range"], limiter = "{limiter}"'),
    )
    assert line["boxes"][0]["clean_w"] == pytest.approx(250.0, rel=1e-6)
    assert line["limiter"]["clips_first"] is first
    assert ("the amplifier clips first" in re.sub(r"\s+", " ", printed)) is first
    assert rig.output("A.1").limiter.clips_first is first


def test_nothing_that_limits_leaves_no_number():
    _, line = said(NOWHERE, MODELS)
    assert line["boxes"][0]["limited_w"] is None
    assert line["boxes"][0]["threshold_w"] == pytest.approx(350 / 10**0.3, rel=1e-4)


BEHIND = '[[rack_units]]\nid = "D"\nmodel = "dsp"\ninputs = { 1 = "L" }\nroutes = { 1 = "1" }\n'
BEHIND += changed_in(NOWHERE, 'id = "A"\n', 'id = "A"\ninputs = { 1 = "D.1" }\n')


# own, worked by hand: 350 W through 8 Ω is 52.92 V; behind the same watts in an amplifier nothing is left to set.
def test_a_limiter_of_a_processor_ahead_holds_nothing_until_it_is_set():
    printed, line = said(BEHIND, MODELS)
    assert "slow limiter to set, in D.1: " in printed
    assert "no limiter (350 W once it is set)" in re.sub(r"\s+", " ", printed)
    assert line["limiter"]["held"] is False
    assert line["limiter"]["holding_v"] is None
    assert line["limiter"]["thermal_v"] == pytest.approx(52.915, abs=5e-4)
    assert [line["boxes"][0][key] for key in ("limited_w", "held")] == [None, False]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (HELD, "the preset's limiter holds it at 90 W"),
        (BEHIND, "nothing holds it back until the limiter is set in D.1"),
    ],
)
def test_what_holds_a_strong_output_back(text, says):
    weak = MODELS.replace('continuous = "350 W", peak = "1400 W", presets', 'continuous = "100 W", presets')
    item = only("strong-output", text, weak.replace('uses = ["full range"], limiter = "350 W"', 'limiter = "90 W"'))
    assert says in item.says


# One output runs one preset; whether it is the one with the limiter or the other, nobody has said.
@pytest.mark.parametrize(("model", "limited"), [("top", True), ("other", False)])
def test_a_limiter_of_one_box_is_not_that_of_another_model_beside_it(model, limited):
    other = 'id = "other"\nsections = [{ drive = "passive", section = "full", impedance = "8 ohm", continuous = "900 W" }]\n'
    text = (
        AMP + box("B1") + box("B2", model=model) + run("W", "A.A", step("two", "1 m", "B1"), step("two", "1 m", "B2"))
    )
    _, line = said(text, MODELS.replace("[[amplifiers]]", f"[[loudspeakers]]\n{other}[[amplifiers]]", 1))
    assert [(item["limited_w"] is not None, item["held"]) for item in line["boxes"]] == [(limited, limited)] * 2


def labelled(watts):
    return changed_in(HELD, 'model = "top"', f'unknown = {{ impedance = "8 ohm", continuous = "{watts}" }}')


# own, worked by hand: the output gives 500 W into 8 Ω, 1.11 times a label of 450 W and 0.98 times one of 510 W.
def test_watts_over_a_label_are_said_at_once():
    text = changed_in(labelled("450 W"), "quad", "plain")
    item = only("no-limiter", text)
    assert (item.severity, item.where.id) == ("note", "A.1")
    assert "its label says 450 W" in item.says
    assert "preset" not in item.fix
    assert "has a limiter of its own" in item.fix
    assert of_rule("no-limiter", changed_in(labelled("510 W"), "quad", "plain")) == []


def test_the_neighbour_with_a_data_sheet_is_left_in_peace():
    models = UNLIMITED.replace('continuous = "350 W", peak = "1400 W", presets', 'continuous = "450 W", presets')
    assert of_rule("no-limiter", NOWHERE, models) == []
    assert of_rule("no-limiter", PLAIN + box("B1") + run("W", "P.A", step("two", "0 m", "B1")), models) == []


def told_of(text, models):
    rig = rig_of(text, models)
    return " ".join("\n".join(lines_text(rig, Style())).split())


# Common practice, no source: a fast attack of one period of the high-pass (100 Hz: 10 ms), a release of sixteen.
def test_what_each_limiter_can_protect_is_said_with_its_times():
    passed = MODELS.replace(
        '"full range"], limiter = "350 W"', '"full range"], high_pass = "100 Hz", limiter = "350 W"'
    )
    told = told_of(HELD, passed)
    assert "slow limiter (attack 0.5 s, release 2 s, rule of thumb): keeps heat from the voice coil" in told
    assert "fast limiter (attack 10 ms, release 160 ms, one cycle" in told
    assert "what comes in the first 10 ms passes" in told
    assert told.count("know the tweeter") == 2
    own = passed.replace(
        'high_pass = "100 Hz"',
        'high_pass = "100 Hz", attack = "2 ms", release = "40 ms", slow_attack = "3 s", slow_release = "9 s"',
    )
    told = told_of(HELD, own)
    assert "slow limiter (attack 3 s, release 9 s): keeps" in told
    assert "fast limiter (attack 2 ms, release 40 ms): keeps" in told


def test_a_section_of_its_own_knows_its_driver():
    text = changed_in(HELD, 'zone = "mains"\n', 'zone = "mains"\ndrive = "bi-amp"\n').replace("two", "four")
    told = told_of(text, MODELS)
    assert "slow limiter (attack 2 s" in told  # the low section
    assert "slow limiter (attack 0.5 s" in told  # the high one
    assert "know the tweeter" not in told


# own, worked by hand: √(350 W · 8 Ω) = 52.92 V is to be set, and its own 800 W would be 80 V; a clip at 120 V peak
# lets noise of crest 2 average 60 V, above the one and below the other.
def test_the_sentence_about_clipping_is_about_the_threshold_that_is_printed():
    models = MODELS.replace('uses = ["full range"], limiter = "350 W"', 'uses = ["full range"], limiter = "800 W"')
    models = models.replace('{ load = "8 ohm", power = "500 W" },', '{ load = "8 ohm", power = "900 W" },', 1)
    printed, line = said(HELD, models)
    assert "slow limiter to set, in A.1: 52.9 V rms" in printed
    assert line["limiter"]["holding_v"] == pytest.approx(80.0)
    assert line["limiter"]["clips_first"] is False
    assert "the amplifier clips first" not in re.sub(r"\s+", " ", printed)
