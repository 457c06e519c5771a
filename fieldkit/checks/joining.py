"""Where an adaptor would make the pairs of a run meet, and which plugs do not go together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from fieldkit.gear import library
from fieldkit.gear.cabling import Adaptor, Cable, Panel
from fieldkit.rig.connect.lines import Load, ShowIndex, lines_of
from fieldkit.rig.connect.uses import planned_drive
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Run, Step

Wanted = tuple[str, str, int]
"""A section of a box that wants its pair: box, section, pair."""


class Joint(msgspec.Struct, frozen=True):
    """One adaptor in its place in a run, and what it fixes."""

    text: str
    """What is to be done, in the words of a fix; empty where no single adaptor fixes anything."""
    boxes: frozenset[str] = frozenset()
    """Boxes with a section that it feeds and that nothing fed before."""
    pairs: frozenset[str] = frozenset()
    """Pairs at the connector that it gives something to feed."""


class _State(msgspec.Struct, frozen=True):
    """How well the pairs of a run meet the boxes in its path."""

    unfed: frozenset[Wanted]
    idle: frozenset[str]
    harm: int
    """Sections fed twice, and bands that share a pair."""

    @property
    def faults(self) -> int:
        """How many things are wrong."""
        return len(self.unfed) + len(self.idle) + self.harm


class Joiner:
    """Looks for one adaptor that makes the pairs of a run meet: among the show's own, then in the gear library.

    The library is read only when somebody asks, so that a sound rig costs nothing.
    """

    def __init__(self, rig: Rig) -> None:
        self._rig = rig
        self._known: dict[str, Joint] = {}
        self._adaptors: tuple[tuple[Adaptor, str], ...] | None = None

    def for_boxes(self, run: Run, boxes: Iterable[str]) -> str:
        """Name the adaptor that feeds one of these boxes, and its place; empty where there is none."""
        joint = self._joint(run)
        return joint.text if joint.boxes.intersection(boxes) else ""

    def for_pair(self, run: Run, pair: str) -> str:
        """Name the adaptor that gives a pair something to feed, and its place; empty where there is none."""
        joint = self._joint(run)
        return joint.text if pair in joint.pairs else ""

    def _joint(self, run: Run) -> Joint:
        if run.id not in self._known:
            self._known[run.id] = self._search(run)
        return self._known[run.id]

    def _search(self, run: Run) -> Joint:
        show_index = self._rig.show_index
        elsewhere = {_wanted(load) for line in self._rig.lines if line.run.id != run.id for load in line.loads}
        now = best = _state(run, show_index, elsewhere)
        plugs = len(list(misfits(run, show_index)))
        joint = Joint("")
        for adaptor, origin in self._offered():
            with_it = msgspec.structs.replace(show_index, models={**show_index.models, adaptor.id: adaptor})
            for laid, place in _laid(run, adaptor.id):
                state = _state(laid, with_it, elsewhere)
                fixes = state.faults < best.faults and state.harm <= now.harm
                if fixes and len(list(misfits(laid, with_it))) <= plugs:
                    best = state
                    joint = Joint(
                        f"put the adaptor '{adaptor.id}'{origin} into {run.id}, {place}",
                        frozenset(box for box, _, _ in now.unfed - state.unfed),
                        now.idle - state.idle,
                    )
        return joint

    def _offered(self) -> tuple[tuple[Adaptor, str], ...]:
        if self._adaptors is None:
            own = self._rig.show.adaptors
            names = {adaptor.id for adaptor in own}
            kept = (entry.model for entry in library.every() if entry.model.id not in names)
            others = (model for model in kept if isinstance(model, Adaptor))
            self._adaptors = (*((item, "") for item in own), *((item, " of the gear library") for item in others))
        return self._adaptors


def _laid(run: Run, adaptor: str) -> Iterator[tuple[Run, str]]:
    """Put an adaptor before each piece of a run, or between a piece and its box; say where it stands.

    What stands before a shared piece would change the pairs of other runs too, so an adaptor comes behind the last.
    """
    shared = max((index for index, step in enumerate(run.path, start=1) if step.shared), default=0)
    for index, step in enumerate(run.path):
        before, after = run.path[:index], run.path[index:]
        toward = f" to {step.box}" if step.box else ""
        place = f"before step {index + 1} ('{step.cable or step.adaptor or step.panel}'{toward})"
        if index >= shared:
            yield msgspec.structs.replace(run, path=(*before, Step(adaptor=adaptor), *after)), place
        if step.box and index + 1 >= shared:
            bare, last = msgspec.structs.replace(step, box=None), Step(adaptor=adaptor, box=step.box)
            place = f"between step {index + 1} and {step.box}"
            yield msgspec.structs.replace(run, path=(*before, bare, last, *run.path[index + 1 :])), place


def _wanted(load: Load) -> Wanted:
    return (load.box.id, load.section.section, load.section.pair)


def _state(run: Run, show_index: ShowIndex, elsewhere: set[Wanted]) -> _State:
    """Look how the pairs of a run meet its boxes; ``elsewhere`` is what other runs feed."""
    fed = {
        line.pair: list(dict.fromkeys(_wanted(load) for load in line.loads))
        for line in lines_of(run, show_index)
        if line.output is not None
    }
    reached = [wanted for one in fed.values() for wanted in one]
    wants = set()
    for name in dict.fromkeys(step.box for step in run.path if step.box):
        speaker = show_index.speakers[name]
        sections = speaker.sections_in(planned_drive(show_index.boxes[name], speaker))
        wants |= {(name, item.section, item.pair) for item in sections if item.impedance is not None}
    mixed = sum(len({section for _, section, _ in one}) - 1 for one in fed.values() if one)
    return _State(
        unfed=frozenset(wants.difference(reached) - elsewhere),
        idle=frozenset(pair for pair, one in fed.items() if not one),
        harm=len(reached) - len(set(reached)) + mixed,
    )


def misfits(run: Run, show_index: ShowIndex) -> Iterator[tuple[int, str]]:
    """List the steps whose connector does not go into the one before or into the box, where both are known."""
    here, what = "", ""
    for number, step in enumerate(run.path, start=1):
        model = show_index.models[step.cable or step.adaptor or step.panel or ""]
        near, far = _ends(model)
        if here and near and here != near:
            yield number, f"{what} has {here}, and '{model.id}' begins with {near}"
        here, what = far, f"'{model.id}'"
        if step.box:
            speaker = show_index.speakers[step.box]
            if far and speaker.connector and far != speaker.connector and not speaker.assumed:
                yield number, f"'{model.id}' ends in {far}, and {step.box} has {speaker.connector}"
            here, what = ("" if speaker.assumed else speaker.connector), step.box


def _ends(model: object) -> tuple[str, str]:
    if isinstance(model, (Cable, Adaptor)) and model.connectors:
        return model.connectors[0], model.connectors[-1]
    if isinstance(model, Panel):
        return model.connector, model.socket_connector
    return "", ""
