"""Boxes that must play alike, of one model and use in one zone, left against right too; the trim that makes them so.

What counts is what the wiring brings to the posts for the same signal: the amplifier's gain with its knob and bridging.
Where different presets run, no trim makes boxes alike. Levels that somebody typed for a box are meant.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TypeAlias

import msgspec

from fieldkit.formulas import levels
from fieldkit.rig.connect.hosts import running_preset
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.connect.outputs import knob_at, ruling_channel
from fieldkit.rig.solve.derived import Derived
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput

ALIKE_DB = 0.5
"""Gains this near are the same to an ear on a rig: common practice, no source."""
ALIKE_VOLTS = 1.02
"""Thresholds this near are the same."""


Member: TypeAlias = tuple[SolvedOutput, Load]
Members: TypeAlias = tuple[Member, ...]
"""Those on one amplifier."""
FamilyKey: TypeAlias = tuple[str, str, float, str, str]
"""Zone, model, impedance, drive and section."""


class Sibling(msgspec.Struct, frozen=True, gc=False):
    """One section of one box among those that must play as it does."""

    output: SolvedOutput
    load: Load
    gain_db: float
    """From the input to the posts [dB]; of an amplifier whose gain is not known, knob and bridging alone."""
    measure: str
    """What its gain can be compared within: empty where it is known, else the model that all must have."""
    trim_db: float
    """What makes it play as the quietest one [dB]: 0 or below."""

    @property
    def name(self) -> str:
        """The box."""
        return self.load.box.id

    @property
    def preset(self) -> str:
        """The preset that runs for it, with its gain, delay and polarity; empty where none does."""
        running = running_preset(self.load, self.output.host)
        return running.id if running is not None else ""


class Trim(msgspec.Struct, frozen=True, gc=False):
    """How far a section has to come down to play as its siblings, and where that can be set."""

    output: str
    like: str
    """The box that it then plays as."""
    trim_db: float
    in_host: bool
    """Whether its host can be set to it; where others hang on the same host with another trim it cannot."""


def _families(rig: Rig) -> tuple[tuple[FamilyKey, tuple[Sibling, ...]], ...]:
    found = rig.memory.grouped("families", rig.memory.each("members", rig.amplifiers, _members))
    once = rig.memory.once
    kept = ((name, once(("family", name), groups, partial(_family, groups))) for name, groups in found.items())
    return tuple((name, family) for name, family in kept if family)


def _members(outputs: Sequence[SolvedOutput]) -> tuple[tuple[FamilyKey, Members], ...]:
    found: dict[FamilyKey, list[Member]] = {}
    for output in outputs:
        for load in output.loads:
            name = (load.box.zone, load.speaker.id, load.impedance_ohm, load.drive, load.section.section)
            found.setdefault(name, []).append((output, load))
    return tuple((name, tuple(members)) for name, members in found.items())


def _family(groups: Sequence[Members]) -> tuple[Sibling, ...]:
    members = [member for members in groups for member in members]
    if len({output.output.id for output, _ in members}) < 2:
        return ()
    plain = [_sibling(output, load) for output, load in members]
    if len({(item.measure, item.preset) for item in plain}) > 1:
        return tuple(plain)
    lowest_db = min(item.gain_db for item in plain)
    return tuple(msgspec.structs.replace(item, trim_db=_trim_db(item, lowest_db)) for item in plain)


def _trim_db(item: Sibling, lowest_db: float) -> float:
    """Compute what is missing to the lowest; a level that somebody typed for the box may be that already."""
    level_db = item.load.box.level.value if item.load.box.level is not None else 0.0
    over_db = item.gain_db - lowest_db
    return 0.0 if min(abs(over_db), abs(over_db + level_db)) < ALIKE_DB else -over_db


def _sibling(output: SolvedOutput, load: Load) -> Sibling:
    if output.gain_db is not None:
        return Sibling(output, load, output.gain_db, "", 0.0)
    turned = knob_at(output.output, ruling_channel(output.output))
    bridging = levels.BRIDGED_DB if output.output.mode == "bridged" else 0.0
    return Sibling(output, load, turned + bridging, output.output.model.id, 0.0)


def _trims(rig: Rig) -> dict[tuple[str, str], Trim]:
    found: dict[tuple[str, str], tuple[Sibling, str]] = {}
    for _, family in families(rig):
        trimmed = [item for item in family if item.trim_db]
        if trimmed:
            quietest = min(family, key=lambda item: item.gain_db)
            found |= {(item.name, item.load.section.section): (item, quietest.name) for item in trimmed}
    if not found:
        return {}
    on_hosts = rig.memory.grouped("sections on hosts", rig.memory.each("on hosts", rig.amplifiers, _on_hosts))

    def wanted_db(section: tuple[str, str]) -> float:
        return round(found[section][0].trim_db, 2) if section in found else 0.0

    hosts = {item.output.host.id for item, _ in found.values() if item.output.host is not None}
    of_one_mind = {host for host in hosts if len(set(map(wanted_db, on_hosts[host]))) == 1}
    return {
        key: Trim(
            item.output.output.id,
            like,
            item.trim_db,
            in_host=item.output.host is not None and item.output.host.id in of_one_mind,
        )
        for key, (item, like) in found.items()
    }


def _on_hosts(outputs: Sequence[SolvedOutput]) -> tuple[tuple[str, tuple[str, str]], ...]:
    """List the sections on one amplifier that have a host, each with its name."""
    hosted = ((output.host.id, output.loads) for output in outputs if output.host is not None)
    return tuple((host, (load.box.id, load.section.section)) for host, loads in hosted for load in loads)


families = Derived[tuple[tuple[FamilyKey, tuple[Sibling, ...]], ...]](_families)
"""The sections that must play alike, where there are two or more on different outputs."""

trims = Derived[dict[tuple[str, str], Trim]](_trims)
"""What has to come down to play as its siblings, by box and section."""
