"""A settings account in words, the same everywhere: an order begins with *set*, and nothing else does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from fieldkit.rig.signal.account import Account
from fieldkit.rig.signal.entries import AccountEntry
from fieldkit.rig.signal.thresholds import NO_PLACE

LIMITERS = ("slow limiter", "fast limiter")
NOTHING = "set nothing on top of the preset"


def brought_text(account: Account) -> str:
    """Say what the preset brings, in one line; without a preset that runs, why there is none."""
    if account.preset is None:
        return f"no preset: {account.preset_why}" if account.outputs else "no preset"
    brought = [entry for entry in account.preset_brings if entry.quantity != "preset"]
    said = "; ".join(_with_basis(brought, "preset ")) or "no more than its name"
    return f"preset {account.preset} brings: {said}"


def set_lines(account: Account) -> Iterator[str]:
    """Write a line for each thing to set on the host, with what it comes from."""
    orders = host_orders(account)
    if not orders:
        yield NOTHING if account.preset is not None else "set nothing"
    yield from (f"set {text}" for text in _with_basis([entry for entry in orders if entry.where != NO_PLACE]))
    for entry in orders:
        if entry.where == NO_PLACE:
            yield f"{entry.quantity} {entry.text}: {NO_PLACE}, hold it somewhere else ({entry.basis})"


def _with_basis(entries: Sequence[AccountEntry], prefix: str = "") -> Iterator[str]:
    """Write entries with what they come from; neighbours of one basis share it."""
    for basis, its in groupby(entries, key=lambda entry: entry.basis):
        told = ", ".join(f"{entry.quantity.removeprefix(prefix)} {entry.text}" for entry in its)
        yield f"{told} ({basis})" if basis else told


def host_orders(account: Account) -> tuple[AccountEntry, ...]:
    """List what is to be set on the host itself; what is the amplifier's own is left out."""
    return tuple(entry for entry in account.you_set if not entry.output)


def orders_text(account: Account) -> str:
    """Write what is to be set on the host in one line, for a step."""
    orders = [entry for entry in host_orders(account) if entry.where != NO_PLACE]
    return ", ".join(f"{entry.quantity} {entry.text}" for entry in orders)


def amplifier_text(account: Account, output: str) -> str:
    """Write what is to be set at the amplifier for one output: pair, gain switch, knobs."""
    its = [entry for entry in account.you_set if entry.output == output]
    return ", ".join(f"{entry.quantity} {entry.text}" + (f" {entry.basis}" if entry.basis else "") for entry in its)


def read_lines(account: Account) -> Iterator[str]:
    """Say what reads back: of the host in one line, and of the outputs behind it where their limiters act."""
    of_host = [f"{item.quantity} {item.text}" for item in account.reads_back if not item.output]
    yield f"reads back: {', '.join(of_host)}"
    alike: dict[tuple[str, ...], list[str]] = {}
    for output in account.outputs:
        alike.setdefault(tuple(_limiters_of(account, output)), []).append(output)
    for lines, outputs in alike.items():
        yield from (f"{' '.join(outputs)} {'read' if len(outputs) > 1 else 'reads'} back: {line}" for line in lines)


def _limiters_of(account: Account, output: str) -> Iterator[str]:
    its = [item for item in account.reads_back if item.output == output]
    for what in LIMITERS:
        told = [f"{item.quantity.removeprefix(what)} {item.text}" for item in its if item.quantity.startswith(what)]
        if told:
            yield f"{what}{','.join(told)}"


def limiter_lines(account: Account) -> Iterator[str]:
    """Say of each limiter of an output who holds it and at what, and where it then acts."""
    for what in LIMITERS:
        order = account.entry(what)
        held = account.entry(f"preset {what}")
        if order is not None:
            where = "nothing here that holds it" if order.where == NO_PLACE else f"in {order.where}"
            told = f"{what} to set, {where}: {order.text}"
        elif held is not None:
            told = f"{what} held by the preset: {held.text}"
        else:
            continue
        acts = [item for item in account.reads_back if item.quantity.startswith(f"{what} at ")]
        yield "; ".join([told, *(f"{item.quantity.removeprefix(what).strip()} {item.text}" for item in acts)])
