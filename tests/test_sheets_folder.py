"""The command `sheets`, its folder, and what changed since an older show."""

import pytest
from sheet_tools import sample

from fieldkit import samples
from fieldkit.commands.cli import run
from fieldkit.rig.connect.cable_ends import letters
from fieldkit.sheets.changes import changes_page
from fieldkit.sheets.collection import CHANGES, PAGES, make_pages, page_keys
from fieldkit.sheets.folder import write_files
from fieldkit.sheets.material import material_of
from fieldkit.sheets.page import Page, Table
from fieldkit.sheets.text import page_text
from fieldkit.show.edits import changed, find, with_thing, without_thing
from fieldkit.show.errors import FileError
from fieldkit.show.opening import open_show

OPEN_AIR = str(samples.folder() / "open_air.toml")
HALL = str(samples.folder() / "village_hall.toml")
"""The smallest: its whole set takes a tenth of a second."""


def test_the_command_writes_all_pages(tmp_path, capsys):
    folder = tmp_path / "new" / "paper"
    assert run(["sheets", HALL, "-o", str(folder)]) == 0
    written = {path.name for path in folder.iterdir()}
    assert {f"{key}.txt" for key in page_keys(sample("village_hall"))} | {"sheets.html", "patch-by-rack.csv"} <= written
    out = capsys.readouterr().out
    assert f"{len(written)} files are in" in out
    assert "Wiring" in out


def test_pages_and_formats_are_chosen(tmp_path):
    assert run(["sheets", OPEN_AIR, "-o", str(tmp_path), "--pages", "wiring, lid", "--formats", "text"]) == 0
    assert {path.name for path in tmp_path.iterdir()} == {"wiring.txt", "lid.txt"}
    assert run(["sheets", OPEN_AIR, "-o", str(tmp_path), "--pages=patch", "--formats=csv", "--units", "imperial"]) == 0
    assert (tmp_path / "signals.csv").exists()


def test_what_a_show_has_nothing_for_is_not_printed_with_the_set_and_nothing_twice():
    material = sample("village_hall")  # no signals, no supply, no findings, one amplifier
    pages = {page.key: page for page in make_pages(material)}
    idle = {key for key, page in pages.items() if page.aside and not (key in PAGES and PAGES[key].aside)}
    assert idle == {"front-of-house", "supply", "findings"}
    [contents] = [block for block in pages["contact"].blocks if getattr(block, "name", "") == "contents"]
    assert not idle & {str(row[1]) for row in contents.rows}
    folder = next(pages[key] for key in page_keys(material, ["rack-folders"]))
    assert [block.name for block in folder.blocks if isinstance(block, Table) and block.aside] == ["lid"]
    named = make_pages(material, ["rack-folders", "supply"])
    assert not any(page.aside for page in named)  # what is asked for by name is whole
    assert not any(block.aside for page in named for block in page.blocks if isinstance(block, Table))


def test_what_is_left_of_an_earlier_time_is_named(tmp_path, capsys):
    run(["sheets", HALL, "-o", str(tmp_path), "--formats", "text"])
    capsys.readouterr()
    run(["sheets", HALL, "-o", str(tmp_path), "--pages", "lid", "--formats", "text"])
    assert "of an earlier time, and not written now: cautions.txt, chart.txt, contact.txt" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "expected SHOW"),
        ([OPEN_AIR], "expected -o FOLDER"),
        ([OPEN_AIR, "-o"], "-o: expected a value"),
        ([OPEN_AIR, "-o", "{}", "--pages", "wirring"], "unknown 'wirring'; did you mean 'wiring'?\n"),
        ([OPEN_AIR, "-o", "{}", "--pages", "zzz"], "unknown 'zzz'; there are contact, lid,"),
        ([OPEN_AIR, "-o", "{}", "--pages", ","], "expected names with commas between"),
        ([OPEN_AIR, "-o", "{}", "--formats", "pdf"], "--formats: unknown 'pdf'"),
        ([OPEN_AIR, "-o", "{}", "--units", "furlongs"], "--units: unknown 'furlongs'"),
        ([OPEN_AIR, "-o", "{}", "--since", "missing.toml"], "missing.toml"),
        (["missing.toml", "-o", "{}"], "missing.toml"),
        ([OPEN_AIR, "more", "-o", "{}"], "unexpected 'more'"),
        ([HALL, "-o", HALL], "expected a folder"),
        ([HALL, "-o", "{}/a\0b"], "cannot be written"),
        ([OPEN_AIR, "-o", "{}", "--page", "lid"], "unknown option '--page'"),
    ],
)
def test_a_command_that_cannot_be_used_says_so_in_one_line(arguments, says, tmp_path, capsys):
    assert run(["sheets", *(word.replace("{}", str(tmp_path)) for word in arguments)]) == 2
    out, error = capsys.readouterr()
    assert out == ""
    assert error.count("\n") == 1
    assert says in error
    assert list(tmp_path.iterdir()) == []


def test_other_files_are_left_alone_and_links_are_not_followed(tmp_path):
    outside = tmp_path / "outside.txt"
    outside.write_text("mine", encoding="utf-8")
    folder = tmp_path / "paper"
    folder.mkdir()
    (folder / "my notes.txt").write_text("keep", encoding="utf-8")
    (folder / "lid.txt").symlink_to(outside)
    assert run(["sheets", OPEN_AIR, "-o", str(folder), "--pages", "lid", "--formats", "text"]) == 0
    assert outside.read_text(encoding="utf-8") == "mine"
    assert not (folder / "lid.txt").is_symlink()
    assert (folder / "my notes.txt").read_text(encoding="utf-8") == "keep"
    assert {path.name for path in folder.iterdir()} == {"my notes.txt", "lid.txt"}


@pytest.mark.parametrize("name", ["../lid.txt", "/lid.txt", "lid", "LID.txt", "a/b.csv", ".txt", ""])
def test_no_file_is_written_outside(name, tmp_path):
    with pytest.raises(ValueError, match="no name for a sheet"):
        write_files(tmp_path, {name: "x"})
    assert list(tmp_path.iterdir()) == []


def test_what_cannot_be_written_leaves_the_old_ones_whole(tmp_path):
    write_files(tmp_path, {"lid.txt": "old", "patch.txt": "old"})
    told = []

    def full(name):
        told.append(name)
        if name == "patch.txt":
            raise OSError(28, "No space left on device")

    with pytest.raises(FileError, match="No space left"):
        write_files(tmp_path, {"lid.txt": "new", "patch.txt": "new"}, full)
    assert {path.name: path.read_text(encoding="utf-8") for path in tmp_path.iterdir()} == {
        "lid.txt": "old",
        "patch.txt": "old",
    }
    assert told == ["lid.txt", "patch.txt"]


def test_a_folder_in_the_place_of_a_file(tmp_path):
    (tmp_path / "lid.txt").mkdir()
    with pytest.raises(FileError, match="cannot be written"):
        write_files(tmp_path, {"lid.txt": "x"})
    assert [path.name for path in tmp_path.iterdir()] == ["lid.txt"]


# ---- what changed ----------------------------------------------------------------------------------------------


def told(before, after, names=None):
    pages = make_pages(material_of(after), names, material_of(before))
    assert pages[0].key == CHANGES
    return " ".join(page_text(pages[0]).split())


def with_length(show, run_id, step, length):
    found = find(show, "runs", run_id)
    path = list(found.path)
    path[step] = changed(path[step], length=length)
    return with_thing(show, "runs", changed(found, path=tuple(path)))


def test_nothing_changed():
    show = sample("village_hall").show
    text = told(show, show)
    assert "nothing: every page is as it was" in text
    assert "No fact on these pages has changed." in text


def test_another_cable():
    show = sample("open_air").show
    text = told(show, with_length(show, "W7", 1, "10 m"), ["wiring", "labels", "pull", "racks"])
    assert "Every piece, run by run: W7 2: length 10 m, was 5 m" in text
    assert "Cable ends: W7-C: cable 10 m two-core-2.5, was 5 m two-core-2.5" in text
    assert "two-core-2.5 5 m: used 6, was 7" in text
    assert "Rack faces" not in text  # that page need not be printed again


def test_what_differs_below_what_is_printed_is_no_change(tmp_path):
    warmer = tmp_path / "warmer.toml"
    text = (samples.folder() / "open_air.toml").read_text(encoding="utf-8")
    warmer.write_text(text.replace('temperature = "24 °C"', 'temperature = "24.00001 °C"'), encoding="utf-8")
    text = told(
        sample("open_air").show, open_show(warmer).show, [*set(PAGES) - {"rack-folders", "if-it-fails", "chart"}]
    )
    assert "nothing: every page is as it was" in text
    assert "No fact on these pages has changed." in text


def test_a_rack_more_is_a_new_page_and_one_less_is_thrown_away():
    left, right = Page("rack-left", "Rack L", (), mark="11"), Page("rack-right", "Rack R", (), mark="22")
    page = changes_page({"rack-left": left}, {"rack-right": right})
    assert page.tables[0].rows == (("Rack R", "new", "22"), ("Rack L", "11", "no more"))


def test_a_box_less_and_another_signal():
    show = sample("open_air").show
    found = find(show, "runs", "W13")
    less = without_thing(without_thing(show, "runs", found.id), "boxes", "M4")
    less = with_thing(less, "rack_units", changed(find(less, "rack_units", "DLY"), inputs={"1": "Delay"}))
    text = told(show, less, ["patch"])
    assert "By zone: no more: wedges" not in text
    assert "By zone: no more: M4 full 1" in text
    assert "By zone: DL1 full 1: signal Delay, was L" in text
    assert "Signal cables and links: DLY.in1/1: carries Delay, was L" in text
    assert "Signal cables and links: no more: DLY.in3" in text


def test_only_the_pages_that_were_chosen_are_compared():
    show = sample("open_air").show
    text = told(show, with_length(show, "W7", 1, "10 m"), ["wiring"])
    assert "W7 2: length 10 m, was 5 m" in text
    assert "Cable ends" not in text


def test_since_as_a_command(tmp_path):
    older = tmp_path / "older.toml"
    text = (samples.folder() / "village_hall.toml").read_text(encoding="utf-8")
    older.write_text(text.replace('length = "15 m", box = "SL"', 'length = "2 m", box = "SL"'), encoding="utf-8")
    new = str(samples.folder() / "village_hall.toml")
    assert run(["sheets", new, "-o", str(tmp_path / "paper"), "--since", str(older)]) == 0
    assert "W1 1: length 15 m, was 2 m" in (tmp_path / "paper" / "changes.txt").read_text(encoding="utf-8")
    assert (tmp_path / "paper" / "print-again.csv").exists()


@pytest.mark.parametrize(("number", "name"), [(0, "A"), (25, "Z"), (26, "AA"), (51, "AZ"), (52, "BA"), (702, "AAA")])
def test_letters_of_the_ends(number, name):
    assert letters(number) == name
