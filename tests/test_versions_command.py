"""``fieldkit diff`` and ``fieldkit merge``: at the command line, and as the merge driver of a real repository."""

import json
import shutil
import subprocess
import sys

import pytest
from shows import FERRY, with_change

from fieldkit.commands.cli import run
from fieldkit.show.keep.storage import load

BOX = '[[boxes]]\nid = "{}"\nmodel = "two-way-12"\nzone = "mains"\nside = "left"\n\n'


def added(text, *names):
    blocks = "".join(BOX.format(name) for name in names)
    return with_change("[[racks]]\n", f"{blocks}[[racks]]\n", text)


def files(tmp_path, *texts):
    paths = [tmp_path / f"{name}.toml" for name in ("base", "mine", "theirs")[-len(texts) :]]
    for path, text in zip(paths, texts, strict=True):
        path.write_text(text, encoding="utf-8")
    return [str(path) for path in paths]


def test_diff_says_what_changed_and_what_follows(tmp_path, capsys):
    new = with_change('"66 in", box = "ML2"', '"30 m", box = "ML2"')
    names = files(tmp_path, FERRY, with_change("owned = 6", "owned = 7", new))
    assert run(["diff", *names]) == 0
    out = capsys.readouterr().out.splitlines()
    assert out[:5] == [
        "changed:",
        "  stock two-way-12: owned 6 → 7",
        "  run W1: step 2 length 66 in → 30 m",
        "",
        "what follows:",
    ]
    assert any(line.startswith("  SR-1.1") and "load" in line for line in out[5:])
    assert run(["diff", "--json", *names]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["changes"][1]["path"] == ["W1", "path", "step 2", "length"]
    assert (told["changes"][1]["before"], told["changes"][1]["after"]) == ("66 in", "30 m")
    assert [f"  {line}" for line in told["follows"]] == out[5:]
    assert run(["diff", names[0], names[0]]) == 0
    assert capsys.readouterr().out == "the two shows say the same\n"


def test_merge_keeps_the_remarks_of_both(tmp_path):
    mine = added(with_change("owned = 6", "owned = 6  # counted twice"), "MA")
    theirs = added(with_change("units = 12\n", "units = 14  # the tall one\n"), "MB").replace(
        '[[boxes]]\nid = "MB"', '# borrowed from the pier\n[[boxes]]\nid = "MB"'
    )
    names = files(tmp_path, FERRY, mine, theirs)
    out = tmp_path / "out.toml"
    assert run(["merge", *names, "-o", str(out)]) == 0
    text = out.read_text(encoding="utf-8")
    for remark in ("# counted twice", "# the tall one", "# borrowed from the pier", "# answers"):
        assert remark in text
    assert [box.id for box in load(out).show.boxes] == ["ML1", "ML2", "MA", "MB"]
    assert load(out).show.racks[0].units == 14


def test_what_collides_writes_nothing_until_it_is_decided(tmp_path, capsys):
    mine = with_change(
        'note = "grille', 'level = "-3 dB"\nnote = "grille', with_change('name = "Ferry', 'name = "My ferry')
    )
    theirs = with_change(
        'note = "grille', 'level = "-6 dB"\nnote = "grille', with_change('name = "Ferry', 'name = "The ferry')
    )
    names = files(tmp_path, FERRY, mine, theirs)
    assert run(["merge", *names, "-o", names[1]]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.splitlines()[1] == "2: box ML2 level: was nothing; mine: -3 dB; theirs: -6 dB (both changed it)"
    assert "nothing is written: 2 to decide" in said.err
    assert load(names[1]).text == mine
    assert run(["merge", *names, "-o", names[1], "--take", "mine", "--take", "2=theirs"]) == 0
    show = load(names[1]).show
    assert (show.about.name, show.boxes[1].level) == ("My ferry landing, Sunday", "-6 dB")


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--take", "ours"], "--take: expected mine, theirs, or a number"),
        (["--take", "3=mine"], "--take: there is no number 3; 0 to decide"),
        (["--tak", "mine"], "unknown option '--tak'; did you mean"),
        (["x"], "unexpected 'x'"),
    ],
)
def test_what_cannot_be_used_is_said(tmp_path, capsys, more, says):
    assert run(["merge", *files(tmp_path, FERRY, FERRY, FERRY), *more]) == 2
    assert says in capsys.readouterr().err


@pytest.mark.skipif(shutil.which("git") is None, reason="git is not installed here")
def test_git_merges_by_things(tmp_path):
    def git(*words, check=True):
        own = ["-c", "user.name=crew", "-c", "user.email=crew@example.invalid", "-c", "init.defaultBranch=main"]
        return subprocess.run(["git", *own, *words], cwd=tmp_path, capture_output=True, text=True, check=check)

    git("init", "-q")
    driver = f"{sys.executable} -c 'import sys; from fieldkit.commands.cli import run; sys.exit(run(sys.argv[1:]))' merge %O %A %B -o %A"
    git("config", "merge.fieldkit.driver", driver)
    (tmp_path / ".gitattributes").write_text("*.toml merge=fieldkit\n", encoding="utf-8")
    show = tmp_path / "hall.toml"

    def commit(text):
        show.write_text(text, encoding="utf-8")
        git("add", "-A")
        git("commit", "-qm", "edit")

    def both(mine, theirs):
        git("checkout", "-q", "-B", "theirs", "start")
        commit(theirs)
        git("checkout", "-q", "-B", "mine", "start")
        commit(mine)
        return git("merge", "-q", "theirs", check=False)

    commit(FERRY)
    git("tag", "start")
    # Two fields of one box, name and site, a box each at the end: by lines each of them is a conflict.
    mine = added(with_change('note = "grille dented [see tag]"', 'note = "grille new"'), "MA")
    theirs = added(with_change('drive = "bi-amp"\nnote', 'drive = "bi-amp"\nlevel = "-3 dB"\nnote'), "MB")
    mine, theirs = with_change("Sunday", "Monday", mine), with_change('Sunday"', 'Sunday"\nsite = "Pier"', theirs)
    assert both(mine, theirs).returncode == 0
    merged = load(show).show
    assert [box.id for box in merged.boxes] == ["ML1", "ML2", "MA", "MB"]
    assert (merged.boxes[1].note, merged.boxes[1].level) == ("grille new", "-3 dB")
    assert (merged.about.name, merged.about.site) == ("Ferry landing, Monday", "Pier")
    # One field with two values: the file stays mine, git knows of the conflict, and each is said.
    mine = with_change("grille dented", "grille new")
    done = both(mine, with_change("grille dented", "grille gone"))
    assert done.returncode == 1
    assert "1: box ML2 note: was grille dented [see tag]; mine: grille new [see tag]" in done.stderr
    assert "UU hall.toml" in git("status", "--short").stdout
    assert show.read_text(encoding="utf-8") == mine
    git("merge", "--abort")
    # Two equal lots of stock: one, and it is said.
    lot = with_change("[[zones]]\n", '[[stock]]\nmodel = "quad-900"\nowned = 2\n\n[[zones]]\n')
    done = both(lot.replace("Sunday", "Monday"), lot)
    assert done.returncode == 0
    assert "stock quad-900 was added by both alike, and stands once" in done.stderr
