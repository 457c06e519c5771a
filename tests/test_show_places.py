"""The line that an error names is the line of the file, whatever stands before it."""

import re
import tomllib

import pytest
from budget import tries
from hypothesis import given
from hypothesis import strategies as st
from shows import FERRY, line_number, with_change

from fieldkit.show.errors import ShowError
from fieldkit.show.keep.storage import load
from fieldkit.text.toml_blocks import split
from fieldkit.text.toml_places import line_of


def leaves(value, path=()):
    """List every place of a parsed document with its value, innermost only."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    if not value or not isinstance(value, (dict, list)):
        return [(path, value)]
    return [found for key, item in items for found in leaves(item, (*path, key))]


# ---- any document: each value is a text that stands once, so the text itself says where it stands ------------------

DECOYS = [
    "",
    "\n",
    "# zone = 1, [[boxes]] \"it's\n",
    "  # ''' {\n\n",
]
KEYS = ["id", "zone", "note", "1", '"a b"', "'it.s'", '"\\u00e9"']


@st.composite
def documents(draw):
    """Make a TOML text of nested tables, rows, dotted keys and misleading texts; every value is ``@n@``."""
    number = iter(range(1_000_000))
    ends = draw(st.sampled_from(["\n", "\r\n"]))

    def value(depth):
        mark = f"@{next(number)}@"
        kind = draw(st.sampled_from(["basic", "literal", "lines", "quotes", "list", "table"] if depth else ["basic"]))
        if kind == "list":
            return "[" + draw(st.sampled_from(["", "\n  ", " # [\n"])) + f'{value(depth - 1)},\n"{mark}" ]'
        if kind == "table":
            keys = draw(st.lists(st.sampled_from(KEYS), min_size=1, max_size=3, unique=True))
            return "{ " + ", ".join(f"{key} = {value(depth - 1)}" for key in keys) + " }"
        return {
            "basic": f'"{mark} \\" # ["',
            "literal": f"'{mark} = ['",
            "lines": f'"""{mark}\n[[boxes]]\nid = "x"\n# no remark"""',
            "quotes": f"'''{mark}\nzone = 1'''''",
        }[kind]

    def pairs():
        keys = draw(st.lists(st.sampled_from(KEYS), max_size=4, unique=True))
        text = ""
        for key in keys:
            dotted = draw(st.sampled_from(["", ".x", " . 'y z'"]))
            text += f"{draw(st.sampled_from(DECOYS))}{key}{dotted} = {value(2)}  # zone = 2\n"
        return text

    text = f'top = "@{next(number)}@"\n'
    for table in draw(st.lists(st.sampled_from(["boxes", "zones", "runs"]), max_size=5)):
        text += f"{draw(st.sampled_from(DECOYS))}[[ {table} ]] # {table} = 3\n{pairs()}"
        for _ in range(draw(st.integers(0, 2))):
            text += f"[[{table}.rows]]\n{pairs()}"
        if draw(st.booleans()):
            text += f"[{table}.'inner one']\n{pairs()}"
    return text.replace("\n", ends)


@given(documents())
@tries(40)
def test_every_value_of_any_document_is_found(text):
    for path, value in leaves(tomllib.loads(text)):
        if isinstance(value, str) and value.startswith("@"):
            mark = value[: value.index("@", 1) + 1]
            assert line_of(text, path) == line_number(text, mark), (path, text)


@given(documents())
@tries(25)
def test_the_blocks_of_any_document_are_its_text(text):
    blocks = split(text)
    assert "".join(block.text for block in blocks) == text
    assert [block.table for block in blocks[1:]] == re.findall(r"^\[\[ (\w+) ]] # ", text, re.MULTILINE)


# ---- cases ----------------------------------------------------------------------------------------------------------


def refused(tmp_path, text):
    path = tmp_path / "show.toml"
    path.write_bytes(text.encode())
    with pytest.raises(ShowError) as error:
        load(path)
    return error.value


def test_a_key_of_the_same_name_in_a_row_above_is_not_meant(tmp_path):
    text = with_change('high_pass = "100 Hz"', 'high_pass = "100 kg"')  # `presets` stands in the sections, too
    assert refused(tmp_path, text).line == line_number(text, "100 kg")


@pytest.mark.parametrize(
    "decoy",
    [
        'note = """\nzone = "mains"\n"""\n',
        "note = '''\nzone = \"mains\"'''\n",
        "# so, zone = 3\n",
        'serial = "1" # {zone = 3}\n',
        'note = """say "zone = 1""""\n',
    ],
)
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_a_key_in_a_text_or_remark_is_not_meant(tmp_path, decoy, ends):
    text = with_change('note = "grille dented [see tag]"\n', "")
    text = with_change(
        'id = "ML2"\nmodel = "two-way-12"\nzone = "mains"',
        f'id = "ML2"\n{decoy}model = "two-way-12"\nzone = "mians"',
        text,
    )
    assert refused(tmp_path, text.replace("\n", ends)).line == line_number(text, "mians")


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ('format = 2\nzones = [\n  { id = "a" },\n  { id = "b",\n use = "weg" },\n]\n', None),
        ('format = 2\nzones = [\n  { id = "a" },\n  { id = "b", use = "weg" },\n]\n', 4),
        ('format = 2\nshow.name = "x"\nshow.site = 5\n', 3),
        ('format = 2\nshow = { name = "x", site = 5 }\n', 2),
        ('[show]\nname = "x"\n\n[[zones]]\nid = "a"\n[zones.signals]\nleft = "L"\nright = 5\n', 6),
        ('[show]\n"name" = "x"\n\'site\' = 5\n', 3),
        ('[show]\n"n\\u0061me" = 5\n', 2),
        ('[[zones]]\nid = "a"\n\n[[zones]]\n# remark\nuse = "front"\n', 4),
    ],
)  # fmt: skip
def test_other_shapes_of_the_same_document(tmp_path, text, line):
    error = refused(tmp_path, text)
    if line is None:  # a table in one line may not be broken: tomllib's own place
        assert "not valid TOML" in str(error)
    else:
        assert error.line == line


@pytest.mark.parametrize("text", ["a" + ".a" * 50_000 + " = 1", "[" + "a" + ". a" * 50_000 + "]", 'a."x"' * 50_000])
def test_a_key_of_thousands_of_parts_is_refused_before_it_is_parsed(tmp_path, text):
    # tomllib's time grows with the square of the parts: it would work on these for a minute each.
    error = refused(tmp_path, "format = 2\n" + text)
    assert "nested too deeply" in str(error) or "not valid TOML" in str(error)
    assert error.line == 2


def test_a_remark_or_note_of_many_dots_is_none_of_these(tmp_path):
    path = tmp_path / "show.toml"
    dots = "a." * 500
    path.write_text(with_change("grille dented", dots) + f"# {dots}\n", encoding="utf-8")
    assert dots in load(path).show.boxes[1].note


def test_no_line_is_told_where_there_is_none():
    assert line_of(FERRY, ()) is None
    assert line_of(FERRY, ("panels", 0, "id")) is None
    assert line_of(FERRY, ("boxes", 7, "id")) == line_number(FERRY, "[[boxes]]")
