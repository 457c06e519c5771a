"""Saving keeps what was not edited, loses nothing, and never leaves half a file."""

import os
import re
import stat
import tomllib
from pathlib import Path

import msgspec
import pytest
from budget import tries
from hypothesis import given
from hypothesis import strategies as st
from shows import FERRY, with_change

from fieldkit.show.decoding import decode
from fieldkit.show.document import Box, Run, Show, Zone
from fieldkit.show.edits import changed, find, with_thing, without_thing
from fieldkit.show.errors import ChangedError, DocumentError, FileError
from fieldkit.show.keep import storage
from fieldkit.show.keep.storage import create, load, save
from fieldkit.show.writing import BYTE_ORDER_MARK, canonical, updated
from fieldkit.text.toml_blocks import split


def parsed(text):
    return decode(tomllib.loads(text.removeprefix(BYTE_ORDER_MARK)))


def written(tmp_path, text=FERRY):
    path = tmp_path / "show.toml"
    path.write_bytes(text.encode())
    return path


# ---- properties ------------------------------------------------------------------------------------------------------

TEXTS = st.one_of(
    st.text(max_size=40),
    st.sampled_from(
        [
            "[brackets]",
            'say "hi"',
            "it's",
            "back\\slash",
            "🎪",
            "مرحبا",
            "line\nend",
            "# no remark",
            '"""',
            "'''",
            "=1+1",
            "x" * 10_000,
        ]
    ),
)
LENGTHS = st.sampled_from(["20 m", "66 in", "82 ft", "5 ft 3 in", "0 m", "2,5 m"])
IDS = st.from_regex(r"\A[A-Za-z][A-Za-z0-9_-]{0,5}\Z")


@st.composite
def shows(draw):
    """Make a show of zones, boxes and runs with any notes; ids hold."""
    ids = draw(st.lists(IDS, min_size=3, max_size=9, unique=True))
    zones = [
        Zone(
            id=ids[0],
            note=draw(TEXTS),
            signals=draw(st.dictionaries(st.sampled_from(["left", "right", "a b"]), TEXTS, max_size=2)),
        )
    ]
    boxes = [Box(id=name, model="two-way-12", zone=ids[0], serial=draw(TEXTS), note=draw(TEXTS)) for name in ids[1:-1]]
    path = [{"cable": "four-core-2.5", "length": draw(LENGTHS), "box": box.id} for box in boxes]
    run = msgspec.convert(
        {"id": ids[-1], "from": "SR-1.A", "path": path, "note": draw(TEXTS)},
        Run,
        dec_hook=lambda kind, value: kind(value),
    )
    base = parsed(FERRY)
    return msgspec.structs.replace(base, zones=tuple(zones), boxes=tuple(boxes), runs=(run,), readings=())


@given(shows())
@tries(20)
def test_a_written_show_reads_back_equal_and_is_a_fixed_point(show):
    text = canonical(show)
    assert parsed(text) == show
    assert canonical(parsed(text)) == text


@st.composite
def rewritten(draw):
    """Give the sample's text as somebody else might have typed it: remarks, blank lines, order, quotes, line ends."""
    blocks = [block.text for block in split(FERRY)]
    head, rest = blocks[0], draw(st.permutations(blocks[1:]))
    remark = st.sampled_from(["", "\n", "# a remark [[boxes]]\n", "\n\n# two lines\n# of remark\n", "#\n"])
    parts = [head]
    for block in rest:
        text = block
        if draw(st.booleans()):
            text = text.replace(' = "', '   =\t"')
        if draw(st.booleans()):
            text = text.replace('note = "grille dented [see tag]"', 'note = """\n[[boxes]]\nid = "no"\n"""')
        parts += [draw(remark), text if text.endswith("\n") else text + "\n"]
    text = "".join(parts)
    return text.replace("\n", "\r\n") if draw(st.booleans()) else text


@st.composite
def retyped(draw):
    """Go further: keys in another order, other quotes, line ends of both kinds, remarks behind values, no last line end."""
    lines = []
    for block in split(draw(rewritten()).replace("\r\n", "\n")):
        own = block.text.split("\n")
        lines_of_text = '"""' in block.text
        pairs = [index for index, line in enumerate(own) if PLAIN_PAIR.fullmatch(line) and not lines_of_text]
        if block.table in {"boxes", "zones", "rack_units", "supplies", "stock"}:
            for index, line in zip(pairs, draw(st.permutations([own[index] for index in pairs])), strict=True):
                own[index] = line
        for index in pairs:
            own[index] = draw(
                st.sampled_from([own[index], own[index].replace('"', "'"), own[index] + '  # "[[x]]', " " + own[index]])
            )
        lines += own[:-1]
    kinds = draw(st.sampled_from([["\n"], ["\r\n"], ["\n", "\r\n"]]))
    ends = draw(st.lists(st.sampled_from(kinds), min_size=1, max_size=9))
    text = "".join(line + ends[index % len(ends)] for index, line in enumerate(lines))
    text = text.removesuffix("\n").removesuffix("\r") if draw(st.booleans()) else text
    return draw(st.sampled_from(["", BYTE_ORDER_MARK])) + text


PLAIN_PAIR = re.compile(r"""\w+ = ("[^"'\\]*"|\d+|true)""")


@given(st.one_of(rewritten(), retyped()))
@tries(25)
def test_an_unchanged_show_keeps_its_bytes(text):
    show = parsed(text)
    assert "".join(block.text for block in split(text)) == text
    assert updated(text, show, parsed(text)) == text


def around(text, table, name):
    """Give what stands before and behind the table of one thing, its header's own remarks included before it."""
    start = 0
    for block in split(text.removeprefix(BYTE_ORDER_MARK)):
        if block.table == table and _id(block.text) == name:
            head = start + sum(len(line) + 1 for line in block.text.split("\n")[: block.header - block.line])
            start += text.startswith(BYTE_ORDER_MARK)
            head += text.startswith(BYTE_ORDER_MARK)
            return text[:head], text[start + len(block.text) :]
        start += len(block.text)
    raise AssertionError(name)


@given(retyped(), TEXTS, st.sampled_from(["boxes", "zones", "runs", "rack_units", "racks", "supplies"]), st.randoms())
@tries(30)
def test_round_an_edit_every_byte_stays(text, note, table, random):
    show = parsed(text)
    thing = random.choice(getattr(show, table))
    after = with_thing(show, table, changed(thing, note=note))
    result = updated(text, show, after)
    assert parsed(result) == after
    before, behind = around(text, table, thing.id)
    assert result.startswith(before)
    assert result.endswith(behind)


@given(retyped(), st.sampled_from([("boxes", "ML1"), ("boxes", "ML2"), ("runs", "W1"), ("zones", "subs")]))
@tries(20)
def test_round_what_goes_every_byte_stays(text, what):
    table, name = what
    show = parsed(text)
    after = without_thing(show, table, name)
    result = updated(text, show, after)
    assert parsed(result) == after
    before, behind = around(text, table, name)
    kept = before.rstrip("#\r\n \t")  # the remark above a thing goes with it
    assert result.startswith(kept[: kept.rfind("\n[") + 1] if "#" in before[-200:] else kept)
    assert result.endswith(behind)


@given(retyped(), IDS)
@tries(20)
def test_round_a_new_thing_every_byte_stays(text, name):
    show = parsed(text)
    after = with_thing(show, "boxes", Box(id=f"new-{name}", model="two-way-12", zone="mains"))
    result = updated(text, show, after)
    assert parsed(result) == after
    same = 0
    while same < len(text) and text[same] == result[same]:
        same += 1
    added = result[same : same + len(result) - len(text)]
    assert text[:same] + added + text[same:] == result


@given(rewritten(), TEXTS, st.sampled_from(["boxes", "zones", "runs", "rack_units"]), st.randoms())
@tries(25)
def test_an_edit_changes_only_its_own_table(text, note, table, random):
    show = parsed(text)
    thing = random.choice(getattr(show, table))
    after = with_thing(show, table, changed(thing, note=note))
    result = updated(text, show, after)
    assert parsed(result) == after
    before = {(block.table, _id(block.text)): block.text for block in split(text.replace("\r\n", "\n"))[1:]}
    now = {(block.table, _id(block.text)): block.text for block in split(result.replace("\r\n", "\n"))[1:]}
    assert before.keys() == now.keys()
    assert {key for key in before if before[key].strip() != now[key].strip()} <= {(table, thing.id)}
    assert ("\r\n" in text) == ("\r\n" in result)


@given(rewritten(), st.sampled_from(["ML1", "ML2"]))
@tries(15)
def test_taking_a_thing_out_takes_only_its_block(text, name):
    show = parsed(text)
    after = without_thing(show, "boxes", name)
    result = updated(text, show, after)
    assert parsed(result) == after
    kept = [block.text.strip() for block in split(text.replace("\r\n", "\n"))[1:] if _id(block.text) != name]
    assert [block.text.strip() for block in split(result.replace("\r\n", "\n"))[1:]] == kept


@given(rewritten(), IDS)
@tries(15)
def test_a_new_thing_comes_behind_its_kind(text, name):
    show = parsed(text)
    after = with_thing(show, "boxes", Box(id=f"new-{name}", model="two-way-12", zone="mains"))
    result = updated(text, show, after)
    assert parsed(result) == after
    blocks = split(result.replace("\r\n", "\n"))[1:]
    assert [_id(block.text) for block in blocks if block.table == "boxes"][-1] == f"new-{name}"
    assert len(blocks) == len(split(text.replace("\r\n", "\n"))[1:]) + 1


def _id(block):
    data = tomllib.loads(block)
    (content,) = data.values()
    item = content[0] if isinstance(content, list) else content
    return item.get("id") or item.get("model") or item.get("line") or ""


def test_a_table_that_the_file_did_not_have_finds_its_place():
    text = 'format = 2\n\n[[zones]]\nid = "z"\n'
    show = parsed(text)
    after = msgspec.structs.replace(show, about=changed(show.about, name="Now named"))
    assert updated(text, show, after) == 'format = 2\n\n[show]\nname = "Now named"\n\n[[zones]]\nid = "z"\n'


@pytest.mark.parametrize(
    "text",
    [
        'format = 2\nzones = [{ id = "a" }, { id = "b", use = "wedge" }]\n',
        'format = 2\nshow = { name = "x" }\n[[zones]]\nid = "a"\n',
        'format = 2\nshow.name = "x"\nzones = [{ id = "a" }]\n',
        'format = 2\n[show]\nname = "x"\n[[zones]]\nid = "a"\n[zones.signals]\nleft = "L"\n',
    ],
)
def test_a_file_in_another_shape_saves_to_the_same_value(text):
    show = parsed(text)
    after = with_thing(show, "zones", Zone(id="new", signals={"left": "L"}))
    assert parsed(updated(text, show, after)) == after


def test_reordering_is_kept():
    show = parsed(FERRY)
    after = msgspec.structs.replace(show, boxes=show.boxes[::-1])
    assert parsed(updated(FERRY, show, after)) == after


def test_models_are_written_in_blocks_and_rows_that_can_be_compared():
    text = canonical(parsed(FERRY))
    assert max(len(line) for line in text.splitlines()) <= 120
    assert text.count("[[loudspeakers.sections]]") == 3


# ---- edits -----------------------------------------------------------------------------------------------------------


def test_an_edit_passes_the_same_checks_as_a_file():
    box = find(parsed(FERRY), "boxes", "ML1")
    assert changed(box, side="right").side == "right"
    assert changed(box, note=None).note == ""
    with pytest.raises(DocumentError, match="drive: expected one of bi-amp"):
        changed(box, drive="biamp")
    with pytest.raises(DocumentError, match="unknown key 'no_such_key'"):
        changed(box, no_such_key="red")
    step = find(parsed(FERRY), "runs", "W1").path[0]
    with pytest.raises(DocumentError, match="length: expected a length"):
        changed(step, length="20 kg")


def test_an_edit_leaves_all_other_things_the_very_same():
    show = parsed(FERRY)
    after = with_thing(show, "boxes", changed(find(show, "boxes", "ML1"), note="x"))
    assert after.boxes[1] is show.boxes[1]
    for table in ("zones", "runs", "loudspeakers", "rack_units"):
        assert getattr(after, table) is getattr(show, table)
    with pytest.raises(DocumentError, match="there is no 'XX' in boxes"):
        without_thing(show, "boxes", "XX")
    with pytest.raises(DocumentError, match="there is no 'XX' in boxes"):
        find(show, "boxes", "XX")


# ---- the disk --------------------------------------------------------------------------------------------------------


def edited(stored, note="edited"):
    return with_thing(stored.show, "boxes", changed(stored.show.boxes[0], note=note))


def test_saving_keeps_the_version_before_and_the_mode(tmp_path):
    path = written(tmp_path)
    path.chmod(0o640)
    stored = load(path)
    again = save(stored, edited(stored))
    assert load(path).show == again.show
    assert path.with_name("show.toml.bak").read_text(encoding="utf-8") == FERRY
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert {item.name for item in tmp_path.iterdir()} == {"show.toml", "show.toml.bak"}


def test_saving_an_unchanged_show_touches_nothing(tmp_path):
    path = written(tmp_path)
    before = path.stat()
    save(load(path), load(path).show)
    assert path.stat() == before
    assert list(tmp_path.iterdir()) == [path]


def test_a_link_is_followed(tmp_path):
    (tmp_path / "real").mkdir()
    real = written(tmp_path / "real")
    link = tmp_path / "link.toml"
    link.symlink_to(real)
    stored = load(link)
    save(stored, edited(stored))
    assert link.is_symlink()
    assert "edited" in real.read_text(encoding="utf-8")


def test_a_file_changed_underneath_is_not_written_over(tmp_path):
    path = written(tmp_path)
    stored = load(path)
    theirs = with_change("grille dented", "grille fixed")
    path.write_text(theirs, encoding="utf-8")
    with pytest.raises(ChangedError, match="somebody else has changed the file"):
        save(stored, edited(stored))
    assert path.read_text(encoding="utf-8") == theirs
    elsewhere = save(stored, edited(stored), tmp_path / "mine.toml")
    assert "edited" in elsewhere.path.read_text(encoding="utf-8")


@pytest.mark.parametrize("failing", ["fsync", "replace"])
def test_a_failure_leaves_the_old_file_and_nothing_else(tmp_path, monkeypatch, failing):
    path = written(tmp_path)
    stored = load(path)

    def fail(*_args):
        raise OSError(28, "No space left on device")

    if failing == "fsync":
        monkeypatch.setattr(os, "fsync", fail)
    else:
        monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(FileError, match="cannot be written: No space left on device"):
        save(stored, edited(stored))
    monkeypatch.undo()
    assert path.read_text(encoding="utf-8") == FERRY
    assert [item.name for item in tmp_path.iterdir() if item.name.startswith(".")] == []


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root writes everywhere")
def test_a_folder_that_may_not_be_written(tmp_path):
    path = written(tmp_path)
    stored = load(path)
    tmp_path.chmod(0o555)
    try:
        with pytest.raises(FileError, match="cannot be written: Permission denied"):
            save(stored, edited(stored))
    finally:
        tmp_path.chmod(0o755)


def test_a_new_file_is_never_written_over_another(tmp_path):
    path = written(tmp_path)
    with pytest.raises(FileError, match="there is such a file already"):
        create(path, "format = 2\n")
    assert path.read_text(encoding="utf-8") == FERRY
    with pytest.raises(FileError, match=r"show.toml: there is no folder .*none. to write it in"):
        create(tmp_path / "none" / "show.toml", "format = 2\n")


def test_a_show_without_a_file_is_written_whole(tmp_path):
    show = Show(zones=(Zone(id="a"),))
    stored = save(storage.Stored(tmp_path / "new.toml", "", show), show)
    assert load(stored.path).show == show
