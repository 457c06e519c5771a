"""A side copied to the other: written by hand for the open air, where the right side is taken away and must come back."""

from pathlib import Path

import msgspec
import pytest

from fieldkit.show.errors import DocumentError
from fieldkit.show.mirroring import across_like, mirrored, other_side
from fieldkit.show.opening import open_show
from fieldkit.show.removal import removed
from fieldkit.show.usage import relabelled

OPEN_AIR = Path("sample_shows/open_air.toml")


def test_the_right_side_that_was_taken_away_comes_back():
    whole = open_show(OPEN_AIR).show
    right = [box for box in whole.boxes if box.zone == "mains" and box.side == "right"]
    gone = {box.id for box in right}
    runs = [run for run in whole.runs if {step.box for step in run.path if step.box} <= gone]
    assert right
    assert runs
    half = whole
    for run in runs:
        half = removed(half, "runs", run.id).show
    for box in right:
        half = removed(half, "boxes", box.id).show
    left = [box.id for box in half.boxes if box.zone == "mains" and box.side == "left"]
    made = mirrored(half, left, "left", "right")
    assert made.left_out == ()
    plain = {"serial": "", "note": ""}
    assert {box.id: msgspec.structs.replace(box, **plain) for box in made.show.boxes if box.id in gone} == {
        box.id: msgspec.structs.replace(box, **plain) for box in right
    }
    ways = {run.start: [step.box for step in run.path] for run in made.show.runs}
    assert {run.start: [step.box for step in run.path] for run in runs}.items() <= ways.items()


def test_what_is_there_already_is_said_and_left():
    show = open_show(OPEN_AIR).show
    left = [box.id for box in show.boxes if box.zone == "mains" and box.side == "left"]
    made = mirrored(show, left, "left", "right")
    assert made.show == show
    assert all("is there already" in said for said in made.left_out)


def test_a_run_without_a_twin_is_said(tmp_path):
    file = tmp_path / "show.toml"
    file.write_text(
        """format = 2
[[zones]]
id = "hall"
[[boxes]]
id = "左1"
model = "two-way-10-inch"
zone = "hall"
side = "left"
position = "3 m, -2 m"
[[boxes]]
id = "左2"
model = "two-way-10-inch"
zone = "hall"
side = "left"
[[boxes]]
id = "右2"
model = "two-way-10-inch"
zone = "hall"
side = "right"
[[rack_units]]
id = "AMP"
model = "portable-four-hosting"
[[runs]]
id = "W1"
from = "AMP.A"
path = [{ cable = "four-core-2.5", length = "15 m", box = "左1" }]
""",
        encoding="utf-8",
    )
    show = open_show(file).show
    made = mirrored(show, ["左1"], "left", "right")
    assert made.boxes == ("右1",)
    assert made.show.boxes[-1].position == "3 m, 2 m"
    assert made.runs == ()
    assert made.left_out == ("W1: AMP has no twin of the other side by its label",)


def test_the_side_across():
    show = open_show(OPEN_AIR).show
    assert other_side(show, "mains", "left") == "right"
    assert other_side(show, "wedges", "mix-1") is None


def test_a_copy_on_the_other_side_has_a_label_of_that_side():
    show = open_show(OPEN_AIR).show
    boxes = {box.id: box for box in show.boxes}
    copy = across_like(show, boxes["ML1"])
    assert (copy.id, copy.side, copy.position) == ("MR3", "right", None)  # MR1 stands in its place already
    back = across_like(removed(show, "boxes", "MR1").show, boxes["ML1"])
    assert (back.id, back.side, back.position) == ("MR1", "right", "0.5 m, 9.5 m, 5.5 m")
    wedge = across_like(show, boxes["M4"])
    assert (wedge.id, wedge.side) == ("M5", "mix-4")


def test_several_labels_change_places():
    show = open_show(OPEN_AIR).show
    names = [box.id for box in show.boxes[:3]]
    turned = [*names[1:], names[0]]
    after = relabelled(show, "boxes", names, turned)
    assert [box.id for box in after.boxes[:3]] == turned
    reached = [step.box for run in show.runs for step in run.path]
    now = [step.box for run in after.runs for step in run.path]
    meant = dict(zip(names, turned, strict=True))
    assert now == [meant.get(name, name) for name in reached]
    with pytest.raises(DocumentError, match="already used"):
        relabelled(show, "boxes", names, ["X1", "X2", show.boxes[4].id])
    with pytest.raises(DocumentError, match="each once"):
        relabelled(show, "boxes", names, ["X1", "X1", "X2"])
