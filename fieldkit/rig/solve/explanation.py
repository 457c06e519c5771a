"""The figures behind an output: the same solver, run again with numbers that remember where they came from."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from fieldkit.formulas.figures import Figure, explain, given, traced
from fieldkit.rig.connect.hosts import Host
from fieldkit.rig.connect.lines import Line, Load, Piece, loads_of
from fieldkit.rig.signal.delays import ZoneDelay, zone_delays
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import Conditions, SolvedLine, SolvedOutput, Wired, solve_output
from fieldkit.show.document import Run

_LOAD_NUMBERS = {
    "impedance_ohm": ("rated impedance", "ohm"),
    "rated_ohm": ("impedance the power was rated at", "ohm"),
    "continuous_w": ("continuous rating", "W"),
    "crest": ("crest factor of the noise that it was rated with", ""),
    "short_w": ("short-term maximum input", "W"),
    "peak_w": ("peak rating", "W"),
    "peak_v": ("peak volts", "V"),
    "limiter_w": ("limiter of the preset", "W"),
}


def traced_output(rig: Rig, solved: SolvedOutput) -> SolvedOutput:
    """Solve an output again so that every number of the result carries its figure."""
    return traced_under(_traced_conditions(rig), solved)


def traced_under(conditions: Conditions, solved: SolvedOutput) -> SolvedOutput:
    """Solve an output of no show again like that, under conditions that are given."""
    lines = tuple(_traced_line(item.line) for item in solved.lines)
    host = _traced_host(solved.host)
    wired = Wired(solved.output, lines, host, solved.source)
    scale: float = solved.supply_scale
    if scale < 1.0:
        where = f"model {solved.output.model.id}, supply_limit, shared by all outputs in proportion to their volts"
        scale = given(scale, "share of the common supply", "", where)
    return solve_output(wired, conditions, scale, traced, trace=True)


def output_figures(solved: SolvedOutput) -> Iterator[tuple[str, Figure]]:
    """List the figures of a traced output by their names in ``lines --json``."""
    if solved.load_ohm is not None:
        yield "load_ohm", explain(solved.load_ohm, "load of the output", "ohm")
    yield "can_give_v", explain(solved.can_give_v, "what the output can give", "V")
    if solved.supply_scale < 1.0:
        yield "clip_v", explain(solved.clip_v, "where a short peak clips", "V")
    limiter = solved.limiter
    if limiter is not None:
        yield "thermal_v", explain(limiter.thermal_v, f"slow threshold at the posts, ruled by {limiter.ruled_by}", "V")
        yield "peak_v", explain(limiter.peak_v, "fast threshold at the posts", "V")
        yield "thermal_dbu", explain(limiter.thermal_dbu, "slow threshold at the posts as a level", "dBu")
        if limiter.input_dbu is not None:
            yield "input_dbu", explain(limiter.input_dbu, "slow threshold in the host", "dBu")
        if limiter.input_dbfs is not None:
            yield "input_dbfs", explain(limiter.input_dbfs, "slow threshold in the host, against full scale", "dB")


def delay_figures(rig: Rig, zone: str) -> Iterator[Figure]:
    """List the delay of each side of a zone that waits, with where it comes from; sides alike are told once."""
    alike: dict[float, list[ZoneDelay]] = {}
    for item in zone_delays(rig, trace=True):
        if item.zone == zone and (item.delay_s or item.reference):
            alike.setdefault(float(item.delay_s), []).append(item)
    for items in alike.values():
        label = f"delay of {zone} {', '.join(item.side for item in items)}".rstrip(" ,")
        delay_s = items[0].delay_s
        if items[0].by_hand:
            delay_s = given(delay_s, label, "s", f"{zone}, delay: {items[0].why}")
        yield explain(delay_s, label, "s")


def line_figures(solved: SolvedLine) -> Iterator[tuple[str, str, Figure]]:
    """List the figures of a traced line: box, name in ``lines --json``, figure."""
    for box in solved.boxes:
        name = box.load.box.id
        yield name, "full_v", explain(box.full_v, f"{name}: volts at full output", "V")
        yield name, "full_w", explain(box.full_w, f"{name}: watts at full output", "W")
        yield name, "clean_w", explain(box.clean_w, f"{name}: watts of noise before it clips", "W")
        if box.limited_w is not None:
            yield name, "limited_w", explain(box.limited_w, f"{name}: watts at the limiter that holds", "W")
        yield name, "threshold_w", explain(box.threshold_w, f"{name}: watts at the slow threshold", "W")
        yield name, "loss_db", explain(box.loss_db, f"{name}: loss of the cable", "dB")
        if box.damping_factor is not None:
            yield name, "damping_factor", explain(box.damping_factor, f"{name}: damping factor", "")


def _traced_conditions(rig: Rig) -> Conditions:
    about, plain = rig.show.about, rig.conditions
    temperature = (
        given(plain.temperature_c, "temperature", "°C", f"show, temperature '{about.temperature}'")
        if about.temperature
        else given(plain.temperature_c, "temperature", "°C", "not set in the show; 20 °C is taken")
    )
    where = f"show, limiter_margin '{about.limiter_margin}'" if about.limiter_margin else "the program's choice"
    return Conditions(temperature_c=temperature, margin_db=given(plain.margin_db, "margin", "dB", where))


def _traced_host(host: Host | None) -> Host | None:
    if host is None or host.full_scale_dbu is None:
        return host
    level = given(host.full_scale_dbu, "full scale", "dBu", f"host {host.id}, '{host.hosts.full_scale}'")
    return msgspec.structs.replace(host, full_scale_dbu=level)


def _traced_line(line: Line) -> Line:
    pieces = tuple(_traced_piece(piece, line.run) for piece in line.pieces)
    return msgspec.structs.replace(line, pieces=pieces, loads=loads_of(pieces))


def _traced_piece(piece: Piece, run: Run) -> Piece:
    step = run.path[piece.step - 1] if piece.step else None
    typed = f" '{step.length}'" if step is not None and step.length is not None else ""
    place = f"run {run.id}, step {piece.step}" if step is not None else f"rack as built {piece.model}, wiring"
    changes: dict[str, Any] = {"loads": tuple(_traced_load(load) for load in piece.loads)}
    if piece.size is not None:
        changes["length_m"] = given(piece.length_m, "length", "m", place + typed)
        unit = "" if piece.gauge else "mm²"
        changes["size"] = given(piece.size, "gauge" if piece.gauge else "cross-section", unit, f"model {piece.model}")
    if piece.extra_ohm or piece.size is None:
        changes["extra_ohm"] = given(piece.extra_ohm, "contacts and adaptor", "ohm", place)
    return msgspec.structs.replace(piece, **changes)


def _traced_load(load: Load) -> Load:
    section = load.section
    where = f"model {load.speaker.id}, {section.drive} {section.section}"
    if load.speaker.assumed:
        where = f"box {load.box.id}, from its label: no data sheet"
    changes: dict[str, Any] = {}
    for name, (label, unit) in _LOAD_NUMBERS.items():
        value = getattr(load, name)
        if value is not None:
            place = f"preset {load.choice.id}, limiter" if name == "limiter_w" else where
            changes[name] = given(value, f"{load.box.id}: {label}", unit, place, assumed=load.speaker.assumed)
    return msgspec.structs.replace(load, **changes)
