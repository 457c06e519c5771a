"""What the disk may do to a file that is read or written: nothing is lost, nothing is left behind, one line is said."""

import os
import shutil
import tomllib
from pathlib import Path

import pytest
from shows import FERRY

from fieldkit.cli import run
from fieldkit.show import storage
from fieldkit.show.decoding import decode
from fieldkit.show.edits import changed, with_thing
from fieldkit.show.errors import ChangedError, FileError
from fieldkit.show.storage import create, load, save, write_text


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
        write_text(stored.path, "format = 1\n")
    monkeypatch.undo()
    assert stored.path.read_text(encoding="utf-8") == FERRY


def test_a_version_before_that_cannot_be_kept_stops_the_save(stored, monkeypatch):
    monkeypatch.setattr(shutil, "copy2", full)
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


def test_two_saves_keep_the_version_before_the_last(stored):
    again = save(stored, edited(stored, "one"))
    last = save(again, edited(again, "two"))
    kept = decode(tomllib.loads(stored.path.with_name("show.toml.bak").read_text(encoding="utf-8")))
    assert (kept, load(stored.path).show) == (again.show, last.show)
    assert names(stored.path.parent) == ["show.toml", "show.toml.bak"]


def test_the_same_file_by_another_way_is_still_the_same(stored, tmp_path):
    theirs = FERRY.replace("grille dented", "grille mended")
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
    class Full:
        def __enter__(self):
            return self

        def __exit__(self, *_error):
            return None

        write = full

    path = tmp_path / "new.toml"

    def opened(self, *_args, **_options):
        self.touch()
        return Full()

    monkeypatch.setattr(Path, "open", opened)
    with pytest.raises(FileError, match="the file cannot be written: No space left on device"):
        create(path, "format = 1\n")
    assert names(tmp_path) == []


@pytest.mark.parametrize("name", ["a\x00b", "x" * 5000])
def test_a_name_that_no_file_can_have(tmp_path, name):
    with pytest.raises(FileError, match="the file cannot be written"):
        create(tmp_path / name, "format = 1\n")
    with pytest.raises(FileError, match="the file cannot be read"):
        load(tmp_path / name)


def test_a_folder_in_the_place_of_a_new_file(tmp_path):
    with pytest.raises(FileError, match="this is a folder; expected the name of a new file"):
        create(tmp_path, "format = 1\n")


def test_an_error_names_a_file_in_one_safe_line(tmp_path):
    path = tmp_path / "a\nb\x1b[31m.toml"
    path.write_text("format = 2\n", encoding="utf-8")
    with pytest.raises(FileError, match="no such file") as missing:
        load(tmp_path / "a\nc")
    assert str(missing.value) == "a\\x0ac: there is no such file"
    with pytest.raises(ValueError, match="expected 1") as wrong:
        load(path)
    assert str(wrong.value).startswith("a\\x0ab\\x1b[31m.toml:1: format: expected 1")
