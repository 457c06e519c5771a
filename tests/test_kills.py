"""A few kills at random moments, of each kind that differs; ``bench/kills.py`` makes as many as wanted."""

import os
import sys
import time
from pathlib import Path

import pytest
from budget import drawn

pytestmark = pytest.mark.skipif(os.name == "nt", reason="there is no pseudo-terminal on this system")

sys.path.insert(0, str(Path(__file__).with_name("bench")))


def test_nothing_is_lost_blocked_or_offered_wrongly(tmp_path, monkeypatch):
    from kills import trials

    for name in ("FIELDKIT_STATE", "FIELDKIT_CONFIG"):
        monkeypatch.setenv(name, str(tmp_path / name))
    ways = drawn(("steady", "stuck close", "vanish", "save", "moved"), 3)  # signals: test_app_ending
    done = trials(ways, len(ways), round(time.time()), tmp_path, at_once=5, longest_s=1.0)
    assert {f"{trial.way} {trial.path.parent.name}": trial.faults for trial in done if trial.faults} == {}
