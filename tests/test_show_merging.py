"""Two versions of a show made one: what was done apart is done, what collides is asked, and it always loads."""

import tomllib

import msgspec
import pytest
from budget import tries
from hypothesis import given
from hypothesis import strategies as st
from shows import FERRY

from fieldkit.gear import library
from fieldkit.show.decoding import decode
from fieldkit.show.document import Box, Logged, Reading, Step, Stock, Zone
from fieldkit.show.edits import changed, find, with_thing
from fieldkit.show.references import problems
from fieldkit.show.removal import removed
from fieldkit.show.usage import renamed
from fieldkit.show.versions.changes import differences
from fieldkit.show.versions.merging import merge, settled
from fieldkit.units import Length


def show_of(text):
    return decode(tomllib.loads(text))


BASE = show_of(FERRY)


def edit(show, table, name, **values):
    return with_thing(show, table, changed(find(show, table, name), **values))


def about(show, **values):
    return msgspec.structs.replace(show, about=changed(show.about, **values))


def more(show, table, *things):
    return msgspec.structs.replace(show, **{table: (*getattr(show, table), *things)})


def box(name, zone="mains", **values):
    return Box(id=name, model="two-way-12", zone=zone, **values)


def loads(show):
    return not list(problems(show))


# Each is an edit that touches what no other of them touches.
EDITS = {
    "name": lambda show: about(show, name="Monday"),
    "site": lambda show: about(show, site="Pier"),
    "level": lambda show: edit(show, "boxes", "ML2", level="-3 dB"),
    "note": lambda show: edit(show, "boxes", "ML2", note="fixed"),
    "drive": lambda show: edit(show, "boxes", "ML1", reach="flown"),
    "preset": lambda show: edit(show, "boxes", "ML2", presets={"low": "low-any"}),
    "preset of high": lambda show: edit(show, "boxes", "ML1", presets={"high": "high-front"}),
    "box": lambda show: more(show, "boxes", box("MR1", side="right")),
    "other box": lambda show: more(show, "boxes", box("A1", side="right"), box("A2", side="right")),
    "input": lambda show: edit(show, "rack_units", "DP", inputs=dict(find(show, "rack_units", "DP").inputs) | {"3": "R"}),
    "way": lambda show: edit(show, "rack_units", "DP", ways={"1": "multicore 1"}),
    "gain": lambda show: edit(show, "rack_units", "SR-1", gain="26 dB"),
    "step": lambda show: step(show, 1, length=Length("3 m")),
    "first step": lambda show: step(show, 0, contact="0.1 ohm"),
    "stock": lambda show: more(show, "stock", Stock(model="four-core-2.5", length=Length("5 m"), owned=3)),
    "stock out": lambda show: msgspec.structs.replace(show, stock=(changed(show.stock[0], out=2), *show.stock[1:])),
    "reading": lambda show: msgspec.structs.replace(show, readings=(changed(show.readings[0], value="3.6 ohm"),)),
    "zone": lambda show: more(show, "zones", Zone(id="fill")),
    "zone signals": lambda show: edit(show, "zones", "subs", signals={"left": "Sub"}),
    "rating": lambda show: section(show, 1, impedance="6 ohm"),
    "other section": lambda show: section(show, 2, continuous="80 W"),
    "zone's label": lambda show: renamed(show, "zones", "subs", "low"),
    "rack's label": lambda show: renamed(show, "racks", "SR", "AR"),
    "box's label": lambda show: renamed(show, "boxes", "ML1", "TL1"),
    "model's label": lambda show: renamed(show, "cables", "four-core-2.5", "thick"),
}  # fmt: skip


def step(show, number, **values):
    run = find(show, "runs", "W1")
    path = list(run.path)
    path[number] = changed(path[number], **values)
    return with_thing(show, "runs", msgspec.structs.replace(run, path=tuple(path)))


def section(show, number, **values):
    speaker = show.loudspeakers[0]
    sections = list(speaker.sections)
    sections[number] = changed(sections[number], **values)
    return with_thing(show, "loudspeakers", msgspec.structs.replace(speaker, sections=tuple(sections)))


def alike(one, other):
    """Compare shows whose new boxes may stand in another order: both come at the end, and one of them first."""
    by_id = [
        msgspec.structs.replace(show, boxes=tuple(sorted(show.boxes, key=lambda box: box.id))) for show in (one, other)
    ]
    return by_id[0] == by_id[1]


@tries(20)
@given(st.data())
def test_edits_of_different_fields_merge_to_the_show_of_making_both(data):
    order = data.draw(st.permutations(sorted(EDITS)))[:8]
    if "model's label" in order and "stock" in order:
        order.remove("stock")
    order.sort(key=lambda name: name.endswith("label"))  # what is renamed last is found by its label until then
    on_mine = data.draw(st.sets(st.sampled_from(order)))
    mine = theirs = both = BASE
    for name in order:
        both = EDITS[name](both)
        if name in on_mine:
            mine = EDITS[name](mine)
        else:
            theirs = EDITS[name](theirs)
    merged, other = merge(BASE, mine, theirs), merge(BASE, theirs, mine)
    assert not merged.conflicts
    assert not merged.remarks
    assert alike(merged.show, both)
    assert other.show == merged.show  # whoever merges has the same file
    assert loads(merged.show)
    assert merge(BASE, mine, BASE).show == merge(BASE, BASE, mine).show == merge(BASE, mine, mine).show == mine
    # One change at a time, left out again: what is left is what the others did.
    for change in merged.theirs[:3]:
        left = settled(merged, {}, [change.name])
        assert loads(left.show)
        assert left.remarks or len(differences(left.show, merged.show)) == 1


def path_with(show, *steps):
    run = find(show, "runs", "W1")
    return with_thing(show, "runs", msgspec.structs.replace(run, path=(*run.path, *steps)))


def path_cut(show):
    run = find(show, "runs", "W1")
    return with_thing(show, "runs", msgspec.structs.replace(run, path=run.path[:-1]))


SIDES = {
    "one field": (lambda show: edit(show, "boxes", "ML2", level="-3 dB"), lambda show: edit(show, "boxes", "ML2", level="-6 dB"),
        "box ML2 level: was nothing; mine: -3 dB; theirs: -6 dB (both changed it)"),
    "removed and edited": (lambda show: removed(show, "boxes", "ML2").show, lambda show: edit(show, "boxes", "ML2", level="-6 dB"),
        "box ML2: mine: removed; run W1: step 2 goes: cable four-core-2.5, length 66 in, box ML2; theirs: level nothing → -6 dB (one removed what the other changed)"),
    "its lead edited": (lambda show: removed(show, "boxes", "ML2").show, lambda show: step(show, 1, length=Length("3 m")),
        "box ML2: mine: removed; run W1: step 2 goes: cable four-core-2.5, length 66 in, box ML2; theirs: run W1: step 2 length 66 in → 3 m (one removed what the other changed)"),
    "added twice": (lambda show: more(show, "boxes", box("MR1", side="right")), lambda show: more(show, "boxes", box("MR1", side="left")),
        "box MR1: mine: side right; theirs: side left (both added it, with other values)"),
    "stock added twice": (lambda show: more(show, "stock", Stock(model="quad-900", owned=2)), lambda show: more(show, "stock", Stock(model="quad-900", owned=3)),
        "stock quad-900: mine: owned 2; theirs: owned 3 (both added it, with other values)"),
    "one label": (lambda show: renamed(show, "boxes", "ML1", "TL1"), lambda show: renamed(show, "boxes", "ML1", "HL1"),
        "box ML1: mine: renamed to TL1; theirs: renamed to HL1 (both renamed it)"),
    "steps at one place": (lambda show: path_with(show, Step(cable="four-core-2.5", length=Length("2 m"), box="B1")), lambda show: path_with(show, Step(cable="four-core-2.5", length=Length("4 m"), box="B1")),
        "run W1 behind step 2: mine: cable four-core-2.5, length 2 m, box B1; theirs: cable four-core-2.5, length 4 m, box B1 (both changed it)"),
    "a step beside one that goes": (lambda show: path_with(show, Step(cable="four-core-2.5", length=Length("2 m"), box="B1")), path_cut,
        "run W1: mine: behind step 2 comes cable four-core-2.5, length 2 m, box B1; theirs: step 2 goes: cable four-core-2.5, length 66 in, box ML2 (one removed what the other changed)"),
    "a name that points nowhere": (lambda show: removed(show, "zones", "subs").show, lambda show: more(show, "boxes", box("B9", "subs")),
        "box B9: mine: zone subs removed; zone mains: low end from subs removed; theirs: box B9 added: model two-way-12, zone subs, reach floor, polarity normal (together B9: no zone 'subs'; expected mains)"),
    "either model or unknown": (lambda show: edit(show, "boxes", "ML2", model="three"), lambda show: edit(show, "boxes", "ML2", model=None, unknown={"impedance": "8 ohm", "continuous": "100 W"}, drive=None),
        "box ML2 model: was two-way-12; mine: three; theirs: removed (both changed it)"),
    "a circle": (lambda show: edit(show, "zones", "mains", timed_to="subs"), lambda show: edit(show, "zones", "subs", timed_to="mains"),
        "zone mains: mine: zone mains: timed to nothing → subs; theirs: zone subs: timed to nothing → mains (together mains: timed_to goes in a circle: mains → subs → mains)"),
}  # fmt: skip


@pytest.mark.parametrize("case", SIDES)
def test_what_collides_is_asked_and_either_answer_is_a_show(case):
    one, other, says = SIDES[case]
    base = more(
        more(BASE, "boxes", box("B1")), "loudspeakers", msgspec.structs.replace(BASE.loudspeakers[0], id="three")
    )
    mine, theirs = one(base), other(base)
    assert loads(mine)
    assert loads(theirs)
    merged = merge(base, mine, theirs)
    assert loads(merged.show)
    assert [conflict.says for conflict in merged.conflicts] == [says]
    for pick, show in (("mine", mine), ("theirs", theirs)):
        done = settled(merged, dict.fromkeys([conflict.name for conflict in merged.conflicts], pick))
        assert not done.conflicts
        # A knot of two fields in one box: what cannot stay beside the answer goes, and that is said.
        says = [change.says for change in differences(done.show, show)]
        assert says == (["box ML2: drive nothing → bi-amp"] if done.remarks else [])
    mirrored = merge(base, theirs, mine)
    assert [(c.name, c.theirs, c.mine) for c in mirrored.conflicts] == [
        (c.name, c.mine, c.theirs) for c in merged.conflicts
    ]


def test_rows_without_an_id_that_both_added_alike_are_one_and_it_is_said():
    untimed = Reading(line="W1/1", value="3.4 ohm", kind="1khz")
    heard = Logged(kind="polarity", at="ML1")
    for table, row, says in (
        ("stock", Stock(model="two-way-12", length=Length("1 m"), owned=2), "stock 1 m two-way-12"),
        ("readings", untimed, "reading W1/1 at amp, 1khz"),
        ("log", heard, "log of ML1, polarity"),
    ):
        side = more(BASE, table, row)
        merged = merge(BASE, side, side)
        assert merged.show == side
        assert merged.remarks == (
            f"{says} was added by both alike, and stands once; if two are meant, put in the other",
        )
    # What proves that it is one thing needs no word: a serial, a time.
    timed = msgspec.structs.replace(untimed, time=BASE.readings[0].time)
    for side in (more(BASE, "readings", timed), more(BASE, "stock", Stock(model="quad-900", serial="7", owned=1))):
        assert not merge(BASE, side, side).remarks
    # Two of a kind on one side stay two, and a third one of the other side is a third.
    twice = more(BASE, "log", heard, heard)
    other = more(BASE, "log", Logged(kind="polarity", at="ML2"))
    assert len(merge(BASE, twice, other).show.log) == 3
    assert len(merge(twice, more(twice, "log", heard), twice).show.log) == 3


def test_copies_of_the_gear_library_are_no_change():
    models = [entry.model for entry in library.every()]
    copy = next(model for model in models if type(model) is type(BASE.cables[0]))
    with_copy = more(BASE, "cables", copy)
    used = more(BASE, "stock", Stock(model=copy.id, owned=1))
    assert [change.thing for change in differences(BASE, used, library.find)] == [f"stock {copy.id}"]
    assert differences(BASE, with_copy, library.find) == ()
    assert differences(with_copy, BASE, library.find) != ()  # taking a model out of a file is somebody's edit
    merged = merge(BASE, with_copy, used, library.find)
    assert [change.thing for change in merged.changes] == [f"stock {copy.id}"]
    assert merged.show == more(with_copy, "stock", used.stock[-1])
    edited = more(used, "cables", changed(copy, note="ours are red"))
    assert [change.says for change in differences(used, edited, library.find)] == [
        f"cable {copy.id}: note nothing → ours are red"
    ]


def test_a_run_is_read_step_by_step():
    run = find(BASE, "runs", "W1")
    longer = with_thing(
        BASE,
        "runs",
        msgspec.structs.replace(run, path=(run.path[0], Step(adaptor="x"), changed(run.path[1], length="4 m"))),
    )
    assert [change.says for change in differences(BASE, longer)] == [
        "run W1: step 2 length 66 in → 4 m",
        "run W1: behind step 1 comes adaptor x",
    ]
    swapped = [changed(step, box=name) for step, name in zip(run.path, ("ML2", "ML1"), strict=True)]
    other = with_thing(BASE, "runs", msgspec.structs.replace(run, path=tuple(swapped)))
    assert [change.says for change in differences(BASE, other)] == [
        "run W1: step 1 box ML1 → ML2",
        "run W1: step 2 box ML2 → ML1",
    ]


def test_only_a_certain_rename_is_one():
    alike = more(BASE, "boxes", box("A1"), box("A2"), box("A3"))
    one = renamed(alike, "boxes", "A2", "B2")
    assert [change.says for change in differences(alike, one)] == ["box A2: renamed to B2"]
    both = renamed(renamed(alike, "boxes", "A1", "C"), "boxes", "A2", "D")
    assert [change.says for change in differences(alike, both)] == ["box A1: renamed to C", "box A2: renamed to D"]
    # Of two that went, one came, in neither's place: it may be either.
    fewer = more(msgspec.structs.replace(alike, boxes=(*BASE.boxes, alike.boxes[-1])), "boxes", box("E"))
    assert [change.kind for change in differences(alike, fewer)] == ["removed", "removed", "added"]
    # What the other side logs of a box goes to its new label.
    logged = more(BASE, "log", Logged(kind="polarity", at="ML1", ok=False))
    merged = merge(BASE, renamed(BASE, "boxes", "ML1", "TL1"), edit(logged, "boxes", "ML1", level="-1 dB"))
    assert find(merged.show, "boxes", "TL1").level == "-1 dB"
    kept = settled(merged, {}, [merged.mine[0].name])
    assert kept.show == edit(logged, "boxes", "ML1", level="-1 dB")


def test_order_is_kept_and_asked_when_both_change_it():
    three = more(BASE, "boxes", box("A1"))
    ways = [
        msgspec.structs.replace(three, boxes=tuple(three.boxes[place] for place in way))
        for way in ([1, 0, 2], [2, 1, 0])
    ]
    assert merge(three, ways[0], edit(three, "boxes", "A1", note="x")).show == edit(ways[0], "boxes", "A1", note="x")
    (conflict,) = merge(three, *ways).conflicts
    assert conflict.says == "the show the boxes: mine: ML2 ML1 A1; theirs: A1 ML2 ML1 (both changed it)"


def test_a_list_that_says_none_differs_in_words_from_one_that_is_left_out():
    """No low end is a fact; where nobody says it, the subs are guessed."""
    zone = BASE.zones[0].id
    none, unsaid = (edit(BASE, "zones", zone, low_end_from=value) for value in ((), None))
    [change] = differences(none, unsaid)
    assert change.says == f"zone {zone}: low end from nothing → not said"
