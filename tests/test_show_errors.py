"""What cannot be used is refused in one line: file, line, thing, what was expected, the nearest name."""

import io
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from shows import FERRY, line_number, with_change

from fieldkit.commands.cli import run
from fieldkit.show.decoding import decode
from fieldkit.show.errors import DocumentError, FileError, ShowError
from fieldkit.show.keep.storage import LARGEST_BYTES, load


def refused(tmp_path, content, name="show.toml"):
    """Load a file that must be refused and give the error."""
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(ShowError) as error:
        load(path)
    assert "\n" not in str(error.value)
    assert sorted(path.parent.iterdir()) == [path]
    return error.value


# (what is replaced, by what, a text on the line that is to be named, the message after the file and line)
DOCUMENT = [
    ('note = "grille', 'nota = "grille', "nota", "ML2: unknown key 'nota'; did you mean 'note'?"),
    ("dc_resistance", "dc_resistence", "dc_resistence", "two-way-12: unknown key 'dc_resistence'; did you mean"),
    ('[[zones]]\nid = "subs"', '[[zone]]\nid = "subs"', "[[zone]]", "unknown key 'zone'; did you mean 'zones'?"),
    ("loss_limit", "lossy_limit", "lossy_limit", "show: unknown key 'lossy_limit'; did you mean 'loss_limit'?"),
    ('weight = "27 kg"', 'weight = "27 m"', "weight", "two-way-12: weight: expected a mass (kg, g, lb), got '27 m'"),
    ('weight = "27 kg"', "weight = 27", "weight", "expected a mass in quotes with its unit, got 27"),
    ('weight = "27 kg"', 'weight = "27"', "weight", "which has no unit"),
    ('rating = "16 A"', 'rating = "nan A"', 'rating = "nan A"', "X1: rating: expected a current"),
    ('rating = "16 A"', 'rating = "1e999 A"', "1e999", "X1: rating: expected a current"),
    ('loss_limit = "0.5 dB"', "minimum_damping = nan", "minimum_damping", "expected a number from 0 up, got nan"),
    ('loss_limit = "0.5 dB"', "minimum_damping = inf", "minimum_damping", "expected a number from 0 up, got inf"),
    ('continuous = "350 W"', 'continuous = "1,350 W"', "1,350", "two-way-12: sections.continuous: expected a power"),
    ('drive = "bi-amp"\nnote', 'drive = "biamp"\nnote', '"biamp"', "ML2: drive: expected one of bi-amp, passive"),
    ("phase = 1", "phase = 4", "phase", "X1: phase: expected one of 1, 2, 3, got 4"),
    ("phase = 1", 'phase = "one"', "phase", "X1: phase: expected"),
    ("channels = 4", "channels = 4000", "channels = 4000", "quad-900: channels: expected a whole number of at most"),
    ("channels = 4", 'channels = "4"', "channels =", "quad-900: channels: expected a whole number, got text in quotes"),
    ("owned = 6", "owned = -1", "owned = -1", "two-way-12: owned: expected a whole number of at least 0"),
    ("owned = 6", "owned = 6.5", "owned = 6.5", "two-way-12: owned: expected a whole number, got a number"),
    ('id = "ML1"\nmodel', "model", '[[boxes]]\nmodel = "two-way-12"', "boxes number 1: the key 'id' is missing"),
    ('id = "ML1"', 'id = "M L1"', '"M L1"', "id: expected a label of 1 to 64 characters"),
    ('id = "ML1"', 'id = "M\\u001bL1"', "M\\u001bL1", "id: expected a label of 1 to 64 characters"),
    ('id = "ML1"', f'id = "{"M" * 65}"', "MMMMM", "id: expected a label of 1 to 64 characters"),
    ('id = "ML1"', 'id = ""', 'id = ""', "id: expected a label of 1 to 64 characters"),
    ("format = 2", "format = 3", "format = 3", "format: expected 2"),
    ("format = 2", "format = true", "format = true", "format: expected 2"),
    ("time = 2026-06-07T11:42:00Z", "time = 1979-05-27", "time = 1979", "W1/1: time: expected a date with a time"),
    ('name = "Ferry landing, Sunday"', "name = 1979-05-27", "name = 1979", "show: name: expected text in quotes"),
    ('value = "3.3 ohm"', 'value = "3.3 m"', "3.3 m", "W1/1: value: expected a resistance"),
    ("full_scale", "fullscale", "fullscale", "quad-900: unknown key 'fullscale'; did you mean 'full_scale'?"),
    ('feeder = { length = "25 m"', 'feeder = { lenght = "25 m"', "lenght", "X1: unknown key 'lenght'; did you mean 'length'?"),
    ('length = "66 in", box', 'length = "66 in", bax', "bax", "W1: unknown key 'bax'; did you mean 'box'?"),
    (', area = "2.5 mm²" }', " }", "feeder", "X1: the key 'area' is missing"),
    ('id = "mains"', "id = 1979-05-27", "id = 1979", "zones number 1: id: expected text in quotes, got a date"),
    ('side = "left"', "side = 07:32:00", "07:32", "ML1: side: expected text in quotes, got"),
    ('weight = "27 kg"', "weight = nan", "weight", "two-way-12: weight: expected a mass in quotes with its unit, got nan"),
    ("owned = 6", "owned = inf", "owned = inf", "two-way-12: owned: expected a whole number, got a number"),
    ("owned = 6", f"owned = {2**70}", f"owned = {2**70}", "two-way-12: owned: expected a whole number"),
    ("owned = 6", "owned = true", "owned = true", "two-way-12: owned: expected a whole number, got true or false"),
    ('low_end_from = ["subs"]', 'low_end_from = "subs"', "low_end_from", "mains: low_end_from: expected a list"),
    ("[show]", "[[show]]", "[[show]]", "show.toml:4: show: expected a table, got a list"),
    ("[show]", "[shaw]", "[shaw]", "show.toml:4: unknown key 'shaw'; did you mean 'show'?"),
    ("format = 2\n", "format = 2\npanels = 5\n", "panels", "panels: expected a list, got a whole number"),
    # what ids point to
    ('zone = "mains"\nside = "left"\ndrive = "bi-amp"\nnote', 'zone = "mians"\nnote', "mians", "ML2: no zone 'mians'; did you mean 'mains'?"),
    ('side = "left"\ndrive = "bi-amp"\nnote', 'side = "lift"\nnote', "lift", "ML2: the zone 'mains' has no side 'lift'; did you mean 'left'?"),
    ('id = "ML1"\nmodel = "two-way-12"', 'id = "ML1"\nmodel = "two-way-21"', "two-way-21", "ML1: no loudspeaker 'two-way-21'; did you mean"),
    ('id = "ML1"\nmodel = "two-way-12"', 'id = "ML1"\nmodel = "quad-900"', 'model = "quad-900"\nzone', "ML1: 'quad-900' is not a loudspeaker"),
    ('id = "ML1"\nmodel = "two-way-12"', 'id = "ML1"', '[[boxes]]\nid = "ML1"\nzone', "ML1: expected either 'model' or 'unknown'"),
    ('id = "ML2"', 'id = "ML1"', 'id = "ML1"\nmodel = "two-way-12"\nzone = "mains"\nside = "left"\ndrive = "bi-amp"\nnote', "ML1: the id 'ML1' is already used in boxes"),
    ('id = "ML2"', 'id = "SR-1"', 'id = "SR-1"\nmodel = "quad', "SR-1: the id 'SR-1' is already used"),
    ('id = "subs"\nuse', 'id = "subs"\nlow_end_from = ["mains"]\nuse', "low_end_from", "low_end_from goes in a circle"),
    ('low_end_from = ["subs"]', 'low_end_from = ["sabs"]', "sabs", "mains: low_end_from: no zone 'sabs'; did you mean 'subs'?"),
    ('presets = ["low-any"]', 'presets = ["low-ani"]', "low-ani", "two-way-12: no preset 'low-ani' in this model; did you mean 'low-any'?"),
    ('1 = "SR-1.1", 2', '1 = "SR-1.9", 2', "SR-1.9", "W1: feeds: expected a channel from 1 to 4"),
    ('1 = "SR-1.1", 2', '1 = "SR-1.1+2", 2', "SR-1.1+2", "W1: feeds: 'SR-1.1+2' is neither bridged nor paralleled"),
    ('1 = "SR-1.1", 2', '1 = "DP.1", 2', '"DP.1"', "W1: feeds: no amplifier 'DP'"),
    ('from = "SR-1.A"', 'from = "SR-1.Q"', "SR-1.Q", "W1: from: 'SR-1' has no connector 'Q'; expected one of A, B, C"),
    ('from = "SR-1.A"', 'from = "SR-9.A"', "SR-9.A", "W1: from: no unit or rack 'SR-9'; did you mean 'SR-1'?"),
    ('from = "SR-1.A"', 'from = "DP.A"', 'from = "DP.A"', "W1: from: 'DP' is not an amplifier"),
    ('from = "SR-1.A"', 'from = "SR.A"', 'from = "SR.A"', "W1: from: the rack 'SR' has no socket 'A'"),
    ('from = "SR-1.A"', 'from = "SR-1"', 'from = "SR-1"\n', "W1: from: expected a unit or rack and its connector"),
    ('3 = "DP.6"', '3 = "DQ.6"', "DQ.6", "SR-1: no processor 'DQ' for input 3; expected DP"),
    ('3 = "DP.6"', '3 = "DP.9"', "DP.9", "SR-1: 'DP' has outputs 1 to 6, got 'DP.9'"),
    ('inputs = { 1 = "L", 2 = "L"', 'inputs = { 1 = "=2", 2 = "=1"', '"=2"', "SR-1: inputs go in a circle: 1 → 2 → 1"),
    ('inputs = { 1 = "L", 2 = "L"', 'inputs = { 1 = "L", 2 = "=5"', '"=5"', "SR-1: inputs: expected a link to an input from 1 to 4, got '=5'"),
    ('inputs = { 1 = "L", 2 = "L"', 'inputs = { 9 = "L"', "9 =", "SR-1: inputs: expected an input from 1 to 4, got '9'"),
    ('inputs = { 1 = "L", 2 = "R", 3 = "Sub" }', 'inputs = { 1 = "DP.1" }', '1 = "DP.1"', "DP: inputs go in a circle: DP → DP"),
    ('bridged = ["3+4"]', 'bridged = ["3+5"]', "3+5", "SR-1: bridged: expected two channels from 1 to 4"),
    ('bridged = ["3+4"]', 'bridged = ["3+4", "4+1"]', "4+1", "SR-1: channel 4 is in '3+4' and in '4+1'"),
    ('connectors = { A = { 1 = "1"', 'connectors = { A = { 1 = "7"', '"7"', "quad-900: connectors.A: expected a channel"),
    ('cable = "four-core-2.5", length = "66 in"', 'cable = "four-core-25", length = "66 in"', "four-core-25", "W1: no cable 'four-core-25'; did you mean 'four-core-2.5'?"),
    ('length = "66 in", box = "ML2"', 'length = "66 in", box = "ML3"', '"ML3"', "W1: no box 'ML3'; did you mean"),
    ('rack = "SR"\nunit = 3', 'rack = "SP"\nunit = 3', '"SP"', "SR-1: no rack 'SP'; expected SR"),
    ('supply = "X1"\nbridged', 'supply = "X2"\nbridged', '"X2"', "SR-1: no supply 'X2'; expected X1"),
    ('id = "SR-1"\nmodel = "quad-900"', 'id = "SR-1"\nmodel = "quod-900"', "quod", "SR-1: 'quod-900' is no model; did you mean 'quad-900'?"),
    ('model = "four-core-2.5"\nlength', 'model = "for-core-2.5"\nlength', '"for-core', "no model 'for-core-2.5'; did you mean"),
    ('id = "two-way-12"\n', 'id = "none"\nsections = []\n[[loudspeakers]]\nid = "two-way-12"\n', "sections = []", "none: sections: expected at least one, got none"),
    ('note = "grille', 'presets = { hihg = "high-front" }\nnote = "grille', "hihg", "ML2: 'two-way-12' has no section 'hihg'; did you mean 'high'?"),
    ("out = 1", "out = 7", "out = 7", "two-way-12: out: expected at most the 6 there are, got 7"),
    ('line = "W1/1"', 'line = "W7/1"', "W7/1", "W7/1: no run 'W7'; expected W1"),
    ('line = "W1/1"', 'line = "W1"', 'line = "W1"', "W1: line: expected a run and pin pair such as 'W1/1'"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "at", "says"), DOCUMENT)
def test_the_document_is_refused_with_line_and_thing(tmp_path, old, new, at, says):
    text = with_change(old, new)
    error = refused(tmp_path, text)
    assert isinstance(error, DocumentError)
    assert says in str(error)
    assert str(error).startswith(f"show.toml:{line_number(text, at)}: ")


def test_a_step_needs_a_length_and_one_kind(tmp_path):
    assert "the cable 'four-core-2.5' needs the key 'length'" in str(
        refused(tmp_path, with_change('length = "66 in", ', ""))
    )
    both = with_change(
        '{ cable = "four-core-2.5", length = "66 in"', '{ panel = "p", cable = "four-core-2.5", length = "66 in"'
    )
    assert "W1: no panel 'p'" in str(refused(tmp_path, both))
    both += '[[panels]]\nid = "p"\nsockets = {}\n'
    assert "expected one of 'cable', 'adaptor', 'panel'" in str(refused(tmp_path, both))


@pytest.mark.parametrize(
    ("content", "line", "says"),
    [
        (b"", None, "the file is empty"),
        (b"# only a remark\n\n", None, "the file is empty"),
        (b"\xff\xfe\x00", 1, "not UTF-8 text"),
        (FERRY.encode("utf-16"), 1, "not UTF-8 text"),
        (FERRY.encode().replace(b"Ferry", b"F\xe9rry"), 5, "not UTF-8 text"),
        (FERRY.encode().replace(b"Ferry", b"F\x00rry"), 5, "not valid TOML at column 10"),
        (FERRY.encode().replace(b'id = "ML2"', b"id = ML2"), 86, "not valid TOML at column 6"),
        (b"a = " + b"[" * 10_000, None, "nested too deeply"),
        (b"a = " + b"{a=" * 3_000, None, "nested too deeply"),
        (FERRY.encode().replace(b"owned = 6", b"owned = " + b"9" * 5_000), None, "not valid TOML"),
        (b"#" * (LARGEST_BYTES + 1), None, "expected a show of at most 4 MB"),
    ],
    ids=["empty", "remarks", "bytes", "utf-16", "latin-1", "nul", "toml", "brackets", "tables", "digits", "large"],
)
def test_the_file_is_refused(tmp_path, content, line, says):
    error = refused(tmp_path, content)
    assert isinstance(error, FileError)
    assert says in str(error)
    assert error.line == line


def test_a_folder_and_a_missing_file(tmp_path):
    with pytest.raises(FileError, match="this is a folder"):
        load(tmp_path)
    with pytest.raises(FileError, match="there is no such file"):
        load(tmp_path / "none.toml")
    with pytest.raises(FileError, match="cannot be read"):
        load("a\0b")


@pytest.mark.parametrize("error", [PermissionError(13, "Permission denied"), OSError(5, "Input/output error")])
def test_a_file_that_the_system_does_not_give(tmp_path, monkeypatch, error):
    path = tmp_path / "show.toml"
    path.write_text(FERRY, encoding="utf-8")

    def refuse(*_args):
        raise error

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(FileError, match=f"show.toml: the file cannot be read: {error.strerror}$"):
        load(path)


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root reads everything")
def test_a_file_that_may_not_be_read(tmp_path):
    path = tmp_path / "show.toml"
    path.write_text(FERRY, encoding="utf-8")
    path.chmod(0)
    with pytest.raises(FileError, match="cannot be read: Permission denied"):
        load(path)


def test_a_file_of_50_mb_is_not_read_whole(tmp_path, monkeypatch):
    path = tmp_path / "show.toml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    taken = []

    class Watched(io.FileIO):
        def read(self, size=-1):
            data = super().read(size)
            taken.append(len(data))
            return data

    monkeypatch.setattr(Path, "open", lambda self, _mode: Watched(self))
    with pytest.raises(FileError, match="at most 4 MB"):
        load(path)
    assert taken == [LARGEST_BYTES + 1]


def test_the_largest_file_is_read(tmp_path):
    assert "the file is empty" in str(refused(tmp_path, b"#" * LARGEST_BYTES))


HEADERS_IN_TEXT = '''format = 2
[show]
note = """
[[boxes]]
id = "not a box"   # nor a comment [[boxes]]
"""
site = '[[boxes]]'
[[zones]]  # a comment [[boxes]]
id = "hall"
signals = { left = "[[boxes]]", right = "#" }
[[boxes]]
id = "B1"
zone = "hall"
unknown = { impedance = "8 ohm", continuous = "100 W" }
[[boxes]]
# remark
id = "B2"
zone = "hell"
unknown = { impedance = "8 ohm", continuous = "100 W" }
'''


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_lines_are_counted_past_headers_in_texts_and_remarks(tmp_path, ends, mark):
    error = refused(tmp_path, (mark + HEADERS_IN_TEXT).replace("\n", ends))
    assert str(error) == "show.toml:18: B2: no zone 'hell'; did you mean 'hall'?"


def test_a_row_of_a_nested_block_is_found(tmp_path):
    text = HEADERS_IN_TEXT.replace("hell", "hall") + (
        '[[loudspeakers]]\nid = "x"\n[[loudspeakers.sections]]\ndrive = "passive"\nsection = "full"\nimpedance = "8 ohm"\n'
        'continuous = "9 W"\n\n[[loudspeakers.sections]]\ndrive = "bi-amp"\nsection = "low"\nimpedance = "8 kg"\n'
    )
    error = refused(tmp_path, text)
    assert error.line == line_number(text, "8 kg")
    assert "x: sections.impedance: expected an impedance" in str(error)


# ---- the same through the command ------------------------------------------------------------------------------------


def test_the_command_gives_one_line_and_status_2(tmp_path, capsys):
    path = tmp_path / "show.toml"
    path.write_text(with_change('note = "grille', 'nota = "grille'), encoding="utf-8")
    assert run(["check", str(path)]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err == f"fieldkit: {path}:91: ML2: unknown key 'nota'; did you mean 'note'?\n"


def test_the_process_ends_with_status_2_and_no_traceback(tmp_path):
    path = tmp_path / "show.toml"
    path.write_bytes(b"a = " + b"[" * 100_000)
    done = subprocess.run(
        [sys.executable, "-m", "fieldkit", "check", str(path)], capture_output=True, text=True, timeout=60, check=False
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == f"fieldkit: {path}: nested too deeply to be a show\n"


def test_the_example_is_no_error():
    assert decode(tomllib.loads(FERRY)).about.name == "Ferry landing, Sunday"
