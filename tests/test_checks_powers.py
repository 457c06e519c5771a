"""Power: ratings are compared in volts, a common supply that nobody shares is strong, a limiter may be too high."""

import pytest
from checked_shows import BIAMP, changed_in, of_rule, only
from rigs import AMP, MODELS, PLAIN, box, run, step

ALONE = PLAIN + box("B1") + run("W1", "P.A", step("two", "0 m", "B1"))
BOTH = ALONE + box("B2") + run("W2", "P.B", step("two", "0 m", "B2"))


def rated(power):
    return MODELS.replace(
        '"350 W", peak = "1400 W", presets = ["p-full-range"', f'"{power}", presets = ["p-full-range"'
    ).replace(', limiter = "350 W"', "")


# own, worked by hand: two channels of 500 W/8 Ω share 800 W, so that each gives 400 W while both play. Alone, one gives
# its 500 W. 1.26 · 317.5 = 400, 1.26 · 396.8 = 500.
@pytest.mark.parametrize(
    ("power", "count", "words"),
    [("390 W", 2, "while the other outputs are quiet"), ("398 W", 0, "")],
)
def test_a_shared_supply_protects_nobody_while_the_others_are_quiet(power, count, words):
    found = of_rule("no-limiter", BOTH, rated(power))
    assert len(found) == count
    for item in found:
        assert words in item.says
        assert "500 W" in item.says
        assert item.numbers["full_w"] == pytest.approx(500.0)
    assert len(of_rule("no-limiter", ALONE, rated(power))) == count / 2


# own, worked by hand: two boxes on one output would take 800 W; a supply of 600 W leaves each 300 W, and nobody else
# is there to be quiet.
def test_the_common_supply_holds_even_a_single_output():
    models = rated("200 W").replace('supply_limit = "800 W"', 'supply_limit = "600 W"')
    text = PLAIN + box("B1") + box("B2") + run("W", "P.A", step("two", "0 m", "B1"), step("two", "0 m", "B2"))
    item = only("no-limiter", text, models)
    assert item.numbers["full_w"] == pytest.approx(300.0)
    assert "quiet" not in item.says


# own, worked by hand: 60 W at 12 Ω are √720 = 26.83 V. A channel gives 63.25 V: 16 Ω take 250 W, 4.17 times 60 W, but
# those volts are 333 W at 12 Ω, 5.56 times the rating. At 80 W, 250/80 is 3.1 and 333/80 is 4.17: over 4 in volts only.
def test_a_rating_at_another_impedance_is_compared_in_volts():
    text = AMP + box("B1", more=BIAMP) + run("W", "A.A", step("four", "0 m", "B1"))
    models = MODELS.replace('continuous = "60 W"', 'continuous = "80 W"')
    [item] = [item for item in of_rule("limiter-to-set", text, models) if item.where.id == "A.2"]
    assert item.severity == "warning"
    assert "333 W through the 12 Ω of its rating" in item.says
    assert item.numbers["full_w"] == pytest.approx(4000.0 / 12.0)
    same = models.replace('rated_at = "12 ohm", ', "")
    [item] = [item for item in of_rule("limiter-to-set", text, same) if item.where.id == "A.2"]
    assert item.severity == "note"
    assert "rating" not in item.says.replace("continuous", "")


def test_the_limiter_to_set_is_gone_when_it_is_written_down():
    text = AMP + box("B1") + run("W", "A.A", step("two", "0 m", "B1"))
    models = rated("350 W")
    item = only("limiter-to-set", text, models)
    assert "write it down as 'limiter' of 'p-full-range'" in item.fix
    for name in ("no-limiter", "strong-output", "limiter-too-high"):
        assert of_rule(name, text, models) == []
    written = changed_in(models, 'uses = ["full range"] ', 'uses = ["full range"], limiter = "175 W" ')
    assert of_rule("limiter-to-set", text, written) == []


def test_a_box_without_presets_on_a_host_for_any_is_told_so():
    models = rated("350 W").replace('hosts = { presets = ["top"]', 'hosts = { presets = ["any"]')
    models = models.replace('presets = ["p-full-range", "p-sub", "p-wedge"]', "presets = []")
    item = only("limiter-to-set", AMP + box("B1") + run("W", "A.A", step("two", "0 m", "B1")), models)
    assert "no preset that brings a limiter" in item.says
    assert "None" not in item.says + item.fix


def test_the_hardest_driven_box_of_an_output_is_named():
    text = AMP + box("B1") + run("W", "A.A", step("two", "0 m", "B1"), step("two", "20 m", "B2")) + box("B2")
    item = only("limiter-to-set", text, rated("200 W"))
    assert item.says.startswith("B1 full")
    assert only("output-too-weak", text, rated("1 kW")).says.startswith("B2 full")


def test_a_weak_output_threatens_high_drivers_only_where_there_are_some():
    strong = MODELS.replace('"500 W", presets = ["sub-any"]', '"4 kW", presets = ["sub-any"]')
    sub = only("output-too-weak", AMP + box("S", "subs", "sub") + run("W", "A.A", step("two", "0 m", "S")), strong)
    assert "high drivers" not in sub.why
    top = only("output-too-weak", AMP + box("B1") + run("W", "A.A", step("two", "0 m", "B1")), rated("2 kW"))
    assert "high drivers" in top.why
