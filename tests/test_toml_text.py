"""Mistakes that people make while typing TOML are told in words of ours: the line, and what was expected."""

import time
import tomllib

import pytest
from budget import tries
from hypothesis import given
from hypothesis import strategies as st
from shows import FERRY

from fieldkit.commands.cli import run
from fieldkit.text.toml_text import TomlError, read_toml

TYPED = [
    ("a = 1\nid = “TL”\n", 2, 'expected straight quotes ("), got the curly one “'),
    ('id = "TL”\nmodel = "x"\n', 1, 'expected straight quotes ("), got the curly one ”'),
    ('id = "TL\nmodel = "x"\n', 1, "expected a closing quote before the end of the line"),
    ("id = 'TL\nmodel = 'x'\n", 1, "expected a closing quote before the end of the line"),
    ('id = "TL', 1, "expected a closing quote before the end of the line"),
    ("id = TL\n", 1, 'expected a text in quotes: "TL"'),
    ('id = TL"\n', 1, 'expected an opening quote before TL"'),
    ("length = 15 m\n", 1, 'expected quotes around a text or a quantity: length = "15 m"'),
    ("path = [{ cable = two-core }]\n", 1, 'expected a text in quotes: "two-core"'),
    ('path = [{ cable = "two", length = 15 m }]\n', 1, 'expected quotes around a quantity: "15 m"'),
    ('path = [{ cable = "two, length = "15 m" }]\n', 1, "a quote may be missing before it"),
    ('path = [{ cable = "two" length = "15 m" }]\n', 1, "expected a comma or } here in the table in braces"),
    ('path = [\n { cable = "two" }\n { cable = "x" },\n]\n', 3, "expected a comma or ] here in the list"),
    ('path = [\n { cable = "two" },\n[[runs]]\nid = "a"\n', 3, "before this line is not closed"),
    ('path = [\n { cable = "two" },\n', 2, "expected ] before the end of the file"),
    ("x = { a = 1\nb = 2\n", 1, "expected }: the table in braces is not closed on this line"),
    ("x = { a = 1,\n b = 2 }\n", 1, "expected the rest of the table in braces on this line"),
    ('id = "a"\nmodel = "b"\nid = "c"\n', 3, "the key 'id' stands twice in this table"),
    ("x = { a = 1, a = 2 }\n", 1, "the key 'a' stands twice between these braces"),
    ('[zones]\nid = "a"\n[zones]\nid = "b"\n', 3, "expected double brackets, [[zones]], before each of several"),
    ('[zones]\nid = "a"\n[[zones]]\nid = "b"\n', 3, "expected double brackets, [[zones]], before each of several"),
    ('[[zones]]\nid = "a"\n[zones]\nid = "b"\n', 3, "expected double brackets, [[zones]], before each of several"),
    ('[[zones]\nid = "a"\n', 1, "expected a ] for each [ at the end of [[zones]"),
    ('[show\nname = "a"\n', 1, "expected ] at the end of [show"),
    ('id "a"\n', 1, 'expected a key, = and a value, such as id = "…"'),
    ('id: "a"\n', 1, 'expected a key, = and a value, such as id = "…"'),
    ("id =\n", 1, "expected a value here"),
    ("attenuators_locked = True\n", 1, "expected true in small letters, got True"),
    ('id = "a" "b"\n', 1, 'expected nothing more behind the value, got "b"'),
    ('note = "a\\qb"\n', 1, "a backslash in double quotes begins an escape"),
    ('note = "a\x01b"\n', 1, "expected printable characters in quotes"),
    ("// hello\n", 1, "expected key = value, a [table] or a remark after #"),
]


@pytest.mark.parametrize(("text", "line", "says"), TYPED)
def test_what_was_typed_is_told_with_its_line(text, line, says):
    with pytest.raises(TomlError) as caught:
        read_toml(text)
    assert says in caught.value.problem
    assert caught.value.line == line


def test_a_single_table_in_the_other_brackets(tmp_path, capsys):
    path = tmp_path / "hall.toml"
    path.write_text('format = 2\n[zones]\nid = "a"\n', encoding="utf-8")
    assert run(["check", str(path)]) == 2
    assert capsys.readouterr().err == (
        f"fieldkit: {path}:2: zones: expected a list, got a table; write [[zones]] in double brackets, before each\n"
    )


def test_a_curly_quote_inside_of_straight_ones_is_text():
    assert read_toml('note = "“hall”"\n') == {"note": "“hall”"}
    with pytest.raises(TomlError, match="stands twice"):
        read_toml('note = "“hall”"\nnote = "“hall”"\n')


@tries(50)
@given(
    st.integers(0, len(FERRY) - 1), st.integers(0, 12), st.sampled_from(["", '"', "“", "]", "}", ",", "=", "\n", "'"])
)
def test_a_show_with_a_piece_exchanged_is_read_or_told_with_a_line(start, length, piece):
    text = FERRY[:start] + piece + FERRY[start + length :]
    try:
        expected = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        with pytest.raises(TomlError) as caught:
            read_toml(text)
        assert caught.value.line is not None
        assert 1 <= caught.value.line <= text.count("\n") + 1
        assert "not valid TOML" in caught.value.problem
        assert len(caught.value.problem) < 300
    else:
        assert read_toml(text) == expected


@pytest.mark.parametrize("row", ["a = " + "x" * 300_000, "a = 1" + " " * 300_000 + "y", "a" * 300_000, "= " * 150_000])
def test_a_long_row_is_told_quickly(row):
    began = time.perf_counter()
    with pytest.raises(TomlError) as caught:
        read_toml(row)
    assert time.perf_counter() - began < 2.0
    assert len(caught.value.problem) < 300
