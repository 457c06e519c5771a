"""Fixes of one edit: each that is offered takes its finding away, and brings nothing as bad in its place."""

import pytest
from checked_shows import BIAMP, DSP, NO_HOST
from rigs import AMP, MODELS, box, rig_of, run, step

from fieldkit import samples
from fieldkit.checks.checking import check, counts
from fieldkit.checks.finding import SEVERITIES
from fieldkit.planning.fixes.single_edits import fixes_for
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.opening import open_show

THREE = "".join(box(f"B{n}") for n in (1, 2, 3))
STACKED = AMP + THREE + box("B4") + run("W1", "A.A", *(step("two", "5 m", f"B{n}") for n in (1, 2, 3)))
STACKED += run("W2", "A.A", step("two", "5 m", "B4"))
KNOBS = NO_HOST.replace("channels = 4\n", "channels = 4\nattenuators = true\n")
OUTBOARD = AMP + 'inputs = { 1 = "D.1" }\n' + DSP + box("B1") + run("W", "A.A", step("two", "5 m", "B1"))


def rules_of(findings, severity=None):
    return {(item.rule, item.where.id) for item in findings if severity is None or item.severity == severity}


def offered(text, rule, models=MODELS):
    """Give the labels of the fixes of the first finding of a rule, each proved here by itself."""
    rig = rig_of(text, models)
    findings = check(rig)
    item = next(item for item in findings if item.rule == rule)
    fixes = fixes_for(rig, findings, item)
    for fix in fixes:
        prove(findings, item, fix)
    return [fix.label for fix in fixes]


def prove(before, item, fix):
    after = check(evaluate(fix.show))
    assert sum(one.rule == item.rule and one.where == item.where for one in after) < sum(
        one.rule == item.rule and one.where == item.where for one in before
    )
    number = counts(after)
    assert fix.left == (number["errors"], number["warnings"], number["notes"]) < tuple(counts(before).values())
    for severity in SEVERITIES[: SEVERITIES.index(item.severity) + 1]:
        assert rules_of(after, severity) <= rules_of(before)


@pytest.mark.parametrize("name", samples.names())
def test_every_cure_of_the_samples_is_one(name):
    rig = evaluate(open_show(samples.folder() / f"{name}.toml").show)
    findings = check(rig)
    for item in findings:
        for fix in fixes_for(rig, findings, item):
            prove(findings, item, fix)


def test_four_errors_of_the_hurried_plan_are_cured_by_one_edit_each():
    rig = evaluate(open_show(samples.folder() / "mistakes.toml").show)
    findings = check(rig)
    errors = [item for item in findings if item.severity == "error"]
    assert sum(bool(fixes_for(rig, findings, item)) for item in errors) == 4


def test_what_a_zone_is_can_be_said_with_one_key():
    text, models = (
        part.replace('"mains"', '"drum-fill"')
        for part in (AMP + box("B1") + run("W", "A.A", step("two", "5 m", "B1")), MODELS)
    )
    wedge, front = "'drum-fill' is a wedge zone", "'drum-fill' is out front"
    assert set(offered(text, "use-not-said", models)) == {wedge, front}


def test_no_cure_silences_a_box_that_was_driven():
    for name in samples.names():
        rig = evaluate(open_show(samples.folder() / f"{name}.toml").show)
        findings = check(rig)
        driven = {load.box.id for output in rig.outputs for load in output.loads}
        for item in findings:
            for fix in fixes_for(rig, findings, item):
                after = evaluate(fix.show)
                assert driven <= {load.box.id for output in after.outputs for load in output.loads}, fix.label


def test_too_many_boxes_on_one_output_go_to_a_free_connector():
    assert offered(STACKED, "load-under-minimum")[0] == "plug W2 into A.B"


def test_a_switch_is_set_or_the_plan_follows_it():
    text = AMP + box("B1", more=f'{BIAMP}\nswitch = "passive"') + run("W", "A.A", step("four", "5 m", "B1"))
    assert set(offered(text, "switch-not-as-planned")) == {
        "the switch of B1 was set to bi-amp",
        "plan B1 passive, as its switch stands",
    }


def test_a_bi_amp_box_on_two_cores_is_driven_passive_or_gets_four():
    text = AMP + box("B1", more=BIAMP) + run("W", "A.A", step("two", "5 m", "B1"))
    assert set(offered(text, "section-unfed")) == {"drive B1 passive", "use four in place of two in step 1 of W"}


def test_knobs_are_locked():
    assert offered(OUTBOARD, "attenuator-unlocked", KNOBS) == ["the knobs of A are locked or covered"]


def test_a_preset_of_another_use_is_left_to_the_program():
    text = AMP + box("B1", more='presets = { full = "p-wedge" }') + run("W", "A.A", step("two", "5 m", "B1"))
    assert offered(text, "preset-does-not-fit") == ["leave the preset of the full section of B1 to the program"]


def test_what_is_missing_is_hired():
    text = AMP + box("B1") + run("W", "A.A", step("two", "5 m", "B1")) + '[[stock]]\nmodel = "top"\nowned = 0\n'
    assert offered(text, "more-than-in-stock") == ["hire 1 more of top"]


def test_a_rule_that_no_edit_fixes_offers_none():
    text = AMP + box("B1", "subs", "sub") + run("W", "A.A", step("two", "200 m", "B1"))
    assert offered(text, "cable-loss") == []
