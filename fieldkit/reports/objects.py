"""The JSON of the commands that report: one object, units in the key names."""

from __future__ import annotations

from typing import Any

from fieldkit.checks.checking import counts
from fieldkit.checks.finding import Finding
from fieldkit.checks.scope import scope_of
from fieldkit.formulas.figures import Figure
from fieldkit.rig.connect.lines import Line
from fieldkit.rig.signal.account import Account, account_of
from fieldkit.rig.signal.entries import AccountEntry
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.explanation import line_figures, output_figures, traced_output
from fieldkit.rig.solve.frequency import lowest_modulus
from fieldkit.rig.solve.meters import Band, Expected, expected_readings
from fieldkit.rig.solve.solving import SolvedBox, SolvedLine, SolvedOutput


def check_object(rig: Rig, findings: tuple[Finding, ...]) -> dict[str, Any]:
    """Make the object of ``check --json``: the findings, and what was looked at to find them."""
    scope = scope_of(rig)
    return {
        "findings": [
            {
                "severity": item.severity,
                "rule": item.rule,
                "where": {"kind": item.where.kind, "id": item.where.id},
                "says": item.says,
                "why": item.why,
                "fix": item.fix,
                "numbers": item.numbers,
            }
            for item in findings
        ],
        "counts": counts(findings),
        "checked": list(scope.checked),
        "not_checked": list(scope.not_checked),
    }


def lines_object(rig: Rig, *, why: bool = False) -> dict[str, Any]:
    """Make the object of ``lines --json``; with ``why``, every number's explanation beside it."""
    outputs, lines = [], []
    for solved in rig.outputs:
        shown = traced_output(rig, solved) if why and solved.lines else None
        outputs.append(_output(solved, shown, rig))
        for index, line in enumerate(solved.lines):
            lines.append(_line(solved, line, shown.lines[index] if shown else None, rig))
    lines.extend(_unfed(line) for line in rig.lines if line.output is None)
    return {"outputs": outputs, "lines": lines}


def _output(solved: SolvedOutput, shown: SolvedOutput | None, rig: Rig) -> dict[str, Any]:
    lowest, account = lowest_modulus(solved, rig.conditions.temperature_c), account_of(rig, solved.output.id)
    result: dict[str, Any] = {
        "id": solved.output.id,
        "mode": solved.output.mode,
        "permission": solved.output.permission,
        "load_ohm": solved.load_ohm,
        "can_give_v": solved.can_give_v,
        "clip_v": solved.clip_v,
        "lines": [line.line.id for line in solved.lines],
        "judged_ohm": solved.judged_ohm,
        "lowest_ohm": lowest.ohm if lowest else None,
        "lowest_hz": lowest.frequency_hz if lowest else None,
        "minimum_ohm": solved.output.minimum_ohm,
        "gain_db": solved.gain_db,
        "source": solved.source or None,
        "host": solved.host.id if solved.host else None,
        "supply_scale": solved.supply_scale,
        "assumed": solved.assumed,
        "account": account_object(account) if account is not None else None,
    }
    if shown is not None:
        result["figures"] = {name: figure_object(figure) for name, figure in output_figures(shown)}
    return result


def _line(solved: SolvedOutput, line: SolvedLine, shown: SolvedLine | None, rig: Rig) -> dict[str, Any]:
    loads = line.line.loads
    result: dict[str, Any] = {
        "id": line.line.id,
        "output": solved.output.id,
        "section": line.line.section,
        "preset": loads[0].choice.id if loads else None,
        "preset_why": loads[0].choice.why if loads else "no box uses this pair",
        "boxes": [_box(box, solved) for box in line.boxes],
        "limiter": _limiter(solved) if loads else None,
        "load_ohm": line.load_ohm,
        "expected": [
            expected_object(expected) for expected in expected_readings(line.line, rig.conditions.temperature_c)
        ],
    }
    if shown is not None:
        figures: dict[str, dict[str, Any]] = {}
        for box, name, figure in line_figures(shown):
            figures.setdefault(box, {})[name] = figure_object(figure)
        result["figures"] = figures
    return result


def _unfed(line: Line) -> dict[str, Any]:
    loads = line.loads
    return {
        "id": line.id,
        "output": None,
        "section": line.section,
        "preset": loads[0].choice.id if loads else None,
        "preset_why": loads[0].choice.why if loads else "no box uses this pair",
        "boxes": [],
        "limiter": None,
        "load_ohm": None,
        "expected": [],
    }


def _box(box: SolvedBox, output: SolvedOutput) -> dict[str, Any]:
    return {
        "box": box.load.box.id,
        "section": box.load.section.section,
        "load_ohm": box.load_ohm,
        "full_v": box.full_v,
        "full_w": box.full_w,
        "clean_w": box.clean_w,
        "limited_w": box.limited_w,
        "threshold_w": box.threshold_w,
        "held": output.limiter is not None and output.limiter.held,
        "rated_w": box.load.continuous_w,
        "loss_db": box.loss_db,
        "damping_factor": box.damping_factor,
        "damping_together": None if box.damping_together is None else float(box.damping_together),
        "preset": box.load.choice.id,
        "assumed": output.is_assumed(box.load),
    }


def _limiter(solved: SolvedOutput) -> dict[str, Any] | None:
    limiter = solved.limiter
    if limiter is None:
        return None
    return {
        "thermal_v": limiter.thermal_v,
        "peak_v": limiter.peak_v,
        "holding_v": limiter.holding_v,
        "clips_first": limiter.clips_first,
        "thermal_dbu": limiter.thermal_dbu,
        "input_dbu": limiter.input_dbu,
        "input_dbfs": limiter.input_dbfs,
        "ruled_by": limiter.ruled_by,
        "rating": limiter.rating,
        "held": limiter.held,
        "assumed": solved.assumed,
    }


def account_object(account: Account) -> dict[str, Any]:
    """Describe the settings account of an output: what the preset brings, what you set, what reads back."""
    return {
        "host": account.host,
        "kind": account.kind,
        "preset": account.preset,
        "preset_brings": [_entry(item) for item in account.preset_brings],
        "you_set": [_entry(item) for item in account.you_set],
        "reads_back": [_entry(item) for item in account.reads_back],
        "notes": list(account.notes),
        "disagreements": list(account.disagreements),
        "assumed": account.assumed,
    }


def _entry(item: AccountEntry) -> dict[str, Any]:
    return {
        "quantity": item.quantity,
        "value": item.value,
        "unit": item.unit,
        "where": item.where,
        "from": item.basis,
        "also": [{"value": value, "unit": unit} for value, unit in item.also],
        "range": {"low": item.low, "high": item.high},
    }


def expected_object(expected: Expected) -> dict[str, Any]:
    """Describe what a meter should read at one point."""
    return {
        "at": expected.at,
        "dc_ohm": _band(expected.dc) or "open",
        "z1k_ohm": _band(expected.z1k),
        "assumed": expected.assumed,
    }


def _band(band: Band | None) -> dict[str, float] | None:
    return None if band is None else {"low": band.low, "value": band.value, "high": band.high}


def figure_object(figure: Figure) -> dict[str, Any]:
    """Describe a figure with all that it rests on."""
    result: dict[str, Any] = {"label": figure.label, "value": figure.value, "unit": figure.unit}
    if figure.formula:
        result["formula"] = figure.formula
    result["source"] = figure.source
    result["assumed"] = figure.assumed
    if figure.inputs:
        result["inputs"] = {name: figure_object(item) for name, item in figure.inputs}
    return result
