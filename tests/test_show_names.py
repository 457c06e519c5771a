"""Every text of the file says what it names, and whoever is renamed or removed is followed everywhere."""

import random
import re
import tomllib
from typing import Annotated, Union, get_args, get_origin, get_type_hints

import msgspec
import pytest
from budget import tries
from hypothesis import given
from hypothesis import strategies as st
from shows import FERRY

from fieldkit import samples
from fieldkit.gear.names import declared
from fieldkit.reports.objects import lines_object
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.contents import all_units
from fieldkit.show.decoding import decode
from fieldkit.show.document import About, Failure, Logged, MovedRun, Reading, Show
from fieldkit.show.errors import DocumentError
from fieldkit.show.opening import open_show
from fieldkit.show.reading_value import ReadingValue
from fieldkit.show.references import problems
from fieldkit.show.removal import removed
from fieldkit.show.usage import LABELS, renamed
from fieldkit.show.writing import canonical

HALL, OPEN_AIR = (open_show(samples.folder() / f"{name}.toml").show for name in ("village_hall", "open_air"))


def structs(kind, seen):
    """Find every kind of table that a show may hold."""
    if kind in seen:
        return
    seen.add(kind)
    for hint in get_type_hints(kind, include_extras=True).values():
        for part in parts(hint):
            if isinstance(part, type) and issubclass(part, msgspec.Struct):
                structs(part, seen)


def parts(hint):
    """Take a type apart, down to plain types and annotated texts."""
    if get_origin(hint) is Annotated and get_args(hint)[0] is str:
        yield hint
    elif get_args(hint):
        for part in get_args(hint):
            yield from parts(part)
    else:
        yield hint


def test_every_text_says_what_it_names_or_that_it_is_free():
    kinds = set()
    structs(Show, kinds)
    assert len(kinds) > 25
    silent = [
        (kind.__name__, name)
        for kind in kinds
        for name, hint in get_type_hints(kind, include_extras=True).items()
        for part in parts(hint)
        if part is str or (get_origin(part) is Annotated and declared(part) is None)
    ]
    assert not silent


def test_a_text_that_says_nothing_is_found():
    class Silent(msgspec.Struct):
        names: dict[str, Union[str, None]] = {}  # noqa: UP007  (the old spelling too)

    assert [part for hint in get_type_hints(Silent, include_extras=True).values() for part in parts(hint)].count(
        str
    ) == 2


def words(show):
    """Find every word in quotes of the saved text that could be a label, between the marks that join labels."""
    text = re.sub(r'\b(description|note|says|by|hired_from) = "[^"]*"', "", canonical(show))
    quoted = re.findall(r'"([^"]*)"', text)
    return {word for text in quoted for word in re.split(r"[\s=,./+>:]+", text)}


def with_records(show):
    """Give a show with a reading, an entry of the log and a failure at every kind of place."""
    run, box, unit = show.runs[0], next(step.box for step in show.runs[0].path if step.box), show.rack_units[0]
    places = (box, f"{unit.id}.1", f"{run.id}-A", f"{run.id}/1", unit.id)
    return msgspec.structs.replace(
        show,
        about=About(),  # its free words may be anybody's label
        readings=tuple(
            Reading(line=f"{run.id}/1", at=at, value=ReadingValue("3 ohm"))
            for at in ("amp", f"{box}.in", f"{run.id}-B")
        ),
        log=tuple(Logged(kind="fault", at=at) for at in places),
        failed=(Failure(id=f"{unit.id}.1", moved=(MovedRun(run=run.id, start=run.start),)),),
    )


SHOWS = {
    "hall": with_records(HALL),
    "open air": with_records(OPEN_AIR),
    "ferry": with_records(decode(tomllib.loads(FERRY))),
}


@tries(15)
@given(st.sampled_from(sorted(SHOWS)), st.integers(0, 10**6))
def test_a_label_is_followed_everywhere_and_back(name_of_show, seed):
    show = SHOWS[name_of_show]
    rng = random.Random(seed)
    table = rng.choice([table for table in LABELS if getattr(show, table)])
    old = rng.choice(getattr(show, table)).id
    if table == "rack_units" and old in brought(show):
        with pytest.raises(DocumentError, match="named after its rack"):
            renamed(show, table, old, "Zz9")
        return
    after = renamed(show, table, old, "Zz9")
    assert list(problems(after)) == []
    # Judged by the text of the file: the old label is gone wherever it stood as a whole word.
    gone = {word for word in words(after) if word == old or re.fullmatch(rf"{re.escape(old)}-[A-Z]", word)}
    also = {
        word
        for word in (old,)
        if any(old in {other.id for other in getattr(show, kin)} for kin in LABELS if kin != table)
    }
    assert gone <= also | {side for zone in show.zones for side in (*zone.signals, *zone.signals.values())}
    assert renamed(after, table, "Zz9", old) == show
    assert lines_text(after, "Zz9", old) == lines_text(show, old, old)


def brought(show):
    """Name the units that racks as built bring: they are called after their racks."""
    built = {rack.id for rack in show.racks if rack.as_built}
    return {unit.id for unit in all_units(show) if unit.rack in built and re.fullmatch(rf"{unit.rack}-\d+", unit.id)}


def lines_text(show, label, instead):
    text = msgspec.json.encode(lines_object(evaluate(show))).decode()
    return text.replace(label, instead)


def test_two_boxes_change_places_and_the_log_goes_with_each():
    show = msgspec.structs.replace(HALL, log=(Logged(kind="polarity", at="TL", says="tested"),))
    show = renamed(renamed(renamed(show, "boxes", "TL", "TX"), "boxes", "TR", "TL"), "boxes", "TX", "TR")
    assert [entry.at for entry in show.log] == ["TR"]


@tries(15)
@given(st.sampled_from(sorted(SHOWS)), st.integers(0, 10**6))
def test_what_is_removed_is_named_nowhere(name_of_show, seed):
    show = SHOWS[name_of_show]
    rng = random.Random(seed)
    table = rng.choice([table for table in LABELS if getattr(show, table)])
    name = rng.choice(getattr(show, table)).id
    after = removed(show, table, name)
    assert list(problems(after.show)) == []
    evaluate(after.show)
    for entry in after.show.log:
        assert not re.match(rf"{re.escape(name)}($|[./]|-[A-Z]+$)", entry.at)
    for reading in after.show.readings:
        assert not re.match(rf"{re.escape(name)}($|[./]|-[A-Z]+$)", reading.at)
    assert name not in {failed.id.partition(".")[0] for failed in after.show.failed}


def test_a_removal_says_what_goes_of_the_log_and_the_readings():
    show = SHOWS["hall"]
    box = next(step.box for step in show.runs[0].path if step.box)
    said = removed(show, "boxes", box).consequences
    assert f"what the log says of {box} goes" in said
    assert f"the reading of {show.runs[0].id}/1 at {box}.in goes" in said


@pytest.mark.parametrize("table", ["amplifiers", "loudspeakers", "cables"])
def test_a_model_is_followed_and_back(table):
    old = getattr(HALL, table)[0].id
    after = renamed(HALL, table, old, "other-model")
    assert list(problems(after)) == []
    assert old not in words(after)
    assert renamed(after, table, "other-model", old) == HALL
