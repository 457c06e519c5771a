"""How the suite is shared out."""

import os


def pytest_xdist_auto_num_workers() -> int:
    """Give one worker more than there are processors: the application's tests wait more than they compute."""
    return (os.cpu_count() or 1) + 1
