"""What stands round the tables of a file: remarks, line ends, a byte order mark. An edit next to it leaves it."""

import tomllib

import msgspec
import pytest
from shows import FERRY, with_change

from fieldkit.show.decoding import decode
from fieldkit.show.document import Box, Zone
from fieldkit.show.edits import changed, find, with_thing, without_thing
from fieldkit.show.writing import canonical, updated
from fieldkit.text.toml_blocks import free_end, split

MARK = "\ufeff"
DIVIDED = with_change(
    '[[boxes]]\nid = "ML1"', '# ---- boxes ----\n# (left first)\n\n# the near one\n[[boxes]]\nid = "ML1"'
)


SUBS = 'signals = { left = "Sub", right = "Sub" }\n'


def parsed(text):
    return decode(tomllib.loads(text.removeprefix(MARK)))


def with_note(text, table, name, note="edited"):
    """Save an edit of one note and give the file's new text."""
    show = parsed(text)
    after = with_thing(show, table, changed(find(show, table, name), note=note))
    result = updated(text, show, after)
    assert parsed(result) == after
    return result


def others(before, after):
    """List the lines that only one of two texts has."""
    old, new = before.split("\n"), after.split("\n")
    return [line for line in old if line not in new], [line for line in new if line not in old]


def test_a_remark_between_tables_belongs_to_neither():
    result = with_note(DIVIDED, "zones", "subs")
    assert result == DIVIDED.replace(SUBS, SUBS + 'note = "edited"\n')
    show = parsed(DIVIDED)
    for table, name in (("zones", "subs"), ("boxes", "ML1")):
        result = updated(DIVIDED, show, without_thing(show, table, name))
        assert "\n\n# ---- boxes ----\n# (left first)\n\n" in result
        assert parsed(result) == without_thing(show, table, name)
    assert "# the near one" not in updated(DIVIDED, show, without_thing(show, "boxes", "ML1"))


def test_a_remark_within_a_table_stays_until_that_table_is_edited():
    assert "# front | wedge;" in with_note(FERRY, "zones", "subs")
    assert "# front | wedge;" not in with_note(FERRY, "zones", "mains")


def test_remarks_at_the_end_of_the_file_stay():
    text = FERRY + "\n# written at the dock\n"
    show = parsed(text)
    for reading in ((), (changed(show.readings[0], by="night crew"),)):
        after = msgspec.structs.replace(show, readings=reading)
        assert updated(text, show, after).endswith("\n# written at the dock\n")


@pytest.mark.parametrize(
    ("end", "free"),
    [
        ("", ""),
        ("\n", "\n"),
        ("# own\n", ""),
        ("# own\n\n# free\n", "\n# free\n"),
        ("\n# free\n\n# free\n\n", "\n# free\n\n# free\n\n"),
        ('note = """\n\n# text"""\n', ""),
        ('note = """\n\n# text"""\n\n# free', "\n# free"),
        ("low_end_from = [\n\n# in a list\n]\n", ""),
    ],
)
def test_what_is_free_of_a_table(end, free):
    assert free_end(split('format = 2\n[[zones]]\nid = "a"\n' + end)[1]) == free


@pytest.mark.parametrize(
    "note",
    [
        '"""\n# looks like a remark"""',
        '"""say "hi""""" # it\'s [ "',
        "'''it's ''''' # \"[",
        '"""\n\n[[boxes]]\nid = "no"\n\n# """',
        '"""\\\n  \\"\\"\\" [x"""',
    ],
)
@pytest.mark.parametrize("name", ["ML1", "ML2"])
def test_texts_that_look_like_something_else(note, name):
    text = with_change('note = "grille dented [see tag]"\n', "")
    text = with_change('id = "ML1"\n', f'id = "ML1"\nnote = {note}\n', text)
    text = with_change('drive = "bi-amp"\n\n[[boxes]]', f'drive = "bi-amp"\nserial = {note}\n[[boxes]]', text)
    result = with_note(text, "boxes", name)
    gone, come = others(text, result)
    assert 'note = "edited"' in come
    assert "# common | bridge-tied | alternate" in result
    if name == "ML2":
        assert (gone, come) == ([], ['note = "edited"'])


def test_a_byte_order_mark_stays_and_costs_no_remark():
    text = MARK + FERRY
    result = with_note(text, "boxes", "ML2")
    assert result == MARK + with_note(FERRY, "boxes", "ML2")
    headed = MARK + '[show]\nname = "x"\n# kept\n\n[[zones]]\nid = "a"\n'
    assert "# kept" in with_note(headed, "zones", "a")
    whole = MARK + 'zones = [{ id = "a" }]\n'  # another shape, which is written anew
    assert with_note(whole, "zones", "a") == MARK + canonical(parsed(with_note(whole, "zones", "a")))


def test_line_ends_stay_as_each_line_had_them():
    lines = FERRY.replace("\n", "\r\n").split("\r\n")
    mixed = "\r\n".join(lines[:-9]) + "\n" + "\n".join(lines[-9:])  # the end was added elsewhere
    result = with_note(mixed, "boxes", "ML2")
    assert result.endswith("\n" + "\n".join(lines[-9:]))
    assert result.startswith("\r\n".join(lines[:80]))
    assert 'note = "edited"\r\n' in result
    show = parsed(mixed)
    after = with_thing(with_thing(show, "boxes", Box(id="B9", model="two-way-12", zone="subs")), "zones", Zone(id="z"))
    added = updated(mixed, show, after)
    assert parsed(added) == after
    assert '\r\n\r\n[[boxes]]\r\nid = "B9"\r\n' in added
    assert "\r\r" not in added
    assert "\n\n\n" not in added.replace("\r", "")


def test_without_a_line_end_at_the_end():
    text = 'format = 2\n[[zones]]\nid = "a"\n[[zones]]\nid = "b"'
    show = parsed(text)
    assert updated(text, show, with_thing(show, "zones", Zone(id="c"))) == text + '\n\n[[zones]]\nid = "c"\n'
    assert updated(text, show, without_thing(show, "zones", "a")) == 'format = 2\n[[zones]]\nid = "b"'
    assert with_note(text, "zones", "a") == 'format = 2\n[[zones]]\nid = "a"\nnote = "edited"\n[[zones]]\nid = "b"'


def test_the_first_table_of_all():
    assert with_note('[[zones]]\nid = "a"\n', "zones", "a") == '[[zones]]\nid = "a"\nnote = "edited"\n'
    text = "# mine\nformat = 2\n"
    after = with_thing(parsed(text), "zones", Zone(id="a"))
    assert updated(text, parsed(text), after) == '# mine\nformat = 2\n\n[[zones]]\nid = "a"\n'


@pytest.mark.parametrize(("table", "key", "value"), [("stock", "owned", 7), ("readings", "by", "night crew")])
def test_a_thing_without_an_id_keeps_its_place_and_the_remark_above_it(table, key, value):
    text = with_change(f"[[{table}]]", f"# counted twice\n[[{table}]]")
    show = parsed(text)
    first, *more = getattr(show, table)
    after = msgspec.structs.replace(show, **{table: (changed(first, **{key: value}), *more)})
    result = updated(text, show, after)
    assert parsed(result) == after
    assert f"# counted twice\n[[{table}]]\n" in result
    old, new = ([block.table for block in split(each)] for each in (text, result))
    assert old == new


def test_of_two_alike_the_one_that_was_not_edited_keeps_its_text():
    text = (
        'format = 2\n\n# one\n[[stock]]\nmodel = "m"\nowned = 1 # a\n\n# two\n[[stock]]\nmodel = "m"\nowned = 2 # b\n'
    )
    show = parsed(text)
    after = msgspec.structs.replace(show, stock=(changed(show.stock[0], owned=3), show.stock[1]))
    assert updated(text, show, after) == text.replace("owned = 1 # a", "owned = 3")
