"""All that can be called, by subject: for ``calc --list``, for completion and for the forms."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

import msgspec

from fieldkit.calculator.mathematics import FUNCTIONS
from fieldkit.calculator.names import formulas
from fieldkit.formulas.declaration import Parameter, specification

WIDTH = 80


class Entry(msgspec.Struct, frozen=True):
    """A function that can be called."""

    name: str
    subject: str
    signature: str
    """The call with labels and units: ``cable_loss(length [m], area [mm²], load [ohm]) → dB``."""
    title: str
    source: str


def listing() -> tuple[Entry, ...]:
    """List every function, those of mathematics first, then the formulas by subject."""
    entries = [
        Entry(name, "mathematics", function.signature, function.title, "by definition")
        for name, function in FUNCTIONS.items()
    ]
    for name, function in formulas().items():
        spec = specification(function)
        inputs = ", ".join(_input(parameter) for parameter in spec.parameters)
        result = f" → {spec.unit}" if spec.unit else ""
        entries.append(Entry(name, spec.subject, f"{name}({inputs}){result}", spec.title, spec.source))
    return tuple(entries)


def _input(parameter: Parameter) -> str:
    label = f"{parameter.label} [{parameter.unit}]" if parameter.unit else parameter.label
    if parameter.repeats:
        return f"{label}, …"
    return label if parameter.default is None else f"{label} = {parameter.default:g}"


def listing_text() -> Iterator[str]:
    """Print the listing at 80 columns."""
    subject = ""
    for entry in listing():
        if entry.subject != subject:
            if subject:
                yield ""
            subject = entry.subject
            yield subject.replace("_", " ")
        yield from textwrap.wrap(entry.signature, WIDTH, initial_indent="  ", subsequent_indent="      ")
        yield from textwrap.wrap(entry.title, WIDTH, initial_indent="      ", subsequent_indent="      ")
