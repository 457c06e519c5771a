"""How the suite is shared out: over all processors where xdist is there, and one test after the other without it."""

import atexit
import gc
import os
import shutil
import sys
import tempfile
from pathlib import Path

import pytest
from budget import TIMES
from hypothesis import HealthCheck, settings

if sys.dont_write_bytecode:
    # Whoever wants no bytecode beside the sources gets none there; but without any, each worker rewrites every test
    # anew, and each of the hundred programs that tests start compiles the whole package.
    sys.pycache_prefix = str(Path(__file__).parent.parent / ".pytest_cache" / "bytecode")
    sys.dont_write_bytecode = False
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.environ["PYTHONPYCACHEPREFIX"] = sys.pycache_prefix

# What tests keep goes nowhere near what the person at this machine keeps: unsaved work, own gear, own keys.
KEPT = Path(tempfile.mkdtemp(prefix="fieldkit-tests-"))
atexit.register(shutil.rmtree, KEPT, ignore_errors=True)
for kind in ("GEAR", "CONFIG", "STATE"):
    (KEPT / kind.lower()).mkdir()
    os.environ[f"FIELDKIT_{kind}"] = str(KEPT / kind.lower())


settings.register_profile("suite", max_examples=40 * TIMES, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("suite")


def pytest_addoption(parser, pluginmanager) -> None:
    """Take the two words of the configuration that are xdist's, where it is not installed or turned off."""
    if not pluginmanager.hasplugin("xdist"):
        parser.addoption("--numprocesses", help="without xdist: nothing")
        parser.addoption("--dist", help="without xdist: nothing")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Give one worker more than there are processors: the application's tests wait more than they compute."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_finish() -> None:
    """Look for garbage seldom, and never among what stays: five thousand tests, and all that they import.

    Python looks at everything after so many new things; that was a tenth of what the application's tests cost.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
