"""Labels that stand twice, names that lead nowhere or in circles: what test_show_errors does not ask."""

import random
import tomllib
from itertools import pairwise
from operator import is_

import msgspec
import pytest
from budget import seeds
from hypothesis import given
from hypothesis import strategies as st
from mutated_shows import changed, changes, renamed
from shows import FERRY, line_number, with_change

from fieldkit.show.contents import channels_of, is_pair
from fieldkit.show.decoding import decode
from fieldkit.show.document import MODEL_TABLES
from fieldkit.show.errors import DocumentError, ShowError
from fieldkit.show.keep.storage import load
from fieldkit.show.loops import circle
from fieldkit.show.references import problems

RACK = """
[[built_racks]]
id = "as-built"
units = 6
contents = [{ model = "three-by-six" }, { model = "quad-900" }]
panel = { P = { 1 = "2.1", 2 = "2.3+4" } }

[[racks]]
id = "RR"
as_built = "as-built"

[[runs]]
id = "W9"
from = "RR.P"
path = [{ cable = "four-core-2.5", length = "2 m" }]
"""


def refused(tmp_path, text):
    path = tmp_path / "show.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DocumentError) as error:
        load(path)
    return error.value


def test_the_rack_of_these_tests_is_sound():
    assert list(problems(decode(tomllib.loads(FERRY + RACK)))) == []


@pytest.mark.parametrize(
    ("old", "new", "at", "says"),
    [
        ('{ 1 = "2.1"', '{ 1 = "3.1"', '"3.1"', "as-built: panel.P: expected a unit and its channel such as '1.2' or '1.3+4', got '3.1'"),
        ('{ 1 = "2.1"', '{ 1 = "2.9"', '"2.9"', "got '2.9'"),
        ('{ 1 = "2.1"', '{ 1 = "1.1"', '"1.1"', "got '1.1'"),  # a processor drives no boxes
        ('{ 1 = "2.1"', '{ 1 = "2"', '1 = "2",', "got '2'"),
        ('{ 1 = "2.1"', '{ A = "2.1"', 'A = "2.1"', "panel.P: expected a pin pair such as 1, got 'A'"),
        ('{ model = "quad-900" }', '{ model = "quad-90" }', '"quad-90"', "as-built: no amplifier or processor 'quad-90'; did you mean 'quad-900'?"),
        ('from = "RR.P"', 'from = "RR.Q"', '"RR.Q"', "W9: from: the rack 'RR' has no socket 'Q'; expected P"),
        ('as_built = "as-built"', 'as_built = "as-bilt"', '"as-bilt"', "RR: as_built: no rack as built 'as-bilt'; did you mean 'as-built'?"),
        ('id = "X1"', 'id = "RR-2"', 'id = "RR-2"', "RR-2: the id 'RR-2' is already used by a unit of the rack 'RR'"),
        ('id = "ML2"', 'id = "RR-1"', 'id = "RR-1"', "RR-1: the id 'RR-1' is already used by a unit of the rack 'RR'"),
        ('id = "W9"', 'id = "W1"', 'id = "W1"\nfrom = "RR', "W1: the id 'W1' is already used in runs"),
        ('id = "RR"', 'id = "SR"', 'id = "SR"\nas_built', "SR: the id 'SR' is already used in racks"),
        ('id = "passive-with-sub", uses', 'id = "passive-full-range", uses', '"passive-full-range", uses = ["with', "two-way-12: the preset 'passive-full-range' stands twice in this model"),
        ('id = "subs"', 'id = "mains"', 'id = "mains"\nuse = "front"\nsignals', "mains: the id 'mains' is already used in zones"),
        ('limiter = "350 W"', 'limiter = "0 W"', '"0 W"', "two-way-12: presets.limiter: expected a power above 0 W, got '0 W'"),
        ('power = "900 W"', 'power = "0 W"', '"0 W"', "quad-900: powers.power: expected a power above 0 W, got '0 W'"),
        ('A = { 1 = "1"', f'A = {{ {"9" * 5000} = "1"', "99999", "quad-900: connectors.A: expected a pin pair such as 1, got '999"),
        ("feeds = { 1 =", f'feeds = {{ {"9" * 5000} =', "99999", "W1: feeds: expected a pin pair such as 1, got '999"),
        ("feeds = { 1 =", "feeds = { 0 =", "{ 0 =", "W1: feeds: expected a pin pair such as 1, got '0'"),
        ('line = "W1/1"', 'line = "W1/٣"', "W1/٣", "line: expected a run and pin pair such as 'W1/1', got 'W1/٣'"),
    ],
)  # fmt: skip
def test_what_is_refused(tmp_path, old, new, at, says):
    text = with_change(old, new, FERRY + RACK)
    text = text.replace('supply = "X1"', 'supply = "RR-2"') if 'id = "X1"' in old else text
    text = text.replace('box = "ML2"', 'box = "RR-1"') if 'id = "ML2"' in old else text
    error = refused(tmp_path, text)
    assert says in str(error)
    assert error.line == line_number(text, at)


@pytest.mark.parametrize("table", MODEL_TABLES)
def test_models_of_all_kinds_share_one_set_of_names(table):
    more = {
        "loudspeakers": 'sections = [{ drive = "self-powered", section = "full" }]',
        "amplifiers": 'channels = 1\npowers = [{ load = "8 ohm", power = "9 W" }]',
        "processors": "inputs = 1\noutputs = 1",
        "cables": 'area = "14 AWG"',
        "adaptors": "",
        "panels": "sockets = {}",
        "built_racks": "units = 1\ncontents = []",
    }[table]
    show = decode(
        tomllib.loads(FERRY + f'[[{table}]]\nid = "{"quad-900" if table != "amplifiers" else "two-way-12"}"\n{more}\n')
    )
    found = [says for _, _, says in problems(show)]
    assert any("is already used in" in says for says in found)


# ---- circles ---------------------------------------------------------------------------------------------------------

WAYS = st.dictionaries(st.sampled_from("abcdefg"), st.lists(st.sampled_from("abcdefgx"), max_size=3), max_size=7)


def reaches_itself(ways, name):
    """Follow all ways, as far as they lead: an oracle that shares nothing with the search."""
    reached = set(ways.get(name, ()))
    for _ in range(len(ways)):
        reached |= {other for one in reached for other in ways.get(one, ())}
    return name in reached


@given(WAYS)
def test_a_circle_is_found_exactly_where_there_is_one(ways):
    way = circle(ways, lambda name: ways.get(name, ()))
    assert bool(way) == any(reaches_itself(ways, name) for name in ways)
    if way:
        assert way[0] == way[-1]
        assert len(set(way)) == len(way) - 1
        assert all(after in ways[before] for before, after in pairwise(way))


def test_a_long_chain_is_followed_once():
    asked = []

    def following(number):
        asked.append(number)
        return (number + 1,) if number < 5_000 else ()

    assert circle(reversed(range(5_000)), following) == []
    assert circle(range(5_000), following) == []
    assert sorted(asked) == sorted([*range(5_001), *range(5_001)])
    assert circle(range(5_000), lambda number: ((number + 1) % 5_000,)) == [*range(5_000), 0]


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('low_end_from = ["subs"]', 'low_end_from = ["mains"]', None),  # a zone that holds its own subs
        ('low_end_from = ["subs"]', 'low_end_from = ["mains", "subs"]', "mains → subs → mains"),
    ],
)
def test_a_zone_may_name_itself_and_no_longer_way_back(tmp_path, old, new, says):
    text = with_change(old, new)
    if says is None:
        assert list(problems(decode(tomllib.loads(text)))) == []
    else:
        text = with_change('id = "subs"\n', 'id = "subs"\nlow_end_from = ["mains"]\n', text)
        assert says in str(refused(tmp_path, text))


def test_processors_that_feed_each_other(tmp_path):
    text = with_change('inputs = { 1 = "L", 2 = "R", 3 = "Sub" }', 'inputs = { 1 = "DQ.1" }')
    text += '[[rack_units]]\nid = "DQ"\nmodel = "three-by-six"\ninputs = { 2 = "L", 3 = "DP.6" }\n'
    error = refused(tmp_path, text)
    assert "DP: inputs go in a circle: DP → DQ → DP" in str(error)
    assert error.line == line_number(text, '"DQ.1"')


def test_a_signal_that_is_called_like_a_unit_is_a_signal():
    text = with_change('inputs = { 1 = "L", 2 = "R", 3 = "Sub" }', 'inputs = { 1 = "DP" }')
    assert list(problems(decode(tomllib.loads(text)))) == []


# ---- channels and pairs ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "channels"),
    [("1", (1,)), ("4", (4,)), ("3+4", (3, 4)), ("1+4", (1, 4)), ("0", None), ("5", None), ("1+1", None), ("1+2+3", None),
     ("", None), ("+", None), ("1+", None), ("-1", None), ("²", None), ("٣", None), (" 1", None), ("9" * 5000, None)],
)  # fmt: skip
def test_channels(text, channels):
    assert channels_of(text, 4) == channels


@given(st.text())
def test_a_pair_is_a_plain_number(text):
    assert is_pair(text) == (text in {str(number) for number in range(1, 1000)} or text in ZEROES)


ZEROES = {f"{number:0{width}}" for number in range(1, 1000) for width in (2, 3)}


def shared(show, sound):
    """Give a show the very rows and tables of another one where they say the same, as an edit does."""
    tables = {}
    for table in sound.__struct_fields__:
        before, after = getattr(sound, table), getattr(show, table)
        if isinstance(after, tuple):
            rows = tuple(next((old for old in before if old == row), row) for row in after)
            after = before if len(rows) == len(before) and all(map(is_, rows, before)) else rows
        tables[table] = after
    return type(show)(**tables)


@pytest.mark.parametrize("seed", seeds(3))
def test_what_is_new_since_a_sound_show_is_all_that_needs_a_look(seed):
    """Edits at random, alone, in pairs and as new labels: a look at what is new finds what a look at all finds."""
    chance = random.Random(seed)
    document = tomllib.loads(FERRY + RACK)
    sound, wrong, right = decode(document), 0, 0
    singles = list(changes(document))
    labels = [thing["id"] for table in document.values() if isinstance(table, list) for thing in table if "id" in thing]
    for turn in range(120):
        edited = changed(document, *chance.choice(singles))
        if turn % 3 == 1:
            edited = edited and changed(edited, *chance.choice(singles))
        elif turn % 3 == 2:
            edited = renamed(document, chance.choice(labels), chance.choice([*labels, "new"]))
        try:
            show = shared(decode(edited or document), sound)
        except ShowError:
            continue
        found = list(problems(show))
        assert list(problems(show, sound=sound)) == found
        wrong += bool(found)
        if not found:
            right += 1
            assert list(problems(shared(decode(document), show), sound=show)) == []
    assert min(wrong, right) > 10


def test_an_edit_of_one_thing_brings_no_look_at_the_others():
    sound = decode(tomllib.loads(FERRY + RACK))
    first, *others = sound.boxes
    wrong = msgspec.structs.replace(sound, boxes=(msgspec.structs.replace(first, zone="nobody"), *others))
    assert list(problems(wrong))
    edited = msgspec.structs.replace(wrong, boxes=(*wrong.boxes[:-1], msgspec.structs.replace(others[-1], note="x")))
    assert list(problems(edited, sound=wrong)) == []
