"""Any network of resistances and impedances, solved node by node: for lines that are not wired as planned.

The ladder is quicker and explains itself, and knows only healthy lines. Here every conductor is a part of its
own, so that an open, a short or a crossed pair is an edit of the list of parts. A small leak ties every node
to the reference, so that parts that hang in the air can be solved too.

Method: nodal analysis (Kirchhoff's current law at every node), Gaussian elimination with partial pivoting.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

GROUND = "ground"
LEAK_S = 1e-9
"""Siemens from every node to the reference: far below anything that is metered or heard."""


class Branch(msgspec.Struct, frozen=True):
    """An impedance between two nodes, above zero [ohm]."""

    one: str
    other: str
    ohm: complex


class VoltageSource(msgspec.Struct, frozen=True, gc=False):
    """Volts from one post to another behind a resistance above zero, as an amplifier's output is."""

    plus: str
    minus: str
    volts: complex
    ohm: float = 1e-6


def solve(parts: Iterable[Branch], sources: Iterable[VoltageSource] = ()) -> dict[str, complex]:
    """Solve the volts of every node against ground.

    Raises ValueError for a part or a source whose impedance is zero: join its nodes instead.
    """
    parts, sources = list(parts), list(sources)
    names = dict.fromkeys(name for part in parts for name in (part.one, part.other))
    names.update(dict.fromkeys(name for source in sources for name in (source.plus, source.minus)))
    names.pop(GROUND, None)
    index = {name: number for number, name in enumerate(names)}
    size = len(index)
    rows = [[0j] * (size + 1) for _ in range(size)]
    for number in range(size):
        rows[number][number] += LEAK_S
    for part in parts:
        _add(rows, index.get(part.one), index.get(part.other), _admittance(part.ohm))
    for source in sources:
        plus, minus = index.get(source.plus), index.get(source.minus)
        admittance = _admittance(source.ohm)
        _add(rows, plus, minus, admittance)
        for node, sign in ((plus, 1.0), (minus, -1.0)):
            if node is not None:
                rows[node][size] += sign * admittance * source.volts
    volts = _eliminate(rows)
    return {GROUND: 0j} | {name: volts[number] for name, number in index.items()}


def seen_ohm(parts: Iterable[Branch], one: str, other: str) -> complex:
    """Solve the impedance that a meter between two nodes sees [ohm], with all sources taken away.

    One milliampere is sent through; what is in the air reads as the leak allows, over 1e8 ohm.
    """
    probe = 1e12
    volts = solve(parts, [VoltageSource(one, other, 1e-3 * probe, probe)])
    across = volts[one] - volts[other]
    current = 1e-3 - across / probe
    return across / current


def _admittance(ohm: complex) -> complex:
    if ohm == 0:
        raise ValueError("expected an impedance above 0 ohm, got 0 ohm; join the two nodes instead")
    return 1.0 / ohm


def _add(rows: list[list[complex]], one: int | None, other: int | None, admittance: complex) -> None:
    for node in (one, other):
        if node is not None:
            rows[node][node] += admittance
    if one is not None and other is not None:
        rows[one][other] -= admittance
        rows[other][one] -= admittance


def _eliminate(rows: list[list[complex]]) -> list[complex]:
    """Solve the rows, of which the last column is the right-hand side."""
    size = len(rows)
    for column in range(size):
        # A line's network is sparse: few rows have anything in a column, and few places of a row hold anything.
        sizes = {row: abs(rows[row][column]) for row in range(column, size) if rows[row][column]}
        best = max(sizes, key=sizes.__getitem__)
        rows[column], rows[best] = rows[best], rows[column]
        pivot = rows[column]
        filled = [place for place in range(column + 1, size + 1) if pivot[place]]
        if best != column and column not in sizes:
            del sizes[best]  # the row that came in its place has nothing in this column
        sizes.pop(column, None)
        for row in sizes:
            line = rows[row]
            share = line[column] / pivot[column]
            for place in filled:
                line[place] -= share * pivot[place]
    volts = [0j] * size
    for row in range(size - 1, -1, -1):
        line = rows[row]
        known = sum(line[place] * volts[place] for place in range(row + 1, size) if line[place])
        volts[row] = (line[size] - known) / line[row]
    return volts
