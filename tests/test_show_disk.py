"""What the disk may do to a file that is read or written: nothing is lost, nothing is left behind, one line is said."""

import os
import stat
import threading
import tomllib
from pathlib import Path

import pytest
from shows import FERRY

from fieldkit.commands.cli import run
from fieldkit.show.decoding import decode
from fieldkit.show.edits import changed, with_thing
from fieldkit.show.errors import ChangedError, FileError, ReadOnlyError
from fieldkit.show.keep import copies, storage
from fieldkit.show.keep.storage import create, load, save, write_text
from fieldkit.text import files


@pytest.fixture
def stored(tmp_path):
    path = tmp_path / "show.toml"
    path.write_text(FERRY, encoding="utf-8")
    return load(path)


def edited(stored, note="edited"):
    return with_thing(stored.show, "boxes", changed(stored.show.boxes[0], note=note))


def names(folder):
    return sorted(item.name for item in folder.iterdir())


def denied(*_args, **_options):
    raise PermissionError(13, "Permission denied")


def full(*_args, **_options):
    raise OSError(28, "No space left on device")


def test_a_file_that_may_not_be_read(stored, monkeypatch, capsys):
    monkeypatch.setattr(Path, "open", denied)
    assert run(["check", str(stored.path)]) == 2
    assert capsys.readouterr() == ("", f"fieldkit: {stored.path}: the file cannot be read: Permission denied\n")


def test_a_folder_that_may_not_be_written(stored, monkeypatch):
    monkeypatch.setattr(Path, "open", denied)
    with pytest.raises(FileError, match=r"^show\.toml: the file cannot be written: Permission denied$"):
        write_text(stored.path, "format = 2\n")
    monkeypatch.undo()
    assert stored.path.read_text(encoding="utf-8") == FERRY


def test_a_version_before_that_cannot_be_kept_stops_the_save(stored, monkeypatch):
    monkeypatch.setattr(os, "utime", full)
    with pytest.raises(FileError, match="No space left on device"):
        save(stored, edited(stored))
    assert stored.path.read_text(encoding="utf-8") == FERRY
    assert names(stored.path.parent) == ["show.toml"]


def test_a_folder_in_the_place_of_the_version_before_stops_the_save(stored):
    (stored.path.parent / "show.toml.bak").mkdir()
    with pytest.raises(FileError, match="the file cannot be written: "):
        save(stored, edited(stored))
    assert stored.path.read_text(encoding="utf-8") == FERRY
    assert names(stored.path.parent) == ["show.toml", "show.toml.bak"]


def test_an_interruption_leaves_the_old_file_and_nothing_else(stored, monkeypatch):
    def interrupted(_handle):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        save(stored, edited(stored))
    assert stored.path.read_text(encoding="utf-8") == FERRY
    assert names(stored.path.parent) == ["show.toml"]


def test_a_text_that_no_file_can_hold_is_refused_before_anything_is_written(stored):
    with pytest.raises(FileError, match=r"no file can hold the character U\+DC80"):
        write_text(stored.path, "half \udc80")
    assert stored.path.read_text(encoding="utf-8") == FERRY
    assert names(stored.path.parent) == ["show.toml"]


def test_the_last_saves_are_kept_and_the_one_before_stands_beside_the_file(stored):
    now = stored
    for number in range(14):
        now = save(now, edited(now, f"version {number}"))
    assert names(stored.path.parent) == ["show.toml", "show.toml.bak", "show.toml.copies"]
    assert "version 12" in stored.path.with_name("show.toml.bak").read_text(encoding="utf-8")
    kept = copies.copies(stored.path)
    assert [copy.name for copy in kept] == [f"saved-{number:04d}.toml" for number in range(4, 14)]
    says = [decode(tomllib.loads(copy.read_text(encoding="utf-8"))).boxes[0].note for copy in kept]
    assert says == [f"version {number}" for number in range(2, 12)]  # before them the file as it was, and version 1


def test_each_version_that_was_put_aside_is_a_file_of_its_own(stored):
    files = [copies.put_aside(stored.path, f"mine {number}") for number in range(12)]
    save(stored, edited(stored))
    assert len(set(files)) == 12
    assert [file.read_text(encoding="utf-8") for file in copies.copies(stored.path, "mine")] == [
        f"mine {number}" for number in range(2, 12)
    ]


@pytest.mark.skipif(os.name == "nt", reason="modes are of another kind there")
def test_a_read_only_file_is_replaced_only_where_somebody_says_so(stored, capsys):
    stored.path.chmod(0o440)
    with pytest.raises(ReadOnlyError, match=r"^show\.toml: the file is read only, and was left as it is$"):
        save(stored, edited(stored))
    other = stored.path.with_name("other.toml")
    other.write_text(FERRY, encoding="utf-8")
    assert run(["assign", str(other), "-o", str(stored.path)]) == 2
    assert capsys.readouterr().err == f"fieldkit: {stored.path}: the file is read only, and was left as it is\n"
    assert stored.path.read_text(encoding="utf-8") == FERRY
    save(stored, edited(stored), read_only_too=True)
    assert "edited" in stored.path.read_text(encoding="utf-8")
    assert stat.S_IMODE(stored.path.stat().st_mode) == 0o440
    save(load(stored.path), edited(stored, "again"), read_only_too=True)  # its backup is read only as well


def test_parts_of_programs_that_ended_are_removed_and_those_of_living_ones_stay(stored):
    folder = stored.path.parent
    (folder / ".show.toml.4711.part").write_text("half", encoding="utf-8")
    (folder / ".show.toml.4711.bak-part").write_text("half", encoding="utf-8")
    (folder / ".other.toml.4711.part").write_text("not of this file", encoding="utf-8")
    living = files.PartFile(stored.path, b"being written")
    living.path.rename(folder / ".show.toml.4712.part")
    save(stored, edited(stored))
    left = [name for name in names(folder) if name.endswith("part")]
    assert left == [".other.toml.4711.part", ".show.toml.4712.part"]
    living.drop()


@pytest.mark.skipif(os.name == "nt", reason="there are no such files on this system")
def test_a_pipe_or_a_device_in_the_place_of_a_file_is_refused_and_nothing_waits(stored, capsys):
    pipe = stored.path.with_name("pipe.toml")
    os.mkfifo(pipe)
    done = []

    def tried():
        done.append(run(["check", str(pipe)]))
        done.append(run(["assign", str(stored.path), "-o", str(pipe)]))
        done.append(run(["check", "/dev/null"]))

    thread = threading.Thread(target=tried, daemon=True)
    thread.start()
    thread.join(20)
    assert done == [2, 2, 2]
    said = capsys.readouterr().err.splitlines()
    assert [line.partition(": ")[2] for line in said] == [
        f"{pipe}: this is a pipe; expected a show file",
        f"{pipe}: the file cannot be written: this is a pipe; expected a file",
        "/dev/null: this is a device; expected a show file",
    ]
    assert pipe.is_fifo()


def test_marks_of_a_conflict_are_named_by_their_line(stored):
    text = FERRY.replace('note = "grille', '<<<<<<< HEAD\nnote = "x"\n=======\nnote = "grille', 1)
    stored.path.write_text(text, encoding="utf-8")
    line = text[: text.index("<<<")].count("\n") + 1
    with pytest.raises(FileError, match=rf"^show\.toml:{line}: git left two versions here.*fieldkit merge"):
        load(stored.path)


def test_the_same_file_by_another_way_is_still_the_same(stored, tmp_path):
    theirs = FERRY.replace("grille dented", "grille fixed")
    stored.path.write_text(theirs, encoding="utf-8")
    (tmp_path / "sub").mkdir()
    (tmp_path / "link.toml").symlink_to(stored.path)
    for way in (tmp_path / "sub" / ".." / "show.toml", tmp_path / "link.toml"):
        with pytest.raises(ChangedError, match="somebody else has changed the file"):
            save(stored, edited(stored), way)
    assert stored.path.read_text(encoding="utf-8") == theirs


@pytest.mark.parametrize("content", [b"", b"\xff\xfe", b"#" * (storage.LARGEST_BYTES + 1)])
def test_what_became_of_a_file_is_never_written_over(stored, content):
    stored.path.write_bytes(content)
    with pytest.raises((ChangedError, FileError), match=r"show\.toml"):
        save(stored, edited(stored))
    assert stored.path.read_bytes() == content


def test_a_file_that_is_gone_is_written_again(stored):
    stored.path.unlink()
    save(stored, stored.show)
    assert load(stored.path).show == stored.show
    assert names(stored.path.parent) == ["show.toml"]


def test_a_new_file_that_does_not_fit_is_not_left_in_half(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FileError, match="the file cannot be written: No space left on device"):
        create(tmp_path / "new.toml", "format = 2\n")
    assert names(tmp_path) == []


@pytest.mark.parametrize("name", ["a\x00b", "x" * 5000])
def test_a_name_that_no_file_can_have(tmp_path, name):
    with pytest.raises(FileError, match="the file cannot be written"):
        create(tmp_path / name, "format = 2\n")
    with pytest.raises(FileError, match="the file cannot be read"):
        load(tmp_path / name)


def test_a_folder_in_the_place_of_a_new_file(tmp_path):
    with pytest.raises(FileError, match="this is a folder; expected the name of a new file"):
        create(tmp_path, "format = 2\n")


def test_an_error_names_a_file_in_one_safe_line(tmp_path):
    path = tmp_path / "a\nb\x1b[31m.toml"
    path.write_text("format = 3\n", encoding="utf-8")
    with pytest.raises(FileError, match="no such file") as missing:
        load(tmp_path / "a\nc")
    assert str(missing.value) == "a\\x0ac: there is no such file"
    with pytest.raises(ValueError, match="expected 2") as wrong:
        load(path)
    assert str(wrong.value).startswith("a\\x0ab\\x1b[31m.toml:1: format: expected 2")
