"""The tour: ten steps that really build a small hall, each done when the show or the screen says so."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from fieldkit.show.document import Show


class TourView(msgspec.Struct, frozen=True):
    """What a step is judged by."""

    show: Show
    mode: str
    """The screen that is seen, by the name of its file."""
    opened: bool
    """Whether a window was opened on it since the step began."""
    dirty: bool


class TourStep(msgspec.Struct, frozen=True):
    """One thing to do, in the words of the keys, short enough for one line of 80 columns."""

    says: str
    done: Callable[[TourView], bool]


def _boxes(view: TourView) -> int:
    return len(view.show.boxes)


def _all_fed(view: TourView) -> bool:
    fed = {step.box for run in view.show.runs for step in run.path if step.box}
    return bool(fed) and fed == {box.id for box in view.show.boxes}


STEPS: tuple[TourStep, ...] = (
    TourStep("3 opens Zones: what stands where", lambda view: view.mode == "zones"),
    TourStep("a, then type: 2 two-way-10 hall TL TR   enter", lambda view: _boxes(view) >= 2),
    TourStep("the window waits; type: 2 sub-15 subs SL SR   enter", lambda view: _boxes(view) >= 4),
    TourStep("type: amp portable AMP   enter, then esc", lambda view: bool(view.show.rack_units)),
    TourStep("4 opens Racks; p, enter proposes the plan, enter takes it", _all_fed),
    TourStep("e on a line: where its numbers come from; esc", lambda view: view.mode == "racks" and view.opened),
    TourStep(
        "space: the card of the output, with its settings; esc", lambda view: view.mode == "racks" and view.opened
    ),
    TourStep("7 opens Triage; a line is metered, type: 5.8, enter", lambda view: bool(view.show.readings)),
    TourStep(
        "F8 opens Sheets (digits are readings here); enter: a page; esc",
        lambda view: view.mode == "sheets" and view.opened,
    ),
    TourStep("ctrl+s saves; ? finds all else, q leaves", lambda view: not view.dirty),
)


class Tour:
    """Where somebody is in the tour."""

    def __init__(self) -> None:
        """Begin at the first step."""
        self.place = 0
        self._opened_on = ""

    @property
    def line(self) -> str:
        """What to do now; empty when all is done."""
        return f"tour {self.place + 1} of {len(STEPS)}: {STEPS[self.place].says}" if self.place < len(STEPS) else ""

    def opened(self, mode: str) -> None:
        """Note that a window was opened on a screen."""
        self._opened_on = mode

    def follow(self, show: Show, mode: str, *, dirty: bool) -> None:
        """Go on past every step that is done."""
        while self.place < len(STEPS):
            view = TourView(show, mode, self._opened_on == mode, dirty)
            if not STEPS[self.place].done(view):
                return
            self.place += 1
            self._opened_on = ""
