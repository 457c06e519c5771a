"""Whatever loads, every command and card can do or refuses in one line; bench/whatever_loads.py is the broad form."""

import itertools
import random

import pytest
from mutated_shows import changed, documents, mangled, renamed, tally, to_toml, try_all, variants

DOCUMENTS = documents()
SMALL = [name for name, document in DOCUMENTS.items() if len(document.get("boxes", ())) < 3]


@pytest.mark.parametrize("name", SMALL)
def test_small_shows_as_they_are(name):
    tried = try_all(to_toml(DOCUMENTS[name]), random.Random(1), slow=True)
    assert tried.loads
    assert not tried.faults


@pytest.mark.parametrize("name", SMALL)
def test_with_one_thing_missing_empty_or_extreme(name):
    # Every run of the suite tries the same ones; the bench tries all.
    chance = random.Random(7)
    tried = [try_all(to_toml(one), chance) for _, one in itertools.islice(variants(DOCUMENTS[name], chance, 0), 10)]
    faults = [fault for one in tried for fault in one.faults]
    assert not faults, f"{tally(faults)}\n{faults[0].what}\n{faults[0].error}"


def test_a_reading_of_a_line_that_nothing_feeds_any_more():
    # The panel no longer carries the pair that somebody metered: the page of the rig check has it among the verdicts.
    for place in (("built_racks", 0, "panel", "X", "1"), ("amplifiers", 0, "connectors")):
        tried = try_all(to_toml(changed(DOCUMENTS["a rack as built"], place, "remove")), random.Random(1))
        assert tried.loads
        assert not tried.faults


@pytest.mark.parametrize(("ohms", "loads"), [("0.001 ohm", True), ("0 ohm", False)])
def test_a_driver_without_any_resistance_is_refused(ohms, loads):
    # Two in parallel share the current by their ohms: of nothing and nothing there is no share.
    document = changed(
        DOCUMENTS["a run plugged nowhere"], ("loudspeakers", 0, "sections", 0, "dc_resistance"), "set", ohms
    )
    tried = try_all(to_toml(document), random.Random(1))
    assert tried.loads == loads
    assert not tried.faults


@pytest.mark.parametrize("name", ["[b]", "🎚️", "شو", "a b"])
def test_a_box_of_any_name(name):
    tried = try_all(to_toml(renamed(DOCUMENTS["a rack as built"], "B", name)), random.Random(1))
    assert not tried.faults


def test_mangled_text_loads_or_is_refused_in_one_line():
    chance = random.Random(3)
    text = to_toml(DOCUMENTS["a rack as built"])
    faults = [fault for _ in range(30) for fault in try_all(mangled(text, chance), chance).faults]
    assert not faults, tally(faults)
