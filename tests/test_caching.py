"""What is kept from one evaluation to the next never changes what comes out."""

import datetime as dt
import random

import msgspec
import pytest
from budget import seeds, tries
from hypothesis import assume, given
from hypothesis import strategies as st
from rigs import AMP, PLAIN, box, run, show_of, step

from fieldkit import samples
from fieldkit.checks.checking import check
from fieldkit.rig.power.supplies import supplies_of
from fieldkit.rig.racks import racks_of
from fieldkit.rig.signal.account import accounts
from fieldkit.rig.signal.asked import asked_of_hosts
from fieldkit.rig.signal.chain import signal_paths
from fieldkit.rig.signal.gains import gain_chains
from fieldkit.rig.signal.sharing import sharing
from fieldkit.rig.signal.siblings import families
from fieldkit.rig.solve.evaluation import Evaluator, evaluate
from fieldkit.show.edits import changed, find, with_thing
from fieldkit.show.opening import open_show
from fieldkit.show.references import problems

TODAY = dt.date(2026, 6, 20)
PROCESSED = (
    '[[processors]]\nid = "proc"\ninputs = 2\noutputs = 4\nhosts = { presets = ["any"], full_scale = "18 dBu" }\n'
    '[[rack_units]]\nid = "D"\nmodel = "proc"\ninputs = { 1 = "L" }\nroutes = { 1 = "1" }\n'
)
START = show_of(
    PROCESSED
    + AMP
    + PLAIN
    + box("B1", more='drive = "bi-amp"')
    + box("B2")
    + box("S", "subs", "sub")
    + run("W1", "A.A", step("four", "10 m", "B1"))
    + run("W2", "P.A", step("two", "10 m", "B2"))
    + run("W3", "A.B", step("two", "10 m", "S"))
    + '[[stock]]\nmodel = "top"\nowned = 2\n'
)


def _length(show, value):
    thing = find(show, "runs", "W1")
    return with_thing(show, "runs", changed(thing, path=(changed(thing.path[0], length=value),)))


EDITS = {
    "length": st.sampled_from(["5 m", "10 m", "60 m"]).map(lambda value: lambda show: _length(show, value)),
    "drive": st.sampled_from(["passive", "bi-amp"]).map(
        lambda value: lambda show: with_thing(show, "boxes", changed(find(show, "boxes", "B1"), drive=value))
    ),
    "bridged": st.sampled_from([["3+4"], []]).map(
        lambda value: lambda show: with_thing(show, "rack_units", changed(find(show, "rack_units", "A"), bridged=value))
    ),
    "gain": st.sampled_from(["20 dB", "40 dB", None]).map(
        lambda value: lambda show: with_thing(show, "rack_units", changed(find(show, "rack_units", "A"), gain=value))
    ),
    "low end": st.sampled_from([["subs"], [], None]).map(
        lambda value: lambda show: with_thing(show, "zones", changed(find(show, "zones", "mains"), low_end_from=value))
    ),
    "temperature": st.sampled_from(["0 °C", "20 °C", "40 °C"]).map(
        lambda value: lambda show: msgspec.structs.replace(show, about=changed(show.about, temperature=value))
    ),
    "limits": st.sampled_from(["0.1 dB", "2 dB"]).map(
        lambda value: lambda show: msgspec.structs.replace(show, about=changed(show.about, loss_limit=value))
    ),
    "zone level": st.sampled_from(["-30 dB", "20 dB", None]).map(
        lambda value: lambda show: with_thing(show, "zones", changed(find(show, "zones", "mains"), level=value))
    ),
    "signals": st.sampled_from([{"": "L"}, {"": "R"}, {}]).map(
        lambda value: lambda show: with_thing(show, "zones", changed(find(show, "zones", "mains"), signals=value))
    ),
    "timing": st.sampled_from(["5 m", "100 m", None]).map(
        lambda value: (
            lambda show: with_thing(
                show,
                "zones",
                changed(
                    find(show, "zones", "subs"),
                    timed_to=value and "mains",
                    reference_distance=value,
                    own_distance="1 m",
                ),
            )
        )
    ),
    "box": st.sampled_from([("delay", "20 ms"), ("level", "-6 dB"), ("polarity", "inverted"), ("side", "left")]).map(
        lambda value: lambda show: with_thing(show, "boxes", changed(find(show, "boxes", "B2"), **{value[0]: value[1]}))
    ),
    "input": st.sampled_from([{"1": "L"}, {"1": "D.1", "2": "=1"}, {"1": "D.1", "2": "D.2"}]).map(
        lambda value: lambda show: with_thing(show, "rack_units", changed(find(show, "rack_units", "P"), inputs=value))
    ),
    "route": st.sampled_from([{"1": "1"}, {"1": "2"}, {}]).map(
        lambda value: lambda show: with_thing(show, "rack_units", changed(find(show, "rack_units", "D"), routes=value))
    ),
    "full scale": st.sampled_from(["-10 dBu", "18 dBu"]).map(
        lambda value: (
            lambda show: with_thing(
                show,
                "processors",
                changed(find(show, "processors", "proc"), hosts={"presets": ["any"], "full_scale": value}),
            )
        )
    ),
    "desk": st.sampled_from(["-20 dBu", "24 dBu", None]).map(
        lambda value: lambda show: msgspec.structs.replace(show, about=changed(show.about, desk_clip=value))
    ),
    "knob": st.sampled_from([{"1": "-12 dB"}, {}]).map(
        lambda value: (
            lambda show: with_thing(show, "rack_units", changed(find(show, "rack_units", "P"), attenuators=value))
        )
    ),
    "stock": st.integers(0, 3).map(
        lambda value: lambda show: msgspec.structs.replace(show, stock=(changed(show.stock[0], owned=value),))
    ),
    "model": st.sampled_from(["300 W", "500 W"]).map(
        lambda value: (
            lambda show: with_thing(
                show,
                "loudspeakers",
                changed(
                    show.loudspeakers[0],
                    sections=[
                        changed(show.loudspeakers[0].sections[0], continuous=value),
                        *show.loudspeakers[0].sections[1:],
                    ],
                ),
            )
        )
    ),
}


def asked(rig):
    """List what is asked of hosts."""
    return list(asked_of_hosts(rig))


def racks(rig):
    """List the facts of racks."""
    return racks_of(rig, supplies_of(rig).draws)


FACTS = (signal_paths, gain_chains, families, sharing, supplies_of, racks, asked, accounts)
"""What rules rest on beside outputs and lines."""


@given(st.lists(st.one_of(*EDITS.values()), min_size=2, max_size=4))
@tries(6)
def test_a_preview_is_what_a_fresh_look_gives_and_leaves_the_rig_as_it_was(edits):
    rig = evaluate(START)
    known = {facts: facts(rig) for facts in FACTS}, check(rig, TODAY)
    show = START
    for edit in edits:  # each beside the rig that is there, as one that is typed key by key
        show = edit(show)
        assume(not list(problems(show)))
        beside, fresh = Evaluator(rig).evaluate(show), evaluate(show)
        assert beside.amplifiers == fresh.amplifiers
        for facts in FACTS:
            assert facts(beside) == facts(fresh)
        assert check(beside, TODAY) == check(fresh, TODAY)
    assert ({facts: facts(rig) for facts in FACTS}, check(rig, TODAY)) == known


def test_a_knob_of_a_rack_as_built_has_its_own_amplifier_solved_again_and_no_other():
    show, evaluator = FIRST["open_air"], Evaluator()
    before = evaluator.evaluate(show)
    unit = changed(find(show, "rack_units", "LEFT-1"), attenuators={"1": "-3 dB"})
    after = evaluator.evaluate(with_thing(show, "rack_units", unit))
    same = [old is new for old, new in zip(before.amplifiers, after.amplifiers, strict=True)]
    names = [its[0].output.unit.id for its, kept in zip(after.amplifiers, same, strict=True) if not kept]
    assert names == ["LEFT-1"]
    of_before, of_after = ({id(item) for item in accounts(rig)} for rig in (before, after))
    assert 0 < len(of_after - of_before) < len(of_after) / 2


@given(st.lists(st.one_of(*EDITS.values()), min_size=1, max_size=12))
@tries(15)
def test_a_sequence_of_edits_gives_what_a_fresh_look_gives(edits):
    evaluator = Evaluator()
    show = START
    for edit in edits:
        show = edit(show)
        assume(not list(problems(show)))  # a side may go that a box stands on
        kept, fresh = evaluator.evaluate(show), evaluate(show)
        assert kept.amplifiers == fresh.amplifiers
        assert kept.lines == fresh.lines
        for facts in FACTS:
            assert facts(kept) == facts(fresh)
        assert check(kept, TODAY) == check(fresh, TODAY)


def test_what_waits_on_a_processor_output_that_amplifiers_share_follows_its_zone():
    evaluator, show = Evaluator(), FIRST["school_musical"]
    before = asked(evaluator.evaluate(show))
    show = with_thing(show, "zones", changed(find(show, "zones", "subs"), reference_distance="26 m"))
    after = asked(evaluator.evaluate(show))
    assert after == asked(evaluate(show)) != before


def test_findings_are_kept_and_made_again_when_a_choice_changes():
    evaluator = Evaluator()
    first = check(evaluator.evaluate(START), TODAY)
    again = check(evaluator.evaluate(START), TODAY)
    assert all(a is b for a, b in zip(first, again, strict=True) if a.where.kind in {"output", "line", "box"})
    other = msgspec.structs.replace(START, about=changed(START.about, preferred_load="16 ohm"))
    assert check(evaluator.evaluate(other), TODAY) != first


FIRST = {path.stem: open_show(path).show for path in sorted(samples.folder().glob("*.toml"))} | {"small": START}
TABLES = [field.name for field in msgspec.structs.fields(type(START)) if field.name not in {"format", "about"}]
VALUES = {}
"""Table -> field -> what stands there in any of the shows, so that an edit puts in what could be meant."""
for _show in FIRST.values():
    for _table in TABLES:
        for _thing in getattr(_show, _table):
            for _field in type(_thing).__struct_fields__:
                _known = VALUES.setdefault(_table, {}).setdefault(_field, [])
                if getattr(_thing, _field) not in _known:
                    _known.append(getattr(_thing, _field))
OF_ALL = {
    "temperature": ["-10 °C", "35 °C", None],
    "loss_limit": ["0.1 dB", None],
    "preferred_load": ["2 ohm", "8 ohm", None],
    "limiter_margin": ["0 dB", "6 dB", None],
    "minimum_damping": [5.0, 100.0, None],
    "desk_level": ["-10 dBV", None],
    "desk_clip": ["0 dBu", "24 dBu", None],
    "duty": ["1/4", None],
    "rack_heat_limit": ["100 W", None],
    "electrical_rules": ["iec", "nfpa"],
    "date": [dt.date(2020, 1, 1), TODAY],
}


def edited(show, chance):
    """Change a show at random as a person would: a field, a row more or less, another order, or what holds for all."""
    what = chance.choice(["field"] * 8 + ["about"] * 3 + ["less", "more", "order"])
    if what == "about":
        field = chance.choice(list(OF_ALL))
        return msgspec.structs.replace(show, about=changed(show.about, **{field: chance.choice(OF_ALL[field])}))
    table = chance.choice([name for name in TABLES if getattr(show, name)])
    rows = list(getattr(show, table))
    place = chance.randrange(len(rows))
    if what == "field":
        field = chance.choice(
            [name for name, known in VALUES[table].items() if len(known) > 1 and name != "id"] or ["note"]
        )
        rows[place] = msgspec.structs.replace(rows[place], **{field: chance.choice(VALUES[table][field])})
    elif what == "less":
        del rows[place]
    elif what == "more":
        more = {"id": f"{rows[place].id}X"} if hasattr(rows[place], "id") else {}
        rows.insert(chance.randrange(len(rows) + 1), msgspec.structs.replace(rows[place], **more))
    else:
        chance.shuffle(rows)
    return msgspec.structs.replace(show, **{table: tuple(rows)})


@pytest.mark.parametrize("seed", seeds(2))
def test_random_edits_of_every_show_give_what_a_fresh_look_gives(seed):
    chance = random.Random(seed)
    for name, first in FIRST.items():
        evaluator, versions = Evaluator(), [first]
        while len(versions) < 8:
            show = chance.choice(versions) if chance.random() < 0.2 else edited(versions[-1], chance)
            if show == versions[-1] or list(problems(show)):
                continue  # no edit, or one that nobody could make
            versions.append(show)
            kept, fresh = evaluator.evaluate(show), evaluate(show)
            assert (kept.lines, kept.amplifiers) == (fresh.lines, fresh.amplifiers), (name, seed)
            for facts in FACTS:
                assert facts(kept) == facts(fresh), (name, seed)
            assert check(kept, TODAY) == check(fresh, TODAY), (name, seed)
