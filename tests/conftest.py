"""How the suite is shared out: over all processors where xdist is there, and one test after the other without it."""

import os

import pytest


def pytest_addoption(parser, pluginmanager) -> None:
    """Take the two words of the configuration that are xdist's, where it is not installed or turned off."""
    if not pluginmanager.hasplugin("xdist"):
        parser.addoption("--numprocesses", help="without xdist: nothing")
        parser.addoption("--dist", help="without xdist: nothing")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Give one worker more than there are processors: the application's tests wait more than they compute."""
    return (os.cpu_count() or 1) + 1
