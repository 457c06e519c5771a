"""What to set on each host: preset, gain, polarity, delay and limiters, complete enough to type in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import msgspec

from fieldkit.formulas import crest, delays, levels
from fieldkit.rig.chain import SignalPath, routed_inputs, signal_paths
from fieldkit.rig.delays import DEFAULT_SAMPLE_RATE_HZ, ZoneDelay, delays_by_side
from fieldkit.rig.evaluation import Rig
from fieldkit.rig.gains import valid_at
from fieldkit.rig.limits import Limiter
from fieldkit.rig.lines import Load
from fieldkit.rig.processing import delay_parts, gain_parts, limiter_times, polarity, running_preset
from fieldkit.rig.solving import SolvedOutput


class Threshold(msgspec.Struct, frozen=True, gc=False):
    """One limiter threshold, at the amplifier's terminals and at the point where the host measures it."""

    terminals_v: float
    """Thermal: V rms. Peak: V peak."""
    terminals_dbu: float
    """Of the rms volts; of a peak threshold, of the sine that has this peak."""
    input_dbu: float | None
    """At the amplifier's input, which is the processor's output; None where the gain is not known."""
    input_dbv: float | None
    dbfs: float | None
    """Against full scale of the host."""


class Setting(msgspec.Struct, frozen=True, gc=False):
    """All that one host output is set to."""

    host: str
    """``SR-1.3``, ``DP.6``; the amplifier's output where nothing hosts a preset."""
    kind: str
    """``amplifier``, ``processor``, or ``none``: a limiter has to be put somewhere else."""
    outputs: tuple[str, ...]
    """The amplifier outputs that it feeds."""
    boxes: tuple[str, ...]
    zones: tuple[tuple[str, str], ...]
    """Zone and side of what it feeds."""
    section: str
    signals: tuple[str, ...]
    inputs: tuple[str, ...]
    """Inputs of the processor that are routed to it; empty where that is not planned, and in an amplifier."""
    speakers: tuple[str, ...]
    preset: str | None
    preset_why: str
    gain_db: float
    """Of preset, zone and box together."""
    gain_parts: tuple[tuple[str, float], ...]
    polarity: str
    high_pass_hz: float | None
    low_pass_hz: float | None
    delay_s: float
    """Of zone, box and preset together."""
    delay_parts: tuple[tuple[str, float], ...]
    sample_rate_hz: float
    delay_samples: float
    delay_m: float
    """The way that sound goes in this time today [m]."""
    longest_delay_s: float | None
    thermal: Threshold | None
    peak: Threshold | None
    attack_s: float | None
    release_s: float | None
    times_by_rule: bool
    """True where attack or release is the rule of thumb, and not the preset's own."""
    valid_at: str
    """What the thresholds hold for."""
    assumed: bool
    disagreements: tuple[str, ...]
    """In what the boxes of this host output want different settings; the first box's are given."""


def settings(rig: Rig) -> tuple[Setting, ...]:
    """List the settings of every host output that feeds a box, in the order of the show."""
    found = delays_by_side(rig)
    paths = {path.to: path for path in signal_paths(rig)}
    by_host: dict[str, list[SolvedOutput]] = {}
    for output in rig.outputs:
        if output.loads:
            by_host.setdefault(host_id(output), []).append(output)
    result = [_setting(rig, host, outputs, found, paths) for host, outputs in by_host.items()]
    result += [_self_powered(rig, path, found) for path in paths.values() if path.to in rig.ground.boxes]
    return tuple(result)


class Asked(msgspec.Struct, frozen=True, gc=False):
    """What a check needs to know of a host output: how long it waits, and what its boxes do not agree in."""

    host: str
    kind: str
    outputs: tuple[str, ...]
    boxes: tuple[str, ...]
    delay_s: float
    longest_delay_s: float | None
    disagreements: tuple[str, ...]


def asked_of_hosts(rig: Rig) -> Iterator[Asked]:
    """Give what is asked of every host output, without working out its thresholds: a check runs at every edit."""
    found = delays_by_side(rig)
    by_host: dict[str, list[SolvedOutput]] = {}
    for output in rig.outputs:
        if output.loads:
            by_host.setdefault(host_id(output), []).append(output)
    for name, outputs in by_host.items():
        loads = [(output, load) for output in outputs for load in output.loads]
        host, first = _most_held(outputs).host, loads[0][1]
        hosts = host.hosts if host is not None else None
        yield Asked(
            host=name,
            kind=host.kind if host is not None else "none",
            outputs=tuple(output.output.id for output in outputs),
            boxes=tuple(dict.fromkeys(load.box.id for _, load in loads)),
            delay_s=sum(value for _, value in delay_parts(first, found, host)),
            longest_delay_s=hosts.longest_delay.value if hosts is not None and hosts.longest_delay else None,
            disagreements=_disagreements(rig, loads, found),
        )
    for path in signal_paths(rig):
        if path.to in rig.ground.boxes:
            setting = _self_powered(rig, path, found)
            yield Asked(
                setting.host,
                setting.kind,
                (),
                setting.boxes,
                setting.delay_s,
                setting.longest_delay_s,
                setting.disagreements,
            )


def host_id(output: SolvedOutput) -> str:
    """Name the place where an output's settings are made: its host, else the output itself."""
    return output.host.id if output.host is not None else output.output.id


def thresholds(limiter: Limiter, gain_db: float | None, full_scale_dbu: float | None) -> tuple[Threshold, Threshold]:
    """Give the thermal and the peak threshold at the terminals and at the amplifier's input."""
    sine_v = crest.sine_of_peak(limiter.peak_v)
    return (
        _threshold(limiter.thermal_v, limiter.thermal_v, gain_db, full_scale_dbu),
        _threshold(limiter.peak_v, sine_v, gain_db, full_scale_dbu),
    )


def _threshold(terminals_v: float, rms_v: float, gain_db: float | None, full_scale_dbu: float | None) -> Threshold:
    input_dbu = input_dbv = dbfs = None
    if gain_db is not None:
        input_dbu = levels.input_level_for_output(rms_v, gain_db)
        input_dbv = levels.dbv_from_voltage(levels.voltage_from_dbu(input_dbu))
        dbfs = levels.level_below_full_scale(input_dbu, full_scale_dbu) if full_scale_dbu is not None else None
    return Threshold(terminals_v, levels.dbu_from_voltage(rms_v), input_dbu, input_dbv, dbfs)


def _setting(
    rig: Rig,
    name: str,
    outputs: Sequence[SolvedOutput],
    found: Mapping[tuple[str, str], ZoneDelay],
    paths: Mapping[str, SignalPath],
) -> Setting:
    loads = [(output, load) for output in outputs for load in output.loads]
    ruling, first = _most_held(outputs), loads[0][1]
    host = ruling.host
    limits = None
    if ruling.limiter is not None and min(ruling.limiter.thermal_v, ruling.limiter.peak_v) > 0.0:  # 0 V has no level
        limits = thresholds(ruling.limiter, ruling.gain_db, host.full_scale_dbu if host else None)
    gains, waits = gain_parts(rig, first, host), delay_parts(first, found, host)
    delay_s = sum(value for _, value in waits)
    preset = running_preset(first, host)
    attack, release, by_rule = limiter_times(first)
    hosts = host.hosts if host is not None else None
    rate = hosts.sample_rate.value if hosts is not None and hosts.sample_rate else DEFAULT_SAMPLE_RATE_HZ
    unit, _, number = name.partition(".")
    outside = host is not None and host.kind == "processor"
    return Setting(
        host=name,
        kind=host.kind if host is not None else "none",
        outputs=tuple(output.output.id for output in outputs),
        boxes=tuple(dict.fromkeys(load.box.id for _, load in loads)),
        zones=tuple(dict.fromkeys((load.box.zone, load.box.side) for _, load in loads)),
        section="+".join(dict.fromkeys(load.section.section for _, load in loads)),
        signals=tuple(dict.fromkeys(signal for output in outputs for signal in paths[output.output.id].signals)),
        inputs=routed_inputs(rig.ground.units[unit], number) if outside else (),
        speakers=tuple(dict.fromkeys(load.speaker.id for _, load in loads)),
        preset=preset.id if preset is not None else None,
        preset_why=first.choice.why,
        gain_db=sum(value for _, value in gains),
        gain_parts=gains,
        polarity=polarity(first, host),
        high_pass_hz=preset.high_pass.value if preset is not None and preset.high_pass else None,
        low_pass_hz=preset.low_pass.value if preset is not None and preset.low_pass else None,
        delay_s=delay_s,
        delay_parts=waits,
        sample_rate_hz=rate,
        delay_samples=delays.delay_in_samples(delay_s, rate),
        delay_m=delays.distance_of_delay(delay_s, rig.conditions.temperature_c),
        longest_delay_s=hosts.longest_delay.value if hosts is not None and hosts.longest_delay else None,
        thermal=limits[0] if limits else None,
        peak=limits[1] if limits else None,
        attack_s=attack,
        release_s=release,
        times_by_rule=by_rule,
        valid_at=valid_at(ruling),
        assumed=any(output.assumed for output in outputs),
        disagreements=_disagreements(rig, loads, found),
    )


def _most_held(outputs: Sequence[SolvedOutput]) -> SolvedOutput:
    """Give the output whose threshold comes first as the level rises: it rules where several share a host."""

    def comes(output: SolvedOutput) -> float:
        limiter = output.limiter
        if limiter is None:
            return float("inf")
        return limiter.thermal_dbu if limiter.input_dbu is None else limiter.input_dbu

    return min(outputs, key=comes)


def _disagreements(
    rig: Rig, loads: Sequence[tuple[SolvedOutput, Load]], found: Mapping[tuple[str, str], ZoneDelay]
) -> tuple[str, ...]:
    """Say in which settings the boxes of one host output want different things."""
    first_output, first = loads[0]
    # Boxes alike want the same, and most lines have no others.
    alike = {
        (load.speaker.id, load.section.section, load.choice.id, load.box.zone, load.box.side)
        for _, load in loads
        if load.box.delay is None and load.box.level is None and load.box.polarity == first.box.polarity
    }
    plain = sum(load.box.delay is None and load.box.level is None for _, load in loads)
    if len(alike) == 1 and plain == len(loads) and len({id(output.host) for output, _ in loads}) == 1:
        return ()
    said = []
    for what, read in (
        (
            "preset",
            lambda output, load: (load.speaker.id, load.choice.id) if running_preset(load, output.host) else None,
        ),
        ("delay", lambda output, load: round(sum(v for _, v in delay_parts(load, found, output.host)), 6)),
        ("level", lambda output, load: round(sum(v for _, v in gain_parts(rig, load, output.host)), 3)),
        ("polarity", lambda output, load: polarity(load, output.host)),
    ):
        other = next((load for output, load in loads if read(output, load) != read(first_output, first)), None)
        if other is not None:
            said.append(f"{what}: {first.box.id} and {other.box.id} want different ones")
    return tuple(said)


def _self_powered(rig: Rig, path: SignalPath, found: Mapping[tuple[str, str], ZoneDelay]) -> Setting:
    """Give the settings of what feeds a self-powered box: level and delay; its limiters are its own."""
    box = rig.ground.boxes[path.to]
    zone = next(zone for zone in rig.show.zones if zone.id == box.zone)
    wait = found[box.zone, box.side]
    waits = [(f"zone {wait.zone} {wait.side}".strip(), wait.delay_s)]
    waits += [(f"box {box.id}", box.delay.value)] if box.delay else []
    named = [(f"zone {zone.id}", zone.level), (f"box {box.id}", box.level)]
    gains = tuple((name, gain.value) for name, gain in named if gain is not None)
    delay_s = sum(value for _, value in waits)
    unit, _, number = path.processor.partition(".")
    model = rig.ground.models.get(rig.ground.units[unit].model) if path.processor else None
    hosts = getattr(model, "hosts", None)
    rate = hosts.sample_rate.value if hosts is not None and hosts.sample_rate else DEFAULT_SAMPLE_RATE_HZ
    return Setting(
        host=path.processor or box.id,
        kind="processor" if path.processor else "none",
        outputs=(),
        boxes=(box.id,),
        zones=((box.zone, box.side),),
        section="full",
        signals=path.signals,
        inputs=routed_inputs(rig.ground.units[unit], number) if path.processor else (),
        speakers=(rig.ground.speakers[box.id].id,),
        preset=None,
        preset_why="self-powered: its processing is its own",
        gain_db=sum(value for _, value in gains),
        gain_parts=gains,
        polarity=box.polarity,
        high_pass_hz=None,
        low_pass_hz=None,
        delay_s=delay_s,
        delay_parts=tuple((name, value) for name, value in waits if value),
        sample_rate_hz=rate,
        delay_samples=delays.delay_in_samples(delay_s, rate),
        delay_m=delays.distance_of_delay(delay_s, rig.conditions.temperature_c),
        longest_delay_s=hosts.longest_delay.value if hosts is not None and hosts.longest_delay else None,
        thermal=None,
        peak=None,
        attack_s=None,
        release_s=None,
        times_by_rule=False,
        valid_at="",
        assumed=rig.ground.speakers[box.id].assumed,
        disagreements=(),
    )
