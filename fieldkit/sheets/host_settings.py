"""The settings of each host output in one place, in the order of the outputs: what somebody types in, line by line."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.formulas import levels
from fieldkit.gear.processor import Processor
from fieldkit.rig.signal.account import Account, account_of
from fieldkit.rig.signal.account_text import amplifier_text, brought_text, read_lines, set_lines
from fieldkit.rig.signal.gains import gain_chain
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Items
from fieldkit.units import format_value

Item = tuple[str, ...]

AT_POSTS = ("gain to the posts", "full output", "short peaks clip at", "clips from")
"""What an amplifier's block says of each output."""

GUESSED_PRESET = "this preset is guessed until the show says the use and the low end of the zone"


def in_order(found: tuple[Account, ...], material: Material) -> tuple[Account, ...]:
    """Sort settings by unit, as the show has them, and by output; what nothing hosts comes last."""
    units = {name: place for place, name in enumerate(material.rig.show_index.units)}

    def place(account: Account) -> tuple[int, int, str]:
        unit, _, channels = account.host.partition(".")
        number = channels.partition("+")[0]
        return units.get(unit, len(units)), int(number) if number.isdecimal() else 0, account.host

    return tuple(sorted(found, key=place))


def host_blocks(found: tuple[Account, ...], material: Material) -> Iterator[Items]:
    """Make a block for each unit, with an item for each of its outputs."""
    by_unit: dict[str, list[Account]] = {}
    for account in found:
        by_unit.setdefault(account.host.partition(".")[0], []).append(account)
    for unit, its in by_unit.items():
        items = [tuple(map(material.said, _item(account))) for account in its]
        items += _unused(unit, its, material)
        yield Items(tuple(items), _title(unit, its[0], material))


def _title(unit: str, account: Account, material: Material) -> str:
    if account.kind == "none":
        return f"{unit}: nothing here runs a preset; what is said below has to be set somewhere else"
    of_unit = material.rig.show_index.units[unit]
    reference = ""
    model = material.model(of_unit.model)
    hosts = getattr(model, "hosts", None)
    if hosts is not None and hosts.full_scale is not None:
        full_dbu = levels.dbu_from_voltage(hosts.full_scale.value)
        reference = f"; 0 dBFS is {full_dbu:+.1f} dBu {'at its outputs' if account.kind == 'processor' else 'here'}"
    return f"{unit}: {of_unit.model}{reference}"


def _item(account: Account) -> Item:
    feeds = f" to {' '.join(account.outputs)}" if account.kind == "processor" and account.outputs else ""
    assumed = ", assumed" if account.assumed else ""
    section = f" ({account.section} section{assumed})" if account.outputs else assumed
    lines = [f"{account.host}{feeds}: {' '.join(account.boxes)}{section}"]
    if account.kind == "processor":
        entry = f"input {'+'.join(account.inputs)}" if account.inputs else "an input that is not planned"
        lines.append(f"from {entry}: {_signals(account)}")
    elif account.signals:
        lines.append(f"signal {_signals(account)}")
    lines.append(brought_text(account))
    if account.preset_guessed:
        lines.append(f"{GUESSED_PRESET}: {account.preset_why}")
    lines += set_lines(account)
    lines += read_lines(account)
    lines += account.notes
    lines += [f"! {text}" for text in account.disagreements]
    return tuple(lines)


def _signals(account: Account) -> str:
    return " + ".join(account.signals) or "no signal planned"


def _unused(unit: str, its: list[Account], material: Material) -> Iterator[Item]:
    """Name the outputs of a processor that feed nothing, so that nobody wonders."""
    model = material.model(material.rig.show_index.units[unit].model) if unit in material.rig.show_index.units else None
    if not isinstance(model, Processor):
        return
    used = {account.host for account in its}
    free = [f"{unit}.{number}" for number in range(1, model.outputs + 1) if f"{unit}.{number}" not in used]
    if free:
        yield (f"{' '.join(free)}: feed{'' if len(free) > 1 else 's'} nothing, mute",)


def amplifier_blocks(material: Material) -> Iterator[Items]:
    """Make a block for each amplifier: for each output its settings, its source, and what clips first."""
    for outputs in material.rig.amplifiers:
        if not any(output.loads for output in outputs):
            continue
        unit = outputs[0].output.unit
        items = [_amplifier_item(output, material) for output in outputs]
        if unit.note:
            items.append((f"note: {unit.note}",))
        yield Items(tuple(items), f"{unit.id}: {unit.model}")


def _amplifier_item(output: SolvedOutput, material: Material) -> Item:
    name, mode = output.output.id, output.output.mode
    account = account_of(material.rig, name)
    if account is None:
        return (f"{name}: {'not bridged' if mode == 'single' else mode}; drives nothing",)
    boxes = " ".join(dict.fromkeys(load.box.id for load in output.loads))
    orders = amplifier_text(account, name)
    head = [f"{name}: {'not bridged' if mode == 'single' else mode}{' (assumed)' if output.assumed else ''}"]
    head += [f"set {orders}"] if orders else ["nothing to set here"]
    its = [account.entry(quantity, name) for quantity in AT_POSTS]
    reads = [f"{entry.quantity} {entry.text}" for entry in its if entry is not None]
    load = format_value(output.load_ohm or 0.0, "ohm")
    back = f"reads back: load {load}, {', '.join(reads)}{clips_first(output, material)}"
    return "; ".join(head), f"{boxes}, fed by {output.source or 'nothing that is planned'}", back


def clips_first(output: SolvedOutput, material: Material) -> str:
    """Say what clips before the amplifier does, if anything."""
    chain = gain_chain(material.rig, output)
    if chain is None or not chain.stages or chain.clips_first.at == output.output.id:
        return ""
    return f"; {chain.clips_first.name} {chain.clips_first.at} clips before that"
