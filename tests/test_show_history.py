"""Undo and redo are walks through earlier values; edits of one field in quick succession are one step."""

from hypothesis import given
from hypothesis import strategies as st

from fieldkit.show.document import About, Show
from fieldkit.show.history import DEEPEST, History


def named(name):
    return Show(about=About(name=name))


class Clock:
    def __init__(self):
        self.now = 0.0

    def __call__(self):
        return self.now


def test_undo_and_redo_say_what_they_do():
    history = History(named("a"))
    assert (history.undoes, history.redoes, history.undo(), history.redo()) == ("", "", "", "")
    assert history.apply("name of the show", named("b"))
    assert (history.dirty, history.undoes) == (True, "name of the show")
    assert history.undo() == "name of the show"
    assert (history.present, history.dirty, history.redoes) == (named("a"), False, "name of the show")
    assert history.redo() == "name of the show"
    assert history.present == named("b")


def test_an_edit_after_an_undo_ends_the_way_forth():
    history = History(named("a"))
    history.apply("one", named("b"))
    history.undo()
    history.apply("two", named("c"))
    assert (history.redoes, history.undoes) == ("", "two")


def test_an_equal_value_is_no_step():
    history = History(named("a"))
    assert not history.apply("nothing", named("a"))
    assert history.undoes == ""


def test_one_field_in_quick_succession_is_one_step():
    clock = Clock()
    history = History(named("a"), clock)
    for time, name in ((0.0, "b"), (0.9, "c"), (1.8, "d"), (3.0, "e")):
        clock.now = time
        history.apply("name", named(name), field="show.name")
    history.undo()
    assert history.present == named("d")  # 3.0 is more than a second after 1.8
    history.undo()
    assert history.present == named("a")


def test_other_fields_and_a_save_part_the_steps():
    history = History(named("a"), Clock())
    history.apply("name", named("b"), field="show.name")
    history.apply("site", named("c"), field="show.site")
    history.mark_saved()
    assert not history.dirty
    history.apply("site", named("d"), field="show.site")
    history.undo()
    assert history.present == named("c")


def test_steps_have_an_end():
    history = History(named("0"))
    for number in range(1, DEEPEST + 50):
        history.apply("name", named(str(number)))
    steps = 0
    while history.undo():
        steps += 1
    assert steps == DEEPEST


@given(st.lists(st.sampled_from(["edit", "undo", "redo"]), max_size=40))
def test_any_walk_agrees_with_a_list_of_values(acts):
    history = History(named("0"))
    values, place = ["0"], 0
    for number, act in enumerate(acts, start=1):
        if act == "edit":
            values, place = [*values[: place + 1], str(number)], place + 1
            history.apply("edit", named(str(number)))
        elif act == "undo":
            place = max(0, place - 1)
            history.undo()
        else:
            place = min(len(values) - 1, place + 1)
            history.redo()
        assert history.present.about.name == values[place]
        assert history.dirty == (values[place] != "0")
