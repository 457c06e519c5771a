"""Any show that may be, of all tables and with every key, is written and read back equal."""

import datetime as dt
import tomllib
import types
import typing

import msgspec
import pytest
from budget import tries
from hypothesis import given
from hypothesis import strategies as st
from shows import FERRY

from fieldkit.gear.model_file import KINDS, parse, text_of
from fieldkit.show.decoding import decode
from fieldkit.show.document import MODEL_TABLES, Show
from fieldkit.show.duty import Duty
from fieldkit.show.edits import changed, with_thing
from fieldkit.show.errors import DocumentError
from fieldkit.show.keep.storage import load, save
from fieldkit.show.position import Position
from fieldkit.show.reading_value import ReadingValue
from fieldkit.show.writing import TABLES, canonical, updated
from fieldkit.units import Measure

TEXTS = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=12),
    st.sampled_from(["[x]", '"', "'", "\\", "\\u001b", "\x1b[31m", "\x7f", "\x00", "\r\n", "\n[[boxes]]\n", "'''", '"""', "🎪", "مرحبا", "\u202e", "# no", "=", "x" * 10_000]),
)  # fmt: skip
LABELS = st.from_regex(r"\A[A-Za-z0-9_()&*-]{1,8}\Z")
ZONES = [dt.UTC, dt.timezone(dt.timedelta(hours=-9, minutes=-30)), None]


def measures(kind):
    """Give texts of a dimension: within its range, as people type them."""
    unit = kind.unit or "%"
    numbers = ["1", "0.5", "2,5", "  1 ", "1e-3", "+1"]
    if kind.dimension == "area":
        return st.sampled_from(["2.5 mm²", "2.5 mm2", "14 AWG", "4/0 AWG"]).map(kind)
    return st.sampled_from([f"{number} {unit}" for number in numbers]).map(kind)


def values(kind):
    """Make a strategy of a declared type."""
    if typing.get_origin(kind) is typing.Annotated:
        plain, *metas = typing.get_args(kind)
        meta = metas[0]
        if plain is str:
            return LABELS if meta.pattern else TEXTS
        if plain is float:
            return st.floats(0.01, meta.le)
        step = meta.multiple_of or 1
        return st.integers(-(-meta.ge // step), meta.le // step).map(lambda number: number * step)
    if typing.get_origin(kind) in {typing.Union, types.UnionType}:
        return st.one_of([values(part) for part in typing.get_args(kind)])
    if typing.get_origin(kind) is typing.Literal:
        return st.sampled_from(typing.get_args(kind))
    if typing.get_origin(kind) is tuple:
        return st.lists(values(typing.get_args(kind)[0]), max_size=2).map(tuple)
    if typing.get_origin(kind) is dict:
        keys, items = typing.get_args(kind)
        return st.dictionaries(values(keys), values(items), max_size=2)
    if issubclass(kind, msgspec.Struct):
        return things(kind)
    if issubclass(kind, Measure):
        return measures(kind)
    return {
        str: TEXTS,
        bool: st.booleans(),
        int: st.integers(0, 9),
        float: st.floats(0, 1e9),
        dt.date: st.dates(),
        dt.datetime: st.builds(lambda time, zone: time.replace(tzinfo=zone), st.datetimes(), st.sampled_from(ZONES)),
        ReadingValue: st.sampled_from(["3.3 ohm", "open", "OL", " short "]).map(ReadingValue),
        Position: st.sampled_from(["0 m, 0 m", " 50 m, -3 m, 5 ft", "−1 m, 0 m, 8 m"]).map(Position),
        Duty: st.sampled_from(["idle", "1/8", "20 %", " 9 dB "]).map(Duty),
        type(None): st.none(),
    }[kind]


@st.composite
def things(draw, kind):
    """Make a thing with the keys that it needs and some of the others."""
    hints = typing.get_type_hints(kind, include_extras=True)
    fields = msgspec.structs.fields(kind)
    chosen = [field.name for field in fields if field.required or draw(st.booleans())]
    return kind(**{name: draw(values(hints[name])) for name in chosen})


SHOWS = things(Show)


@given(SHOWS)
@tries(12)
def test_any_show_is_written_and_read_back_equal(show):
    text = canonical(show)
    again = decode(tomllib.loads(text), text)
    assert again == show
    assert canonical(again) == text
    assert updated(text, show, again) == text


@given(SHOWS, SHOWS)
@tries(8)
def test_any_show_can_take_the_place_of_any_other_in_a_file(before, after):
    text = canonical(before)
    assert decode(tomllib.loads(updated(text, before, after))) == after


@given(SHOWS, st.sampled_from(TABLES), st.data())
@tries(10)
def test_taking_one_thing_out_leaves_all_others(show, table, data):
    items = getattr(show, table)
    if not items:
        return
    index = data.draw(st.integers(0, len(items) - 1))
    after = msgspec.structs.replace(show, **{table: (*items[:index], *items[index + 1 :])})
    assert decode(tomllib.loads(updated(canonical(show), show, after))) == after


@pytest.mark.parametrize("table", MODEL_TABLES)
@given(data=st.data())
@tries(4)
def test_any_model_goes_through_its_own_file(table, data):
    kind = KINDS[table.removesuffix("s")]
    model = data.draw(things(kind))
    assert parse(text_of(model)) == model


def test_every_table_and_key_is_generated():
    assert {hint.__name__ for hint in typing.get_type_hints(Show).values() if hasattr(hint, "__struct_fields__")} == {
        "About"
    }
    assert set(TABLES) == set(typing.get_type_hints(Show)) - {"format", "about"}


# ---- text is data ----------------------------------------------------------------------------------------------------

HOSTILE = ["[bold]x[/bold]", 'say "hi"', "it's", "\\", "🎪👩‍🔧", "مرحبا", "\u202eabc", "\x1b[31mred", "\x00\x07\x7f\x9b", "$(ls) `ls` {x} %s", "x" * 10_000, "a\r\nb\rc", "\u2028"]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE)
def test_any_text_goes_through_the_file_unchanged(tmp_path, text):
    path = tmp_path / "show.toml"
    path.write_text(FERRY, encoding="utf-8")
    stored = load(path)
    show = with_thing(stored.show, "boxes", changed(stored.show.boxes[0], note=text, serial=text))
    show = msgspec.structs.replace(show, about=changed(show.about, name=text, site=text))
    save(stored, show)
    again = load(path).show
    assert (again.boxes[0].note, again.about.name) == (text, text)
    assert again == show
    assert not any(mark in path.read_text(encoding="utf-8") for mark in "\x1b\x00\x07\x7f")


def test_half_a_character_is_no_text():
    about = decode(tomllib.loads(FERRY)).about
    with pytest.raises(DocumentError, match=r"expected text that a file can hold, got the character U\+DCFF"):
        changed(about, name="half \udcff")


@pytest.mark.parametrize("number", [float("nan"), float("inf"), -1.0])
def test_a_number_that_no_file_may_hold_cannot_be_edited_in(number):
    about = decode(tomllib.loads(FERRY)).about
    with pytest.raises(DocumentError, match="minimum_damping: expected a number from 0 up"):
        changed(about, minimum_damping=number)
    assert changed(about, minimum_damping=15).minimum_damping == 15.0
