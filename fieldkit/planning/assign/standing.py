"""What stands there, as the search sees it: boxes on runs, how they are driven, what processors hold for them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from fieldkit.planning.assign.patterns import Kind
from fieldkit.planning.assign.problem import Hosting, HostKey, Standing, signal_of
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput


def standing_of(rig: Rig) -> tuple[Standing, ...]:
    """List the boxes on the runs of a rig: one entry for each run, zone, side and model."""
    found: dict[tuple[str, str, str, str], dict[str, SolvedOutput]] = defaultdict(dict)
    drives = {}
    for output in rig.outputs:
        for line in output.lines:
            for load in line.line.loads:
                key = (line.line.run.id, load.box.zone, load.speaker.id, load.box.side)
                found[key][str(load.section.pair)] = output
                drives[key] = load.drive
    racks = {rack.id: rack.side for rack in rig.show.racks}
    return tuple(
        Standing(
            zone,
            speaker,
            side,
            rig.show_index.zones[zone].use != "wedge",
            drives[run, zone, speaker, side],
            kind_of(feeds).feeds,
            hosting_of(feeds.values()),
            frozenset(output.output.unit.id for output in feeds.values()),
            frozenset(output.output.unit.rack for output in feeds.values() if output.output.unit.rack),
            all(racks.get(output.output.unit.rack or "") == side != "" for output in feeds.values()),
            tuple((key, name) for key, name in hosts_of(rig, feeds.values()) if key[0] == zone),
        )
        for (run, zone, speaker, side), feeds in found.items()
    )


def kind_of(feeds: dict[str, SolvedOutput]) -> Kind:
    """Describe the place that some boxes are on: by pin pair at the box, mode and model of its output."""
    modes = ((pair, solved.output.mode, solved.output.model.id) for pair, solved in sorted(feeds.items()))
    return Kind(tuple(modes), "", passes_on=False)


def hosting_of(outputs: Iterable[SolvedOutput]) -> Hosting:
    """Say where the presets of some outputs are hosted: nowhere, if not for each of them."""
    kinds = {output.host.kind if output.host is not None else "" for output in outputs}
    if not kinds or "" in kinds:
        return "nowhere"
    return "outside" if "processor" in kinds else "inside"


def hosts_of(rig: Rig, outputs: Iterable[SolvedOutput]) -> Iterator[tuple[HostKey, str]]:
    """List what processor outputs hold for some outputs, and which; one that hosts nothing is used all the same."""
    for output in outputs:
        if "." not in output.source:
            continue
        for load in output.loads if output.host is not None and output.host.kind == "processor" else ():
            signal = signal_of(rig.show_index.zones[load.box.zone], load.box.side)
            yield (load.box.zone, signal, load.speaker.id, load.choice.id or ""), output.source
        yield ("", "", "", output.source), output.source
