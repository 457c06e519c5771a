"""What the texts of the file name, declared on the fields: checking, renaming, removing and the schema read it there.

A text field says with its type either that it is free text, or what it names, how that is written, and what becomes
of it when the thing goes::

    zone: ZoneOfBox                       a whole text that is a zone's id; without the zone the box goes
    inputs: dict[OwnPart, UnitInput]      ``DP.6`` names a unit, ``L`` and ``=1`` name none
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Annotated, Literal, TypeAlias

import msgspec

Kind = Literal[
    "zone", "box", "rack", "unit", "run", "supply",
    "loudspeaker", "amplifier", "processor", "cable", "adaptor", "panel", "built_rack",
]  # fmt: skip
"""Kinds of things that have a name of their own, which other texts may use."""

Form = Literal["whole", "dot", "slash", "place", "pieces"]
"""How a name stands in a text: it is the whole of it, stands before a dot or a slash, is a place with whatever joint
(``ML2``, ``ML2.in``, ``SR-1.3+4``, ``W1/2``, the cable end ``W7-A``), or is a piece between ``>``."""

Gone = Literal["blank", "item", "row", "step"]
"""What becomes of the text when its thing goes: it becomes empty, it leaves its list or dict, the row that it stands
in goes as well, or the step of a path stays without its box."""

_CABLE_END = re.compile(r"(.+)-[A-Z]+")


class Names(msgspec.Struct, frozen=True):
    """What a text names. Without kinds it is a part of its own thing (a pin pair, a channel), or an agreed word."""

    what: str
    """In words, for the schema: ``a zone``."""
    kinds: tuple[Kind, ...] = ()
    form: Form = "whole"
    gone: Gone = "blank"
    says: str = ""
    """What is said when the thing goes, {owner} being what it is taken from, {text} the text itself."""
    required: bool = True
    """Whether a name that nobody has is wrong; where a rule says more of it than that, it is left to that rule."""

    def candidates(self, text: str) -> Iterator[tuple[str, str, str]]:
        """List what may be a name in a text, likeliest first: what stands before it, the name, what stands behind."""
        if self.form == "whole":
            yield "", text, ""
        elif self.form in {"dot", "slash"}:
            mark = "." if self.form == "dot" else "/"
            name, joint, rest = text.partition(mark)
            if joint:
                yield "", name, joint + rest
        elif self.form == "place":
            yield "", text, ""
            for mark in ("/", "."):
                name, joint, rest = text.partition(mark)
                if joint:
                    yield "", name, joint + rest
            end = _CABLE_END.fullmatch(text.partition("/")[0].partition(":")[0])
            if end:
                yield "", end[1], text.removeprefix(end[1])
        else:
            before = ""
            for piece in re.split(r"(\s*>\s*)", text):
                yield before, piece, text[len(before) + len(piece) :]
                before += piece


def _meta(names: Names) -> msgspec.Meta:
    return msgspec.Meta(description=f"names {names.what}" if names.what else "free text", extra={"names": names})


def names(
    what: str,
    *kinds: Kind,
    form: Form = "whole",
    gone: Gone = "blank",
    says: str = "",
    required: bool = True,
) -> msgspec.Meta:
    """Declare that a text names something; it goes into an ``Annotated``."""
    return _meta(Names(what, kinds, form, gone, says, required))


FreeText: TypeAlias = Annotated[str, _meta(Names(""))]
"""Text that names nothing: a note, a description, somebody's name."""
OwnPart: TypeAlias = Annotated[str, names("a part of its own thing, such as an input, a channel or a pin pair")]
Word: TypeAlias = Annotated[str, names("something by a word that several tables agree on, such as a signal or a plug")]
Serial: TypeAlias = Annotated[str, names("one single item by its serial")]


def declared(annotation: object) -> Names | None:
    """Read what an annotation says that its text names; None where it says nothing."""
    for meta in reversed(getattr(annotation, "__metadata__", ())):
        if isinstance(meta, msgspec.Meta) and meta.extra and "names" in meta.extra:
            found = meta.extra["names"]
            return found if isinstance(found, Names) else None
    return None
