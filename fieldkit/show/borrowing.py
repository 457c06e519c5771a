"""Models that a show names and does not carry are copied into it from the gear library."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import msgspec

from fieldkit.gear.library import LibraryError
from fieldkit.gear.model_file import kind_of
from fieldkit.gear.rack import BuiltRack
from fieldkit.show.contents import models_by_id
from fieldkit.show.document import Model, Show
from fieldkit.show.errors import FileError


def borrowed(show: Show, library_find: Callable[[str], Model | None]) -> tuple[Show, tuple[str, ...]]:
    """Add the models that a show lacks, and list their names in the order in which they were needed.

    ``library_find`` is ``gear.library.find`` or the like. What it does not have stays missing, for the check of
    the references to report. A show that lacks nothing, or nothing that can be found, is the same object.
    Raises FileError where the file of a model that is needed cannot be used.
    """
    carried = models_by_id(show)
    tables: dict[str, list[Model]] = {}
    names: list[str] = []
    asked: set[str] = set(carried)
    wanted = list(_named(show))
    for name in wanted:  # grows by the contents of racks that are copied in
        if name in asked:
            continue
        asked.add(name)
        model = look_up(name, library_find)
        if model is None:
            continue
        tables.setdefault(f"{kind_of(model)}s", []).append(model)
        names.append(name)
        if isinstance(model, BuiltRack):
            wanted.extend(inside.model for inside in model.contents)
    if not names:
        return show, ()
    added = {table: (*getattr(show, table), *models) for table, models in tables.items()}
    return msgspec.structs.replace(show, **added), tuple(names)


def look_up(name: str, library_find: Callable[[str], Model | None]) -> Model | None:
    """Find a model in the library. Raises FileError where its file cannot be used."""
    try:
        return library_find(name)
    except LibraryError as error:
        raise FileError(error.problem, file=error.file, line=error.line) from error


def _named(show: Show) -> Iterator[str]:
    """Name every model that something in the show refers to."""
    for box in show.boxes:
        if box.model is not None:
            yield box.model
    yield from (stock.model for stock in show.stock)
    for rack in show.racks:
        if rack.as_built is not None:
            yield rack.as_built
    yield from (inside.model for built in show.built_racks for inside in built.contents)
    yield from (unit.model for unit in show.rack_units)
    for run in show.runs:
        for step in run.path:
            yield from (name for name in (step.cable, step.adaptor, step.panel) if name is not None)
