"""The page of the mains: the figures of the rig, in the reader's units, and plain about what is not planned."""

import pytest
from rigs import show_of
from test_rig_supplies import ROUND, TREE, loaded_amplifier, supply, unit

from fieldkit.sheets.collection import make_page
from fieldkit.sheets.material import material_of
from fieldkit.sheets.text import page_text


def tables(text, units=None):
    page = make_page(material_of(show_of(text, ROUND), units), "supply")
    return {table.name: table for table in page.tables}


def test_supplies_with_their_lines_and_drop():
    rows = {(row[0], row[3]): row for row in tables(TREE)["supply-loads"].rows}
    assert set(rows) == {("GEN", "L1"), ("GEN", "L2"), ("GEN", "L3"), ("D1", "L1"), ("D2", "L2"), ("D3", "L3")}
    assert rows["GEN", "L3"][4:6] == (5, 63)
    assert rows["D1", "L1"][1:3] == ("GEN", "50 m of 2.5 mm²")
    # Own, worked by hand: 9 V in its own lead, and 0.0225 · 60/16 · (10 A + I_N) before it.
    assert rows["D1", "L1"][7] == pytest.approx(100 * (9 + 0.084375 * (10 + rows["GEN", "L1"][6])) / 230)


def test_lengths_in_the_units_of_the_reader():
    assert tables(TREE, "imperial")["supply-loads"].rows[0][2] == "197 ft of 16 mm²"


def test_plugs_and_the_order_to_switch_on():
    found = tables(TREE + loaded_amplifier("A", "D1") + loaded_amplifier("B"))
    plugs = {row[1]: row for row in found["supply-plugs"].rows}
    assert plugs["A"][0] == "D1"
    assert plugs["A"][3] == pytest.approx(1.54, abs=0.005)
    assert plugs["B"][0] == "on no supply"
    assert plugs["B"][3] is None
    assert [row[1] for row in found["supply-order"].rows] == ["A", "B"]


def test_nothing_planned_is_said_and_no_error():
    text = page_text(make_page(material_of(show_of("", ROUND)), "supply"), 80)
    assert "the supply is not planned" in text
    assert "A licensed electrician connects feeders" in text


def test_the_page_says_what_comes_at_once_and_which_generator():
    generator = 'phases = 3\ngenerator = { prime = "20 kVA" }'
    amplifiers = unit("A", "G", "phase = 1") + unit("B", "G", "phase = 1") + unit("C", "G", "phase = 2")
    text = supply("G", generator, rating="32 A") + amplifiers
    page = " ".join(page_text(make_page(material_of(show_of(text, ROUND)), "supply"), 80).split())
    # 20 A a unit: two on L1, one on L2, none on L3.
    assert "G: all on at once 40 A on the fullest phase" in page
    assert "this one has 20 kVA: too large" in page
    assert page.index("Meter before the first plug") < page.index("Supplies at the duty")
    small = text.replace('"20 kVA" }', '"10 kVA" }\nother_load = "14 A"')
    page = " ".join(page_text(make_page(material_of(show_of(small, ROUND)), "supply"), 80).split())
    assert "this one has 10 kVA: too small" in page
