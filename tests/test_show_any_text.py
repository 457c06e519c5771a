"""Any text, however spoiled, is a show or gets one line that says where it is wrong; nothing else ever happens."""

import re
import tomllib

from budget import tries
from hypothesis import HealthCheck, given
from hypothesis import strategies as st
from shows import FERRY

from fieldkit.show.decoding import decode
from fieldkit.show.errors import DocumentError, FileError
from fieldkit.show.keep.storage import load
from fieldkit.show.writing import canonical

VALUES = [
    *("nan", "inf", "-1", "0", "true", "[]", "{}", '""', "1979-05-27", "07:32:00", "9" * 30, "[[]]", "[{}]", "{ a = 1 }"),
    *('"0 ohm"', '"-1 m"', '"1e9 W"', '"5 dBu"', '"50 AWG"', '"SR-1.9"', '"=1"', '"=9"', '"DP.6"', '"SR-1.3+4"', '["1+1"]'),
    *('"."', '"/"', '"+"', '"="', '"\\u0000"', '"\\u202e"', "'''\n[[boxes]]'''", '"🎪"', '"open"', '"ML1"', '"mains"'),
]  # fmt: skip
MARKS = ["[", "]", "{", "}", '"', "'", "=", ".", ",", "#", "\n", "\r\n", "\r", "\t", "\\", " ", "a", "1", "é", "\x00"]
MARKS += ["\x1b", "\x85", "\ufeff", "\u2028", '"""', "[[boxes]]\n", "[show]\n"]
VALUE = re.compile(r'(?<== )("[^"\n]*"|[\w.:-]+|\[[^\[\]{}\n]*\])')


@st.composite
def spoiled(draw):
    """Give the sample with other values, other marks, lines that are gone or stand twice."""
    text = FERRY
    for _ in range(draw(st.integers(1, 3))):
        kind = draw(st.sampled_from(["value", "value", "value", "mark", "gone", "twice", "cut"]))
        values = list(VALUE.finditer(text))
        if kind == "value" and values:
            match = draw(st.sampled_from(values))
            text = text[: match.start()] + draw(st.sampled_from(VALUES)) + text[match.end() :]
        elif kind in {"gone", "twice"}:
            lines = text.split("\n")
            row = draw(st.integers(0, len(lines) - 1))
            lines[row : row + 1] = [] if kind == "gone" else [lines[row]] * 2
            text = "\n".join(lines)
        else:
            here = draw(st.integers(0, len(text)))
            mark = draw(st.sampled_from(MARKS)) if kind == "mark" else ""
            text = text[:here] + mark + text[here + (draw(st.integers(1, 200)) if kind == "cut" else 0) :]
    return text


@given(spoiled())
@tries(60, HealthCheck.function_scoped_fixture)
def test_any_text_is_a_show_or_gets_one_line(tmp_path, text):
    path = tmp_path / "show.toml"
    path.write_bytes(text.encode())
    try:
        show = load(path).show
    except DocumentError as error:
        assert str(error).isprintable()
        assert re.match(r"show\.toml:\d+: ", str(error))
        assert 1 <= error.line <= text.count("\n") + 1
    except FileError as error:
        assert str(error).isprintable()
        assert str(error).startswith("show.toml")
    else:
        assert decode(tomllib.loads(canonical(show))) == show
    assert list(tmp_path.iterdir()) == [path]


@given(st.binary(max_size=300))
@tries(40, HealthCheck.function_scoped_fixture)
def test_any_bytes_get_one_line(tmp_path, raw):
    path = tmp_path / "show.toml"
    path.write_bytes(raw)
    try:
        load(path)
    except (DocumentError, FileError) as error:
        assert str(error).isprintable()
        assert str(error).startswith("show.toml")
    else:
        assert raw.lstrip().startswith((b"format", b"[", b'"', b"'"))
