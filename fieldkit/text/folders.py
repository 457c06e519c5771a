"""The user's own folders: gear, settings, unsaved work. Each is what its variable names, else the platform's.

None of them need exist; finding one makes nothing. ``platformdirs`` is imported only where no variable says it.
"""

from __future__ import annotations

import os
from pathlib import Path

GEAR, CONFIG, STATE = "FIELDKIT_GEAR", "FIELDKIT_CONFIG", "FIELDKIT_STATE"


def gear_folder() -> Path:
    """Find the folder of the user's own models."""
    return _named(GEAR) or _of_the_platform("data") / "gear"


def config_folder() -> Path:
    """Find the folder of the user's settings."""
    return _named(CONFIG) or _of_the_platform("config")


def state_folder() -> Path:
    """Find the folder of unsaved work."""
    return _named(STATE) or _of_the_platform("state") / "unsaved"


def _named(variable: str) -> Path | None:
    named = os.environ.get(variable)
    return Path(named) if named else None


def _of_the_platform(kind: str) -> Path:
    from platformdirs import PlatformDirs

    folders = PlatformDirs("fieldkit", appauthor=False)
    return {"data": folders.user_data_path, "config": folders.user_config_path, "state": folders.user_state_path}[kind]
