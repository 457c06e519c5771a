"""Presets: what needs a place to run, what plays without one, and hosts that are asked too much."""

from checked_shows import BIAMP, DSP, NO_HOST, changed_in, findings, loud, of_rule, only, places
from rigs import AMP, MODELS, PLAIN, box, run, step

PAIR = box("L") + box("R") + run("W1", "P.A", step("two", "10 m", "L")) + run("W2", "P.B", step("two", "10 m", "R"))

# 500 W on a box of 450 W is within the decibel that needs no limiter.
STRONG_ENOUGH = MODELS.replace('continuous = "350 W", peak = "1400 W"', 'continuous = "450 W", peak = "1800 W"')


def test_passive_boxes_play_without_their_presets():
    assert loud(PLAIN + PAIR, STRONG_ENOUGH) == []
    assert places("preset-has-no-host", PLAIN + PAIR) == {("note", "output", "P.1"), ("note", "output", "P.2")}
    assert "bi-amp" not in only("preset-has-no-host", PLAIN + box("L") + run("W1", "P.A", step("two", "10 m", "L"))).fix


def test_a_sub_without_its_preset_gets_the_whole_band():
    text = PLAIN + box("S", "subs", "sub") + run("W", "P.A", step("two", "5 m", "S"))
    assert places("preset-has-no-host", text) == {("warning", "output", "P.1")}
    hosted = changed_in(text, 'model = "plain"\n', 'model = "plain"\ninputs = { 1 = "D.1" }\n') + DSP
    assert of_rule("preset-has-no-host", hosted) == []


def test_a_processor_fixes_a_biamp_box_on_an_amplifier_without_presets():
    text = AMP + box("B1", more=BIAMP) + run("W", "A.A", step("four", "5 m", "B1")) + DSP
    assert {item[0] for item in places("preset-has-no-host", text, NO_HOST)} == {"error"}
    fixed = changed_in(text, 'model = "quad"\n', 'model = "quad"\ninputs = { 1 = "D.1", 2 = "D.2" }\n')
    assert of_rule("preset-has-no-host", fixed, NO_HOST) == []
    assert "drive the box passive" in of_rule("preset-has-no-host", text, NO_HOST)[0].fix
    passive = changed_in(text, BIAMP, 'drive = "passive"')
    assert [item for item in findings(passive, NO_HOST) if item.severity == "error"] == []


def test_a_hosting_amplifier_behind_a_processor_hosts_itself():
    others = changed_in(MODELS, 'hosts = { presets = ["any"]', 'hosts = { presets = ["sub"]')
    text = AMP + 'inputs = { 1 = "D.1" }\n' + DSP + box("B1") + run("W", "A.A", step("two", "5 m", "B1"))
    assert of_rule("preset-has-no-host", text, others) == []
    nowhere = others.replace('hosts = { presets = ["top"]', 'hosts = { presets = ["sub"]')
    assert places("preset-has-no-host", text, nowhere) == {("note", "host", "D.1")}


def test_only_outputs_that_need_a_preset_fill_a_host():
    models = MODELS.replace('full_scale = "20 dBu" }', 'full_scale = "20 dBu", slots = 1 }')
    models = models.replace('hosts = { presets = ["top"], full_scale = "21 dBu" }\n', "")
    text = AMP + 'inputs = { 1 = "D.1", 2 = "D.2" }\n' + DSP + box("B1") + run("W", "A.A", step("two", "5 m", "B1"))
    assert of_rule("host-is-full", text, models) == []
    both = changed_in(text, "[[boxes]]", f"{box('B2')}[[boxes]]") + run(
        "V", "A.A", step("two", "1 m", "B2"), more='feeds = { 1 = "A.2" }'
    )
    item = only("host-is-full", both, models)
    assert (item.severity, item.where.kind, item.where.id) == ("error", "unit", "D")
    assert "D.1, D.2" in item.says
    assert item.numbers == {"outputs": 2.0, "slots": 1.0}
    # The fix that is named: outputs with the same preset share one processor output.
    assert "share a processor output" in item.fix
    assert of_rule("host-is-full", changed_in(both, '2 = "D.2"', '2 = "=1"'), models) == []


def test_one_edit_fixes_a_preset_for_another_use():
    text = AMP + box("B1", more='presets = { full = "p-sub" }') + run("W", "A.A", step("two", "5 m", "B1"))
    item = only("preset-does-not-fit", text)
    assert "with sub" in item.says
    assert "used full range" in item.says
    assert of_rule("preset-does-not-fit", changed_in(text, 'presets = { full = "p-sub" }', "")) == []
    with_sub = changed_in(MODELS, 'id = "mains"\n', 'id = "mains"\nlow_end_from = ["subs"]\n')
    assert of_rule("preset-does-not-fit", text, with_sub) == []


def test_low_end_that_is_not_there_is_cured_by_a_sub_or_by_saying_none():
    models = changed_in(MODELS, 'id = "mains"\n', 'id = "mains"\nlow_end_from = ["subs"]\n')
    item = only("low-end-missing", box("B1"), models)
    assert "'subs'" in item.says
    assert "set low_end_from = []" in item.fix
    assert of_rule("low-end-missing", box("B1"), changed_in(models, '["subs"]', "[]")) == []
    assert of_rule("low-end-missing", box("B1", "subs"), models) == []  # nobody in the zone that counts on it


def test_two_unknown_boxes_on_one_output_are_no_two_models():
    unknown = '[[boxes]]\nid = "{}"\nzone = "mains"\nunknown = { impedance = "8 ohm", continuous = "500 W" }\n'
    text = AMP + unknown.replace("{}", "U1") + unknown.replace("{}", "U2")
    text += run("W", "A.A", step("two", "5 m", "U1"), step("two", "5 m", "U2"))
    assert of_rule("different-boxes-on-one-output", text) == []


def test_a_host_that_lacks_a_preset_says_what_it_has():
    text = AMP + box("S", "subs", "sub") + run("W", "A.A", step("two", "5 m", "S"))
    item = only("preset-has-no-host", text)
    assert "A.1 has no presets of 'sub', only of top; S needs 'sub-any'" in item.says
    many = MODELS.replace('presets = ["top"]', 'presets = ["a", "b", "c", "d", "e", "f"]')
    assert "only of a, b, c, d and 2 more" in only("preset-has-no-host", text, many).says


def test_unknown_boxes_of_different_labels_are_different_models():
    def two(first, second):
        labels = (f'unknown = {{ impedance = "{ohms}", continuous = "250 W" }}' for ohms in (first, second))
        rows = "".join(
            box(name).replace('model = "top"', label) for name, label in zip(("L", "R"), labels, strict=True)
        )
        return AMP + rows + run("W", "A.A", step("two", "5 m", "L"), step("two", "5 m", "R"))

    item = only("different-boxes-on-one-output", two("8 ohm", "16 ohm"))
    assert "unknown of 8 ohm 250 W, unknown of 16 ohm 250 W" in item.says
    assert of_rule("different-boxes-on-one-output", two("8 ohm", "8 ohm")) == []
