"""Models that a show names and does not carry are copied in from the library."""

import tomllib

import pytest

from fieldkit.gear import library
from fieldkit.gear.library import LibraryError
from fieldkit.show.borrowing import borrowed
from fieldkit.show.decoding import decode
from fieldkit.show.errors import FileError
from fieldkit.show.references import problems
from fieldkit.text.folders import GEAR

ALL_KINDS = """
format = 2
[[stock]]
model = "self-powered-10-inch"
owned = 1
[[zones]]
id = "z"
[[boxes]]
id = "B1"
model = "fill-column"
zone = "z"
[[boxes]]
id = "B2"
unknown = { impedance = "8 ohm", continuous = "200 W" }
zone = "z"
[[racks]]
id = "SR"
as_built = "rack-main-side"
[[rack_units]]
id = "DP"
model = "processor-two-by-six"
[[runs]]
id = "W1"
from = "SR.TOPS"
path = [
    { cable = "eight-core-4", length = "10 m" },
    { panel = "stage-breakout-singles", socket = "A" },
    { adaptor = "four-to-two-pole", box = "B1" },
]
"""


def made(text):
    return decode(tomllib.loads(text))


@pytest.fixture(autouse=True)
def _no_models_of_the_users_own(tmp_path, monkeypatch):
    monkeypatch.setenv(GEAR, str(tmp_path / "gear"))


def test_models_of_all_kinds_come_in_and_the_contents_of_racks_with_them():
    show, names = borrowed(made(ALL_KINDS), library.find)
    assert set(names) == {
        "fill-column",
        "self-powered-10-inch",
        "rack-main-side",
        "processor-two-by-six",
        "eight-core-4",
        "stage-breakout-singles",
        "four-to-two-pole",
        "four-channel-hosting",
    }
    assert len(names) == len(set(names))
    assert list(problems(show)) == []
    assert [model.id for model in show.amplifiers] == ["four-channel-hosting"]


def test_a_show_that_lacks_nothing_is_the_same_object():
    once, _ = borrowed(made(ALL_KINDS), library.find)
    again, names = borrowed(once, library.find)
    assert again is once
    assert names == ()


def test_the_rest_of_the_show_is_not_touched():
    before = made(ALL_KINDS)
    after, _ = borrowed(before, library.find)
    assert after.runs is before.runs
    assert after.boxes is before.boxes
    assert before.cables == ()


def test_what_the_show_carries_is_never_replaced():
    text = '[[cables]]\nid = "eight-core-4"\ncores = 8\narea = "6 mm²"\n' + ALL_KINDS.replace("format = 2\n", "")
    show, names = borrowed(made(text), library.find)
    assert "eight-core-4" not in names
    assert [cable.area for cable in show.cables] == ["6 mm²"]


def test_contents_of_a_rack_that_the_show_carries_come_in_too():
    text = '[[built_racks]]\nid = "r"\nunits = 4\ncontents = [{ model = "four-channel-hosting" }]\n'
    show, names = borrowed(made(text), library.find)
    assert names == ("four-channel-hosting",)
    assert list(problems(show)) == []


def test_what_the_library_does_not_have_stays_for_the_check_of_references():
    text = '[[stock]]\nmodel = "nobody-has-it"\nowned = 1\n'
    before = made(text)
    show, names = borrowed(before, library.find)
    assert show is before
    assert names == ()
    assert [says for _, _, says in problems(show)] == ["no model 'nobody-has-it'; there is none yet"]


def test_each_name_is_asked_for_once():
    asked = []

    def find(name):
        asked.append(name)

    borrowed(made('[[stock]]\nmodel = "a"\nowned = 1\n[[stock]]\nmodel = "a"\nowned = 2\n'), find)
    assert asked == ["a"]


def test_a_broken_file_that_the_show_needs_is_an_error_of_the_shows_own_kind():
    def find(name):
        raise LibraryError("not valid TOML", file=f"{name}.toml")

    with pytest.raises(FileError, match=r"^a\.toml: not valid TOML$"):
        borrowed(made('[[stock]]\nmodel = "a"\nowned = 1\n'), find)


def test_a_broken_file_that_the_show_does_not_need_is_never_read(tmp_path):
    folder = tmp_path / "gear"
    folder.mkdir()
    (folder / "bad.toml").write_text("[cable\n", encoding="utf-8")
    _, names = borrowed(made('[[stock]]\nmodel = "two-core-2.5"\nowned = 1\n'), library.find)
    assert names == ("two-core-2.5",)
