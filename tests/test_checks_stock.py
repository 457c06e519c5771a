"""Stock: an overdue item matters when the plan needs it, a serial belongs to its model, racks bring their units."""

from checked_shows import TODAY, changed_in, of_rule, only, places
from rigs import AMP, PLAIN, RACK, box, run, step
from sheet_tools import material, table


def stock(model, *lines):
    return f'[[stock]]\nmodel = "{model}"\n' + "".join(f"{line}\n" for line in lines)


LATE = 'due = 2026-06-19\nhired_from = "a neighbour"'
TWO = AMP + box("B1") + box("B2") + run("W", "A.A", step("two", "20 m", "B1"), step("two", "5 m", "B2"))


# ---- overdue ---------------------------------------------------------------------------------------------------------


def test_an_overdue_item_is_in_use_when_the_others_do_not_suffice():
    late = stock("top", "hired = 2", LATE)
    item = only("overdue-in-use", TWO + stock("top", "owned = 1") + late)
    assert (item.severity, item.where.id) == ("warning", "top")
    assert "2026-06-19 to a neighbour" in item.says
    assert TODAY.isoformat() in item.says
    assert of_rule("overdue-in-use", TWO + stock("top", "owned = 2") + late) == []
    broken = TWO + stock("top", "owned = 2", "out = 1") + late
    assert places("overdue-in-use", broken) == {("warning", "model", "top")}


def test_the_very_item_that_is_overdue_is_in_use():
    text = TWO + stock("top", "owned = 8") + stock("top", "hired = 1", 'serial = "0009"', LATE)
    assert of_rule("overdue-in-use", text) == []
    its = changed_in(text, 'id = "B1"\n', 'id = "B1"\nserial = "0009"\n')
    assert places("overdue-in-use", its) == {("warning", "model", "top")}


def test_overdue_cable_is_in_use_when_its_length_is_needed():
    late = stock("two", 'length = "25 m"', "hired = 1", LATE)
    short = stock("two", 'length = "10 m"', "owned = 5")
    assert places("overdue-in-use", TWO + short + late) == {("warning", "model", "two")}
    assert of_rule("overdue-in-use", TWO + short + late + stock("two", 'length = "20 m"', "owned = 1")) == []


def test_correcting_the_date_fixes():
    text = TWO + stock("top", "hired = 2", LATE)
    assert "correct 'due'" in only("overdue-in-use", text).fix
    assert of_rule("overdue-in-use", changed_in(text, "2026-06-19", "2026-06-20")) == []


# ---- single items ----------------------------------------------------------------------------------------------------


def test_a_serial_belongs_to_its_model():
    text = changed_in(TWO, 'id = "B1"\n', 'id = "B1"\nserial = "0007"\n') + stock("top", "owned = 9")
    other = text + stock("quad", "owned = 2") + stock("quad", "owned = 1", "out = 1", 'serial = "0007"')
    assert of_rule("out-of-service-in-use", other) == []
    own = text + stock("top", "owned = 1", "out = 1", 'serial = "0007"')
    assert places("out-of-service-in-use", own) == {("error", "box", "B1")}


def test_an_amplifier_out_of_service_is_a_unit_and_no_box():
    text = changed_in(TWO, 'id = "A"\n', 'id = "A"\nserial = "0100"\n')
    text += stock("quad", "owned = 3") + stock("quad", "owned = 1", "out = 1", 'serial = "0100"')
    assert places("out-of-service-in-use", text) == {("error", "unit", "A")}
    assert of_rule("out-of-service-in-use", changed_in(text, "out = 1", "out = 0")) == []


# ---- counting --------------------------------------------------------------------------------------------------------


def test_a_rack_as_built_brings_its_units_and_is_counted_itself():
    text = RACK + stock("tour", "owned = 1") + stock("quad", "owned = 0")
    assert of_rule("more-than-in-stock", text) == []
    named = (
        text
        + '[[rack_units]]\nid = "SR-1"\nmodel = "quad"\nsupply = "X1"\n[[supplies]]\nid = "X1"\nvolts = "230 V"\nrating = "16 A"\n'
    )
    assert of_rule("more-than-in-stock", named) == []
    loose = text + '[[rack_units]]\nid = "SR-9"\nmodel = "quad"\n'  # the rack has two units: this one is not its own
    assert places("more-than-in-stock", loose) == {("error", "model", "quad")}
    second = text + '[[racks]]\nid = "SL"\nas_built = "tour"\n'
    assert places("more-than-in-stock", second) == {("error", "model", "tour")}


def test_the_fix_takes_as_many_out_as_are_missing():
    text = TWO + stock("top", "owned = 1")
    assert only("more-than-in-stock", text).fix.endswith(" 1")
    assert of_rule("more-than-in-stock", changed_in(text, "owned = 1", "owned = 2")) == []
    fewer = AMP + box("B1") + run("W", "A.A", step("two", "20 m", "B1")) + stock("top", "owned = 1")
    assert of_rule("more-than-in-stock", fewer) == []


def test_adaptors_and_panels_are_counted():
    joints = '[[adaptors]]\nid = "joint"\n[[panels]]\nid = "split"\nsockets = { S1 = { 1 = "1" }, S2 = { 2 = "1" } }\n'
    path = ('{ panel = "split", socket = "S1", shared = "P1" }', '{ adaptor = "joint" }')
    text = joints + AMP + box("B1") + box("B2")
    text += run("W1", "A.A", *path, step("two", "2 m", "B1")) + run(
        "W2", "A.A", path[0].replace("S1", "S2"), step("two", "2 m", "B2")
    )
    assert of_rule("more-than-in-stock", text + stock("joint", "owned = 1") + stock("split", "owned = 1")) == []
    assert places("more-than-in-stock", text + stock("joint", "owned = 0")) == {("error", "model", "joint")}
    assert places("more-than-in-stock", text + stock("split", "owned = 0")) == {("error", "model", "split")}


def test_the_longest_need_gets_the_piece_that_reaches_it():
    # 20 m and 5 m are needed: 25 m and 6 m serve, 25 m and 4 m do not, whichever way they are given out.
    lengths = stock("two", 'length = "25 m"', "owned = 1")
    assert of_rule("cables-missing", TWO + lengths + stock("two", 'length = "6 m"', "owned = 1")) == []
    item = only("cables-missing", TWO + lengths + stock("two", 'length = "4 m"', "owned = 1"))
    assert "1 × 5 m" in item.says
    assert item.numbers == {"missing": 1.0}


# ---- both sides on one amplifier -------------------------------------------------------------------------------------


def test_a_box_on_no_side_is_not_one_of_two_sides():
    text = AMP + PLAIN + box("L", more='side = "left"') + box("C")
    text += run("W1", "A.A", step("two", "5 m", "L")) + run("W2", "A.B", step("two", "5 m", "C"))
    assert of_rule("both-sides-on-one-amplifier", text) == []
    sided = changed_in(text, 'id = "C"\n', 'id = "C"\nside = "right"\n')
    item = only("both-sides-on-one-amplifier", sided)
    assert item.severity == "warning"
    assert item.says.startswith("left and right are driven by A")


def test_two_mixes_of_wedges_may_share_an_amplifier():
    text = AMP + PLAIN + box("M1", "mon", more='side = "1"') + box("M2", "mon", more='side = "2"')
    text += run("W1", "A.A", step("two", "5 m", "M1")) + run("W2", "A.B", step("two", "5 m", "M2"))
    assert of_rule("both-sides-on-one-amplifier", text) == []


# own, worked by hand: two in use; two owned of which one is broken leaves one, as the pull list counts it.
def test_in_stock_means_what_the_pull_list_means_by_it():
    item = only("out-of-service-in-use", TWO + stock("top", "owned = 2", "out = 1"))
    assert item.says == "2 in use, 1 in stock, 1 out of service"
    [row] = [
        row
        for row in table(material(TWO + stock("top", "owned = 2", "out = 1")), "pull", "pull-models")
        if row["model"] == "top"
    ]
    assert (row["in stock"], row["short"]) == (1, 1)
    assert only("more-than-in-stock", TWO + stock("top", "hired = 1")).says == "2 in use, 0 in stock, 1 hired"
