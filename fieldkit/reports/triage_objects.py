"""The JSON of ``readings`` and ``triage``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from fieldkit.reports.objects import expected_object
from fieldkit.triage.advice.advice import Advice
from fieldkit.triage.advice.answers import typed_answer
from fieldkit.triage.belief.saying import as_typed
from fieldkit.triage.model.fault import NONE_OF_THESE, NOTHING
from fieldkit.triage.model.odds import origin
from fieldkit.triage.rig_check.meter_pass import CheckedLine, Said


def readings_object(entries: Iterable[CheckedLine]) -> dict[str, Any]:
    """Make the object of ``readings --json``."""
    return {"lines": [_entry(entry) for entry in entries]}


def _entry(entry: CheckedLine) -> dict[str, Any]:
    expected = expected_object(entry.expected)
    read = None
    if entry.all_said:
        last = entry.all_said[0].reading
        read = {
            "dc_ohm": _read(entry.dc),
            "z1k_ohm": _read(entry.z1k),
            "reported_ohm": _read(entry.load),
            "warm": last.warm,
            "time": last.time.isoformat() if last.time else None,
            "by": last.by or None,
        }
    said = [item.verdict.ok for item in entry.all_said]
    return {
        "line": entry.line,
        "at": entry.at,
        "pair": entry.pair,
        "expected": {key: expected[key] for key in ("dc_ohm", "z1k_ohm", "assumed")},
        "read": read,
        "verdict": entry.says,
        "ok": None if not said or None in said else all(said),
    }


def _read(said: Said | None) -> float | str | None:
    if said is None:
        return None
    return said.reading.value.ohm if said.reading.value.ohm is not None else said.reading.value.word


def triage_object(advice: Advice) -> dict[str, Any]:
    """Make the object of ``triage --json``. Odds are shares of one."""
    following = advice.next
    return {
        "suspects": [
            {
                "fault": item.fault.name,
                "at": item.fault.at or None,
                "fix": item.fault.fix,
                "odds": item.share,
                "says": item.fault.says,
                "run": item.fault.run or None,
                "is_fault": item.fault.kind not in {NOTHING, NONE_OF_THESE},
            }
            for item in advice.suspects
        ],
        "first": [mute.says for mute in advice.first],
        "next": None
        if following is None
        else {
            "test": following.test.says,
            "at": following.test.at,
            "kind": following.test.kind,
            "pair": following.test.pair or None,
            "meter": following.test.meter or None,
            "what": following.test.what or None,
            "say": typed_answer(following.test),
            "minutes": following.test.minutes,
            "why": following.why,
            "bits": following.bits,
            "outcomes": [
                {
                    "answer": item.answer,
                    "odds": item.chance,
                    "means": item.means,
                    "say": None if item.said is None else as_typed(item.said),
                }
                for item in following.outcomes
            ],
        },
        "cannot_tell": list(advice.cannot_tell),
        "does_not_fit": list(advice.misfits),
        "fixes": [
            {"fix": act.fix, "kind": act.kind, "at": act.at or None, "odds": act.share, "minutes": act.minutes}
            for act in advice.plan
        ],
        "cautions": list(advice.cautions),
        "moves": list(advice.moves),
        "origin_of_odds": origin(),
    }
